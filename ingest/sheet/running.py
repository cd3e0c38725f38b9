"""Sums and extremes over sliding windows of pictures, along one axis.

Each is put together from windows twice as long as the last, so that a window of n pixels costs about log2 n passes over
the picture; a filter of a library that takes every pixel through double precision takes several times as long, and
looking for panels is little else than such filters.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ingest.lightness import FloatArray

BAND = 64
"""Rows that are worked at together, so that they stay in the processor's cache."""

_Any = TypeVar("_Any", np.float32, np.uint8, np.bool_)


def mean_of(field: FloatArray, size: int, axis: int) -> FloatArray:
    """Mean (h, w) over `size` pixels, an odd number, along an axis; the border is continued."""
    power = _padded(field, size // 2, axis)
    length = field.shape[axis]
    total: FloatArray | None = None
    at, width = 0, 1
    while True:
        if size & width:
            piece = _part(power, at, at + length, axis)
            total = piece.copy() if total is None else np.add(total, piece, out=total)
            at += width
        if 2 * width > size:
            break
        many = power.shape[axis]
        power = _part(power, 0, many - width, axis) + _part(power, width, many, axis)
        width *= 2
    assert total is not None
    total *= np.float32(1 / size)
    return total


def most_of(field: NDArray[_Any], size: int, axis: int) -> NDArray[_Any]:
    """Largest value (h, w) over `size` pixels, an odd number, along an axis."""
    return _extreme(_padded(field, size // 2, axis), size, axis, np.maximum)


def least_of(field: NDArray[np.bool_], size: int, axis: int) -> NDArray[np.bool_]:
    """Whether all of `size` pixels, an odd number, along an axis are True (h, w); none is beyond the border."""
    around = _padded(field, size // 2, axis)
    length = around.shape[axis]
    _part(around, 0, size // 2, axis)[...] = False
    _part(around, length - size // 2, length, axis)[...] = False
    return _extreme(around, size, axis, np.minimum)


def change_of(field: FloatArray, axis: int) -> FloatArray:
    """Change a pixel (h, w) along an axis, over two pixels; the border is continued."""
    around = _padded(field, 1, axis)
    length = around.shape[axis]
    change = _part(around, 2, length, axis) - _part(around, 0, length - 2, axis)
    change *= np.float32(0.5)
    return change


def smoothed(field: FloatArray, deviation: float, reach: int) -> FloatArray:
    """A picture (h, w) smoothed by a Gaussian of that deviation, cut off beyond `reach` pixels."""
    bell = np.exp(-0.5 * (np.arange(reach + 1) / deviation) ** 2)
    bell = (bell / (bell[0] + 2 * bell[1:].sum())).astype(np.float32)
    result = np.empty(field.shape, dtype=np.float32)
    height = len(field)
    for first in range(0, height, BAND):
        last = min(first + BAND, height)
        low, high = max(0, first - reach), min(height, last + reach)
        part = field[low:high]
        for axis in (0, 1):
            around, length = _padded(part, reach, axis), part.shape[axis]
            part = part * bell[0]
            for away in range(1, reach + 1):
                both = _part(around, reach - away, reach - away + length, axis)
                both = both + _part(around, reach + away, reach + away + length, axis)
                both *= bell[away]
                part += both
        result[first:last] = part[first - low : last - low]
    return result


def _extreme(around: NDArray[_Any], size: int, axis: int, pick: np.ufunc) -> NDArray[_Any]:
    length = around.shape[axis] - size + 1
    width = 1
    while 2 * width <= size:
        many = around.shape[axis]
        around = pick(_part(around, 0, many - width, axis), _part(around, width, many, axis))
        width *= 2
    first, last = _part(around, 0, length, axis), _part(around, size - width, size - width + length, axis)
    return np.asarray(pick(first, last))


def _part(field: NDArray[_Any], start: int, end: int, axis: int) -> NDArray[_Any]:
    return field[start:end] if axis == 0 else field[:, start:end]


def _padded(field: NDArray[_Any], by: int, axis: int) -> NDArray[_Any]:
    """A picture (h, w) with its border continued along an axis."""
    length = field.shape[axis]
    shape = (field.shape[0] + 2 * by, field.shape[1]) if axis == 0 else (field.shape[0], field.shape[1] + 2 * by)
    around = np.empty(shape, dtype=field.dtype)
    _part(around, by, by + length, axis)[...] = field
    _part(around, 0, by, axis)[...] = _part(field, 0, 1, axis)
    _part(around, by + length, length + 2 * by, axis)[...] = _part(field, length - 1, length, axis)
    return around
