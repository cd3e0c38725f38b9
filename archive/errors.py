"""What can be wrong with an archive, said to people."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

from archive.schema import version_of


class ArchiveError(Exception):
    """Something is wrong with an archive or with what was asked of it; the message is one clear sentence."""


ANEW = (
    "move it away and make it anew with 'blotbook ingest' (or 'blotbook demo'), or open a packed archive in a new "
    "folder with 'blotbook unpack'"
)
"""The way out when the database of an archive is damaged; pictures and boards beside it are left alone by it."""


def damaged(file: Path, why: object) -> ArchiveError:
    """The error that says that the database of an archive is damaged or something else, and the way out."""
    return ArchiveError(f"{file} is damaged or no archive ({why}); {ANEW}.")


def version_in(connection: sqlite3.Connection, file: Path) -> int:
    """How many migrations the database of an archive has seen.

    Raises `ArchiveError` with the way out when it is damaged, empty, or the database of something else.
    """
    try:
        version = version_of(connection)
        fault = stranger(connection)
    except sqlite3.Error as error:
        if is_damage(error):
            raise damaged(file, error) from error
        message = f"{file} cannot be read ({error})."
        raise ArchiveError(message) from error
    if fault:
        raise damaged(file, fault)
    return version


def stranger(connection: sqlite3.Connection) -> str:
    """Why a database that SQLite finds nothing wrong with is none of an archive, '' when it is one."""
    # SQLite opens an empty file, and that of any other program, without a word.
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
    if not tables:
        return "it is empty"
    return "" if version_of(connection) and {"works", "settings"} <= tables else "it has not the tables of an archive"


def is_damage(error: sqlite3.Error) -> bool:
    """Whether SQLite says that a file itself is not in order, and not that it cannot be written just now."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def whose_damage(database: Path, working: Path, error: sqlite3.Error) -> ArchiveError:
    """What to say of damage met while an edition is prepared: the one in use may be well, and its working copy not."""
    said = "ok"
    if database.exists():
        address = database.resolve().as_uri() + "?mode=ro&immutable=1"
        try:
            with contextlib.closing(sqlite3.connect(address, uri=True)) as connection:
                (said,) = connection.execute("PRAGMA quick_check(1)").fetchone()
        except sqlite3.Error as fault:
            said = str(fault)
    if said != "ok":
        return damaged(database, error)
    return ArchiveError(
        f"{working}, which a stopped command left, is damaged ({error}); move it away and give the same command again."
    )
