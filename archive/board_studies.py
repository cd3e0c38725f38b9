"""Kept studies on boards: taken off with the leaves that show them, and never brought back once they are deleted.

Everything works on a connection inside a transaction of `archive.boards_file.BoardsFile`.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import replace

from archive.board import Board, Leaf, NotThereError
from archive.board_edits import with_removed
from archive.board_rows import read_board, write_changed


def take_off(connection: sqlite3.Connection, studies: Sequence[str]) -> None:
    """Take every leaf that shows one of these studies off its board."""
    shown: dict[str, set[str]] = {}
    for board, leaf in connection.execute(
        "SELECT board, leaf FROM shown_on_boards WHERE study IN (SELECT value FROM json_each(?))",
        (json.dumps(studies),),
    ).fetchall():
        shown.setdefault(board, set()).add(leaf)
    for board, leaves in shown.items():
        there = read_board(connection, board)
        stay = tuple(leaf for leaf in there.leaves if leaf.leaf not in leaves)
        write_changed(connection, there, replace(there, leaves=stay))


def is_whole(connection: sqlite3.Connection, leaf: Leaf) -> bool:
    """Whether every study that a leaf shows is still kept; True for a leaf that shows none."""
    return all(
        connection.execute("SELECT 1 FROM studies WHERE study = ?", (shown.study,)).fetchone() is not None
        for shown in leaf.shown
        if shown.study
    )


def brought_back(connection: sqlite3.Connection, there: Board, leaf: str | None) -> Board:
    """The board with the leaf on it, also when somebody has taken it off.

    Raises `NotThereError` when there is no such leaf, or it was taken off and a study that it shows is not kept.
    """
    whole = with_removed(connection, there, leaf)
    if whole is not there and not all(is_whole(connection, each) for each in whole.leaves if each.leaf == leaf):
        message = "The study on that leaf is not kept here any more, so the leaf cannot come back."
        raise NotThereError(message)
    return whole
