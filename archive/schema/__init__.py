"""The tables of an archive, as an append-only list of migrations.

`MIGRATIONS` is only ever added to: a released migration is never edited, so that an archive of any age can
be brought up to date by running those it has not seen.  ``PRAGMA user_version`` counts the ones it has.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

from archive.schema.reading_tables import create_reading_tables
from archive.sql_script import run_script


def m001_works(connection: sqlite3.Connection) -> None:
    """Works with their sources, measures, masses, types, signatures and arrangements; search; settings."""
    run_script(connection, __package__, "m001_works.sql")
    create_reading_tables(connection)


def m002_part(connection: sqlite3.Connection) -> None:
    """What of the file a record says is the picture."""
    run_script(connection, __package__, "m002_part.sql")


def m003_formulas(connection: sqlite3.Connection) -> None:
    """How each measure is computed."""
    run_script(connection, __package__, "m003_formulas.sql")


def m004_map(connection: sqlite3.Connection) -> None:
    """A map of the works, and the neighbours of arrangements."""
    run_script(connection, __package__, "m004_map.sql")


def m005_subjects(connection: sqlite3.Connection) -> None:
    """The country that a record gives, and what works show."""
    run_script(connection, __package__, "m005_subjects.sql")


def m006_withdrawn(connection: sqlite3.Connection) -> None:
    """Works that were taken out by hand."""
    run_script(connection, __package__, "m006_withdrawn.sql")


MIGRATIONS: tuple[Callable[[sqlite3.Connection], None], ...] = (
    m001_works,
    m002_part,
    m003_formulas,
    m004_map,
    m005_subjects,
    m006_withdrawn,
)

VERSION = len(MIGRATIONS)
"""The ``user_version`` of an archive that is up to date."""


def version_of(connection: sqlite3.Connection) -> int:
    """How many migrations the database has seen; 0 for an empty one."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    return int(version)


def migrate(connection: sqlite3.Connection) -> None:
    """Run the migrations that the database has not seen, each in a transaction of its own.

    ``connection`` must be in autocommit mode (``isolation_level=None``).
    """
    for number in range(version_of(connection), VERSION):
        connection.execute("BEGIN")
        try:
            MIGRATIONS[number](connection)
            connection.execute(f"PRAGMA user_version = {number + 1}")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
        connection.execute("COMMIT")
