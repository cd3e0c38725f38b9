"""Search by words, and all works when nothing is asked for."""

from __future__ import annotations

import asyncio
from typing import Any

from archive.pages.frame import Page, Problem, page
from archive.pages.leaves import leaf, summary, table_url, turning
from archive.pages.room import need_room
from archive.store import ArchiveError

SIZE = 24
_LONGEST = 200


@page("GET", "HEAD")
async def search(datasette: Any, request: Any) -> Page:
    """Works that have every word of ?q=; ?_next= turns to the leaves after."""
    archive = need_room(datasette).archive
    text = (request.args.get("q") or "").strip()[:_LONGEST]
    token = request.args.get("_next") or ""
    try:
        if text:
            found = await asyncio.to_thread(archive.search, text, size=SIZE, next=token)
        else:
            found = await asyncio.to_thread(archive.works, sort="artist", size=SIZE, next=token)
    except ArchiveError as error:
        raise Problem(str(error)) from error
    path, query = datasette.urls.path("/-/search"), ({"q": text} if text else {})
    pages = turning(path, query, token=token, shown=len(found.works), size=SIZE, total=found.total)
    return Page(
        "search.html",
        f"Search: {text}" if text else "Search",
        {
            "q": text,
            "count": found.total,
            "works": [summary(datasette, work) for work in found.works],
            "next": found.next,
            "next_url": pages.after.replace("/-/search", "/-/search.json", 1) or None,
        },
        {
            "q": text,
            "found": [leaf(datasette, work) for work in found.works],
            "pages": pages,
            "table_url": table_url(datasette, "works", **({"_search": text} if text else {})),
        },
        tab="search",
    )
