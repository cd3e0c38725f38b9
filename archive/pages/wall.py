"""The wall: a board for a projector, one leaf at a time, everything loaded beforehand."""

from __future__ import annotations

import asyncio
from typing import Any

from archive.board import SHOWINGS, BoardsError
from archive.boards import Boards
from archive.pages.boards import board_problem, board_url
from archive.pages.frame import Page, page, path_part
from archive.pages.room import Room, need_room
from archive.pages.shown import leaves_of, way_words

MINUTES = (1, 2, 5, 10, 20)
"""Lengths of a timed study, minutes (common practice in drawing classes)."""


@page("GET", "HEAD")
async def wall(datasette: Any, request: Any) -> Page:
    """The board named in the path, for a whole screen."""
    room, name = need_room(datasette), path_part(request, "board")
    try:
        return await asyncio.to_thread(_wall, datasette, room, name)
    except BoardsError as error:
        raise board_problem(error) from error


def _wall(datasette: Any, room: Room, name: str) -> Page:
    board = Boards(room.boards_file).get(name)
    leaves = leaves_of(datasette, room, board, SHOWINGS)
    return Page(
        "wall.html",
        board.title,
        {
            "title": board.title,
            "leaves": [
                {
                    "leaf": leaf.leaf,
                    "showing": list(leaf.showing),
                    "note": leaf.note,
                    "question": leaf.question,
                    "shown": [
                        {
                            "work": piece.work,
                            "title": piece.title,
                            "by": piece.by,
                            "pictures": {seen.way: seen.url for seen in piece.seen},
                        }
                        for piece in leaf.pieces
                    ],
                }
                for leaf in leaves
            ],
        },
        {
            "board": board,
            "url": board_url(datasette, name),
            "leaves": leaves,
            "ways": list(way_words().items()),
            "minutes": MINUTES,
        },
        tab="boards",
    )
