"""One board: its leaves in order, the words about them, and the forms that change it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from urllib.parse import quote

from archive.board import LONGEST, SHOWINGS, Board, BoardsError, Leaf, as_json
from archive.boards import BoardConflict, Boards
from archive.exporting import PAGES, PER_PAGE
from archive.modes import BOARDS, LEAVES
from archive.pages.boards import board_problem, board_url, read_form, text_of, texts_of
from archive.pages.frame import Page, Problem, Turn, need, page, path_part
from archive.pages.language import say
from archive.pages.numbers import whole_number
from archive.pages.permits import house_of, may
from archive.pages.room import Room, need_room
from archive.pages.shown import ShownLeaf, leaves_of, sortable, way_words

FALLS, RETURNS, KEPT = "falls", "returns", "kept"
"""Orders of a sequence: detail falls away, detail comes back, or as it was given."""


_OF_THE_TEACHER = ("question", "sequence", "way", "before")
"""Fields of the form of a leaf that only those send who may change the board."""


@page("GET", "HEAD", "POST")
async def board(datasette: Any, request: Any) -> Page | Turn:
    """GET: the board. POST: changes it; do= says how, and version= which version the form was made from."""
    room, name = need_room(datasette), path_part(request, "board")
    whole = await may(datasette, request, BOARDS)
    try:
        if request.method != "POST":
            off = request.args.get("off") == "1"
            return await asyncio.to_thread(_shown, datasette, room, name, whole, off)
        await _need_any(datasette, request, name)
        form = await read_form(request)
        if not whole:
            await _need_note(datasette, request, form)
        changed, at = await room.written(_change, room, name, form)
    except BoardConflict as conflict:
        return _conflict(datasette, conflict, whole)
    except BoardsError as error:
        raise board_problem(error) from error
    return Turn(board_url(datasette, changed.board) + at, {"board": as_json(told(changed, whole))})


async def _need_any(datasette: Any, request: Any, name: str) -> None:
    """Whoever may not change boards may still write on the leaves of the board of the class, where there is one."""
    if not (await may(datasette, request, LEAVES) and name == house_of(datasette).class_board):
        await need(datasette, request, BOARDS)


async def _need_note(datasette: Any, request: Any, form: Any) -> None:
    """Of a leaf they write the note and nothing else: its question and how it is shown are the teacher's."""
    if text_of(form, "do") != "leaf":
        await need(datasette, request, BOARDS)
    if any(form.get(field) is not None for field in _OF_THE_TEACHER):
        raise Problem(say("Here notes can be written; the question and the showing of a leaf are the teacher’s."), 403)


def told(board: Board, whole: bool) -> Board:
    """The board as it is told: without the notes for whoever teaches to those who may not change it."""
    return board if whole else replace(board, notes="")


def _change(room: Room, name: str, form: Any) -> tuple[Board, str]:
    """The changed board, and where on its page to look next."""
    kept = Boards(room.boards_file)
    do = text_of(form, "do")
    ways: dict[str, Callable[[], Board]] = {
        "words": lambda: kept.reword(name, _version(form), **_given(form, ("title", "aim", "notes", "task"))),
        "leaf": lambda: kept.change_leaf(name, leaf, _version(form), **_leaf_fields(form)),
        "move": lambda: kept.move(name, leaf, _number(form, "place")),
        "order": lambda: kept.reorder(name, _version(form), text_of(form, "order").split(",")),
        "remove": lambda: kept.remove(name, leaf),
        "put-back": lambda: kept.put_back(name, leaf),
        "copy": lambda: kept.duplicate(name),
        "put-away": lambda: kept.put_away(name),
        "take-out": lambda: kept.put_away(name, False),
    }
    leaf = text_of(form, "leaf")
    # It goes into a header of the answer, as it came.
    there = f"#leaf-{quote(leaf[:200], safe='')}"
    if do not in ways:
        raise Problem(say("A board is changed by its words, its leaves and their order."))
    changed = ways[do]()
    if do == "leaf" and all(each.leaf != leaf for each in changed.leaves):
        return changed, "?off=1"
    return changed, {
        "leaf": there, "move": there, "put-back": there, "remove": "#removed",
    }.get(do, "")  # fmt: skip


def _given(form: Any, names: tuple[str, ...]) -> dict[str, str]:
    return {name: text_of(form, name) for name in names if isinstance(form.get(name), str)}


def _leaf_fields(form: Any) -> dict[str, Any]:
    fields: dict[str, Any] = dict(_given(form, ("note", "question")))
    if isinstance(form.get("sequence"), str):
        chosen = set(texts_of(form, "way"))
        sequence = text_of(form, "sequence")
        before = [way for way in text_of(form, "before").split(",") if way in chosen]
        ordered = [way for way in SHOWINGS if way in chosen]
        if sequence == RETURNS:
            ordered.reverse()
        elif sequence == KEPT:
            ordered = [*before, *(way for way in ordered if way not in before)]
        if not ordered:
            raise Problem(say("Tick at least one way in which the leaf is shown."))
        fields["showing"] = tuple(ordered)
    return fields


def _version(form: Any) -> int:
    return _number(form, "version")


def _number(form: Any, name: str) -> int:
    number = whole_number(text_of(form, name))
    if number is None:
        raise Problem(say("That form did not arrive whole; please load the page again."))
    return number


def _conflict(datasette: Any, conflict: BoardConflict, whole: bool) -> Page:
    current, kept = told(conflict.current, whole), told(conflict.kept, whole)
    at = f"#leaf-{conflict.leaf}" if conflict.leaf else ""
    return Page(
        "board_conflict.html",
        say("Two versions"),
        {
            "ok": False,
            "error": str(conflict),
            "errors": [str(conflict)],
            "status": 409,
            "board": as_json(current),
            "kept": as_json(kept),
            "leaf": conflict.leaf or None,
            "kept_url": board_url(datasette, kept.board),
        },
        {
            "sentence": str(conflict),
            "theirs": {"title": current.title, "url": board_url(datasette, current.board)},
            "yours": {"title": kept.title, "url": board_url(datasette, kept.board) + at},
        },
        tab="boards",
        status=409,
    )


def _shown(datasette: Any, room: Room, name: str, whole: bool, off: bool) -> Page:
    kept = Boards(room.boards_file)
    # What was taken off is told to those who can put it back: it may be what the class was not to see.
    found, removed = told(kept.get(name), whole), kept.removed(name) if whole else []
    taken_off = Board(found.board, found.title, leaves=tuple(removed[:20]))
    leaves = leaves_of(datasette, room, found)
    url = board_url(datasette, name)
    return Page(
        "board.html",
        found.title,
        {"board": as_json(found), "removed": as_json(taken_off)["leaves"], "url": url},
        {
            "board": found,
            "url": url,
            "wall_url": f"{url}/wall",
            "press_url": f"{url}/press/",
            "leaves": [_editable(shown, leaf) for shown, leaf in zip(leaves, found.leaves, strict=True)],
            "removed": leaves_of(datasette, room, taken_off, ("three",)),
            "off": off,
            "ways": list(way_words().items()),
            "longest": LONGEST,
            "sortable": sortable(leaves),
            "pages": PAGES,
            "per_page": PER_PAGE,
        },
        tab="boards",
    )


def _editable(shown: ShownLeaf, leaf: Leaf) -> dict[str, Any]:
    """A leaf with the way its sequence runs, for its form."""
    falls = tuple(way for way in SHOWINGS if way in leaf.showing)
    runs = FALLS if leaf.showing == falls else RETURNS if leaf.showing == falls[::-1] else KEPT
    return {"shown": shown, "runs": runs, "pair": len(leaf.shown) == 2}
