"""From the bytes of any picture file to an upright, colour-managed, margin-free picture in linear light."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ingest.colour import colour_managed
from ingest.lightness import FloatArray
from ingest.margins import Trim, find_picture
from ingest.part import Part
from ingest.picture_file import (
    MIN_SIDE,
    UnreadablePicture,
    check_proportions,
    reduce_decoding,
    set_upright,
    with_opened,
)

DISPLAY_SIDE = 960
"""Longest side, in pixels, of the picture as kept for showing."""

WORKING_SIDE = 288
"""Longest side, in pixels, of the field that tone is read from: seven times finer than the default squint."""

TRIM_SIDE = 512
"""Longest side, in pixels, of the field that margins are found in."""


@dataclass(frozen=True)
class Picture:
    """A picture ready for reading tone.

    rgb: (h, w, 3) uint8, sRGB, trimmed, longest side <= DISPLAY_SIDE.
    luminance: (h, w) float32, relative luminance in linear light 0..1, trimmed, longest side <= WORKING_SIDE.
    mask: (h, w) bool, True inside the picture, the shape of `luminance`; None when the picture is a full rectangle.
    width, height: of the upright file in pixels.
    trimmed: rectangle (x0, y0, x1, y1) in those pixels that was kept.
    trims: what was taken off and why, in words.
    profile: the colour profile that was used.
    """

    rgb: NDArray[np.uint8]
    luminance: FloatArray
    mask: NDArray[np.bool_] | None
    width: int
    height: int
    trimmed: tuple[int, int, int, int]
    trims: tuple[str, ...]
    profile: str


def read_picture(source: Path | bytes, *, trim: bool = True, part: Part | None = None) -> Picture:
    """Read a picture file, or its bytes. Raises UnreadablePicture with one clear sentence.

    part: what of the upright file is the picture, if that is known; nothing is then trimmed by our own judgement.
    """
    return with_opened(source, lambda opened: _read_opened(opened, trim=trim, part=part))


def read_upright(source: Path | bytes, side: int) -> tuple[NDArray[np.uint8], tuple[int, int]]:
    """A whole picture file, or its bytes, upright and in sRGB, for steps before the street such as finding panels.

    Returns rgb (h, w, 3) uint8, reduced while decoding where the file is more than twice `side` pixels long, and the
    file's own upright (width, height). Errors are those of `read_picture`.
    """

    def read(opened: Image.Image) -> tuple[NDArray[np.uint8], tuple[int, int]]:
        stored, icc = opened.size, opened.info.get("icc_profile") or None
        reduce_decoding(opened, side / max(stored))
        set_upright(opened)
        shown, _, _ = colour_managed(opened, icc)
        return np.asarray(shown), _upright(stored, opened.size)

    return with_opened(source, read)


def _read_opened(opened: Image.Image, *, trim: bool, part: Part | None) -> Picture:
    stored = opened.size
    icc = opened.info.get("icc_profile") or None
    # The decoder halves and halves again while it decodes; twice the display side is left for our own averaging.
    kept = max(stored) if part is None or part == "whole" else max(1, part[2] - part[0], part[3] - part[1])
    reduce_decoding(opened, 1.25 * DISPLAY_SIDE / kept)
    set_upright(opened)
    width, height = _upright(stored, opened.size)
    told = None if part is None else _told(part, width, height)
    image, luminance, used = colour_managed(opened, icc)
    tone = Image.fromarray(luminance)
    whole = (0.0, 0.0, 1.0, 1.0)
    found = told or (_find(image, tone) if trim else Trim(whole, None, ()))
    return _cut(image, tone, found, (width, height), used)


def _find(image: Image.Image, tone: Image.Image) -> Trim:
    """The picture within its margins, looked for at a small size, in colour where there is any."""
    # Borders are to stay sharp here, whatever becomes of grain.
    small = _shrink(tone, TRIM_SIDE, Image.Resampling.BOX)
    if small.shape == tone.size[::-1]:
        return find_picture(small, np.asarray(image))
    # Hue is only looked at, so that it may be shrunk the quick way.
    shown = image.resize(small.shape[::-1], Image.Resampling.BOX, reducing_gap=1.0)
    return find_picture(small, np.asarray(shown))


def _told(part: Part, width: int, height: int) -> Trim:
    """The part that a person named, as a trim of a file of so many upright pixels."""
    if part == "whole":
        return Trim((0.0, 0.0, 1.0, 1.0), None, ("left whole, as asked",))
    x0, y0, x1, y1 = part
    if not (0 <= x0 < x1 <= width and 0 <= y0 < y1 <= height):
        message = f"The part {x0},{y0},{x1},{y1} does not lie within the picture, which is {width} x {height} pixels."
        raise UnreadablePicture(message)
    if min(x1 - x0, y1 - y0) < MIN_SIDE:
        message = f"The part is {x1 - x0} x {y1 - y0} pixels, too small to hold a pattern of values."
        raise UnreadablePicture(message)
    check_proportions(x1 - x0, y1 - y0, "part")
    return Trim((x0 / width, y0 / height, x1 / width, y1 / height), None, ("cut to the part asked for",))


def _upright(stored: tuple[int, int], shown: tuple[int, int]) -> tuple[int, int]:
    """The file's size the way the (reduced) picture is shown; some decoders turn it themselves, some leave it to us."""
    width, height = stored
    as_shown = shown[0] * height
    straight, turned = abs(as_shown - shown[1] * width), abs(shown[0] * width - shown[1] * height)
    return (width, height) if straight <= turned else (height, width)


def _shrink(tone: Image.Image, side: int, weights: Image.Resampling = Image.Resampling.HAMMING) -> FloatArray:
    """Averages in linear light, (h, w), longest side at most `side`.

    They overlap, by the weights of a soft window. Boxes side by side count whole pixels alone: at three pixels for two
    every other one counts twice, and what is hatched or grained reads differently by the size of its file.
    """
    width, height = tone.size
    scale = side / max(height, width)
    if scale >= 1.0:
        return np.asarray(tone)
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    return np.asarray(tone.resize(size, weights))


def _cut(image: Image.Image, tone: Image.Image, found: Trim, size: tuple[int, int], used: str) -> Picture:
    width, height = size
    left, top, right, bottom = found.part
    columns, rows = tone.size
    x0, y0 = round(left * columns), round(top * rows)
    x1, y1 = max(x0 + 1, round(right * columns)), max(y0 + 1, round(bottom * rows))
    if (x0, y0, x1, y1) != (0, 0, columns, rows):
        image, tone = image.crop((x0, y0, x1, y1)), tone.crop((x0, y0, x1, y1))
    field = _shrink(tone, WORKING_SIDE)
    image.thumbnail((DISPLAY_SIDE, DISPLAY_SIDE), Image.Resampling.HAMMING)
    mask = None
    if found.mask is not None:
        inside = Image.fromarray(found.mask).resize(field.shape[::-1], Image.Resampling.NEAREST)
        mask = np.asarray(inside).astype(bool)
    return Picture(
        rgb=np.asarray(image),
        luminance=field,
        mask=mask,
        width=width,
        height=height,
        trimmed=(round(left * width), round(top * height), round(right * width), round(bottom * height)),
        trims=found.reasons,
        profile=used,
    )
