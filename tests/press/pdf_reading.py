"""Reads PDFs with a library that did not write them (pypdf), and as pixels (pdftoppm of Poppler)."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from pypdf import PdfReader
from pypdf.generic import ContentStream

POINT = 25.4 / 72

needs_pdftoppm = pytest.mark.skipif(
    shutil.which("pdftoppm") is None, reason="pdftoppm is not installed (Debian: poppler-utils)"
)


def opened(content: bytes) -> PdfReader:
    """A strict reader, which raises on what is not to the standard."""
    return PdfReader(io.BytesIO(content), strict=True)


def size(page: Any) -> tuple[float, float]:
    """Width and height of a page, mm."""
    return float(page.mediabox.width) * POINT, float(page.mediabox.height) * POINT


def text(content: bytes) -> str:
    """All words of a file with single spaces, as a person would search for them."""
    return squeezed(" ".join(page.extract_text() for page in opened(content).pages))


def squeezed(words: str) -> str:
    """Without any white space, since lines break anywhere and kerning looks like spaces to a reader."""
    return re.sub(r"\s+", "", words)


@dataclass(frozen=True)
class Drawn:
    """A picture or a filled rectangle on a page, mm from the top left; ``grey`` is the code of a rectangle, 0..255."""

    x: float
    y: float
    width: float
    height: float
    name: str = ""
    grey: int = -1


def pictures(page: Any) -> list[Drawn]:
    """Where pictures are drawn."""
    found, matrix = [], [1.0, 0.0, 0.0, 1.0, 0.0, 0.0]
    tall = float(page.mediabox.height)
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        if operator == b"cm":
            matrix = [float(value) for value in operands]
        elif operator == b"Do":
            width, _, _, height, x, y = matrix
            found.append(Drawn(x * POINT, (tall - y - height) * POINT, width * POINT, height * POINT, str(operands[0])))
    return found


def rectangles(page: Any, *, filled: bool) -> list[Drawn]:
    """Rectangles as they were drawn, filled with a grey or only outlined."""
    found: list[Drawn] = []
    grey, pending = 0.0, None
    tall = float(page.mediabox.height)
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        if operator == b"g":
            grey = float(operands[0])
        elif operator == b"re":
            pending = [float(value) for value in operands]
        elif operator in (b"f", b"S") and pending is not None:
            if (operator == b"f") == filled:
                x, y, width, height = pending
                top = tall - max(y, y + height)
                found.append(Drawn(x * POINT, top * POINT, width * POINT, abs(height) * POINT, grey=round(grey * 255)))
            pending = None
    return found


def rendered(content: bytes, number: int, dpi: int = 100) -> NDArray[np.uint8]:
    """A page, counted from 1, as pixels (h, w, 3)."""
    made = subprocess.run(
        ["pdftoppm", "-png", "-r", str(dpi), "-f", str(number), "-l", str(number), "-"],
        input=content, capture_output=True, check=True,
    )  # fmt: skip
    with Image.open(io.BytesIO(made.stdout)) as image:
        return np.asarray(image.convert("RGB"))


def elements(content: bytes) -> list[Any]:
    """The elements of the structure tree in reading order."""
    root = opened(content).trailer["/Root"]["/StructTreeRoot"]
    document = root["/K"][0].get_object()
    return [kid.get_object() for kid in document["/K"]]
