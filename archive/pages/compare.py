"""A study beside a work: at one squint and one size, value by value, with what to try next."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from archive.beside import Beside, Part, lay_beside
from archive.compare import difference_picture
from archive.modes import SHOW
from archive.pages.frame import Page, Problem, Turn, is_twin, page
from archive.pages.language import later, say
from archive.pages.leaves import Plate, plate, summary, work_url
from archive.pages.room import Room, need_room
from archive.pages.student import VALUE_WORDS, in_thread, small, small_data, ways
from archive.pages.upload import Asked, asked_by_address, asked_in, open_form, read_study
from archive.pages.words import by_line, measure_name, part_words, title_of
from archive.placing import Belonging
from archive.suggesting import Suggestion
from ingest.picture_file import UnreadablePicture
from ingest.reading import Reading
from ingest.showing import show

_BESIDE = re.compile(r"(?P<work>.+?)(?:@(?P<part>[\d.]+(?:,[\d.]+){3}))?(?P<turned>@turned)?")

_SIDE = 640
_MAY_STRETCH = 0.15
"""Octaves of width to height from which on the page says that a format was stretched."""

SHOWINGS = (
    ("painting", later("As it is")),
    ("squint", later("Squint")),
    ("map5", later("Five")),
    ("map3", later("Three")),
    ("map2", later("Two")),
)
"""Pictures that are laid beside each other, in the order in which detail falls away, and what they are called."""

LAYINGS = (
    ("side", later("Side by side")),
    ("flip", later("Flip")),
    ("wipe", later("Wipe")),
    ("difference", later("Difference")),
)
"""Ways of laying one over the other."""


@dataclass(frozen=True)
class _Named:
    """What a study is to be laid beside: a work, a part of it or None, whether it is turned over; told: whether the
    part was said."""

    work: str
    part: Part | None
    turned: bool
    told: bool


@dataclass(frozen=True)
class _Seen:
    """All that the page shows, computed."""

    reading: Reading
    beside: Beside
    nearest: Belonging | None


@page("GET", "HEAD", "POST", posts=SHOW)
async def beside(datasette: Any, request: Any) -> Page | Turn:
    """GET: a demo study (?example=) beside a work (?beside=). POST: a study of the person's own."""
    room = need_room(datasette)
    if request.method == "POST":
        async with open_form(request) as form:
            asked: Asked | None = await asked_in(datasette, request, form)
            named = str(form.get("beside") or "")
    else:
        asked, named = asked_by_address(request, room), str(request.args.get("beside") or "")
    if asked is None or not named:
        if is_twin(request):
            message = say("Name a study and the work to lay it beside.")
            raise Problem(message)
        return Turn(str(datasette.urls.path("/-/find")))
    reading = await read_study(asked, room)
    seen = await in_thread(room, _seen, room, reading, asked, named)
    answer: Page = await in_thread(room, _page, datasette, asked, seen)
    return answer


def beside_value(work: str, part: Sequence[float] | None, turned: bool) -> str:
    """What a button sends to lay a study beside a part (x0, y0, x1, y1 in 0..1) of a work, turned over or not."""
    where = "" if part is None else "@" + ",".join(f"{edge:.4f}" for edge in part)
    return f"{work}{where}{'@turned' if turned else ''}"


def _seen(room: Room, reading: Reading, asked: Asked, named: str) -> _Seen:
    there = _parsed(named)
    if room.archive.work(there.work) is None:
        message = say("No work of this archive has that name.")
        raise Problem(message, 404)
    try:
        laid = lay_beside(
            room.archive, room.gallery, reading, there.work, part=there.part, turned=there.turned, told=there.told,
            whole=asked.choices["whole"], mirrored=asked.choices["mirrored"],
        )  # fmt: skip
    except UnreadablePicture as error:
        raise Problem(str(error)) from error
    return _Seen(reading, laid, room.placer.nearest(reading))


def _parsed(named: str) -> _Named:
    found = _BESIDE.fullmatch(named[:300])
    if found is None:
        message = say("That is no work to lay a study beside.")
        raise Problem(message)
    part = None
    if found["part"]:
        try:
            x0, y0, x1, y1 = (min(1.0, float(edge)) for edge in found["part"].split(","))
        except ValueError as error:
            raise Problem(say("That is no work to lay a study beside.")) from error
        if x1 - x0 < 0.05 or y1 - y0 < 0.05:
            message = say("That part of the work is too small to compare with.")
            raise Problem(message)
        part = x0, y0, x1, y1
    return _Named(found["work"], part, bool(found["turned"]), bool(found["part"] or found["turned"]))


def _page(datasette: Any, asked: Asked, seen: _Seen) -> Page:
    there = seen.beside
    work, compared, advice = there.work, there.comparison, there.advice
    own = small(datasette, seen.reading, asked.name, seen.nearest)
    title = say("%(study)s beside %(work)s", study=asked.name, work=title_of(work))
    return Page(
        "compare.html",
        title,
        {
            "study": {"name": asked.name, "example": asked.example or None, **small_data(seen.reading, seen.nearest)},
            "work": summary(datasette, work),
            **{name: fact for name, fact in there.facts().items() if name != "work"},
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
            "beside": beside_value(work["work"], there.part, there.turned),
            "work": {
                "title": title_of(work), "by": by_line(work), "url": work_url(datasette, work["work"]),
                "credit": work["credit"], "sentence": there.master.sentence,
            },
            "notes": _notes(there),
            "showings": [
                {"name": name, "label": say(label), "own": mine, "theirs": theirs}
                for (name, label), mine, theirs in zip(
                    SHOWINGS, _plates(seen.reading, asked.name), _plates(there.master, title_of(work)), strict=True
                )
            ],
            "layings": [{"name": name, "label": say(label)} for name, label in LAYINGS],
            "rings": [{"x": gap.x, "y": gap.y} for gap in (*compared.parted[:1], *compared.closed[:1])],
            "difference": _difference(seen),
            "rows": _rows(seen),
            "same": round(compared.same * 100),
            "holds": advice.holds,
            "values": _said(datasette, there, advice.values),
            "next": [_said(datasette, there, said) for said in advice.next],
            "arrangement": there.habits.name,
            "works": there.habits.works,
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
        url = f"data:image/{picture.suffix};base64,{base64.b64encode(picture.content).decode('ascii')}"
        found.append(Plate(url, width, height, f"{name}. {reading.sentence}" if way != "painting" else name))
    return found


def _difference(seen: _Seen) -> Plate:
    height, width = seen.reading.picture.rgb.shape[:2]
    held = io.BytesIO()
    difference_picture(seen.beside.comparison, _SIDE).save(held, "PNG", optimize=True)
    url = f"data:image/png;base64,{base64.b64encode(held.getvalue()).decode('ascii')}"
    alt = say("%(same)d %% of the frame has the same value in both.", same=round(seen.beside.comparison.same * 100))
    return Plate(url, width, height, alt)


def _notes(there: Beside) -> list[str]:
    """What was done to the work before it was laid beside the study."""
    found = []
    if there.part is not None:
        found.append(say("Beside %(part)s.", part=part_words(there.part)))
    if there.turned:
        found.append(say("The work is turned over, as in a mirror, so that it faces as your study does."))
    compared = there.comparison
    if abs(compared.stretched) > _MAY_STRETCH:
        wider = say("wider") if compared.stretched > 0 else say("narrower")
        found.append(
            say("Your study is %(wider)s in its format; to be compared, the work is stretched over it.", wider=wider)
        )
    return found


def _rows(seen: _Seen) -> list[dict[str, Any]]:
    compared, mine, theirs = seen.beside.comparison, seen.reading.measures, seen.beside.master.measures
    return [
        {
            "name": say(VALUE_WORDS[value]),
            "own": f"{getattr(mine, value) * 100:.0f} %",
            "theirs": f"{getattr(theirs, value) * 100:.0f} %",
            "falls": f"{compared.agreement[value] * 100:.0f} %" if value in compared.agreement else "–",
            "answers": f"{compared.answered[value] * 100:.0f} %" if value in compared.answered else "–",
        }
        for value in ("light", "mid", "dark")
    ]


def _said(datasette: Any, seen: Beside, said: Suggestion) -> dict[str, Any]:
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
