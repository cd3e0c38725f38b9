"""The file of a gathering's journal: its tables, and opening it for one program at a time."""

from __future__ import annotations

import sqlite3
from pathlib import Path

JOURNAL = "gathering.db"
FORMAT = 1

TABLES = """
CREATE TABLE gatherings (
    gathering INTEGER PRIMARY KEY, collection TEXT NOT NULL, asked TEXT NOT NULL, cursor TEXT NOT NULL DEFAULT '',
    listed INTEGER NOT NULL DEFAULT 0, total INTEGER, UNIQUE (collection, asked)
);
CREATE TABLE counts (
    gathering INTEGER NOT NULL REFERENCES gatherings(gathering), why TEXT NOT NULL, reason TEXT NOT NULL,
    works INTEGER NOT NULL, PRIMARY KEY (gathering, why, reason)
);
CREATE TABLE works (
    collection TEXT NOT NULL, key TEXT NOT NULL, state TEXT NOT NULL, title TEXT NOT NULL DEFAULT '',
    held TEXT, record TEXT, etag TEXT NOT NULL DEFAULT '', sha256 TEXT, bytes INTEGER,
    why TEXT NOT NULL DEFAULT '', reason TEXT NOT NULL DEFAULT '', PRIMARY KEY (collection, key)
);
CREATE INDEX works_by_sha256 ON works(sha256);
CREATE TABLE listings (
    gathering INTEGER NOT NULL REFERENCES gatherings(gathering), place INTEGER NOT NULL, collection TEXT NOT NULL,
    key TEXT NOT NULL, PRIMARY KEY (gathering, place), UNIQUE (gathering, key)
);
CREATE TABLE answers (address TEXT PRIMARY KEY, body BLOB NOT NULL);
CREATE TABLE placeholders (sha256 TEXT PRIMARY KEY);
"""


class JournalProblem(Exception):
    """The journal cannot be used; the message is one sentence for people."""


def open_journal(folder: Path) -> sqlite3.Connection:
    """The connection to the journal of a folder, made if there is none, in autocommit mode.

    As long as it is open no other program can open it.  Raises `JournalProblem`.
    """
    path = folder / JOURNAL
    try:
        connection = sqlite3.connect(path, isolation_level=None, timeout=0.5)
    except sqlite3.Error as error:
        message = f"The journal {path} could not be opened ({error})."
        raise JournalProblem(message) from error
    try:
        connection.execute("PRAGMA locking_mode = EXCLUSIVE")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("BEGIN EXCLUSIVE")
        (found,) = connection.execute("PRAGMA user_version").fetchone()
        if found > FORMAT:
            message = f"{path} was written by a newer Blotbook."
            raise JournalProblem(message)
        if found == 0:
            for statement in TABLES.split(";\n"):
                connection.execute(statement)
            connection.execute(f"PRAGMA user_version = {FORMAT}")
        connection.execute("COMMIT")
    except JournalProblem:
        connection.close()
        raise
    except sqlite3.OperationalError as error:
        connection.close()
        message = f"The journal {path} could not be opened ({error})."
        if "locked" in str(error):
            message = f"Another 'blotbook gather' is at work in {folder}."
        raise JournalProblem(message) from error
    except sqlite3.DatabaseError as error:
        connection.close()
        message = f"{path} is damaged ({error}); delete it to begin anew, pictures that are there are kept."
        raise JournalProblem(message) from error
    return connection
