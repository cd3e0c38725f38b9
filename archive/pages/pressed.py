"""A board as a file to take away."""

from __future__ import annotations

import asyncio
from typing import Any

from archive.boards import Boards
from archive.errors import ArchiveError
from archive.exporting import FORMS, PAGES, PER_PAGE, Paper, export, file_name
from archive.modes import BOARDS
from archive.pages.board import told
from archive.pages.boards import board_problem
from archive.pages.frame import Parcel, Problem, page, path_part
from archive.pages.language import say
from archive.pages.permits import may
from archive.pages.room import Room, need_room

_LONGEST = 40
"""How many may stand in line for a file: a class, and some that try again."""


@page("GET", "HEAD")
async def pressed(datasette: Any, request: Any) -> Parcel:
    """The board in the form named in the path; what is printed also heeds ?page=, ?landscape=1, ?per_page= and
    ?handout=1, which leaves the notes out."""
    room, name, form = need_room(datasette), path_part(request, "board"), path_part(request, "form")
    if form not in FORMS:
        raise Problem(say("A board cannot be taken away in that form."), 404)
    base = str(datasette.absolute_url(request, datasette.urls.path("/")))
    whole, paper = await may(datasette, request, BOARDS), _paper(request)
    handout = request.args.get("handout") == "1"
    if room.presses.standing >= _LONGEST:
        raise Problem(say("Many boards are being made into files just now; try again in a minute."), 503)
    room.presses.standing += 1
    try:
        # A long board takes ten seconds and much memory. One after the other, nobody waits longer for the last, and
        # nobody who leafs through pages waits for any.
        async with room.presses.turn:
            return await asyncio.to_thread(_press, room, name, form, paper, base, whole, handout)
    except ArchiveError as error:
        raise board_problem(error) from error
    finally:
        room.presses.standing -= 1


def _press(room: Room, name: str, form: str, paper: Paper, base: str, whole: bool, handout: bool) -> Parcel:
    board = told(Boards(room.boards_file).get(name), whole)
    done = export(room.archive, board, form, boards_file=room.boards_file, paper=paper, base_url=base, handout=handout)
    return Parcel(done.data, done.media_type, file_name(board, done.ending))


def _paper(request: Any) -> Paper:
    page_size, per_page = request.args.get("page") or "a4", request.args.get("per_page") or "2"
    if page_size not in PAGES or per_page not in {str(count) for count in PER_PAGE}:
        raise Problem(say("Paper is A4 or US Letter, with 1, 2, 4 or 6 leaves to a page."))
    return Paper(page_size, request.args.get("landscape") == "1", int(per_page))
