"""The viewfinder: a crop in a chosen format slid and sized over a photo of a place, its value map beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from archive.choosing import tell_apart
from archive.formats import FIRST, FORMATS
from archive.modes import SHOW
from archive.pages.frame import Page, Problem, is_twin, page
from archive.pages.language import say
from archive.pages.leaves import Plate
from archive.pages.pad import format_words
from archive.pages.room import Room, need_room
from archive.pages.student import Small, in_thread, number_in, small, small_data, ways
from archive.pages.upload import MEGABYTES, as_data_url, at_desk, carried, open_form, picture_in
from archive.proposals import Part, Proposal, crop, pattern_of, propose
from ingest.reading import Reading, read_tone

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

    def part(self, photo: float) -> Part:
        """The crop in 0..1 of a photo of so much width to height."""
        width, height = FORMATS[self.format]
        aspect = width / height
        w, h = min(1.0, aspect / photo) * self.size, min(1.0, photo / aspect) * self.size
        x, y = (1 - w) * self.across, (1 - h) * self.down
        return x, y, x + w, y + h


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
        rgb, _ = await at_desk(room, "upright", data, _SIDE)
        seen = await in_thread(room, _look, room, rgb, setting, looking)
    except Problem as problem:
        if is_twin(request):
            raise
        return _form_page(datasette, problem)
    answer: Page = await in_thread(room, _page, datasette, room, setting, *seen)
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


def _look(
    room: Room, rgb: NDArray[np.uint8], setting: _Set, looking: bool
) -> tuple[Image.Image, Reading, tuple[Proposal, ...] | None]:
    photo = Image.fromarray(rgb)
    photo.thumbnail((_SIDE, _SIDE), Image.Resampling.LANCZOS)
    pixels = np.asarray(photo)
    reading = read_tone(crop(pixels, setting.part(photo.width / photo.height)))
    if not looking:
        return photo, reading, None
    width, height = FORMATS[setting.format]
    pattern = pattern_of(room.archive, setting.near) if setting.near else None
    like = None if pattern is None else (setting.near, pattern)
    return photo, reading, propose(pixels, width / height, count=_PROPOSALS, placer=room.placer, like=like)


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
    photo: Image.Image,
    reading: Reading,
    proposals: tuple[Proposal, ...] | None,
) -> Page:
    nearest = room.placer.nearest(reading)
    part = setting.part(photo.width / photo.height)
    seen = small(datasette, reading, say("What the viewfinder frames"), nearest)
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
            "seen": seen,
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
