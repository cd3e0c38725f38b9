"""What the student's pages share: ways to bring a study, the boxes in which small readings are laid, forms to go on."""

from __future__ import annotations

import asyncio
import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from archive.modes import KEEP, SHOW
from archive.pages.frame import Problem, grey
from archive.pages.language import later, say, say_count
from archive.pages.leaves import Plate, arrangement_url
from archive.pages.room import Room
from archive.pages.upload import as_data_url, carried, pictures_of
from archive.pages.work import shares
from archive.placing import Belonging
from ingest.reading import Reading
from ingest.value_map import MAP_LIGHTNESS

WAYS = (
    ("find", "/-/find", later("One picture")),
    ("sheet", "/-/sheet", later("A sheet of several")),
    ("pad", "/-/pad", later("Draw it here")),
    ("viewfinder", "/-/viewfinder", later("Through a viewfinder")),
    ("practice", "/-/practice", later("Kept studies")),
)
"""Ways of showing a study: name, path, and what the link says."""

_NEEDED = {"find": "", "practice": KEEP}
"""What must be allowed for a way to be offered: for all others, showing pictures; here where that is not so."""

VALUE_WORDS = {"light": later("light"), "mid": later("middle"), "dark": later("dark")}


@dataclass(frozen=True)
class Small:
    """A reading laid small on a page: the picture and its map, the pattern in words, its proportions, its nearest
    arrangement with an address, and the copy that goes on to other pages."""

    seen: Plate
    map: Plate
    sentence: str
    shares: Any
    nearest: Belonging | None
    nearest_url: str
    carried: str


def ways(datasette: Any, here: str) -> list[dict[str, Any]]:
    """The links from one way of showing a study to the others."""
    return [
        {"url": datasette.urls.path(path), "name": say(name), "here": key == here, "needs": _NEEDED.get(key, SHOW)}
        for key, path, name in WAYS
    ]


def small(datasette: Any, reading: Reading, name: str, nearest: Belonging | None) -> Small:
    """A reading as it is laid on a page under a name."""
    pictures = pictures_of(reading)
    width, height = pictures["study"].size
    measured = {value: {"value": getattr(reading.measures, value)} for value in ("light", "mid", "dark")}
    return Small(
        seen=Plate(as_data_url(pictures["study"], "JPEG"), width, height, name),
        map=Plate(as_data_url(pictures["map3"], "PNG"), width, height, reading.sentence),
        sentence=reading.sentence,
        shares=shares(measured),
        nearest=nearest,
        nearest_url=arrangement_url(datasette, nearest.slug) if nearest else "",
        carried=carried(pictures["study"]),
    )


async def in_thread(room: Room, work: Any, *values: Any, **named: Any) -> Any:
    """Run what reads pictures in a thread, no more of them at once than the room allows."""
    async with room.readers:
        return await asyncio.to_thread(functools.partial(work, *values, **named))


def masses_words(lights: int, darks: int) -> str:
    """How many light and dark masses there are, as '1 light mass, 2 dark masses'."""
    light = say_count("%(count)d light mass", "%(count)d light masses", lights)
    dark = say_count("%(count)d dark mass", "%(count)d dark masses", darks)
    return f"{light}, {dark}"


def number_in(form: Any, name: str, otherwise: float, low: float, high: float) -> float:
    """A number of a form, held between two limits. Raises Problem when something else is written there."""
    written = str(form.get(name) or "").strip().replace(",", ".")
    if not written:
        return otherwise
    try:
        value = float(written)
    except ValueError as error:
        message = say("“%(written)s” is no number.", written=written[:20])
        raise Problem(message) from error
    if value != value:
        return otherwise
    return min(high, max(low, value))


def greys(values: int) -> list[str]:
    """The greys in which a map of so many values is shown, darkest first, as '#rrggbb'."""
    return [grey(lightness) for lightness in MAP_LIGHTNESS[values]]


def small_data(reading: Reading, nearest: Belonging | None) -> Mapping[str, Any]:
    """A reading for the JSON twin of a page."""
    measures = reading.measures
    return {
        "sentence": reading.sentence,
        "light": measures.light,
        "mid": measures.mid,
        "dark": measures.dark,
        "light_masses": measures.light_masses,
        "dark_masses": measures.dark_masses,
        "arrangement": nearest.slug if nearest else None,
        "degree": nearest.degree if nearest else None,
    }
