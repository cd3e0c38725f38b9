"""Checks ``boards.db``: that it is whole, that its boards can be read, and which of their works are gone."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from archive.boards_file import BOARDS, read_only
from archive.boards_schema import VERSION, migrate
from archive.verify_tables import table_faults


class BoardsFinding(NamedTuple):
    """One thing found, in a sentence; ``wrong`` when the file is not as it should be, else worth knowing."""

    sentence: str
    wrong: bool


def boards_findings(folder: Path, works: sqlite3.Connection) -> list[BoardsFinding]:
    """What is to be said of the boards beside the archive whose database is ``works``; nothing when there are none.

    The file is read only, also when somebody is writing to it at the same time.
    """
    if not (folder / BOARDS).exists():
        return []
    try:
        with closing(read_only(folder)) as connection:
            connection.row_factory = sqlite3.Row
            connection.execute("BEGIN")
            return [BoardsFinding(*each) for each in _findings(connection, works)]
    except sqlite3.Error as error:
        return [BoardsFinding(f"{BOARDS} is damaged: {error}. Boards can be made from nothing else: {_COPY}", True)]


def boards_damage(folder: Path) -> str:
    """A sentence when the file of the boards beside an archive is damaged, '' when it is whole or there is none."""
    if not (folder / BOARDS).exists():
        return ""
    try:
        with closing(read_only(folder)) as connection:
            (said,) = connection.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.OperationalError:
        # Busy, or not to be read by us: whoever asks for a board is told.
        return ""
    except sqlite3.Error as error:
        said = str(error)
    return "" if said == "ok" else f"{BOARDS} is damaged: {said}. Boards can be made from nothing else: {_COPY}"


_COPY = "put a copy of the file in its place, as 'blotbook pack --boards' keeps them."


def _findings(connection: sqlite3.Connection, works: sqlite3.Connection) -> list[tuple[str, bool]]:
    said = [line for (line,) in connection.execute("PRAGMA integrity_check(10)")]
    if said != ["ok"]:
        return [(f"{BOARDS} is damaged: {line}. Boards can be made from nothing else: {_COPY}", True) for line in said]
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    if version > VERSION:
        return [(f"{BOARDS} was made by a newer Blotbook; this one cannot check it.", False)]
    found: list[tuple[str, bool]] = []
    if version == VERSION:
        found += [(f"{BOARDS}: {fault}", True) for fault in table_faults(connection, migrate)]
    nowhere = len(connection.execute("PRAGMA foreign_key_check").fetchall())
    if nowhere:
        found.append((f"{nowhere} row{'s' * (nowhere > 1)} of {BOARDS} refer to what is not there.", True))
    return found + ([] if found else _leaf_findings(connection, works))


def _leaf_findings(connection: sqlite3.Connection, works: sqlite3.Connection) -> list[tuple[str, bool]]:
    from archive.board import BoardsError
    from archive.board_rows import read_board

    found: list[tuple[str, bool]] = []
    for (name,) in connection.execute("SELECT board FROM boards ORDER BY board").fetchall():
        try:
            read_board(connection, name)
        except (BoardsError, KeyError, TypeError, ValueError, json.JSONDecodeError):
            found.append((f"The board {name} in {BOARDS} cannot be read.", True))
    if found:
        return found
    gone = [
        (title, work)
        for title, work in connection.execute(
            "SELECT DISTINCT title, work FROM shown_on_boards WHERE work IS NOT NULL ORDER BY title, work"
        )
        if works.execute("SELECT 1 FROM works WHERE work = ?", (work,)).fetchone() is None
    ]
    for title, work in gone:
        found.append((f"The board “{title}” shows the work {work}, which the archive no longer has.", False))
    studies = connection.execute(
        "SELECT DISTINCT title FROM shown_on_boards WHERE study IS NOT NULL "
        "AND study NOT IN (SELECT study FROM studies) ORDER BY title"
    )
    found += [(f"The board “{title}” shows a study that is no longer kept.", False) for (title,) in studies]
    return found
