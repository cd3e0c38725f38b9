"""Checks that a database has the tables that its migrations make, and none besides."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing

_FOLLOW_THE_CODE = ("measures", "masses", "works_with_measures")
"""Tables whose columns are those of the Blotbook that wrote them last."""

_ENGINE = "sqlite_"
"""How names begin that SQLite gives by itself."""


def table_faults(connection: sqlite3.Connection, migrate: Callable[[sqlite3.Connection], None]) -> list[str]:
    """What is missing in the database, in it too much, or other than ``migrate`` makes it, each as a sentence."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
        migrate(fresh)
        wanted = _made(fresh)
    found = _made(connection)
    said = [f"The {kind} {name} is missing." for kind, name in sorted(wanted.keys() - found.keys())]
    said += [f"There is a {kind} {name} that Blotbook did not make." for kind, name in sorted(found.keys() - wanted)]
    said += [
        f"The {kind} {name} is not as Blotbook makes it."
        for kind, name in sorted(wanted.keys() & found.keys())
        if wanted[kind, name] != found[kind, name] and name not in _FOLLOW_THE_CODE
    ]
    return said


def _made(connection: sqlite3.Connection) -> dict[tuple[str, str], str]:
    """The statement that made each table, index, view and trigger, by kind and name."""
    rows = connection.execute("SELECT type, name, sql FROM sqlite_master")
    # SQLite writes the statements anew when a table is renamed, with other spaces and quotation marks.
    plain = str.maketrans("", "", ' \n"')
    return {(kind, name): (sql or "").translate(plain) for kind, name, sql in rows if not name.startswith(_ENGINE)}
