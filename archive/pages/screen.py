"""Whether a screen or a projector shows all values: steps to look at, and what to do where some are swallowed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from archive.pages.frame import Page, grey, page
from archive.pages.language import number, say
from ingest.value_map import MAP_LIGHTNESS

STEPS = tuple(range(0, 101, 10))
DARKS = (2, 4, 6, 8, 10, 13, 16, 20)
"""L* of the squares on black. A room with the lamps on lifts a projector's black, and the first of them go."""

LIGHTS = (98, 96, 94, 92, 90, 87, 84, 80)
"""L* of the squares on white. A picture mode made for day rooms drives them all to white."""


@page("GET", "HEAD")
async def screen(datasette: Any, request: Any) -> Page:  # noqa: ARG001
    """Three rows of greys at stated L* under sRGB, and what to look for in each."""
    rows = {"steps": STEPS, "darks": DARKS, "lights": LIGHTS, "five": MAP_LIGHTNESS[5], "three": MAP_LIGHTNESS[3]}
    return Page(
        "screen.html",
        say("Check the screen"),
        {name: [{"lightness": step, "grey": grey(step)} for step in row] for name, row in rows.items()},
        {
            "all_steps": _squares(STEPS),
            "darks": _squares(DARKS),
            "lights": _squares(LIGHTS),
            "maps": [_squares(MAP_LIGHTNESS[5]), _squares(MAP_LIGHTNESS[3])],
            "black": grey(0),
            "white": grey(100),
        },
    )


def _squares(row: Sequence[float]) -> list[dict[str, Any]]:
    return [
        {"grey": grey(step), "name": number(step, int(step != round(step))), "ink": grey(100 if step < 50 else 0)}
        for step in row
    ]
