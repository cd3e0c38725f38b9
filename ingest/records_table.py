"""Reads a records file as people really save them, so that one broken row never costs the rest.

The columns may be parted by comma, semicolon, tab or bar; the text may be UTF-8 with or without a byte order
mark, UTF-16 (a spreadsheet's “Unicode text”), or Windows-1252 when it is neither.  `csv.Sniffer` is not
used: it guesses from the rows and is led astray by titles with commas.  The names of the columns are known,
so the delimiter is the one that finds them.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

DELIMITERS = (",", ";", "\t", "|")
NEEDED = ("file", "rights")


class UnreadableRecords(ValueError):
    """The records file as a whole cannot be used; the message is one sentence for people."""


@dataclass(frozen=True)
class Row:
    """One row: its line in the file (from 1), its fields by column name, and what is wrong with it ('' if
    nothing is)."""

    line: int
    fields: dict[str, str]
    wrong: str = ""


def read_table(source: Path, *, needed: Sequence[str] = NEEDED, rename: Mapping[str, str] | None = None) -> list[Row]:
    """Every row of the file that is not blank, in order.

    ``rename`` gives our name for columns that the table calls otherwise; ``needed`` are the columns, by our names,
    without which it is no table of records.

    Raises `UnreadableRecords` when the file is missing, is no text, or lacks a needed column.
    """
    try:
        data = source.read_bytes()
    except FileNotFoundError:
        message = f"There is no file {source}."
        raise UnreadableRecords(message) from None
    except OSError as error:
        message = f"{source} could not be opened: {error.strerror or error}."
        raise UnreadableRecords(message) from None
    lines = _lines(_decode(data, source))
    start = 0
    while start < len(lines) and (not lines[start].strip() or lines[start].lower().startswith("sep=")):
        start += 1
    if start == len(lines):
        message = f"{source} is empty."
        raise UnreadableRecords(message)
    ours = {_column(theirs): name for theirs, name in (rename or {}).items()}
    delimiter, header, after = _header(lines, start, source, needed, ours)
    return list(_rows(lines, after, delimiter, header))


def _decode(data: bytes, source: Path) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace")
    if b"\0" in data[:4096]:
        message = f"{source} is not a text file with a table in it."
        raise UnreadableRecords(message)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _lines(text: str) -> list[str]:
    """Lines with their ends, parted at CR, LF or CRLF only (a title may hold other separators)."""
    parts = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return [part + "\n" for part in parts[:-1]] + ([parts[-1]] if parts[-1] else [])


def _column(name: str) -> str:
    return "_".join(name.strip().casefold().replace("-", " ").split())


def _header(
    lines: list[str], start: int, source: Path, needed: Sequence[str], ours: Mapping[str, str]
) -> tuple[str, list[str], int]:
    found: list[str] = []
    for delimiter in DELIMITERS:
        cells, after, _ = _one_row(lines, start, delimiter)
        names = [ours.get(_column(cell), _column(cell)) for cell in cells]
        if all(name in names for name in needed):
            return delimiter, names, after
        if len(names) > len(found):
            found = names
    missing = [name for name in needed if name not in found]
    message = (
        f"{source} has no column {' and no column '.join(repr(name) for name in missing)}: its first row "
        f"must name the columns, among them {' and '.join(repr(name) for name in needed)}."
    )
    raise UnreadableRecords(message)


_LONGEST_SHOWN = 200
"""Letters of a broken row that are kept, to be told by."""


def _one_row(lines: list[str], start: int, delimiter: str) -> tuple[list[str], int, bool]:
    """The cells of the row that begins at ``start``, the index of the line after it, and whether its
    quotation marks are in order."""
    below = (lines[index] for index in range(start, len(lines)))
    reader = csv.reader(below, delimiter=delimiter, strict=True)
    try:
        cells = next(reader, [])
    except csv.Error:
        try:
            return next(csv.reader([lines[start]], delimiter=delimiter), []), start + 1, False
        except csv.Error:
            # A cell longer than any record's, as of a quotation mark that nothing ends.
            return [lines[start].split(delimiter)[0][:_LONGEST_SHOWN]], start + 1, False
    return cells, start + max(reader.line_num, 1), True


def _rows(lines: list[str], start: int, delimiter: str, header: list[str]) -> Iterator[Row]:
    here = start
    while here < len(lines):
        first = here
        cells, here, in_order = _one_row(lines, first, delimiter)
        if here > first + 1 and len(cells) != len(header):
            # A quotation mark swallowed the rows below: give up on this row alone and go on with the next.
            cells, here, in_order = [lines[first].split(delimiter)[0]], first + 1, False
        while len(cells) > len(header) and not cells[-1].strip():
            cells.pop()
        if not any(cell.strip() for cell in cells):
            continue
        wrong = ""
        if not in_order and len(cells) != len(header):
            wrong = "a quotation mark in the row is opened and not closed"
        elif len(cells) > len(header):
            wrong = f"the row has {len(cells)} fields but the table has {len(header)} columns"
        fields: dict[str, str] = {}
        for name, cell in zip(header, cells, strict=False):
            fields.setdefault(name, cell)
        yield Row(first + 1, fields, wrong)
