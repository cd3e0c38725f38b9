"""The tables of ``boards.db``, as an append-only list of migrations.

`MIGRATIONS` names the scripts of this folder in order.  It is only ever added to: a released script is never edited, so
that what people made with an older Blotbook opens in every newer one.  ``PRAGMA user_version`` counts the scripts that
a file has seen.
"""

from __future__ import annotations

import sqlite3

from archive.sql_script import run_script

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
            run_script(connection, __package__, MIGRATIONS[number])
            connection.execute(f"PRAGMA user_version = {number + 1}")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
        connection.execute("COMMIT")
