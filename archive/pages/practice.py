"""Kept studies: what a person chose to keep, looked back on, and deleted in one step."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from datasette.utils.asgi import Response

from archive.board import BoardsError
from archive.boards import is_on_a_board
from archive.looking_back import FEWEST, look_back
from archive.modes import KEEP
from archive.pages.boards import board_problem
from archive.pages.frame import HEADERS, Page, Problem, Turn, page, path_part
from archive.pages.language import say
from archive.pages.leaves import Plate, arrangement_url
from archive.pages.numbers import whole_number
from archive.pages.permits import may
from archive.pages.room import Room, need_room
from archive.pages.student import greys, in_thread, masses_words, ways
from archive.pages.upload import asked_in, open_form, read_study
from archive.pages.work import shares
from archive.practice import LONGEST, Kept, Practice, Which

_DRAWN = 40
"""Studies, the latest ones, that the drawing of the whole log shows."""

_MOST_TOLD = 100_000
"""Deleted studies that a page counts; what is more comes from no button of ours."""

_ID = re.compile(r"[0-9a-f]{6,40}")


@page("GET", "HEAD", "POST", needs=KEEP, private=True)
async def practice(datasette: Any, request: Any) -> Page | Turn:
    """GET: the log, of one nickname with ?of=. POST do=keep, do=forget (study=) or do=forget_all (of=)."""
    room = need_room(datasette)
    try:
        if request.method == "POST":
            return await _change(datasette, request, room)
        of = request.args.get("of")
        studies, names = await in_thread(room, _log, room, of)
    except BoardsError as error:
        raise board_problem(error) from error
    deleted = whole_number(request.args.get("deleted") or "") or 0
    return _page(datasette, room, of, studies, names, min(deleted, _MOST_TOLD))


async def picture(datasette: Any, request: Any) -> Any:
    """GET: the picture or the map of a kept study; nobody between may keep a copy of it."""
    which: Which = "map3" if path_part(request, "which") == "map3" else "picture"
    study = path_part(request, "study")
    await datasette.ensure_permission(action="view-instance", actor=request.actor)
    room = need_room(datasette)
    # What stands on a board may be seen by whoever sees the board.
    boards_alone = not await may(datasette, request, KEEP)
    asked = request.method in ("GET", "HEAD")
    found = await in_thread(room, _picture, room, study, which, boards_alone) if asked else None
    if found is None:
        return Response.text(say("There is no such study."), status=404, headers=dict(HEADERS))
    kind = "image/png" if which == "map3" else "image/jpeg"
    return Response(found, content_type=kind, headers=HEADERS | {"Cache-Control": "private, no-store"})


async def _change(datasette: Any, request: Any, room: Room) -> Turn:
    async with open_form(request) as form:
        what = str(form.get("do") or "")
        if what == "keep":
            asked = await asked_in(datasette, request, form)
            nickname, title = str(form.get("nickname") or ""), str(form.get("title") or "")
        elif what == "forget":
            study = str(form.get("study") or "")
        elif what == "forget_all":
            of = str(form.get("of") or "")
        else:
            message = say("A study can be kept or deleted here, and nothing else.")
            raise Problem(message)
    if what == "keep":
        reading = await read_study(asked, room)
        title = title or (asked.name if asked.example else "")
        kept = await room.written(_keep, room, reading, nickname, title)
        return Turn(log_url(datasette, kept.nickname) + f"#s{kept.study}", {"study": kept.study})
    if what == "forget":
        left_of, gone = await room.written(_forget, room, study)
        return Turn(log_url(datasette, left_of, int(gone)), {"deleted": int(gone)})
    count = await room.written(lambda: Practice(room.boards_file).forget_all(of))
    return Turn(log_url(datasette, None, count), {"deleted": count})


def log_url(datasette: Any, nickname: str | None, deleted: int = 0) -> str:
    """Address of the log, or of the studies of one nickname; it can say how many were just deleted."""
    asked: dict[str, Any] = {} if nickname is None else {"of": nickname}
    asked |= {"deleted": deleted} if deleted else {}
    return str(datasette.urls.path("/-/practice")) + (f"?{urlencode(asked)}" if asked else "")


def _log(room: Room, of: str | None) -> tuple[list[Kept], list[tuple[str, int]]]:
    if not (room.archive.folder / "boards.db").exists():
        # Looking must not make the file.
        return [], []
    log = Practice(room.boards_file)
    return log.all(of), log.nicknames()


def _picture(room: Room, study: str, which: Which, boards_alone: bool) -> bytes | None:
    if not _ID.fullmatch(study) or not (room.archive.folder / "boards.db").exists():
        return None
    if boards_alone and not is_on_a_board(room.boards_file, study):
        return None
    return Practice(room.boards_file).picture(study, which)


def _keep(room: Room, reading: Any, nickname: str, title: str) -> Kept:
    return Practice(room.boards_file).keep(
        reading, nickname=nickname, title=title, nearest=room.placer.nearest(reading)
    )


def _forget(room: Room, study: str) -> tuple[str | None, bool]:
    log = Practice(room.boards_file)
    found = log.get(study)
    gone = log.forget(study)
    # Where none of that nickname is left, its page would be empty and a riddle.
    left = found is not None and any(name == found.nickname for name, _ in log.nicknames())
    return (found.nickname if found is not None and left else None), gone


def _page(
    datasette: Any,
    room: Room,
    of: str | None,
    studies: Sequence[Kept],
    names: Sequence[tuple[str, int]],
    deleted: int,
) -> Page:
    known = [(row["slug"], row["name"]) for row in room.archive.arrangements()]
    looked = look_back(studies, known)
    leaves = [_leaf(datasette, kept) for kept in reversed(studies)]
    return Page(
        "practice.html",
        say("Kept studies"),
        {
            "of": of,
            "studies": [_data(datasette, kept) for kept in studies],
            "tried": [{"slug": slug, "name": name, "studies": count} for slug, name, count in looked.tried],
            "untried": [{"slug": slug, "name": name} for slug, name in looked.untried],
            "changes": list(looked.changes),
        },
        {
            "ways": ways(datasette, "practice"),
            "of": of,
            "names": [
                {"name": name, "words": name or say("without a nickname"), "count": count, "here": name == of,
                 "url": log_url(datasette, name)}
                for name, count in names
            ],
            "all_url": log_url(datasette, None),
            "studies": leaves,
            "columns": [_column(kept) for kept in studies[-_DRAWN:]],
            "greys": greys(3),
            "fewest": FEWEST,
            "tried": [
                {"name": name, "count": count, "url": arrangement_url(datasette, slug)}
                for slug, name, count in looked.tried
            ],
            "untried": [{"name": name, "url": arrangement_url(datasette, slug)} for slug, name in looked.untried],
            "changes": looked.changes,
            "longest": LONGEST,
            "deleted": deleted,
        },
        tab="find",
    )  # fmt: skip


def _leaf(datasette: Any, kept: Kept) -> dict[str, Any]:
    return {
        "study": kept.study,
        "title": kept.title or say("Study"),
        "who": kept.nickname,
        "on": kept.kept_on,
        "sentence": kept.sentence,
        "shares": _shares(kept),
        "masses": masses_words(kept.measures["light_masses"], kept.measures["dark_masses"]),
        "arrangement": kept.arrangement_name,
        "arrangement_url": arrangement_url(datasette, kept.arrangement) if kept.arrangement else "",
        "degree": kept.degree,
        "seen": Plate(_url(datasette, kept, "picture"), kept.width, kept.height, kept.title or say("Study")),
        "map": Plate(_url(datasette, kept, "map3"), kept.width, kept.height, kept.sentence),
        "find_url": datasette.urls.path("/-/find"),
    }


def _column(kept: Kept) -> dict[str, Any]:
    """One study in the drawing of the whole log: shares of dark, middle and light from below, in hundredths."""
    dark, mid = kept.measures["dark"] * 100, kept.measures["mid"] * 100
    return {
        "dark": round(dark, 1),
        "mid": round(mid, 1),
        "light": round(100 - dark - mid, 1),
        "words": f"{kept.kept_on}: {_shares(kept)['words']}",
    }


def _shares(kept: Kept) -> dict[str, Any]:
    return shares({name: {"value": kept.measures[name]} for name in ("light", "mid", "dark")})


def _url(datasette: Any, kept: Kept, which: Which) -> str:
    return str(datasette.urls.path(f"/-/practice/{kept.study}/{which}"))


def _data(datasette: Any, kept: Kept) -> dict[str, Any]:
    return {
        "study": kept.study,
        "nickname": kept.nickname,
        "title": kept.title,
        "kept_on": kept.kept_on,
        "sentence": kept.sentence,
        "arrangement": kept.arrangement or None,
        "degree": kept.degree,
        "measures": kept.measures,
        "picture": _url(datasette, kept, "picture"),
        "map3": _url(datasette, kept, "map3"),
    }
