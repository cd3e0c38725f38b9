"""The first page: what can be done here, and the arrangements as a wall of their mean patterns."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import Any

from archive.catalogue import BINS, NONE, SHARES, Wanted
from archive.field import how_firmly
from archive.modes import KEEP, LEAVES, SHOW
from archive.pages.frame import Page, page
from archive.pages.language import later, say
from archive.pages.leaves import (
    MEAN_SIDE,
    Plate,
    arrangement_url,
    picture_url,
    plate,
    study_plate,
    summary,
)
from archive.pages.room import Room, need_room
from archive.pages.words import century_words
from archive.relief import relief_url
from archive.store import PICTURES, Work

_STRIP = 8
"""Members shown beside an arrangement."""

_DOORS = (
    (SHOW, "/-/pad", later("Draw a study"), later("with finger, pen or mouse, in three greys")),
    (SHOW, "/-/sheet", later("Photograph a sheet"), later("of several studies, and see them side by side")),
    (SHOW, "/-/viewfinder", later("Frame a scene"), later("with a viewfinder laid over a photo")),
    ("", "/-/works", later("Choose works"), later("by their light and dark, by painter, century and subject")),
    ("", "/-/field", later("Look over the field"), later("where works that are built alike lie near one another")),
    (LEAVES, "/-/boards", later("Gather a board"), later("for a lesson, for the wall or on paper")),
    (KEEP, "/-/practice", later("Look back"), later("on the studies that you have kept")),
)
"""Ways into the book: what must be allowed, path, name, what one does there."""

_GLANCES = {"light": later("Light"), "mid": later("Middle"), "dark": later("Dark")}

Row = dict[str, Any]


@page("GET", "HEAD")
async def home(datasette: Any, request: Any) -> Page:  # noqa: ARG001
    """The arrangements of the archive, fullest first."""
    room = need_room(datasette)
    counts, rows = await asyncio.to_thread(_gather, room)
    reliefs = await asyncio.to_thread(lambda: [relief_plate(room, row) for row, _ in rows])
    loose = counts["unarranged"]
    firmly = await asyncio.to_thread(how_firmly, room.archive)
    at_a_glance = await asyncio.to_thread(glance, datasette, room)
    return Page(
        "home.html",
        say("Arrangements"),
        {
            "counts": counts,
            "stability": firmly,
            "arrangements": [
                {
                    "slug": row["slug"],
                    "name": row["name"],
                    "sentence": row["sentence"],
                    "members": row["members"],
                    "url": arrangement_url(datasette, row["slug"]),
                    "mean": picture_url(datasette, row["mean"]),
                    "first": [summary(datasette, work) for work in works],
                }
                for row, works in rows
            ],
        },
        {
            "count": counts["works"],
            "firmly": firmly,
            "artists": counts["artists"],
            "glance": at_a_glance,
            "doors": [
                {"needs": needs, "url": datasette.urls.path(path), "name": say(name), "words": say(words)}
                for needs, path, name, words in _DOORS
            ],
            "field_url": datasette.urls.path("/-/field"),
            "arrangements": [
                {
                    "name": row["name"],
                    "sentence": row["sentence"],
                    "members": row["members"],
                    "url": arrangement_url(datasette, row["slug"]),
                    "mean": relief,
                    "strip": [plate(datasette, work, "map3") for work in works],
                }
                for (row, works), relief in zip(rows, reliefs, strict=True)
            ],
            "studies": [
                {
                    "name": study.title,
                    "url": datasette.urls.path(f"/-/find?example={study.slug}"),
                    "plate": study_plate(datasette, study),
                }
                for study in room.studies
            ],
            "loose": {"count": loose, "url": datasette.urls.path(f"/-/works?arrangement={NONE}")} if loose else None,
        },
        tab="arrangements",
    )


def glance(datasette: Any, room: Room) -> list[dict[str, Any]]:
    """How the works of the archive are spread over the shares of each value and over the centuries, as columns."""
    found = room.catalogue.find(Wanted(), 0, 0)
    told = []
    for name in SHARES:
        spread = found.spreads[name]
        if spread.middle is None:
            continue
        low, high = spread.middle
        words = say("half of the works have %(low)d to %(high)d %%", low=low, high=high)
        url = datasette.urls.path(f"/-/works?{name}_from={5 * round(low / 5)}&{name}_to={5 * round(high / 5)}")
        told.append(_glance(say(_GLANCES[name]), spread.found, words, url, [f"{100 * at // BINS}" for at in (0, BINS)]))
    centuries = {int(century): count for century, count in found.counts["century"]}
    if centuries:
        first, last = min(centuries), max(centuries)
        counts = [centuries.get(century, 0) for century in range(first, last + 1)]
        fullest = max(centuries, key=lambda century: centuries[century])
        words = say("the fullest is the %(century)s", century=century_words(fullest))
        url = datasette.urls.path(f"/-/works?century={fullest}")
        told.append(_glance(say("Century"), counts, words, url, [century_words(first), century_words(last)]))
    return told


def _glance(name: str, counts: Sequence[int], words: str, url: str, ends: list[str]) -> dict[str, Any]:
    tallest, wide = max(counts), 200 / len(counts)
    columns = [
        {"x": round(at * wide, 2), "width": round(wide * 0.84, 2), "height": round(count / tallest * 40, 1)}
        for at, count in enumerate(counts)
    ]
    return {"name": name, "columns": columns, "words": words, "url": url, "ends": ends}


def mean_plate(datasette: Any, row: Row) -> Plate:
    """The mean pattern of an arrangement."""
    words = say("The mean pattern of %(name)s. %(sentence)s", name=row["name"], sentence=row["sentence"])
    return Plate(picture_url(datasette, row["mean"]), MEAN_SIDE, MEAN_SIDE, words)


def relief_plate(room: Room, row: Row) -> Plate:
    """The mean pattern with its tones drawn apart, for the wall."""
    words = say(
        "The mean pattern of %(name)s, its tones drawn apart. %(sentence)s", name=row["name"], sentence=row["sentence"]
    )
    return Plate(relief_url(room.archive.folder / PICTURES / row["mean"]), MEAN_SIDE, MEAN_SIDE, words)


def _gather(room: Room) -> tuple[dict[str, int], list[tuple[Row, list[Work]]]]:
    archive = room.archive
    rows = [row for row in archive.arrangements() if row["mean"]]
    strips = archive.remember(("strips",), lambda: [room.clearest(row["slug"], "", _STRIP).works for row in rows])
    return archive.counts(), list(zip(rows, strips, strict=True))
