"""What a gathering leaves in its folder for people and for `blotbook ingest`."""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from ingest.provenance import COLUMNS

RECORDS, LEFT_OUT_TABLE = "records.csv", "left-out.csv"
PICTURES, RECEIVED, ARRIVING = "pictures", "received", "arriving"
"""Folders: the pictures, the records as they were received, and what has not come whole yet."""


def write_records(folder: Path, records: Iterable[Mapping[str, Any]]) -> Path:
    """Write the records file; its path."""
    rows = ({name: record.get("work" if name == "id" else name) for name in COLUMNS} for record in records)
    return _write_table(folder / RECORDS, COLUMNS, rows)


def write_left_out(folder: Path, aside: Iterable[tuple[str, str, str, str, str]]) -> Path:
    """Write the table of what did not come, and why; its path."""
    columns = ("collection", "key", "title", "why", "reason")
    return _write_table(folder / LEFT_OUT_TABLE, columns, (dict(zip(columns, row, strict=True)) for row in aside))


def write_received(folder: Path, work: str, received: Any) -> None:
    """Keep a record as it was received."""
    text = json.dumps(received, ensure_ascii=False, indent=1) + "\n"
    write_whole(folder / RECEIVED / f"{work}.json", text.encode("utf-8", "surrogatepass"))


def write_whole(path: Path, data: bytes) -> None:
    """Put a file there at once or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.new")
    with beside.open("wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())
    beside.replace(path)


def put_in_place(part: Path, path: Path) -> None:
    """Move a file that came whole to its place, at once or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with part.open("rb") as stream:
        os.fsync(stream.fileno())
    part.replace(path)


def _write_table(path: Path, columns: tuple[str, ...], rows: Iterable[Mapping[str, Any]]) -> Path:
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    write_whole(path, text.getvalue().encode("utf-8", "surrogatepass"))
    return path
