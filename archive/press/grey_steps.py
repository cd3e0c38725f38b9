"""The grey steps printed to check a printer, and the greys of the value maps beside them."""

from __future__ import annotations

from archive.press import words
from archive.press.document import INK, SOFT, Face, Paper
from ingest.lightness import grey_code, srgb_lightness
from ingest.value_map import MAP_LIGHTNESS

STEPS = tuple(float(step) for step in range(0, 101, 10))
"""L* of the steps."""

HEIGHT = 62.0
"""What `check` takes of a page, mm."""


def printed_lightness(lightness: float) -> float:
    """The L* that is printed for one that is asked for: that of the nearest of 256 codes."""
    code = grey_code(lightness)
    return float(srgb_lightness([code, code, code]))


def said(lightness: float) -> str:
    """An L* as it is written on the sheets, to the nearest half."""
    return f"{round(lightness * 2) / 2:g}"


def check(paper: Paper, x: float, y: float, width: float) -> float:
    """The whole step scale with words; its height, mm."""
    top = y
    y += paper.heading(words.PRINTER_TITLE, x, y, width, Face(13, "B"), 2) + 1.5
    y += paper.words(words.PRINTER_SAY, x, y, width, Face(9))[0] + 3
    step = width / len(STEPS)
    numbers = Face(8)
    with paper.tagged_figure(words.PRINTER_ALT):
        for place, lightness in enumerate(STEPS):
            paper.patch(x + place * step, y, step, 15, lightness)
    paper.frame(x, y, width, 15)
    for place, lightness in enumerate(STEPS):
        paper.words(said(lightness), x + place * step, y + 15.8, step, numbers, align="C")
    y += 21.5
    for values, name in words.PRINTER_MAPS.items():
        label = 22.0
        paper.words(name, x, y + 0.6, label, Face(8, "I", ink=SOFT))
        greys = MAP_LIGHTNESS[values]
        patch = (width - label) / 5
        for place, lightness in enumerate(greys):
            paper.patch(x + label + place * patch, y, 9, 4.6, lightness)
            paper.frame(x + label + place * patch, y, 9, 4.6)
            paper.words(said(lightness), x + label + place * patch + 10.5, y + 0.6, patch - 11, numbers)
        y += 6.2
    y += 0.8
    y += paper.words(words.PRINTER_EXACT, x, y, width, Face(7.5, ink=SOFT))[0]
    return y - top


def key(paper: Paper, x: float, y: float) -> None:
    """The five greys of the maps with their L*, small, for the foot of a page; ``x`` is the left end."""
    face = Face(6.5, ink=SOFT)
    paper.words(words.GREYS, x, y, 24, face, tag="")
    x += paper.width_of(words.GREYS, face) + 1.6
    for lightness in MAP_LIGHTNESS[5]:
        paper.patch(x, y + 0.1, 4.2, 2.6, lightness)
        paper.frame(x, y + 0.1, 4.2, 2.6, 0.1, INK if lightness < 50 else SOFT)
        paper.words(said(lightness), x + 5.1, y, 6, face, tag="")
        x += 5.1 + paper.width_of(said(lightness), face) + 2.2
