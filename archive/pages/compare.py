"""A study beside a work: at one squint and one size, value by value, with what to try next."""

from __future__ import annotations

import base64
import dataclasses
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from archive.advice import MEASURES, Advice, Suggestion, advise
from archive.compare import Comparison, Gap, compare, difference_picture, read_master
from archive.habits import Habits, habits
from archive.pages.frame import Page, Problem, Turn, is_twin, page
from archive.pages.language import say
from archive.pages.leaves import Plate, plate, summary, work_url
from archive.pages.room import Room, need_room
from archive.pages.student import VALUE_WORDS, in_thread, small, small_data, ways
from archive.pages.upload import Asked, asked_by_address, asked_in, open_form, read_study
from archive.pages.words import by_line, measure_name, part_words, title_of
from archive.placing import Belonging
from archive.store import Work
from ingest.picture import UnreadablePicture
from ingest.reading import Reading
from ingest.showing import show

_BESIDE = re.compile(r"(?P<work>.+?)(?:@(?P<part>[\d.]+(?:,[\d.]+){3}))?(?P<turned>@turned)?")

_SIDE = 640
_MAY_STRETCH = 0.15
"""Octaves of width to height from which on the page says that a format was stretched."""

SHOWINGS = (("painting", "As it is"), ("squint", "Squint"), ("map5", "Five"), ("map3", "Three"), ("map2", "Two"))
"""Pictures that are laid beside each other, in the order in which detail falls away, and what they are called."""

LAYINGS = (
    ("side", "Side by side"),
    ("flip", "Flip"),
    ("wipe", "Wipe"),
    ("difference", "Difference"),
)
"""Ways of laying one over the other."""


@dataclass(frozen=True)
class _Beside:
    """What a study is laid beside: a work, a part of it or '' parts, and whether it is turned over."""

    work: str
    part: tuple[float, float, float, float] | None
    turned: bool
    told: bool


@dataclass(frozen=True)
class _Compared:
    """All that the page shows, computed."""

    work: Work
    beside: _Beside
    reading: Reading
    master: Reading
    comparison: Comparison
    nearest: Belonging | None
    habits: Habits
    advice: Advice
    examples: dict[str, Work]


@page("GET", "HEAD", "POST")
async def beside(datasette: Any, request: Any) -> Page | Turn:
    """GET: a demo study (?example=) beside a work (?beside=). POST: a study of the person's own."""
    room = need_room(datasette)
    if request.method == "POST":
        async with open_form(request) as form:
            asked: Asked | None = await asked_in(form, room)
            named = str(form.get("beside") or "")
    else:
        asked, named = asked_by_address(request, room), str(request.args.get("beside") or "")
    if asked is None or not named:
        if is_twin(request):
            message = say("Name a study and the work to lay it beside.")
            raise Problem(message)
        return Turn(str(datasette.urls.path("/-/find")))
    reading = await read_study(asked, room)
    compared = await in_thread(room, _compared, room, reading, asked, named)
    return _page(datasette, asked, compared)


def beside_value(work: str, part: Sequence[float] | None, turned: bool) -> str:
    """What a button sends to lay a study beside a part (x0, y0, x1, y1 in 0..1) of a work, turned over or not."""
    where = "" if part is None else "@" + ",".join(f"{edge:.4f}" for edge in part)
    return f"{work}{where}{'@turned' if turned else ''}"


def _compared(room: Room, reading: Reading, asked: Asked, named: str) -> _Compared:
    there = _parsed(named)
    work = room.archive.work(there.work)
    if work is None:
        message = say("No work of this archive has that name.")
        raise Problem(message, 404)
    if not there.told:
        matches = room.gallery.match(
            reading, count=1, whole=asked.choices["whole"], mirrored=asked.choices["mirrored"], among=[there.work]
        ).matches
        if matches:
            part = None if part_words(matches[0].part) == "the whole work" else matches[0].part
            there = dataclasses.replace(there, part=part, turned=matches[0].mirrored)
    try:
        master = read_master(room.archive.folder / "pictures" / work["painting"], there.part, mirrored=there.turned)
    except UnreadablePicture as error:
        raise Problem(str(error)) from error
    comparison = compare(reading, master)
    custom = habits(room.archive, MEASURES, work["arrangement_slug"] or "")
    advice = advise(reading, custom, comparison, there.work)
    shown = {name for said in (advice.values, *advice.next) for name in said.works}
    return _Compared(
        work, there, reading, master, comparison, room.placer.nearest(reading), custom, advice,
        {name: found for name in shown if (found := room.archive.work(name)) is not None},
    )  # fmt: skip


def _parsed(named: str) -> _Beside:
    found = _BESIDE.fullmatch(named[:300])
    if found is None:
        message = say("That is no work to lay a study beside.")
        raise Problem(message)
    part = None
    if found["part"]:
        x0, y0, x1, y1 = (min(1.0, float(edge)) for edge in found["part"].split(","))
        if x1 - x0 < 0.05 or y1 - y0 < 0.05:
            message = say("That part of the work is too small to compare with.")
            raise Problem(message)
        part = x0, y0, x1, y1
    return _Beside(found["work"], part, bool(found["turned"]), bool(found["part"] or found["turned"]))


def _page(datasette: Any, asked: Asked, seen: _Compared) -> Page:
    work, there, compared = seen.work, seen.beside, seen.comparison
    own = small(datasette, seen.reading, asked.name, seen.nearest)
    title = say("%(study)s beside %(work)s", study=asked.name, work=title_of(work))
    return Page(
        "compare.html",
        title,
        {
            "study": {"name": asked.name, "example": asked.example or None, **small_data(seen.reading, seen.nearest)},
            "work": summary(datasette, work),
            "part": list(there.part or (0.0, 0.0, 1.0, 1.0)),
            "turned": there.turned,
            "same": compared.same,
            "agreement": compared.agreement,
            "answered": compared.answered,
            "shift": compared.shift,
            "parted": [_gap_data(gap) for gap in compared.parted],
            "closed": [_gap_data(gap) for gap in compared.closed],
            "holds": list(seen.advice.holds),
            "values": _said_data(seen.advice.values),
            "next": [_said_data(said) for said in seen.advice.next],
        },
        {
            "ways": ways(datasette, ""),
            "study": {
                "name": asked.name,
                "example": asked.example,
                "carried": "" if asked.example else own.carried,
                "as_is": asked.as_is,
                "sentence": seen.reading.sentence,
            },
            "beside": beside_value(there.work, there.part, there.turned),
            "work": {
                "title": title_of(work), "by": by_line(work), "url": work_url(datasette, work["work"]),
                "credit": work["credit"], "sentence": seen.master.sentence,
            },
            "notes": _notes(there, compared),
            "showings": [
                {"name": name, "label": say(label), "own": mine, "theirs": theirs}
                for (name, label), mine, theirs in zip(
                    SHOWINGS, _plates(seen.reading, asked.name), _plates(seen.master, title_of(work)), strict=True
                )
            ],
            "layings": [{"name": name, "label": say(label)} for name, label in LAYINGS],
            "rings": [{"x": gap.x, "y": gap.y} for gap in (*compared.parted[:1], *compared.closed[:1])],
            "difference": _difference(seen),
            "rows": _rows(seen),
            "same": round(compared.same * 100),
            "holds": seen.advice.holds,
            "values": _said(datasette, seen, seen.advice.values),
            "next": [_said(datasette, seen, said) for said in seen.advice.next],
            "arrangement": seen.habits.name,
            "works": seen.habits.works,
        },
        tab="find",
    )  # fmt: skip


def _plates(reading: Reading, name: str) -> list[Plate]:
    """The pictures of `SHOWINGS` of one reading, carried in the page itself."""
    height, width = reading.picture.rgb.shape[:2]
    pictures = show(reading)
    found = []
    for way, _ in SHOWINGS:
        picture = pictures[way]
        kind = {"webp": "webp", "png": "png"}[picture.suffix]
        url = f"data:image/{kind};base64,{base64.b64encode(picture.content).decode('ascii')}"
        found.append(Plate(url, width, height, f"{name}. {reading.sentence}" if way != "painting" else name))
    return found


def _difference(seen: _Compared) -> Plate:
    height, width = seen.reading.picture.rgb.shape[:2]
    held = io.BytesIO()
    difference_picture(seen.comparison, _SIDE).save(held, "PNG", optimize=True)
    url = f"data:image/png;base64,{base64.b64encode(held.getvalue()).decode('ascii')}"
    alt = say("%(same)d %% of the frame has the same value in both.", same=round(seen.comparison.same * 100))
    return Plate(url, width, height, alt)


def _notes(there: _Beside, compared: Comparison) -> list[str]:
    """What was done to the work before it was laid beside the study."""
    found = []
    if there.part is not None:
        found.append(say("Beside %(part)s.", part=part_words(there.part)))
    if there.turned:
        found.append(say("The work is turned over, as in a mirror, so that it faces as your study does."))
    if abs(compared.stretched) > _MAY_STRETCH:
        wider = say("wider") if compared.stretched > 0 else say("narrower")
        found.append(
            say("Your study is %(wider)s in its format; to be compared, the work is stretched over it.", wider=wider)
        )
    return found


def _rows(seen: _Compared) -> list[dict[str, Any]]:
    compared, mine, theirs = seen.comparison, seen.reading.measures, seen.master.measures
    return [
        {
            "name": VALUE_WORDS[value],
            "own": f"{getattr(mine, value) * 100:.0f} %",
            "theirs": f"{getattr(theirs, value) * 100:.0f} %",
            "falls": f"{compared.agreement[value] * 100:.0f} %" if value in compared.agreement else "–",
            "answers": f"{compared.answered[value] * 100:.0f} %" if value in compared.answered else "–",
        }
        for value in ("light", "mid", "dark")
    ]


def _said(datasette: Any, seen: _Compared, said: Suggestion) -> dict[str, Any]:
    """A suggestion with the works that show it."""
    works = [(seen.examples[name], name) for name in said.works if name in seen.examples]
    return {
        "seen": said.seen,
        "ask": said.ask,
        "measure": measure_name(said.measure),
        "works": [
            {
                "url": work_url(datasette, name), "title": title_of(work), "by": by_line(work),
                "plate": plate(datasette, work, "map3"),
            }
            for work, name in works
        ],
    }  # fmt: skip


def _said_data(said: Suggestion) -> dict[str, Any]:
    return {
        "measure": said.measure,
        "yours": said.yours,
        "works_low": said.low,
        "works_high": said.high,
        "seen": said.seen,
        "ask": said.ask,
        "works": list(said.works),
    }


def _gap_data(gap: Gap) -> dict[str, Any]:
    return {**dataclasses.asdict(gap), "pieces": list(gap.pieces), "where": gap.where}
