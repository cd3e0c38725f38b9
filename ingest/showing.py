"""The pictures that are kept of a reading, to be shown beside its numbers."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from PIL import Image

from ingest.lightness import luminance_CIE1976, srgb_from_linear
from ingest.reading import Reading
from ingest.value_map import map_picture

SHOWING_VERSION = "2"
"""Stored with every reading; raise it when the same reading would be shown by other pictures."""

THUMB_SIDE = 320
MAP_SIDE = 640
_QUALITY = 82
_METHOD = 2
"""WebP's effort, 0 to 6: half the time of 4 for files that are a fiftieth larger (measured on the samples)."""


@dataclass(frozen=True)
class Shown:
    """One picture as a file: its bytes and the ending of its name ('webp' or 'png')."""

    content: bytes
    suffix: str


def show(reading: Reading) -> dict[str, Shown]:
    """The pictures of a reading, all of the trimmed picture.

    ``painting`` (WebP in sRGB, longest side at most 960 px), ``thumb`` (the same, 320 px), ``squint`` (WebP,
    the squinted lightness as greys, at its own size), ``map2``, ``map3``, ``map5`` (PNG in the plain greys of
    `ingest.value_map.MAP_LIGHTNESS`, 640 px).
    """
    painting = Image.fromarray(reading.picture.rgb)
    thumb = painting.copy()
    thumb.thumbnail((THUMB_SIDE, THUMB_SIDE), Image.Resampling.LANCZOS, reducing_gap=None)
    greys = np.rint(255 * srgb_from_linear(luminance_CIE1976(reading.squinted))).astype(np.uint8)
    shown = {"painting": _webp(painting), "thumb": _webp(thumb), "squint": _webp(Image.fromarray(greys))}
    for values, laid in reading.maps.items():
        shown[f"map{values}"] = _png(map_picture(laid.labels, values, MAP_SIDE))
    return shown


def _webp(image: Image.Image) -> Shown:
    buffer = io.BytesIO()
    image.save(buffer, "WEBP", quality=_QUALITY, method=_METHOD)
    return Shown(buffer.getvalue(), "webp")


def _png(image: Image.Image) -> Shown:
    buffer = io.BytesIO()
    image.save(buffer, "PNG")
    return Shown(buffer.getvalue(), "png")
