"""Panels straightened: what a photo shows between four sides sampled as the rectangle it is a picture of."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from PIL import Image

from ingest.sheet.course import Course
from ingest.sheet.geometry import Points

LONGEST = 960
"""Longest side of a straightened panel in pixels: as much as is kept of a picture for showing."""

_LEAST = 48
_MUCH_FINER = 1.6
"""How much finer a photo is than what is made of it, from which it is made smaller first."""

_TILES = 24
"""Tiles a side, within which places of the photo lie evenly: slant and bend are then told to a tenth of a pixel."""


def panel_size(quad: ArrayLike, ratio: float) -> tuple[int, int]:
    """Width and height in pixels of a straightened panel that is `ratio` times as wide as high: as many as the photo
    has of it, at most `LONGEST`."""
    q = np.asarray(quad, dtype=np.float64)
    sides = np.hypot(*(np.roll(q, -1, axis=0) - q).T)
    # The photo's finest direction decides, so that what is foreshortened is stretched and nothing is thrown away.
    width = max(sides[0], sides[2], max(sides[1], sides[3]) * ratio)
    height = width / ratio
    scale = min(1.0, LONGEST / max(width, height))
    return max(_LEAST, round(width * scale)), max(_LEAST, round(height * scale))


def straighten(rgb: NDArray[np.uint8], course: Course, size: tuple[int, int], inset: float = 0.0) -> NDArray[np.uint8]:
    """What lies between the sides of a panel in a picture (h, w, 3) uint8, as a rectangle of `size` (width, height).

    course: in pixels of the picture. inset: share of each side in which the border is filled from further in, so that
    no line of gutter stands there; nothing is cropped, as a scan of the panel is not.
    """
    source = Image.fromarray(rgb)
    q = course.corners
    finer = float(np.hypot(*(np.roll(q, -1, axis=0) - q).T).max()) / max(size)
    if finer >= _MUCH_FINER:
        fewer = (max(1, round(source.width / finer)), max(1, round(source.height / finer)))
        course = course.scaled([fewer[0] / source.width, fewer[1] / source.height])
        source = source.resize(fewer, Image.Resampling.BOX)
    width, height = size
    x, y = (np.unique(np.rint(np.linspace(0, side, _TILES + 1)).astype(int)) for side in size)
    at = course.at(np.stack(np.meshgrid(x / width, y / height), axis=-1))
    # A tile's corners as the library takes them: top left, bottom left, bottom right, top right.
    corners = np.concatenate([at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]], axis=-1)
    tiles = [
        ((int(x[column]), int(y[row]), int(x[column + 1]), int(y[row + 1])), tuple(corners[row, column]))
        for row in range(len(y) - 1)
        for column in range(len(x) - 1)
    ]
    # All channels at once, in whole codes: the panel itself is given in them.
    seen = np.array(source.transform(size, Image.Transform.MESH, tiles, Image.Resampling.BILINEAR))
    across, down = (int(np.ceil(inset * side - 0.5)) for side in size)
    seen[:, :across], seen[:, width - across :] = seen[:, across, None], seen[:, width - across - 1, None]
    seen[:down], seen[height - down :] = seen[down], seen[height - down - 1]
    return seen


def places(course: Course, size: tuple[int, int], inset: float = 0.0) -> Points:
    """(h, w, 2) x, y where each pixel of the straightened rectangle lies in the picture; middles are at a half."""
    x, y = (np.clip((np.arange(side) + 0.5) / side, inset, 1 - inset) for side in size)
    return course.at(np.stack(np.meshgrid(x, y), axis=-1))
