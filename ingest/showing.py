"""The pictures that are kept of a reading, to be shown beside its numbers."""

from __future__ import annotations

import io
import zlib
from dataclasses import dataclass

import numpy as np
from PIL import Image

from ingest.lightness import luminance_CIE1976, srgb_from_linear
from ingest.reading import Reading
from ingest.value_map import map_picture

SHOWING_VERSION = "3"
"""Stored with every reading; raise it when the same reading would be shown by other pictures."""

THUMB_SIDE = 320
MAP_SIDE = 640
_QUALITY = 82
_METHODS = {"painting": 0, "thumb": 2, "squint": 2}
"""WebP's effort, 0 to 6. At 2 it takes half the time of 4 for files that are a fiftieth larger, at 0 two thirds of the
time of 2 for files that are a tenth larger (measured on the samples): thumbnails are many on a page, paintings one."""


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
    shown = {"painting": _webp(painting, _METHODS["painting"])}
    thumb = painting.copy()
    thumb.thumbnail((THUMB_SIDE, THUMB_SIDE), Image.Resampling.HAMMING)
    # A painting as small as its thumbnail is kept once.
    shown["thumb"] = shown["painting"] if thumb.size == painting.size else _webp(thumb, _METHODS["thumb"])
    greys = np.rint(255 * srgb_from_linear(luminance_CIE1976(reading.squinted))).astype(np.uint8)
    shown["squint"] = _webp(Image.fromarray(greys), _METHODS["squint"])
    for values, laid in reading.maps.items():
        shown[f"map{values}"] = _png(map_picture(laid.labels, values, MAP_SIDE))
    return shown


def _webp(image: Image.Image, method: int) -> Shown:
    buffer = io.BytesIO()
    image.save(buffer, "WEBP", quality=_QUALITY, method=method)
    return Shown(buffer.getvalue(), "webp")


def _png(image: Image.Image) -> Shown:
    buffer = io.BytesIO()
    # Plain greys lie in runs: looking for nothing else is quicker, and the files are smaller too.
    image.save(buffer, "PNG", compress_type=zlib.Z_RLE)
    return Shown(buffer.getvalue(), "png")
