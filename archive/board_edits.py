"""Single edits of a board: fields replaced and checked, a removed leaf brought back, an order followed, titles."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from archive.board import LONGEST, Board, BoardsError, Leaf, NotThereError, checked, checked_leaf
from archive.board_rows import LEAF_FIELDS, place_of_removed, removed_leaves


def with_fields(board: Board, fields: Mapping[str, Any], leaf: str | None) -> Board:
    """The board with texts, or with fields of one leaf, replaced and checked."""
    if leaf is None:
        return checked(replace(board, **fields))
    unknown = set(fields) - set(LEAF_FIELDS)
    if unknown:
        message = f"A leaf has no {unknown.pop()}."
        raise BoardsError(message)
    return replace(
        board,
        leaves=tuple(checked_leaf(replace(each, **fields)) if each.leaf == leaf else each for each in board.leaves),
    )


def without(board: Board, leaf: str | None) -> Board:
    """The board with a leaf taken off."""
    return replace(board, leaves=tuple(each for each in board.leaves if each.leaf != leaf))


def with_removed(connection: sqlite3.Connection, there: Board, leaf: str | None) -> Board:
    """The board with the leaf on it, also when somebody else has taken it off."""
    if leaf is None or any(each.leaf == leaf for each in there.leaves):
        return there
    place = place_of_removed(connection, there.board, leaf)
    if place is None:
        message = "There is no such leaf on the board."
        raise NotThereError(message)
    back = next(each for each in removed_leaves(connection, there.board) if each.leaf == leaf)
    return replace(there, leaves=(*there.leaves[:place], back, *there.leaves[place:]))


def ordered(leaves: Sequence[Leaf], order: Sequence[str]) -> tuple[Leaf, ...]:
    """Leaves in an order given by their names; those that it does not name come last, as they stood."""
    places = {leaf: place for place, leaf in enumerate(order)}
    return tuple(sorted(leaves, key=lambda leaf: places.get(leaf.leaf, len(places))))


def at_least(board: Board, version: int) -> Board:
    """The board itself.  Raises `BoardsError` for a version that it never had."""
    if not 1 <= version <= board.version:
        message = "The board has no such version; please load its page again."
        raise BoardsError(message)
    return board


def titled(title: str, what: str) -> str:
    """A title with a word in brackets behind it, no longer than a title may be."""
    return f"{title[: LONGEST['title'] - len(what) - 3].rstrip()} ({what})"
