"""Running a script of SQL within a transaction."""

from __future__ import annotations

import sqlite3
from importlib.resources import files


def run_script(connection: sqlite3.Connection, package: str, name: str) -> None:
    """Run the statements of a file of a package, one at a time: executescript would commit the transaction that is
    open."""
    script = files(package).joinpath(name).read_text(encoding="utf-8")
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            connection.execute(statement)
            statement = ""
