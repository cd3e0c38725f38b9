"""What is in the archive, from where, under which rights; how it is read and how its figures are meant."""

from __future__ import annotations

import asyncio
from typing import Any

from archive.pages.frame import Page, page
from archive.pages.language import say
from archive.pages.leaves import table_url
from archive.pages.room import Room, need_room
from archive.pages.words import measure_name


@page("GET", "HEAD")
async def about(datasette: Any, request: Any) -> Page:  # noqa: ARG001
    """Counts by source, rights and collection, the method in brief, every measure and type."""
    found = await asyncio.to_thread(_gather, need_room(datasette))
    return Page(
        "about.html",
        say("About"),
        found,
        {
            "counts": found["counts"],
            "sources": [
                {
                    "name": row["obtained_from"],
                    "count": row["works"],
                    "url": _works(datasette, "source", row["source"]),
                }
                for row in found["sources"]
            ],
            "rights": [
                {
                    "name": row["name"],
                    "link": row["rights"] if row["rights"].startswith(("http://", "https://")) else "",
                    "count": row["works"],
                    "url": _works(datasette, "rights", row["rights"]),
                }
                for row in found["rights"]
            ],
            "collections": [
                {
                    "name": row["value"],
                    "count": row["works"],
                    "url": _works(datasette, "collection", row["value"]),
                }
                for row in found["collections"]
            ],
            "set_aside_url": table_url(datasette, "set_aside"),
            "measures": [{**row, "name": measure_name(row["measure"])} for row in found["measures"]],
            "types": found["types"],
            "works_url": table_url(datasette, "works"),
            "measures_url": table_url(datasette, "works_with_measures"),
            "database_url": datasette.urls.database("archive"),
        },
        tab="about",
    )


def _works(datasette: Any, column: str, value: object) -> str:
    return table_url(datasette, "works", **{f"{column}__exact": str(value)})


def _gather(room: Room) -> dict[str, Any]:
    archive = room.archive
    return {
        "counts": archive.counts(),
        "sources": archive.sources(),
        "rights": archive.rights(),
        "collections": archive.facet("collection"),
        "types": archive.types(),
        "measures": archive.measure_meanings(),
    }
