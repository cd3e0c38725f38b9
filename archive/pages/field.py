"""The field: the whole archive as small value maps, likes near likes; a window can be moved closer."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from datasette.utils.asgi import Response

from archive.edition_copy import SIGNATURES_SHA256
from archive.field import CELLS, CLOSEST, Cell, Window, look
from archive.modes import LEAVES
from archive.pages.frame import HEADERS, Page, Problem, page
from archive.pages.language import later, say, say_count
from archive.pages.leaves import arrangement_url, pick_value, plate, summary, work_url
from archive.pages.permits import may
from archive.pages.room import Room, need_room
from archive.pages.words import by_line, title_of
from ingest.lightness import grey_code
from ingest.value_map import MAP_LIGHTNESS

_WAYS = (
    (later("upper left"), 0.25, 0.25), (later("at the top"), 0.5, 0.25), (later("upper right"), 0.75, 0.25),
    (later("at the left"), 0.25, 0.5), (later("in the middle"), 0.5, 0.5), (later("at the right"), 0.75, 0.5),
    (later("lower left"), 0.25, 0.75), (later("at the bottom"), 0.5, 0.75), (later("lower right"), 0.75, 0.75),
)  # fmt: skip
"""Where the nearer windows lie in a window."""


@page("GET", "HEAD")
async def field(datasette: Any, request: Any) -> Page:
    """The works in the window given by ?x=, ?y= (its middle) and ?side=, each 0..1; the whole field without."""
    room = need_room(datasette)
    window = _window(request)
    picking = request.args.get("pick") == "1" and await may(datasette, request, LEAVES)
    cells, count = await asyncio.to_thread(look, room.archive, window)
    at = {(cell.row, cell.column): cell for cell in cells}
    return Page(
        "field.html",
        say("The field"),
        {
            "window": {"x": window.x, "y": window.y, "side": window.side},
            "cells_across": CELLS,
            "works": count,
            "cells": [
                {
                    "column": cell.column,
                    "row": cell.row,
                    "works": cell.works,
                    "x": cell.work["map_x"],
                    "y": cell.work["map_y"],
                    **summary(datasette, cell.work),
                }
                for cell in cells
            ],
        },
        {
            "count": count,
            "whole": window.side == 1,
            "picking": picking,
            "window": window,
            "cells_across": CELLS,
            "greys": ",".join(str(grey_code(lightness)) for lightness in MAP_LIGHTNESS[3]),
            "marks_url": datasette.urls.path(f"/-/field/marks?_hash={_edition(room)}"),
            "path": datasette.urls.path("/-/field"),
            "turned_url": _address(datasette, window, picking=not picking),
            "whole_url": _address(datasette, None, picking=picking),
            "wider_url": (
                _address(datasette, Window.about(*window.centre, window.side * 2), picking=picking)
                if window.side < 1 else ""
            ),
            "closer": [
                {"name": say(name), "url": _address(datasette, _part(window, x, y), picking=picking)}
                for name, x, y in _WAYS
            ] if window.side > CLOSEST and count > len(cells) else [],
            "rows": [
                [_shown(datasette, at.get((row, column))) for column in range(CELLS)] for row in range(CELLS)
            ],
        },
        tab="field",
    )  # fmt: skip


async def marks(datasette: Any, request: Any) -> Any:
    """GET: all works of the field as small marks, see `archive.field_marks`; the address names the edition."""
    await datasette.ensure_permission(action="view-instance", actor=request.actor)
    room = need_room(datasette)
    packed = await asyncio.to_thread(lambda: room.marks)
    kept = request.args.get("_hash") == _edition(room)
    keep = {"Cache-Control": "public, max-age=31536000, immutable"} if kept else {"Cache-Control": "no-cache"}
    return Response(packed, content_type="application/octet-stream", headers=HEADERS | keep)


def _edition(room: Room) -> str:
    return room.archive.setting(SIGNATURES_SHA256)[:12] or "none"


def _window(request: Any) -> Window:
    try:
        x, y, side = (float(request.args.get(name) or otherwise) for name, otherwise in _WHOLE)
    except ValueError as error:
        message = say("A window of the field is given by the numbers x, y and side, each from 0 to 1.")
        raise Problem(message) from error
    if not all(math.isfinite(value) for value in (x, y, side)):
        message = say("A window of the field is given by the numbers x, y and side, each from 0 to 1.")
        raise Problem(message)
    return Window.about(x, y, side)


_WHOLE = (("x", "0.5"), ("y", "0.5"), ("side", "1"))


def _part(window: Window, x: float, y: float) -> Window:
    return Window.about(window.x + x * window.side, window.y + y * window.side, window.side / 2)


def _address(datasette: Any, window: Window | None, *, picking: bool) -> str:
    path = str(datasette.urls.path("/-/field"))
    asked = {"pick": "1"} if picking else {}
    if window is not None and window.side < 1:
        x, y = window.centre
        asked |= {"x": f"{x:g}", "y": f"{y:g}", "side": f"{window.side:g}"}
    return path + (f"?{urlencode(asked)}" if asked else "")


def _shown(datasette: Any, cell: Cell | None) -> dict[str, Any] | None:
    if cell is None:
        return None
    work = cell.work
    slug = work["arrangement_slug"]
    words = f"{title_of(work)}, {by_line(work)}. {work['sentence']}"
    return {
        "url": work_url(datasette, work["work"]),
        "x": work["map_x"],
        "y": work["map_y"],
        "pick": pick_value(work["work"]),
        "plate": plate(datasette, work, "map3", alt=words),
        "title": _title(work, cell.works - 1),
        "more": cell.works - 1,
        "arrangement": arrangement_url(datasette, slug) if slug else "",
    }


def _title(work: Mapping[str, Any], more: int) -> str:
    if not more:
        return title_of(work)
    return say_count("%(title)s and %(count)d more", "%(title)s and %(count)d more", more, title=title_of(work))
