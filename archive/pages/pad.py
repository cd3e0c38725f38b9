"""The drawing pad: a study blocked in on the page, in the order in which it is taught, then matched like any other."""

from __future__ import annotations

from typing import Any

from archive.formats import FIRST, FORMATS
from archive.modes import SHOW
from archive.pages.frame import Page, page
from archive.pages.language import later, say
from archive.pages.student import greys, ways
from ingest.value_map import MAP_LIGHTNESS

SIDE = 480
"""Longest side, px, of the drawing."""

BRUSHES = ((later("fine"), 0.025), (later("small"), 0.05), (later("medium"), 0.1), (later("large"), 0.2))
"""Names of the brushes and their diameters as shares of the longest side."""

NAMES = {
    2: (later("dark"), later("light")),
    3: (later("dark"), later("middle"), later("light")),
    5: (later("dark"), later("half-dark"), later("middle"), later("half-light"), later("light")),
}


@page("GET", "HEAD", needs=SHOW)
async def pad(datasette: Any, request: Any) -> Page:  # noqa: ARG001
    """GET: the pad. What is drawn stays in the browser until it is shown to the find page."""
    values = [
        {
            "count": count,
            "greys": [
                {"grey": tone, "name": say(name), "lightness": lightness}
                for tone, name, lightness in zip(greys(count), NAMES[count], MAP_LIGHTNESS[count], strict=True)
            ],
        }
        for count in MAP_LIGHTNESS
    ]
    formats = [
        {"name": name, "width": width, "height": height, "words": format_words(name), "first": name == FIRST}
        for name, (width, height) in FORMATS.items()
    ]
    return Page(
        "pad.html",
        say("Draw a study"),
        {
            "formats": {name: list(sides) for name, sides in FORMATS.items()},
            "values": {str(count): list(tones) for count, tones in MAP_LIGHTNESS.items()},
            "side": SIDE,
        },
        {
            "ways": ways(datasette, "pad"),
            "formats": formats,
            "values": values,
            "brushes": [{"name": name, "words": say(name), "share": share} for name, share in BRUSHES],
            "side": SIDE,
            "setting": {
                "side": SIDE,
                "values": {str(each["count"]): each["greys"] for each in values},
                "words": _words(),
            },
        },
        tab="find",
    )


def format_words(name: str) -> str:
    """A format as people say it: '4 to 3', 'square'."""
    width, height = FORMATS[name]
    return say("square") if width == height else say("%(width)d to %(height)d", width=width, height=height)


def _words() -> dict[str, str]:
    """The sentences that the page's script says; {…} are filled in by it."""
    return {
        "down": say("Down with {value}, {brush} brush; {x} hundredths across, {y} down."),
        "up": say("Lifted; {value}, {brush} brush, {x} hundredths across, {y} down."),
        "ground": say("The whole sheet is {value}."),
        "undone": say("Taken back."),
        "redone": say("Brought back."),
        "nothing": say("There is nothing to take back."),
        "nothing_back": say("Nothing was taken back that could be brought back."),
        "fewer": say("Shown in fewer values. Nothing is lost: choose more again and the drawing is as it was."),
        "squinting": say("Squinting …"),
        "squinted": say("Seen with half-closed eyes: {sentence}"),
        "too_small": say("Seen with half-closed eyes: marks still too small to make a pattern of values."),
        "failed": say("The squint could not be made just now; the drawing is safe."),
        "empty": say("The sheet is one even tone still. Lay in a light or a dark first."),
        "ground2": say("The paper itself is the light. Nothing needs to be laid first."),
        "ground3": say("Lay one middle grey over the whole sheet; only then look for the lights."),
        "ground5": say("Lay one middle grey over the whole sheet; only then look for the lights."),
        "lights2": say("Decide which lights stay paper, and leave them alone."),
        "lights3": say("Lift out the lights, the largest first. Leave out what is smaller than your thumb."),
        "lights5": say("Lift out the lights, the largest first. Half-lights come last."),
        "darks2": say("Lay in the darks as shapes, and let them run together where they meet."),
        "darks3": say("Develop the darks within the grey, and let them run together where they meet."),
        "darks5": say("Develop the darks; then half-lights and half-darks where a large shape turns."),
    }
