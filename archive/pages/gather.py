"""Gathering: works ticked in any list are put onto a board, several at once."""

from __future__ import annotations

import asyncio
from typing import Any

from archive.board import MOST_LEAVES, PLAIN_SHOWING, SHOWINGS, Board, BoardsError, Leaf, Shown, new_id
from archive.boards import Boards, Summary, leaf_of
from archive.modes import BOARDS, KEEP, LEAVES
from archive.pages.boards import board_problem, board_url, read_form, text_of, texts_of
from archive.pages.frame import Page, Problem, Turn, need, page
from archive.pages.language import say
from archive.pages.permits import house_of, may, refusal
from archive.pages.room import Room, need_room
from archive.pages.shown import leaves_of, way_words
from archive.practice import Practice

Part = tuple[float, float, float, float]

_OFFERED = 60
"""Boards to choose from, those changed last; an older one can be reached by changing it, or copied."""

_STUDY = "study:"
"""Begins what a tick of a kept study sends; a tick of a work sends what `archive.pages.leaves.pick_value` writes."""


@page("GET", "HEAD", "POST", needs=LEAVES)
async def gather(datasette: Any, request: Any) -> Page | Turn:
    """GET: the works ticked (?work=, several times) and the boards they can go to. POST: puts them there."""
    room = need_room(datasette)
    # '' where all boards are open to whoever asks, else the one that is.
    only = "" if await may(datasette, request, BOARDS) else house_of(datasette).class_board
    try:
        if request.method != "POST":
            return await asyncio.to_thread(_choose, datasette, room, request.args.getlist("work"), only)
        form = await read_form(request)
        if only and text_of(form, "board") != only:
            raise Problem(refusal(datasette, LEAVES), 403)
        if any(value.startswith(_STUDY) for value in texts_of(form, "work")):
            await need(datasette, request, KEEP)
        board, first = await room.written(_put, room, form)
    except BoardsError as error:
        raise board_problem(error) from error
    return Turn(f"{board_url(datasette, board.board)}#leaf-{first}", {"board": board.board, "version": board.version})


def _picked(room: Room, value: str) -> Leaf:
    study = value.removeprefix(_STUDY)
    if study != value:
        return _picked_study(room, study)
    work, at, numbers = value.partition("@")
    part: Part | None = None
    if at:
        try:
            x0, y0, x1, y1 = (float(number) for number in numbers.split(","))
        except ValueError as error:
            raise Problem(say("The part of a work is given by four numbers from 0 to 1.")) from error
        part = (x0, y0, x1, y1)
    return leaf_of(room.archive, work, part=part)


def _picked_study(room: Room, study: str) -> Leaf:
    if Practice(room.boards_file).get(study) is None:
        raise Problem(say("There is no such kept study."), 404)
    # Without a record: when a study is deleted, no name of whoever made it stays on a board.
    return Leaf(new_id(), (Shown(study=study),), PLAIN_SHOWING)


def _leaves(room: Room, values: list[str]) -> list[Leaf]:
    if not values:
        raise Problem(say("Tick the works first that are to go onto a board."))
    if len(values) > MOST_LEAVES:
        raise Problem(say("A board holds up to %(most)d leaves.", most=MOST_LEAVES))
    return [_picked(room, value) for value in dict.fromkeys(values)]


def _choose(datasette: Any, room: Room, values: list[str], only: str) -> Page:
    leaves = _leaves(room, list(values))
    kept = Boards(room.boards_file)
    boards = [kept.summary(only)] if only else kept.summaries(size=_OFFERED)
    shown = leaves_of(datasette, room, Board("picked", say("Picked"), leaves=tuple(leaves)), ("three",))
    return Page(
        "gather.html",
        say("Put onto a board"),
        {
            "works": [leaf.shown[0].work for leaf in leaves],
            "boards": [{"board": board.board, "title": board.title, "leaves": board.leaves} for board in boards],
        },
        {
            "picked": list(zip(list(dict.fromkeys(values)), shown, strict=True)),
            "boards": boards,
            "chosen": _chosen(boards),
            "ways": list(way_words().items()),
            "plain": PLAIN_SHOWING,
            "may_begin": not only,
        },
        tab="boards",
    )


def _chosen(boards: list[Summary]) -> str:
    """The board that is ticked at first: the one changed last, '' where there is none.

    A version that was kept beside a board when two people changed the same is newer than the board, and works are meant
    for the board; until somebody goes on with that version.
    """
    if not boards:
        return ""
    last = boards[0]
    beside = last.version == 1 and any(last.beside == board.board for board in boards)
    return last.beside if beside else last.board


def _put(room: Room, form: Any) -> tuple[Board, str]:
    kept = Boards(room.boards_file)
    leaves = _leaves(room, texts_of(form, "work"))
    ways = tuple(way for way in SHOWINGS if way in texts_of(form, "way")) or PLAIN_SHOWING
    if text_of(form, "pair") == "1":
        if len(leaves) != 2:
            raise Problem(say("A leaf to compare holds two pictures; tick two."))
        leaves = [Leaf(new_id(), leaves[0].shown + leaves[1].shown)]
    leaves = [Leaf(leaf.leaf, leaf.shown, ways) for leaf in leaves]
    board = text_of(form, "board")
    if board:
        return kept.add(board, leaves), leaves[0].leaf
    return kept.make(text_of(form, "title"), leaves=leaves), leaves[0].leaf
