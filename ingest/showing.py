"""The pictures that are kept of a reading, to be shown beside its numbers."""

from __future__ import annotations

import functools
import io
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ingest.enlarging import enlarged
from ingest.lightness import FloatArray, grey_code, luminance_CIE1976, srgb_from_linear
from ingest.reading import Reading
from ingest.value_map import MAP_LIGHTNESS, OUTSIDE, Labels

SHOWING_VERSION = "5"
"""Stored with every reading; raise it when the same reading would be shown by other pictures."""

THUMB_SIDE = 320
MAP_SIDE = 640
_PAPER = 255
_QUALITY = 82
_SQUINT_QUALITY = 88
"""JPEG's, 0 to 100. At 82 a painting is as near to what was read as a WebP of a quarter fewer bytes, which takes seven
times as long to write. What is squinted is nothing but even tones, in which blocks would be seen soonest."""


_STEPS = 4000
"""Steps in which the lightness of what is squinted is told, 0.025 L* each."""


@dataclass(frozen=True)
class Shown:
    """One picture as a file: its bytes and the ending of its name, which is its format too ('jpeg' or 'png')."""

    content: bytes
    suffix: str


def show(reading: Reading) -> dict[str, Shown]:
    """The pictures of a reading, all of the trimmed picture.

    ``painting`` (JPEG in sRGB, longest side at most 960 px), ``thumb`` (the same, 320 px), ``squint`` (JPEG,
    the squinted lightness as greys, at its own size), ``map2``, ``map3``, ``map5`` (PNG in the plain greys of
    `ingest.value_map.MAP_LIGHTNESS` as a palette, 640 px).
    """
    painting = Image.fromarray(reading.picture.rgb)
    shown = {"painting": _jpeg(painting, _QUALITY)}
    thumb = painting.copy()
    # Whole pixels are averaged first, down to twice the size at most: a third of the time, and no eye tells them apart.
    thumb.thumbnail((THUMB_SIDE, THUMB_SIDE), Image.Resampling.HAMMING, reducing_gap=1.0)
    # A painting as small as its thumbnail is kept once.
    shown["thumb"] = shown["painting"] if thumb.size == painting.size else _jpeg(thumb, _QUALITY)
    shown["squint"] = _jpeg(Image.fromarray(_greys(reading.squinted)), _SQUINT_QUALITY)
    for values, laid in reading.maps.items():
        shown[f"map{values}"] = _map(laid.labels, values)
    return shown


def _greys(squinted: FloatArray) -> NDArray[np.uint8]:
    """Lightness, L* 0..100 of any shape, as the greys of sRGB that show it."""
    return np.take(_grey_codes(), (squinted * np.float32(_STEPS / 100) + np.float32(0.5)).astype(np.int16), mode="clip")


@functools.cache
def _grey_codes() -> NDArray[np.uint8]:
    """The code of the grey for each of `_STEPS` steps of L*; no code of a grey is shown by fewer than ten."""
    lightness = np.linspace(0.0, 100.0, _STEPS + 1)
    return np.rint(255 * srgb_from_linear(luminance_CIE1976(lightness))).astype(np.uint8)


def _jpeg(image: Image.Image, quality: int) -> Shown:
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=quality)
    return Shown(buffer.getvalue(), "jpeg")


def _map(labels: Labels, values: int) -> Shown:
    if max(labels.shape) < MAP_SIDE:
        labels = enlarged(labels, values, MAP_SIDE, OUTSIDE)
    # Each value is a place in the palette: two bits or four a pixel instead of eight take half the time to pack.
    picture = Image.fromarray(np.minimum(labels, values))
    greys = [*(grey_code(tone) for tone in MAP_LIGHTNESS[values]), _PAPER]
    picture.putpalette([grey for grey in greys for _ in "RGB"])
    buffer = io.BytesIO()
    # Plain greys lie in runs: looking for nothing else is quicker, and the files are smaller too.
    picture.save(buffer, "PNG", compress_type=zlib.Z_RLE)
    return Shown(buffer.getvalue(), "png")
