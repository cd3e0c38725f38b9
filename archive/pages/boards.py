"""The boards: a list of those in use, and the ways to begin one."""

from __future__ import annotations

import asyncio
import json
import secrets
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from datasette.utils.asgi import BadRequest

from archive import lessons, themes
from archive.board import MOST_LEAVES, Board, BoardsError, NotThereError, from_json
from archive.boards import Boards, Summary
from archive.boards_file import BoardsFileError
from archive.errors import ArchiveError
from archive.modes import BOARDS
from archive.pages.frame import Page, Problem, Turn, page
from archive.pages.language import say
from archive.pages.leaves import turning
from archive.pages.permits import may
from archive.pages.room import Room, need_room
from archive.pages.shown import Seen, leaves_of, theme_words

SIZE = 20
STRIP = 7
"""Boards on a page of the list, and leaves shown of each."""

_MOST_AWAY = 200
"""Boards put away that are listed."""

_LARGEST_FIELD = 256 * 1024
_LARGEST_IMPORT = 16 * 1024 * 1024


@page("GET", "HEAD", "POST", posts=BOARDS)
async def boards(datasette: Any, request: Any) -> Page | Turn:
    """GET: the boards. POST: begins one; do=make, lesson, theme, contrast, sort or import says how."""
    room = need_room(datasette)
    try:
        if request.method == "POST":
            board = await _begun(request, room)
            return Turn(board_url(datasette, board.board), {"board": board.board, "title": board.title})
        whole = await may(datasette, request, BOARDS)
        return await asyncio.to_thread(_list, datasette, room, _token(request), whole)
    except BoardsError as error:
        raise board_problem(error) from error


def board_url(datasette: Any, board: str) -> str:
    """Address of the page of a board."""
    return str(datasette.urls.path(f"/-/boards/{quote(board, safe='')}"))


def board_problem(error: ArchiveError) -> Problem:
    """What went wrong with a board, for `raise … from error`: not there, not possible, or not possible just now."""
    return Problem(
        str(error), 404 if isinstance(error, NotThereError) else 503 if isinstance(error, BoardsFileError) else 400
    )


async def read_form(request: Any, *, files: bool = False) -> Any:
    """A posted form of bounded size.  Raises `Problem` when it is larger or broken."""
    try:
        return await request.form(
            files=files,
            max_fields=3 * MOST_LEAVES,
            max_field_size=_LARGEST_FIELD,
            max_request_size=_LARGEST_IMPORT + _LARGEST_FIELD if files else 2 * _LARGEST_FIELD,
            max_file_size=_LARGEST_IMPORT,
            max_memory_file_size=_LARGEST_IMPORT + 1,
            max_files=1,
            min_free_disk_bytes=0,
        )
    except BadRequest as error:
        raise Problem(say("That is more than a form here may send, or it did not arrive whole.")) from error


def text_of(form: Any, name: str) -> str:
    """A field of a form as text; '' when it is not there."""
    value = form.get(name)
    return value if isinstance(value, str) else ""


def texts_of(form: Any, name: str) -> list[str]:
    """All fields of that name as texts."""
    return [value for value in form.getlist(name) if isinstance(value, str) and value]


def _token(request: Any) -> str:
    token = str(request.args.get("_next") or "")
    if token and not (token.isascii() and token.isdigit() and len(token) < 8):
        raise Problem(say("The page asked for is not known; begin again at the first."))
    return token


async def _begun(request: Any, room: Room) -> Board:
    form = await read_form(request, files=True)
    try:
        upload = form.get("file")
        data = await upload.read() if upload is not None and not isinstance(upload, str) else b""
        return await room.written(_begin, room, form, data)
    finally:
        await form.aclose()


def _begin(room: Room, form: Any, data: bytes) -> Board:
    kept, archive, do = Boards(room.boards_file), room.archive, text_of(form, "do")
    if do == "make":
        return kept.make(text_of(form, "title"), aim=text_of(form, "aim"))
    if do == "lesson":
        return kept.take_in(lessons.lesson(archive, text_of(form, "arrangement")))
    if do == "theme":
        return kept.take_in(themes.lesson_on(archive, text_of(form, "theme")))
    if do == "contrast":
        return kept.take_in(lessons.contrast(archive, text_of(form, "first"), text_of(form, "second")))
    if do == "sort":
        seed = secrets.randbelow(2**32)
        return kept.take_in(lessons.exercise(archive, texts_of(form, "arrangement"), seed=seed))
    if do == "import":
        return kept.take_in(_imported(data))
    message = say("A board is begun empty, from arrangements or a theme, or from a file.")
    raise Problem(message)


def _imported(data: bytes) -> Board:
    if not data:
        raise Problem(say("Choose the file of a board first."))
    try:
        written = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise Problem(say("This is no board that Blotbook wrote.")) from error
    return from_json(written)


@dataclass(frozen=True)
class _Listed:
    summary: Summary
    url: str
    beside_url: str
    day: str
    strip: list[Seen]


def _list(datasette: Any, room: Room, token: str, whole: bool) -> Page:
    kept = Boards(room.boards_file)
    total = kept.count()
    in_use = kept.summaries(first=STRIP, start=int(token or 0), size=SIZE)
    # What is put away is told to those who can take it out again.
    away = kept.summaries(archived=True, size=_MOST_AWAY) if whole else []
    path = str(datasette.urls.path("/-/boards"))
    pages = turning(path, {}, token=token, shown=len(in_use), size=SIZE, total=total)
    groups = [
        {"slug": row["slug"], "name": row["name"], "members": row["members"]}
        for row in room.archive.arrangements()
        if row["members"]
    ]
    return Page(
        "boards.html",
        say("Boards"),
        {
            "count": total,
            "boards": [_data(datasette, summary) for summary in in_use],
            "next_url": pages.after.replace("/-/boards", "/-/boards.json", 1) or None,
            "put_away": [_data(datasette, summary) for summary in away],
        },
        {
            "boards": [_listed(datasette, room, summary) for summary in in_use],
            "pages": pages,
            "away": [_listed(datasette, room, summary) for summary in away],
            "groups": groups,
            "sort_most": lessons.MOST_SORTED,
            "themes": list(theme_words().items()),
        },
        tab="boards",
    )


def _listed(datasette: Any, room: Room, summary: Summary) -> _Listed:
    shown = leaves_of(datasette, room, Board(summary.board, summary.title, leaves=summary.first), ("three",))
    strip = [piece.seen[0] for leaf in shown for piece in leaf.pieces[:1] if piece.seen]
    url = board_url(datasette, summary.board)
    beside = board_url(datasette, summary.beside) if summary.beside else ""
    return _Listed(summary, url, beside, summary.changed_at[:10], strip)


def _data(datasette: Any, summary: Summary) -> dict[str, Any]:
    return {
        "board": summary.board,
        "title": summary.title,
        "aim": summary.aim,
        "leaves": summary.leaves,
        "version": summary.version,
        "archived": summary.archived,
        "beside": summary.beside or None,
        "changed_at": summary.changed_at,
        "url": board_url(datasette, summary.board),
    }
