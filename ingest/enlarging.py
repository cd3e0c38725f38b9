"""A value map at a larger size, its outlines smooth: shapes may be enlarged, and paint may not."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image

Labels = NDArray[np.uint8]

_BELL = (5, 4, 1)
"""Weights of a pixel and of those one and two away, about a Gaussian of one pixel: with both neighbours they make 15,
so that going over rows and columns makes 225, and a byte holds it."""

_HALF = 15
"""What brings half of 225 to the byte's uppermost bit."""


def enlarged(labels: Labels, values: int, side: int, outside: int) -> Labels:
    """Labels (h, w) uint8, 0 = darkest … values - 1 = lightest, at a larger size, ``side`` px on the longest side.

    Each border between a value and the next is enlarged as that of a soft shape, where it is half there.  ``outside``,
    above all values, is the label of what is no picture.
    """
    scale = side / max(labels.shape)
    size = (round(labels.shape[1] * scale), round(labels.shape[0] * scale))
    chosen: Labels = np.zeros(size[::-1], dtype=np.uint8)
    # What lies outside counts as lightest first, so that no border but its own runs along it.
    for value in range(1, values):
        chosen += _shape(labels >= value, size)
    away = labels == outside
    if away.any():
        np.copyto(chosen, outside, where=_shape(away, size).astype(bool))
    return chosen


def _shape(there: NDArray[np.bool_], size: tuple[int, int]) -> Labels:
    """1 where a shape (h, w) is, at another size (width, height), with a smooth outline."""
    soft = there.view(np.uint8)
    reach = len(_BELL) - 1
    for _ in range(2):
        wide = np.pad(soft, ((reach, reach), (0, 0)), mode="edge")
        length = len(soft)
        soft = wide[reach : reach + length] * np.uint8(_BELL[0])
        for away, weight in enumerate(_BELL[1:], 1):
            soft += (wide[reach - away :][:length] + wide[reach + away :][:length]) * np.uint8(weight)
        soft = soft.T
    soft = np.ascontiguousarray(soft) + np.uint8(_HALF)
    large = np.asarray(Image.fromarray(soft).resize(size, Image.Resampling.BILINEAR))
    return np.asarray(large >> np.uint8(7), dtype=np.uint8)
