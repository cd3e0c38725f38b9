"""Panels straightened: a quadrilateral of the photo sampled as the rectangle it is a picture of."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from PIL import Image

from ingest.sheet.geometry import UNIT, Points, homography, transform

LONGEST = 960
"""Longest side of a straightened panel in pixels: as much as is kept of a picture for showing."""

_LEAST = 48
_MUCH_FINER = 1.6
"""How much finer a photo is than what is made of it, from which it is made smaller first."""


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


def straighten(rgb: NDArray[np.uint8], quad: ArrayLike, size: tuple[int, int], inset: float = 0.0) -> NDArray[np.uint8]:
    """A quadrilateral of a picture (h, w, 3) uint8 as a rectangle of `size` (width, height).

    quad: in pixels of the picture. inset: share of each side in which the border is filled from further in, so that no
    line of gutter stands there; nothing is cropped, as a scan of the panel is not.
    """
    q = np.asarray(quad, dtype=np.float64)
    source = Image.fromarray(rgb)
    finer = float(np.hypot(*(np.roll(q, -1, axis=0) - q).T).max()) / max(size)
    if finer >= _MUCH_FINER:
        fewer = (max(1, round(source.width / finer)), max(1, round(source.height / finer)))
        q = q * [fewer[0] / source.width, fewer[1] / source.height]
        source = source.resize(fewer, Image.Resampling.BOX)
    width, height = size
    to_source = homography(UNIT * [width, height], q)
    weights = tuple((to_source / to_source[2, 2]).ravel()[:8])
    # All channels at once, in whole codes: the panel itself is given in them.
    seen = np.array(source.transform(size, Image.Transform.PERSPECTIVE, weights, Image.Resampling.BILINEAR))
    across, down = (int(np.ceil(inset * side - 0.5)) for side in size)
    seen[:, :across], seen[:, width - across :] = seen[:, across, None], seen[:, width - across - 1, None]
    seen[:down], seen[height - down :] = seen[down], seen[height - down - 1]
    return seen


def places(quad: ArrayLike, size: tuple[int, int], inset: float = 0.0) -> Points:
    """Where each pixel of the straightened rectangle lies in the field: (h, w, 2) of x, y, pixel centres whole."""
    width, height = size
    x = np.clip((np.arange(width) + 0.5) / width, inset, 1 - inset)
    y = np.clip((np.arange(height) + 0.5) / height, inset, 1 - inset)
    grid = np.stack(np.meshgrid(x, y), axis=-1)
    return transform(homography(UNIT, quad), grid) - 0.5
