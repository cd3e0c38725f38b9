"""Checks that an archive and its boards are whole: every file, row, hash, signature, reference; mends what it can."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from archive.edition import PICTURE_COLUMNS, WORKING, Edition
from archive.edition_copy import SIGNATURES_SHA256
from archive.errors import ANEW, stranger
from archive.picture_files import is_whole, picture_files
from archive.schema import VERSION, migrate, version_of
from archive.signature_file import sha256_of
from archive.store import DATABASE, PICTURES, Archive, ArchiveError
from archive.verify_boards import boards_findings
from archive.verify_tables import table_faults
from archive.works import works_in_words

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_MOST_NAMED = 10
_FEW_NAMED = 3
_READ_INTO = ("measures", "signatures", "work_types")
"""Tables in which every work that was read has a row; one that is all grey has no masses worth one."""

OnProgress = Callable[[int, int], None]


@dataclass(frozen=True)
class Finding:
    """One thing found, in a sentence; ``wrong`` when the archive is not as it should be, else worth knowing.

    ``pictures`` are the names of pictures that are missing or damaged, if that is what was found; ``database``
    whether SQLite's own file is damaged, so that nothing else could be checked.
    """

    sentence: str
    wrong: bool = True
    pictures: tuple[str, ...] = ()
    database: bool = False


def verify(folder: Path, *, on_progress: OnProgress | None = None) -> list[Finding]:
    """Check the archive in ``folder``; an empty list, or one with notes only, means that it is in order.

    ``on_progress`` gets the number of pictures checked and their total.  Raises `ArchiveError` when there is
    no archive to check, or none that can be opened at all.
    """
    damaged = _database_findings(folder)
    if damaged:
        return damaged
    with Archive.open(folder) as archive:
        return [
            *_table_findings(archive.connection),
            *_reference_findings(archive.connection),
            *_row_findings(archive.connection),
            *_picture_findings(archive, on_progress),
            *_signature_findings(archive),
            *(Finding(*each) for each in boards_findings(folder, archive.connection)),
            *_notes(archive),
        ]


def repair(folder: Path, findings: list[Finding]) -> list[str]:
    """Mend what `verify` found, as far as the archive itself allows, and say in sentences what was done.

    Signatures are written again from the database and left-over files are removed.  Works whose pictures are
    missing or damaged are marked, so that the next ingest of their records reads them again.  A damaged
    database cannot be mended from here.
    """
    if _database_findings(folder):
        message = f"The database {folder / DATABASE} itself is damaged; {ANEW}."
        raise ArchiveError(message)
    lost = {name for finding in findings for name in finding.pictures}
    said = []
    with Edition.begin(folder) as edition:
        wanted = " OR ".join(f"{column} = :name" for column in PICTURE_COLUMNS)
        again: set[str] = set()
        arranged = False
        with edition.batch() as connection:
            for name in sorted(lost):
                (folder / PICTURES / name).unlink(missing_ok=True)
                rows = connection.execute(f"SELECT work FROM works WHERE {wanted}", {"name": name})
                works = [work for (work,) in rows]
                again.update(works)
                arranged = arranged or not works
            for table in _READ_INTO:
                again.update(_without(connection, table))
            connection.executemany(
                "UPDATE works SET reading_version = '' WHERE work = ?", [(work,) for work in sorted(again)]
            )
        if arranged:
            from archive.arranging import arrange_edition

            arrange_edition(edition)
        edition.publish()
    if again:
        said.append(f"{works_in_words(len(again))} will be read again by the next ingest of the same records.")
    if arranged:
        said.append("The pictures of the arrangements were made again.")
    said.append("The signatures were written again.")
    return said


def way_out(findings: list[Finding], *, repaired: bool = False) -> str:
    """What to do about what is wrong, as far as it is not said with it; '' when there is nothing to say."""
    if any(finding.database for finding in findings):
        return f"There is no mending {DATABASE}: {ANEW}."
    if not any(finding.pictures for finding in findings):
        return ""
    brings = "ingest of the same records (or 'blotbook demo') brings the pictures back."
    return f"The next {brings}" if repaired else f"Give 'blotbook verify --repair' first; then the next {brings}"


def _database_findings(folder: Path) -> list[Finding]:
    """What SQLite itself has to say of the file; Archive.open could not get past much of it."""
    database = folder / DATABASE
    if not database.is_file():
        message = f"There is no archive in {folder}; 'blotbook ingest' makes one, and 'blotbook demo' one to try."
        raise ArchiveError(message)
    try:
        connection = sqlite3.connect(database.resolve().as_uri() + "?mode=ro&immutable=1", uri=True)
        try:
            version = version_of(connection)
            if version > VERSION:
                message = f"The archive in {folder} was made by a newer Blotbook; this one cannot check it."
                raise ArchiveError(message)
            said = [line for (line,) in connection.execute("PRAGMA integrity_check(10)")]
            if said == ["ok"]:
                said = [stranger(connection) or "ok"]
        finally:
            connection.close()
    except sqlite3.Error as error:
        said = [str(error)]
    return [] if said == ["ok"] else [Finding(f"{DATABASE} is damaged: {line}.", database=True) for line in said]


def _table_findings(connection: sqlite3.Connection) -> Iterator[Finding]:
    if version_of(connection) == VERSION:
        for fault in table_faults(connection, migrate):
            yield Finding(fault)


def _reference_findings(connection: sqlite3.Connection) -> Iterator[Finding]:
    counted: dict[tuple[str, str], int] = {}
    for table, _, referred, _ in connection.execute("PRAGMA foreign_key_check"):
        counted[table, referred] = counted.get((table, referred), 0) + 1
    for (table, referred), count in counted.items():
        rows = "row of" if count == 1 else "rows of"
        yield Finding(f"{count} {rows} {table} refer to {referred} that are not there.")


def _row_findings(connection: sqlite3.Connection) -> Iterator[Finding]:
    for table in _READ_INTO:
        missing = _without(connection, table)
        if missing:
            yield Finding(f"{works_in_words(len(missing))} without a row in {table}: {_some(missing)}.")
    lowest, highest, count = connection.execute("SELECT min(row), max(row), count(row) FROM works").fetchone()
    if count and (lowest, highest) != (0, count - 1):
        yield Finding("The rows of the works do not count from 0 without a gap.")
    (found,) = connection.execute("SELECT count(*) FROM works_fts_docsize").fetchone()
    (works,) = connection.execute("SELECT count(*) FROM works").fetchone()
    if found != works:
        yield Finding(f"The text search knows {found} works, and there are {works}.")
    wrong = connection.execute(
        "SELECT name FROM arrangements WHERE members != "
        "(SELECT count(*) FROM works WHERE works.arrangement = arrangements.arrangement)"
    )
    for (name,) in wrong.fetchall():
        yield Finding(f"The arrangement “{name}” has another number of members than it says.")


def _without(connection: sqlite3.Connection, table: str) -> list[str]:
    rows = connection.execute(f"SELECT work FROM works WHERE work NOT IN (SELECT work FROM {table}) ORDER BY work")
    return [work for (work,) in rows]


def _picture_findings(archive: Archive, on_progress: OnProgress | None) -> Iterator[Finding]:
    folder = archive.folder / PICTURES
    owners = _pictures(archive.connection)
    missing: list[str] = []
    damaged: list[str] = []
    for done, name in enumerate(sorted(owners), 1):
        if not is_whole(folder, name):
            (damaged if (folder / name).exists() else missing).append(name)
        if on_progress is not None:
            on_progress(done, len(owners))
    for names, what in ((missing, "missing"), (damaged, "damaged: its bytes are not those of its name")):
        if len(names) > _MOST_NAMED:
            whose = _some(sorted({owners[name] for name in names}, reverse=True), _FEW_NAMED)
            kind = what.partition(":")[0]
            yield Finding(f"{len(names):,} pictures are {kind}, of {whose}.", pictures=tuple(names))
            continue
        for name in names:
            yield Finding(f"Picture {name} of {owners[name]} is {what}.", pictures=(name,))
    left = [name for name in picture_files(folder) if name not in owners]
    if left:
        files = "1 file" if len(left) == 1 else f"{len(left)} files"
        sentence = f"{files} under {PICTURES} that no work needs: {_some(left)}."
        yield Finding(sentence, wrong=False)


def _pictures(connection: sqlite3.Connection) -> dict[str, str]:
    """Each picture that is needed, and who needs it, in words."""
    owners: dict[str, str] = {}
    for work, *names in connection.execute(f"SELECT work, {', '.join(PICTURE_COLUMNS)} FROM works"):
        for name in names:
            owners[name] = f"work {work}"
    for slug, *names in connection.execute("SELECT slug, mean, spread FROM arrangements"):
        for name in names:
            if name is not None:
                owners[name] = f"arrangement {slug}"
    return owners


def _signature_findings(archive: Archive) -> Iterator[Finding]:
    try:
        signatures = archive.signatures()
    except ArchiveError as error:
        yield Finding(str(error))
        return
    wrong = _wrong_signatures(archive, signatures)
    if wrong:
        yield Finding(f"The signatures of {works_in_words(len(wrong))} differ from the database: {_some(wrong)}.")
    elif sha256_of(archive.signatures_file()) != archive.setting(SIGNATURES_SHA256):
        yield Finding(f"{archive.signatures_file().name} is not the file that was written with the database.")


def _wrong_signatures(archive: Archive, signatures: NDArray[np.uint8]) -> list[str]:
    rows = archive.connection.execute(
        "SELECT works.row, works.work, signature FROM works JOIN signatures USING (work) "
        "WHERE works.row IS NOT NULL ORDER BY works.row"
    )
    return [work for row, work, signature in rows if row >= len(signatures) or signatures[row].tobytes() != signature]


def _notes(archive: Archive) -> Iterator[Finding]:
    from ingest.pipeline import street_version

    if (archive.folder / WORKING).exists():
        sentence = "An ingest was stopped before it was done, or is at work now; the same command finishes it."
        yield Finding(sentence, wrong=False)
    (old,) = archive.connection.execute(
        "SELECT count(*) FROM works WHERE reading_version != ?", (street_version(),)
    ).fetchone()
    if old:
        were = "was" if old == 1 else "were"
        sentence = f"{works_in_words(old)} {were} not read in today's way; the next ingest of their records does so."
        yield Finding(sentence, wrong=False)


def _some(names: list[str], most: int = _MOST_NAMED) -> str:
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")
