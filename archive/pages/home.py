"""The first page: what can be done here, and the arrangements as a wall of their mean patterns."""

from __future__ import annotations

import asyncio
from typing import Any

from archive.field import how_firmly
from archive.pages.frame import Page, page
from archive.pages.leaves import (
    MEAN_SIDE,
    Plate,
    arrangement_url,
    picture_url,
    plate,
    study_plate,
    summary,
    table_url,
)
from archive.pages.room import Room, need_room
from archive.relief import relief_url
from archive.store import PICTURES, Work

_STRIP = 8
"""Members shown beside an arrangement."""

Row = dict[str, Any]


@page("GET", "HEAD")
async def home(datasette: Any, request: Any) -> Page:  # noqa: ARG001
    """The arrangements of the archive, fullest first."""
    room = need_room(datasette)
    counts, rows = await asyncio.to_thread(_gather, room)
    reliefs = await asyncio.to_thread(lambda: [relief_plate(room, row) for row, _ in rows])
    loose = counts["unarranged"]
    firmly = await asyncio.to_thread(how_firmly, room.archive)
    return Page(
        "home.html",
        "Arrangements",
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
            "loose": {"count": loose, "url": table_url(datasette, "works", arrangement__isnull="1")} if loose else None,
        },
        tab="arrangements",
    )


def mean_plate(datasette: Any, row: Row) -> Plate:
    """The mean pattern of an arrangement."""
    words = f"The mean pattern of {row['name']}. {row['sentence']}"
    return Plate(picture_url(datasette, row["mean"]), MEAN_SIDE, MEAN_SIDE, words)


def relief_plate(room: Room, row: Row) -> Plate:
    """The mean pattern with its tones drawn apart, for the wall."""
    words = f"The mean pattern of {row['name']}, its tones drawn apart. {row['sentence']}"
    return Plate(relief_url(room.archive.folder / PICTURES / row["mean"]), MEAN_SIDE, MEAN_SIDE, words)


def _gather(room: Room) -> tuple[dict[str, int], list[tuple[Row, list[Work]]]]:
    archive = room.archive
    return archive.counts(), [
        (row, archive.works(where={"arrangement": row["slug"]}, sort="-degree", size=_STRIP).works)
        for row in archive.arrangements()
        if row["mean"]
    ]
