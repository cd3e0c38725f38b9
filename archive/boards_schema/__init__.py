"""The tables of ``boards.db``, as an append-only list of migrations.

`MIGRATIONS` names the scripts of this folder in order.  It is only ever added to: a released script is never edited, so
that what people made with an older Blotbook opens in every newer one.  ``PRAGMA user_version`` counts the scripts that
a file has seen.
"""

from __future__ import annotations

import sqlite3
from importlib.resources import files

MIGRATIONS = ("m001_boards.sql", "m002_studies.sql")

VERSION = len(MIGRATIONS)
"""The ``user_version`` of a file that is up to date."""


def migrate(connection: sqlite3.Connection) -> None:
    """Run the scripts that the database has not seen, each in a transaction of its own.

    ``connection`` must be in autocommit mode (``isolation_level=None``).  Two programs may do this at the same time:
    the one that comes second finds the work done.
    """
    while True:
        connection.execute("BEGIN IMMEDIATE")
        try:
            (number,) = connection.execute("PRAGMA user_version").fetchone()
            if number >= VERSION:
                connection.execute("ROLLBACK")
                return
            _run(connection, MIGRATIONS[number])
            connection.execute(f"PRAGMA user_version = {number + 1}")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
        connection.execute("COMMIT")


def _run(connection: sqlite3.Connection, name: str) -> None:
    script = files(__package__).joinpath(name).read_text(encoding="utf-8")
    statement = ""
    # One statement at a time: executescript would commit the transaction that the migration runs in.
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            connection.execute(statement)
            statement = ""
