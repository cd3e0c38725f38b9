"""The viewfinder: a crop in a chosen format slid and sized over a photo of a place, its value map beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from PIL import Image

from archive.choosing import tell_apart
from archive.desk import SeenPlace
from archive.formats import FIRST, FORMATS
from archive.modes import SHOW
from archive.pages.frame import Page, Problem, is_twin, page
from archive.pages.language import say
from archive.pages.leaves import Plate
from archive.pages.pad import format_words
from archive.pages.room import Room, need_room
from archive.pages.student import Small, in_thread, number_in, small, small_data, ways
from archive.pages.upload import MEGABYTES, as_data_url, at_desk, carried, open_form, picture_in
from archive.placing import Placer
from archive.proposals import Part, Proposal, pattern_of

_SIDE = 1200
"""Longest side, px, of the photo that the page carries."""

_LARGEST_PHOTO = 2 * 1024 * 1024
_LEAST_SIZE = 0.3
"""Side of the smallest crop as a share of the largest one of its format."""

_PROPOSALS = 3


@dataclass(frozen=True)
class _Set:
    """How the viewfinder is set: its format, how far across and down of the room there is, and its size; 0..1."""

    format: str
    across: float
    down: float
    size: float
    near: str


@page("GET", "HEAD", "POST", needs=SHOW)
async def viewfinder(datasette: Any, request: Any) -> Page:
    """GET: the form. POST: a photo (or the copy carried along) with the viewfinder set; do=propose looks for crops."""
    room = need_room(datasette)
    if request.method != "POST":
        return _form_page(datasette)
    try:
        async with open_form(request, largest_field=_LARGEST_PHOTO) as form:
            data, _ = await picture_in(form)
            setting = _setting(form)
            looking = str(form.get("do") or "") == "propose"
        if not data:
            message = say("Choose a photo of a place first.")
            raise Problem(message)
        seen = await _look(room, data, setting, looking)
    except Problem as problem:
        if is_twin(request):
            raise
        return _form_page(datasette, problem)
    answer: Page = await in_thread(room, _page, datasette, room, setting, seen)
    return answer


def _setting(form: Any) -> _Set:
    format = str(form.get("format") or FIRST)
    return _Set(
        format if format in FORMATS else FIRST,
        number_in(form, "across", 50, 0, 100) / 100,
        number_in(form, "down", 50, 0, 100) / 100,
        number_in(form, "size", 100, 100 * _LEAST_SIZE, 100) / 100,
        str(form.get("near") or "")[:200],
    )


async def _look(room: Room, data: bytes, setting: _Set, looking: bool) -> SeenPlace:
    width, height = FORMATS[setting.format]
    at = (setting.across, setting.down, setting.size)
    placer, like = await in_thread(room, _wished, room, setting.near) if looking else (None, None)
    most = _PROPOSALS if looking else 0
    seen: SeenPlace = await at_desk(room, "place", data, _SIDE, width / height, at, most, placer, like)
    return seen


def _wished(room: Room, near: str) -> tuple[Placer, tuple[str, Any] | None]:
    """What places crops, and the arrangement that they are to come near to with its mean pattern."""
    pattern = pattern_of(room.archive, near) if near else None
    return room.placer, None if pattern is None else (near, pattern)


def _form_page(datasette: Any, problem: Problem | None = None) -> Page:
    return Page(
        "viewfinder.html",
        say("Through a viewfinder"),
        {"formats": {name: list(sides) for name, sides in FORMATS.items()}, "megabytes": MEGABYTES},
        {
            "ways": ways(datasette, "viewfinder"),
            "photo": None,
            "problem": str(problem) if problem else "",
            "megabytes": MEGABYTES,
        },
        tab="find",
        status=problem.status if problem else 200,
    )


def _page(
    datasette: Any,
    room: Room,
    setting: _Set,
    seen: SeenPlace,
) -> Page:
    photo, part, reading, proposals = Image.fromarray(seen.photo), seen.part, seen.reading, seen.proposals
    nearest = room.placer.nearest(reading)
    framed = small(datasette, reading, say("What the viewfinder frames"), nearest)
    apart = tell_apart([each.reading.measures for each in proposals]) if proposals else []
    cards = [_card(datasette, number, each, apart[number - 1]) for number, each in enumerate(proposals or (), 1)]
    return Page(
        "viewfinder.html",
        say("Through a viewfinder"),
        {
            "format": setting.format,
            "part": list(part),
            "reading": small_data(reading, nearest),
            "proposals": None
            if proposals is None
            else [
                {
                    "part": list(each.part),
                    "clarity": each.clarity,
                    "reason": each.reason,
                    "apart": list(words),
                    **small_data(each.reading, each.nearest),
                }
                for each, words in zip(proposals, apart, strict=True)
            ],
        },
        {
            "ways": ways(datasette, "viewfinder"),
            "photo": Plate(as_data_url(photo, "JPEG"), photo.width, photo.height, say("Your photo")),
            "carried": carried(photo),
            "setting": {
                "format": setting.format,
                "across": round(setting.across * 100, 1),
                "down": round(setting.down * 100, 1),
                "size": round(setting.size * 100, 1),
                "near": setting.near,
            },
            "least": round(_LEAST_SIZE * 100),
            "hole": _hole(part, photo.size),
            "formats": [
                {"name": name, "words": format_words(name), "width": width, "height": height}
                for name, (width, height) in FORMATS.items()
            ],
            "nears": [{"slug": row["slug"], "name": row["name"]} for row in room.archive.arrangements()],
            "seen": framed,
            "proposals": cards,
            "looked": proposals is not None,
        },
        tab="find",
    )


def _card(datasette: Any, number: int, proposal: Proposal, apart: Sequence[str]) -> dict[str, Any]:
    """A proposal: its small reading, its reason, and where the viewfinder must be set for it."""
    x0, y0, x1, y1 = proposal.part
    wide, tall = x1 - x0, y1 - y0
    laid: Small = small(datasette, proposal.reading, say("Crop %(number)d", number=number), proposal.nearest)
    return {
        "number": number,
        "small": laid,
        "reason": proposal.reason,
        "apart": apart,
        "across": round(100 * x0 / (1 - wide), 1) if wide < 0.999 else 50,
        "down": round(100 * y0 / (1 - tall), 1) if tall < 0.999 else 50,
        # One side of the largest crop reaches from edge to edge of the photo.
        "size": round(100 * max(wide, tall), 1),
    }


def _hole(part: Part, size: tuple[int, int]) -> dict[str, float]:
    """The crop in px of the photo."""
    width, height = size
    x0, y0, x1, y1 = part
    return {
        "x": round(x0 * width, 1),
        "y": round(y0 * height, 1),
        "width": round((x1 - x0) * width, 1),
        "height": round((y1 - y0) * height, 1),
    }
