"""Puts works, and what gave no work, into the tables of a working copy.

Every function writes through the connection of an open `archive.edition.Edition.batch`.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from typing import Any, NamedTuple

from ingest.pipeline import Reduced
from ingest.provenance import SourceRecord, credit, subjects_of

_OF_THE_RECORD = (
    "file", "title", "artist", "artist_dates", "date", "begin_year", "end_year", "medium", "culture",
    "country", "collection", "accession_number", "object_url", "rights", "rights_basis", "credit_line",
)  # fmt: skip
_SUBJECTS = "SELECT subject FROM work_subjects WHERE work = ?"

Key = tuple[str, str]
"""A file as its record named it, and the name of the work; either may be ''."""


def record_columns(record: SourceRecord) -> dict[str, Any]:
    """The columns of ``works`` that come from the source record alone; text that is not known is None."""
    columns: dict[str, Any] = {name: getattr(record, name) or None for name in _OF_THE_RECORD}
    columns["begin_year"], columns["end_year"] = record.begin_year, record.end_year
    columns["century"] = century(record.begin_year, record.end_year)
    columns["credit"] = credit(record)
    return columns


def century(begin: int | None, end: int | None) -> int | None:
    """The century of the middle of a span of years: 17 is 1601 to 1700, -1 is 100 to 1 before our era."""
    years = [year for year in (begin, end) if year is not None]
    if not years:
        return None
    middle = sum(years) // len(years)
    return (middle - 1) // 100 + 1 if middle > 0 else -((-middle - 1) // 100 + 1) if middle < 0 else 1


def record_changed(connection: sqlite3.Connection, record: SourceRecord) -> bool:
    """Whether the work's row says anything else than its record."""
    columns = record_columns(record)
    row = connection.execute(
        f"SELECT {', '.join(columns)}, obtained_from FROM works LEFT JOIN sources USING (source) WHERE work = ?",
        (record.work,),
    ).fetchone()
    if row is None:
        return False
    held = {subject for (subject,) in connection.execute(_SUBJECTS, (record.work,))}
    said = (*columns.values(), record.obtained_from or None)
    return tuple(row) != said or held != set(subjects_of(record.subject))


def update_record(connection: sqlite3.Connection, record: SourceRecord) -> None:
    """Write the record's columns over those of the work that is there."""
    columns = {**record_columns(record), "source": _source(connection, record.obtained_from)}
    assigned = ", ".join(f"{name} = ?" for name in columns)
    connection.execute(f"UPDATE works SET {assigned} WHERE work = ?", (*columns.values(), record.work))
    connection.execute("DELETE FROM work_subjects WHERE work = ?", (record.work,))
    _put_subjects(connection, record)


def has_work(connection: sqlite3.Connection, work: str) -> bool:
    """Whether there is a work of this name."""
    return connection.execute("SELECT 1 FROM works WHERE work = ?", (work,)).fetchone() is not None


def put_work(
    connection: sqlite3.Connection,
    record: SourceRecord,
    reduced: Reduced,
    pictures: Mapping[str, str],
    version: str,
) -> None:
    """Put a work with its reading in, in place of an earlier reading of it.

    ``pictures`` gives the name under ``pictures/`` of each picture of the reading, ``version`` the way of
    reading.  The work belongs to no arrangement until the archive is arranged again.
    """
    withdraw(connection, record.work)
    columns = {
        "work": record.work,
        **record_columns(record),
        "source": _source(connection, record.obtained_from),
        "sha256": reduced.sha256,
        "part": record.part or None,
        "width": reduced.width,
        "height": reduced.height,
        "trimmed": json.dumps(reduced.trimmed),
        "trims": json.dumps(reduced.trims, ensure_ascii=False),
        "profile": reduced.profile,
        "display_width": reduced.display[0],
        "display_height": reduced.display[1],
        **pictures,
        "sentence": reduced.sentence,
        "reading_version": version,
    }
    _insert(connection, "works", columns)
    _put_subjects(connection, record)
    _insert(connection, "measures", {"work": record.work, **vars(reduced.measures)})
    masses = [{"work": record.work, "mass": number, **vars(mass)} for number, mass in enumerate(reduced.masses, 1)]
    _insert(connection, "masses", *masses)
    connection.executemany(
        "INSERT INTO work_types (work, type, degree) VALUES (?, ?, ?)",
        [(record.work, slug, float(degree)) for slug, degree in reduced.types.items()],
    )
    _insert(connection, "signatures", {"work": record.work, "signature": reduced.signature})


def withdraw(connection: sqlite3.Connection, work: str) -> bool:
    """Take a work out, with all that was read from it; whether it was there."""
    return connection.execute("DELETE FROM works WHERE work = ?", (work,)).rowcount > 0


class Aside(NamedTuple):
    """Why a file or a row gave no work.

    kind: 'rights', 'record', 'picture', or 'withdrawn' for a work that was taken out by hand.
    rights: the statement that was refused, '' otherwise.
    """

    title: str
    kind: str
    reason: str
    rights: str


def set_aside_rows(connection: sqlite3.Connection) -> dict[Key, Aside]:
    """All that is set aside."""
    rows = connection.execute("SELECT file, work, title, kind, reason, rights FROM set_aside")
    return {
        (file, work): Aside(title or "", kind, reason, rights or "") for file, work, title, kind, reason, rights in rows
    }


def set_aside(connection: sqlite3.Connection, key: Key, aside: Aside) -> None:
    """Note a file or a row that gave no work."""
    connection.execute(
        "INSERT OR REPLACE INTO set_aside (file, work, title, kind, reason, rights) VALUES (?, ?, ?, ?, ?, ?)",
        (*key, aside.title or None, aside.kind, aside.reason, aside.rights or None),
    )


def no_longer_aside(connection: sqlite3.Connection, key: Key) -> None:
    """Forget a note of `set_aside`."""
    connection.execute("DELETE FROM set_aside WHERE file = ? AND work = ?", key)


def _put_subjects(connection: sqlite3.Connection, record: SourceRecord) -> None:
    subjects = [(record.work, subject) for subject in subjects_of(record.subject)]
    connection.executemany("INSERT INTO work_subjects (work, subject) VALUES (?, ?)", subjects)


def _source(connection: sqlite3.Connection, obtained_from: str) -> int | None:
    if not obtained_from:
        return None
    connection.execute("INSERT OR IGNORE INTO sources (obtained_from) VALUES (?)", (obtained_from,))
    (source,) = connection.execute("SELECT source FROM sources WHERE obtained_from = ?", (obtained_from,)).fetchone()
    return int(source)


def _insert(connection: sqlite3.Connection, table: str, *rows: Mapping[str, Any]) -> None:
    """Put rows of the same columns in."""
    for columns in rows[:1]:
        names = ", ".join(f'"{name}"' for name in columns)
        marks = ", ".join("?" for _ in columns)
        statement = f"INSERT INTO {table} ({names}) VALUES ({marks})"
        connection.executemany(statement, [tuple(row.values()) for row in rows])
