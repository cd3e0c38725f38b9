"""One small reading for the pages that ask while a person draws or looks: the same street, answered as JSON alone."""

from __future__ import annotations

import base64
from typing import Any

from archive.modes import SHOW
from archive.pages.frame import Page, page
from archive.pages.room import need_room
from archive.pages.student import in_thread, small_data
from archive.pages.upload import as_data_url, asked_in, open_form, read_study
from archive.pages.words import shares_words
from ingest.reading import Reading
from ingest.showing import show
from ingest.value_map import map_picture

_SIDE = 480
"""Longest side, px, of the map that is sent back."""


@page("POST", needs=SHOW)
async def reading(datasette: Any, request: Any) -> Page:
    """POST a picture as on the find page: its pattern in words, its shares, its map and its squint as addresses."""
    room = need_room(datasette)
    async with open_form(request) as form:
        asked = await asked_in(datasette, request, form)
    read = await read_study(asked, room)
    nearest = room.placer.nearest(read)
    data = {
        **small_data(read, nearest),
        "even": read.measures.values_present == 1,
        "shares": shares_words(read.measures.light, read.measures.mid, read.measures.dark),
        "arrangement_name": nearest.name if nearest else "",
        **await in_thread(room, _pictures, read),
    }
    return Page("problem.html", "", data)


def _pictures(read: Reading) -> dict[str, str]:
    squint = show(read)["squint"]
    return {
        "map3": as_data_url(map_picture(read.maps[3].labels, 3, _SIDE), "PNG"),
        "squint": f"data:image/{squint.suffix};base64,{base64.b64encode(squint.content).decode('ascii')}",
    }
