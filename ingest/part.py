"""The part of a file that a person says is the picture, where trimming by itself would see it otherwise."""

from __future__ import annotations

import re
from typing import Literal

Box = tuple[int, int, int, int]
Part = Box | Literal["whole"]
"""(x0, y0, x1, y1) in pixels of the upright file, x1 and y1 just outside; or 'whole' for all of it."""


def read_part(text: str) -> Part:
    """The part that a text names: 'whole', or four whole numbers as in '120,80,1620,1280'.

    ValueError with what is wrong, to be put after the text, when it names none.
    """
    words = text.strip().casefold()
    if words == "whole":
        return "whole"
    numbers = re.fullmatch(r"[\[(]?\s*(\d{1,6})[\s,;]+(\d{1,6})[\s,;]+(\d{1,6})[\s,;]+(\d{1,6})\s*[\])]?", words)
    if numbers is None:
        message = "is neither 'whole' nor four whole numbers of pixels as in 120,80,1620,1280"
        raise ValueError(message)
    x0, y0, x1, y1 = (int(number) for number in numbers.groups())
    if x0 >= x1 or y0 >= y1:
        message = "has no area: the numbers are left, top, right, bottom"
        raise ValueError(message)
    return x0, y0, x1, y1


def part_text(part: Part | None) -> str:
    """A part as records and archives keep it: '', 'whole' or 'x0,y0,x1,y1'."""
    return part if isinstance(part, str) else ",".join(str(edge) for edge in part or ())
