"""One arrangement: its mean and spread, what sets it apart, its works by degree."""

from __future__ import annotations

import asyncio
from dataclasses import asdict
from typing import Any

from archive.apart import apart
from archive.arrangement_counts import Count, counts_of
from archive.pages.frame import Page, Problem, page, path_part
from archive.pages.home import mean_plate
from archive.pages.language import later, number, say
from archive.pages.leaves import (
    MEAN_SIDE,
    Plate,
    arrangement_url,
    leaf,
    picture_url,
    summary,
    table_url,
    turning,
)
from archive.pages.room import need_room
from archive.pages.words import century_words
from archive.store import ArchiveError

SIZE = 24

_COUNTED = {
    "century": later("By century"),
    "country": later("By country"),
    "culture": later("By culture"),
    "subject": later("By subject"),
    "artist": later("By painter"),
}


@page("GET", "HEAD")
async def arrangement(datasette: Any, request: Any) -> Page:
    """The arrangement named in the path; ?_next= turns to the leaves after."""
    room, slug = need_room(datasette), path_part(request, "slug")
    row = await asyncio.to_thread(room.archive.arrangement, slug)
    if row is None or not row["mean"]:
        message = say("No arrangement of this archive has that name.")
        raise Problem(message, 404)
    token = request.args.get("_next") or ""
    try:
        found = await asyncio.to_thread(room.clearest, slug, token, SIZE)
    except ArchiveError as error:
        raise Problem(str(error)) from error
    differences = await asyncio.to_thread(apart, room.archive, slug)
    near = await asyncio.to_thread(room.archive.neighbours, slug)
    counts = await asyncio.to_thread(counts_of, room.archive, slug)
    central = await asyncio.to_thread(room.archive.work, row["medoid"]) if row["medoid"] else None
    path = arrangement_url(datasette, slug)
    pages = turning(path, {}, token=token, shown=len(found.works), size=SIZE, total=found.total)
    spread_words = say(
        "Where the works of %(name)s differ: black where all agree, lighter the more they part.", name=row["name"]
    )
    return Page(
        "arrangement.html",
        row["name"],
        {
            "slug": slug,
            "name": row["name"],
            "sentence": row["sentence"],
            "members": row["members"],
            "medoid": row["medoid"],
            "mean": picture_url(datasette, row["mean"]),
            "spread": picture_url(datasette, row["spread"]),
            "apart": [asdict(difference) for difference in differences],
            "neighbours": [{**row, "url": arrangement_url(datasette, row["slug"])} for row in near],
            "counts": {column: [asdict(count) for count in rows] for column, rows in counts.items()},
            "works": [summary(datasette, work) for work in found.works],
            "next": found.next,
            "next_url": f"{path}.json?_next={found.next}" if found.next else None,
        },
        {
            "slug": slug,
            "name": row["name"],
            "sentence": row["sentence"],
            "count": row["members"],
            "mean": mean_plate(datasette, row),
            "spread": Plate(picture_url(datasette, row["spread"]), MEAN_SIDE, MEAN_SIDE, spread_words),
            "apart": [difference.sentence for difference in differences],
            "neighbours": [
                {
                    "name": row["name"],
                    "but": f", but with {row['but']}" if row["but"] else "",
                    "url": arrangement_url(datasette, row["slug"]),
                }
                for row in near
            ],
            "counts": [(say(_COUNTED[column]), _said(column, rows)) for column, rows in counts.items()],
            "central": leaf(datasette, central) if central else None,
            "table_url": table_url(datasette, "works", arrangement=str(row["arrangement"]), _sort_desc="degree"),
            "members": [
                leaf(datasette, work, figures=say("Degree %(degree)s", degree=number(work["degree"], 2)))
                for work in found.works
            ],
            "pages": pages,
        },
        tab="arrangements",
    )


def _said(column: str, rows: list[Count]) -> str:
    """Counts in words, such as '17th: 12 of 40'."""

    def named(value: object) -> str:
        return century_words(int(str(value))) if column == "century" else str(value)

    return "; ".join(
        say("%(name)s: %(part)d of %(whole)d", name=named(count.value), part=count.works, whole=count.everywhere)
        for count in rows
    )
