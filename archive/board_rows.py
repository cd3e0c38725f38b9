"""Boards as rows of ``boards.db``: reading one, writing one change, and what stood there at an earlier version.

Everything works on a connection inside a transaction of `archive.boards_file.BoardsFile`.  A change is named by what it
is to: a text of the board ('title'), its 'order', or a field of a leaf ('3f…/note').
"""

from __future__ import annotations

import json
import sqlite3
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from archive.board import Board, Leaf, NotThereError, leaf_as_json, leaf_from_json

TEXTS = ("title", "aim", "notes", "task")
ORDER = "order"
LEAF_FIELDS = ("shown", "showing", "note", "question")


def read_board(connection: sqlite3.Connection, board: str) -> Board:
    """The board of that name with its leaves in order.  Raises `NotThereError` when there is none."""
    row = connection.execute("SELECT * FROM boards WHERE board = ?", (board,)).fetchone()
    if row is None:
        message = "There is no board of that name."
        raise NotThereError(message)
    leaves = connection.execute(
        "SELECT leaf, document FROM leaves WHERE board = ? AND removed_in IS NULL ORDER BY place, rowid", (board,)
    )
    return Board(
        board=row["board"],
        **{name: row[name] for name in TEXTS},
        leaves=tuple(_leaf(leaf, document) for leaf, document in leaves),
        version=row["version"],
        archived=bool(row["archived"]),
    )


def removed_leaves(connection: sqlite3.Connection, board: str) -> list[Leaf]:
    """The leaves that were taken off the board, the last one first."""
    rows = connection.execute(
        "SELECT leaf, document FROM leaves WHERE board = ? AND removed_in IS NOT NULL ORDER BY removed_in DESC, place",
        (board,),
    )
    return [_leaf(leaf, document) for leaf, document in rows]


def insert_board(connection: sqlite3.Connection, board: Board, beside: str | None = None) -> None:
    """Write a board that is not there yet."""
    connection.execute(
        "INSERT INTO boards (board, title, aim, notes, task, version, archived, beside, changed_at) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (board.board, board.title, board.aim, board.notes, board.task, board.version, board.archived, beside, now()),
    )
    for place, leaf in enumerate(board.leaves):
        insert_leaf(connection, board.board, leaf, place)


def insert_leaf(connection: sqlite3.Connection, board: str, leaf: Leaf, place: int) -> None:
    """Write a leaf that is not there yet."""
    connection.execute(
        "INSERT INTO leaves (board, leaf, place, document) VALUES (?, ?, ?, ?)",
        (board, leaf.leaf, place, _document(leaf)),
    )


def write_changed(connection: sqlite3.Connection, before: Board, after: Board) -> Board:
    """Write what differs between two versions of one board as its next version, and note what stood there before.

    Returns ``after`` with that version; ``before`` itself when nothing differs.
    """
    changes = _differences(before, after)
    if not changes:
        return before
    version, moment = before.version + 1, now()
    connection.execute(
        "UPDATE boards SET title = ?, aim = ?, notes = ?, task = ?, archived = ?, version = ?, changed_at = ? "
        "WHERE board = ?",
        (after.title, after.aim, after.notes, after.task, after.archived, version, moment, before.board),
    )
    there = {leaf.leaf: leaf for leaf in before.leaves}
    for place, leaf in enumerate(after.leaves):
        known = connection.execute(
            "SELECT 1 FROM leaves WHERE board = ? AND leaf = ?", (before.board, leaf.leaf)
        ).fetchone()
        if known is None:
            insert_leaf(connection, before.board, leaf, place)
        elif there.get(leaf.leaf) != leaf or before.leaves[place : place + 1] != (leaf,):
            connection.execute(
                "UPDATE leaves SET place = ?, document = ?, removed_in = NULL WHERE board = ? AND leaf = ?",
                (place, _document(leaf), before.board, leaf.leaf),
            )
    stay = {leaf.leaf for leaf in after.leaves}
    connection.executemany(
        "UPDATE leaves SET removed_in = ? WHERE board = ? AND leaf = ?",
        [(version, before.board, leaf) for leaf in there if leaf not in stay],
    )
    connection.executemany(
        "INSERT INTO changes (board, version, what, before, changed_at) VALUES (?, ?, ?, ?, ?)",
        [
            (before.board, version, what, json.dumps(old, ensure_ascii=False), moment)
            for what, old in changes.items()
            if old is not None
        ],
    )
    return replace(after, version=version)


def stood_there(connection: sqlite3.Connection, board: str, version: int, what: str, current: Any) -> Any:
    """What ``what`` was at an earlier version; ``current`` when it has not been changed since."""
    row = connection.execute(
        "SELECT before FROM changes WHERE board = ? AND what = ? AND version > ? ORDER BY version LIMIT 1",
        (board, what, version),
    ).fetchone()
    if row is None:
        return current
    return json.loads(row["before"])


def place_of_removed(connection: sqlite3.Connection, board: str, leaf: str) -> int | None:
    """Where a removed leaf stood; None when there is no such leaf."""
    row = connection.execute(
        "SELECT place FROM leaves WHERE board = ? AND leaf = ? AND removed_in IS NOT NULL", (board, leaf)
    ).fetchone()
    return None if row is None else int(row["place"])


def fields_of(board: Board) -> dict[str, Any]:
    """All that can be changed apart from each other, by the name of the change, as plain JSON values."""
    found: dict[str, Any] = {name: getattr(board, name) for name in TEXTS}
    for leaf in board.leaves:
        written = leaf_as_json(leaf)
        found |= {f"{leaf.leaf}/{name}": written[name] for name in LEAF_FIELDS}
    return found


def now() -> str:
    """This moment, UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _differences(before: Board, after: Board) -> dict[str, Any]:
    """What stood in all that differs; None for what was not there."""
    old, new = fields_of(before), fields_of(after)
    found = {what: old.get(what) for what in old.keys() | new.keys() if old.get(what) != new.get(what)}
    if before.archived != after.archived:
        found["archived"] = before.archived
    was, comes = [leaf.leaf for leaf in before.leaves], [leaf.leaf for leaf in after.leaves]
    # Leaves that come or go do not reorder the rest.
    if [leaf for leaf in was if leaf in comes] != [leaf for leaf in comes if leaf in was]:
        found[ORDER] = was
    return found


def _leaf(leaf: str, document: str) -> Leaf:
    return leaf_from_json({**json.loads(document), "leaf": leaf})


def _document(leaf: Leaf) -> str:
    written = leaf_as_json(leaf)
    del written["leaf"]
    return json.dumps(written, ensure_ascii=False)
