"""Panels straightened: a quadrilateral of the photo sampled as the rectangle it is a picture of."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy import ndimage

from ingest.lightness import FloatArray
from ingest.sheet.geometry import UNIT, Points, homography, proportion, transform

LONGEST = 960
"""Longest side of a straightened panel in pixels: as much as is kept of a picture for showing."""

_LEAST = 48


def panel_size(quad: ArrayLike, photo: tuple[int, int]) -> tuple[int, int]:
    """Width and height in pixels of a straightened panel: as many as the photo has of it, at most `LONGEST`."""
    q = np.asarray(quad, dtype=np.float64)
    sides = np.hypot(*(np.roll(q, -1, axis=0) - q).T)
    ratio = proportion(q, photo)
    # The photo's finest direction decides, so that what is foreshortened is stretched and nothing is thrown away.
    width = max(sides[0], sides[2], max(sides[1], sides[3]) * ratio)
    height = width / ratio
    scale = min(1.0, LONGEST / max(width, height))
    return max(_LEAST, round(width * scale)), max(_LEAST, round(height * scale))


def straighten(field: FloatArray, quad: ArrayLike, size: tuple[int, int], inset: float = 0.0) -> FloatArray:
    """A quadrilateral of `field` (h, w) or (h, w, c) as a rectangle of `size` (width, height).

    quad: in pixels of the field. inset: share of each side in which the border is filled from further in, so that no
    line of gutter stands there; nothing is cropped, as a scan of the panel is not.
    """
    at = places(quad, size, inset)
    q = np.asarray(quad, dtype=np.float64)
    finer = float(np.hypot(*(np.roll(q, -1, axis=0) - q).T).max()) / max(size)
    source = field if finer < 1.6 else ndimage.uniform_filter(field, [round(finer), round(finer), 1][: field.ndim])
    where = [at[..., 1], at[..., 0]]
    if source.ndim == 2:
        return np.asarray(ndimage.map_coordinates(source, where, order=1, mode="nearest"), dtype=np.float32)
    bands = [ndimage.map_coordinates(source[..., band], where, order=1, mode="nearest") for band in range(3)]
    return np.stack(bands, axis=-1).astype(np.float32)


def places(quad: ArrayLike, size: tuple[int, int], inset: float = 0.0) -> Points:
    """Where each pixel of the straightened rectangle lies in the field: (h, w, 2) of x, y, pixel centres whole."""
    width, height = size
    x = np.clip((np.arange(width) + 0.5) / width, inset, 1 - inset)
    y = np.clip((np.arange(height) + 0.5) / height, inset, 1 - inset)
    grid = np.stack(np.meshgrid(x, y), axis=-1)
    return transform(homography(UNIT, quad), grid) - 0.5
