"""A photographed sheet: its panels found, straightened and laid side by side, so that one can be chosen."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from PIL import Image

from archive.choosing import shared, tell_apart
from archive.desk import SeenSheet
from archive.match import Matches
from archive.modes import SHOW
from archive.pages.frame import Page, Problem, is_twin, page
from archive.pages.language import say
from archive.pages.leaves import Plate, plate, work_url
from archive.pages.room import Room, need_room
from archive.pages.student import in_thread, masses_words, small, small_data, ways
from archive.pages.upload import MEGABYTES, as_data_url, at_desk, carried, open_form, picture_in
from archive.pages.words import by_line, title_of
from archive.placing import Belonging
from ingest.reading import Reading
from ingest.sheet import Corners, Sheet

LAYOUTS = ("1x1", "1x2", "2x1", "2x2", "2x3", "3x2")
"""Rows by columns that can be asked for."""

_SIDE = 1600
_LARGEST_PHOTO = 3 * 1024 * 1024
_MASTERS = 3
_INSET = 0.12
_MOST_PANELS = 12
_LONGEST_QUAD = 400
"""Characters of the corners of one panel."""

_CORNER = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)\s*")

Quad = tuple[tuple[float, float], ...]
"""Four corners, clockwise from the top left, in shares of the photo, 0..1."""


@dataclass(frozen=True)
class _Asked:
    """A photo with what the person said about it. unmoved: for each of the corners whether they are as they were found.
    whole: whether the corners are those of the whole sheet."""

    data: bytes
    layout: str
    corners: tuple[Quad, ...]
    unmoved: tuple[bool, ...]
    whole: bool
    mark: bool


@dataclass(frozen=True)
class _Read:
    """A photo that was read: as it is carried, its panels, and what is said when they could not be found."""

    photo: Image.Image
    sheet: Sheet | None
    quads: tuple[Quad, ...]
    whole: bool
    readings: tuple[Reading, ...]
    nearest: tuple[Belonging | None, ...]
    matches: tuple[Matches, ...]
    problem: str


@page("GET", "HEAD", "POST", needs=SHOW)
async def sheet(datasette: Any, request: Any) -> Page:
    """GET: the form. POST: a photo of a sheet, or the copy carried along with corners or a layout."""
    room = need_room(datasette)
    if request.method != "POST":
        return _form_page(datasette)
    try:
        async with open_form(request, largest_field=_LARGEST_PHOTO, most_fields=60) as form:
            asked = await _asked(form)
        if not asked.data:
            message = say("Choose a photo of your sheet first.")
            raise Problem(message)
        read = await _read(room, asked)
    except Problem as problem:
        if is_twin(request):
            raise
        return _form_page(datasette, problem)
    answer: Page = await in_thread(room, _page, datasette, room, asked, read)
    return answer


async def _asked(form: Any) -> _Asked:
    data, _ = await picture_in(form)
    layout = str(form.get("layout") or "")
    # One more than are read, so that it can be said that there are more.
    corners = tuple(_quad(str(text)) for text in form.getlist("corners")[: _MOST_PANELS + 1] if str(text).strip())
    # As the page wrote them: of a panel whose corners are still these nobody has said anything.
    found = {_quad(str(text)) for text in form.getlist("found")[: _MOST_PANELS + 1] if str(text).strip()}
    what = str(form.get("do") or "")
    if what != "corners":
        corners = ()
    return _Asked(
        data,
        layout if layout in LAYOUTS else "",
        corners,
        tuple(corner in found for corner in corners),
        str(form.get("whole") or "") == "1",
        what == "mark",
    )


def _quad(text: str) -> Quad:
    """Corners as they are written in a field: four pairs of hundredths across and down."""
    # Time to take a text apart grows with the square of the spaces in it.
    parts = re.split(r"[;\s]+(?=-?\d)", text.strip()) if len(text) <= _LONGEST_QUAD else []
    pairs = [_CORNER.fullmatch(pair) for pair in parts if pair]
    if len(pairs) != 4 or None in pairs:
        message = say("Corners are four pairs of numbers, as in 10,10 90,10 90,90 10,90.")
        raise Problem(message)
    return tuple((float(pair[1]) / 100, float(pair[2]) / 100) for pair in pairs if pair is not None)


async def _read(room: Room, asked: _Asked) -> _Read:
    rows, _, columns = asked.layout.partition("x")
    layout = (int(rows), int(columns)) if asked.layout else None
    most = 0 if asked.mark else _MOST_PANELS
    seen: SeenSheet = await at_desk(
        room,
        "sheet",
        asked.data,
        _SIDE,
        layout,
        asked.corners,
        asked.whole and layout not in (None, (1, 1)),
        most,
        asked.unmoved,
    )
    photo = Image.fromarray(seen.photo)
    if seen.sheet is None:
        again = bool(seen.problem)
        quads = asked.corners if again and asked.corners else (_blank(),)
        return _Read(photo, None, quads, asked.whole if again else True, (), (), (), seen.problem)
    if not seen.sheet.panels:
        about = tuple(_shares(corners, seen.sheet) for corners in seen.sheet.doubtful)
        return _Read(photo, seen.sheet, about or (_blank(),), not about, (), (), (), seen.sheet.need_corners)
    nearest, matches = await in_thread(room, _answers, room, seen.readings)
    return _Read(
        photo,
        seen.sheet,
        # One whose end is in doubt is drawn beside the others, so that its corners can be set and it is read with them.
        tuple(
            _shares(corners, seen.sheet)
            for corners in [*(panel.corners for panel in seen.sheet.panels), *seen.sheet.doubtful][:_MOST_PANELS]
        ),
        False,
        seen.readings,
        nearest,
        matches,
        "",
    )


def _answers(room: Room, readings: Sequence[Reading]) -> tuple[tuple[Belonging | None, ...], tuple[Matches, ...]]:
    return (
        tuple(room.placer.nearest(reading) for reading in readings),
        tuple(room.gallery.match(reading, count=_MASTERS) for reading in readings),
    )


def _blank() -> Quad:
    """Corners to begin from when none were found."""
    low, high = _INSET, 1 - _INSET
    return (low, low), (high, low), (high, high), (low, high)


def _shares(corners: Corners, found: Sheet) -> Quad:
    return tuple((x / found.width, y / found.height) for x, y in corners)


def _form_page(datasette: Any, problem: Problem | None = None) -> Page:
    return Page(
        "sheet.html",
        say("A sheet of several studies"),
        {"layouts": list(LAYOUTS), "megabytes": MEGABYTES},
        {
            "ways": ways(datasette, "sheet"),
            "photo": None,
            "problem": str(problem) if problem else "",
            "layouts": _layouts(""),
            "megabytes": MEGABYTES,
        },
        tab="find",
        status=problem.status if problem else 200,
    )


def _page(datasette: Any, room: Room, asked: _Asked, read: _Read) -> Page:
    measures = [reading.measures for reading in read.readings]
    apart, common = tell_apart(measures), shared(measures)
    panels = [_panel(datasette, room, read, at, apart[at]) for at in range(len(read.readings))]
    notes = list(read.sheet.notes) if read.sheet else []
    return Page(
        "sheet.html",
        say("The panels of your sheet") if panels else say("Where are the panels?"),
        {
            "need_corners": read.sheet.need_corners if read.sheet else read.problem,
            "notes": notes,
            "layout": list(read.sheet.layout) if read.sheet and read.sheet.layout else None,
            "shared": list(common),
            "panels": [
                {
                    "corners": [list(corner) for corner in read.quads[at]],
                    "confidence": _found(read).panels[at].confidence,
                    "notes": list(_found(read).panels[at].notes),
                    "apart": list(apart[at]),
                    "matches": [match.work for match in read.matches[at].matches],
                    **small_data(reading, read.nearest[at]),
                }
                for at, reading in enumerate(read.readings)
            ],
        },
        {
            "ways": ways(datasette, "sheet"),
            "photo": Plate(as_data_url(read.photo, "JPEG"), read.photo.width, read.photo.height, say("Your photo")),
            "carried": carried(read.photo),
            "problem": read.problem,
            "notes": notes,
            "whole": read.whole,
            "quads": [_drawn(read, at, quad) for at, quad in enumerate(read.quads)],
            "corner_words": [say("top left"), say("top right"), say("bottom right"), say("bottom left")],
            "layouts": _layouts(asked.layout),
            "panels": panels,
            "shared": common,
        },
        tab="find",
    )


def _found(read: _Read) -> Sheet:
    if read.sheet is None:
        message = "There are panels without a sheet."
        raise RuntimeError(message)
    return read.sheet


def _drawn(read: _Read, at: int, quad: Quad) -> dict[str, Any]:
    """A quadrilateral for the overlay and for its field."""
    width, height = read.photo.size
    text = " ".join(f"{x * 100:.2f},{y * 100:.2f}" for x, y in quad)
    panels = read.sheet.panels if read.sheet else ()
    return {
        "name": say("Sheet") if read.whole else say("Panel %(number)d", number=at + 1),
        "number": "" if read.whole else at + 1,
        "points": " ".join(f"{x * width:.1f},{y * height:.1f}" for x, y in quad),
        "text": text,
        "found": text if at < len(panels) and not panels[at].told else "",
        "x": round(sum(x for x, _ in quad) / 4 * width, 1),
        "y": round(sum(y for _, y in quad) / 4 * height, 1),
    }


def _panel(datasette: Any, room: Room, read: _Read, at: int, apart: Sequence[str]) -> dict[str, Any]:
    reading, panel = read.readings[at], _found(read).panels[at]
    works = [(match, work) for match in read.matches[at].matches if (work := room.archive.work(match.work))]
    seen = reading.measures
    return {
        "number": at + 1,
        "small": small(datasette, reading, say("Panel %(number)d", number=at + 1), read.nearest[at]),
        "masses": masses_words(seen.light_masses, seen.dark_masses),
        "apart": apart,
        "notes": panel.notes,
        "note": read.matches[at].note,
        "works": [
            {
                "url": work_url(datasette, match.work), "title": title_of(work), "by": by_line(work),
                "plate": plate(datasette, work, "map3"),
            }
            for match, work in works
        ],
    }  # fmt: skip


def _layouts(chosen: str) -> list[dict[str, Any]]:
    """The layouts that can be chosen, in words."""
    found = []
    for name in LAYOUTS:
        rows, columns = (int(side) for side in name.split("x"))
        words = (
            say("one panel")
            if rows * columns == 1
            else say("%(rows)d rows of %(columns)d", rows=rows, columns=columns)
            if rows > 1
            else say("one row of %(columns)d", columns=columns)
        )
        found.append({"name": name, "words": words, "chosen": name == chosen})
    return found
