"""What came too late, kept beside the board that stands.

A class that writes on one leaf at the same moment would leave a copy of the whole board for each of them. Words of a
leaf therefore go onto the one board that is beside already, as a leaf of their own behind the leaf that they are about.
Nobody's words are written over, and no other leaf is touched, so that it does not count as a version of that board.
"""

from __future__ import annotations

import sqlite3
from dataclasses import replace

from archive.board import MOST_LEAVES, Board, Leaf, new_id
from archive.board_edits import titled
from archive.board_rows import insert_leaf, now, read_board


def version_beside(wanted: Board) -> Board:
    """A board as somebody wanted it, as one of its own."""
    return replace(wanted, board=new_id(), title=titled(wanted.title, "another version"), version=1, archived=False)


def kept_already(connection: sqlite3.Connection, board: str, kept: Board, leaf: str | None) -> tuple[Board, str] | None:
    """The board beside ``board`` that holds the same as ``kept``, and which of its leaves ``leaf`` of that is.

    Where it is about a leaf, that is put onto the board beside. Boards that somebody has gone on with, renamed or put
    away are left alone. None where there is none that holds it, or has room for it.
    """
    beside = connection.execute(
        "SELECT board FROM boards WHERE beside = ? AND title = ? AND version = 1 AND NOT archived "
        "ORDER BY changed_at DESC, rowid DESC",
        (board, kept.title),
    )
    there = [read_board(connection, name) for (name,) in beside.fetchall()]
    for each in there:
        if replace(each, board=kept.board) == kept:
            return each, leaf or ""
    late = next((each for each in kept.leaves if each.leaf == leaf), None)
    if late is None:
        return None
    for each in there:
        same = next((other.leaf for other in each.leaves if replace(other, leaf=late.leaf) == late), None)
        if same is not None:
            return each, same
    return next((_joined(connection, each, late) for each in there if len(each.leaves) < MOST_LEAVES), None)


def _joined(connection: sqlite3.Connection, beside: Board, late: Leaf) -> tuple[Board, str]:
    fresh = replace(late, leaf=new_id())
    # Behind its own leaf and those that came too late for it before; at the end where it is not on that board.
    places = connection.execute(
        "SELECT (SELECT place FROM leaves WHERE board = ? AND leaf = ? AND removed_in IS NULL), "
        "(SELECT max(place) + 1 FROM leaves WHERE board = ?)",
        (beside.board, late.leaf, beside.board),
    ).fetchone()
    insert_leaf(connection, beside.board, fresh, next((place for place in places if place is not None), 0))
    connection.execute("UPDATE boards SET changed_at = ? WHERE board = ?", (now(), beside.board))
    return read_board(connection, beside.board), fresh.leaf
