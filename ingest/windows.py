"""What lies in a window about each pixel: whole fields are laid over each other, a step apart.

A window of n pixels is put together from windows twice as long as the last, so that it costs about log2 n passes over
the field; a filter of a library that takes every pixel through double precision takes several times as long.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ingest.lightness import FloatArray

BAND = 64
"""Rows of a large field that are worked at together, so that they stay in the processor's cache."""

_SMALL = 1 << 17
"""Pixels up to which a field stays in the cache as it is, and is turned so that what is added lies in one piece."""

_Kind = TypeVar("_Kind", bound=np.generic)


def extreme(field: NDArray[_Kind], reach: int, choose: np.ufunc, axes: tuple[int, ...] = (0, 1)) -> NDArray[_Kind]:
    """`choose` (np.minimum, np.maximum …) over the window of 2 * reach + 1 pixels about each pixel of a field (h, w),
    along the axes named.

    What lies beyond the field counts for nothing.
    """
    found = field
    wanted = 2 * reach + 1
    for axis in axes:
        turned = axis == 1 and field.size <= _SMALL
        along = 0 if turned else axis
        found = _prolonged(found.T if turned else found, reach, along)
        wide = 1
        while wide < wanted:
            step = min(wide, wanted - wide)
            many = found.shape[along]
            found = choose(part_of(found, step, many, along), part_of(found, 0, many - step, along))
            wide += step
        found = found.T if turned else found
    return found


def all_along(field: NDArray[np.bool_], reach: int, axis: int) -> NDArray[np.bool_]:
    """Whether all of the window of 2 * reach + 1 pixels about each pixel of a field (h, w) is True, along an axis; none
    is beyond the border."""
    found = extreme(field, reach, np.logical_and, (axis,))
    length = field.shape[axis]
    part_of(found, 0, reach, axis)[...] = False
    part_of(found, max(0, length - reach), length, axis)[...] = False
    return found


def sums_along(field: FloatArray, sizes: tuple[int, ...], axis: int) -> list[FloatArray]:
    """Sums (h, w) over each of some odd numbers of pixels along an axis; the border is continued."""
    most = max(sizes)
    power = _prolonged(field, most // 2, axis)
    length = field.shape[axis]
    totals: list[FloatArray | None] = [None] * len(sizes)
    # Where in the prolonged field the part of each window that is yet to be added begins.
    at = [most // 2 - size // 2 for size in sizes]
    width = 1
    while True:
        for n, size in enumerate(sizes):
            if size & width:
                piece = part_of(power, at[n], at[n] + length, axis)
                total = totals[n]
                totals[n] = piece.copy() if total is None else np.add(total, piece, out=total)
                at[n] += width
        if 2 * width > most:
            break
        many = power.shape[axis]
        power = part_of(power, 0, many - width, axis) + part_of(power, width, many, axis)
        width *= 2
    return [total for total in totals if total is not None]


def mean_around(field: FloatArray, reach: int) -> FloatArray:
    """Mean (h, w) over the window of 2 * reach + 1 pixels about each pixel of a field, both ways; the border is
    continued."""
    size = 2 * reach + 1
    (total,) = sums_along(field, (size,), 0)
    (total,) = sums_along(total, (size,), 1)
    total *= np.float32(1 / size**2)
    return total


def change_along(field: FloatArray, axis: int) -> FloatArray:
    """Change a pixel (h, w) along an axis, over two pixels; the border is continued."""
    around = _prolonged(field, 1, axis)
    length = around.shape[axis]
    change = part_of(around, 2, length, axis) - part_of(around, 0, length - 2, axis)
    change *= np.float32(0.5)
    return change


def gaussian(field: FloatArray, deviation: float, reach: int, *, mirrored: bool = False) -> FloatArray:
    """A field (h, w) or (h, w, n) smoothed by a Gaussian of that standard deviation in pixels, cut off beyond `reach`
    pixels; the border is continued, or seen on in a mirror."""
    weights = _bell(deviation, reach)
    if field.size <= _SMALL:
        return _weighed(_surrounded(field, reach, mirrored=mirrored), weights)
    result = np.empty(field.shape, dtype=np.float32)
    height = len(field)
    for first in range(0, height, BAND):
        last = min(first + BAND, height)
        low, high = max(0, first - reach), min(height, last + reach)
        part = _weighed(_surrounded(field[low:high], reach, mirrored=mirrored), weights)
        result[first:last] = part[first - low : last - low]
    return result


def steps_away(shape: NDArray[np.bool_], steps: int, choose: np.ufunc) -> NDArray[np.bool_]:
    """`choose` (np.logical_and, np.logical_or) over what is so many steps to one side or another away from each pixel
    of a shape (h, w), or fewer; there is none of it beyond the border."""
    field = np.zeros((shape.shape[0] + 2, shape.shape[1] + 2), dtype=bool)
    inner = field[1:-1, 1:-1]
    inner[...] = shape
    for _ in range(steps):
        found = choose(field[:-2, 1:-1], field[2:, 1:-1])
        for side in (field[1:-1, :-2], field[1:-1, 2:], inner):
            choose(found, side, out=found)
        inner[...] = found
    return inner


def share_around(shape: NDArray[np.bool_], radius: float) -> FloatArray:
    """How much of the surroundings of each pixel a shape (h, w) holds, (h, w) 0..1.

    The surroundings are a Gaussian of standard deviation `radius` in pixels, cut at twice that. Beyond its edge the
    field goes on as it ends there.
    """
    reach = int(2 * radius + 0.5)
    return _weighed(_surrounded(shape, reach).astype(np.float32), _bell(radius, reach))


def part_of(field: NDArray[_Kind], start: int, end: int, axis: int) -> NDArray[_Kind]:
    """What lies between two places along an axis of a field (h, w), without a copy."""
    return field[start:end] if axis == 0 else field[:, start:end]


def _bell(deviation: float, reach: int) -> FloatArray:
    """(reach + 1,) weights of a pixel and of those so many pixels away; on both sides together they make 1."""
    bell = np.exp(-0.5 * (np.arange(reach + 1) / deviation) ** 2)
    return np.asarray(bell / (2 * bell.sum() - bell[0]), dtype=np.float32)


def _weighed(around: FloatArray, weights: FloatArray) -> FloatArray:
    """Each pixel and its neighbours, those n pixels away by the n-th weight, first down, then across: (h, w) or
    (h, w, n) of a field that has as many more lines on every side as there are neighbours."""
    reach = len(weights) - 1
    # Row after row, all numbers lie in one line, where the next one down is as many on as a row has.
    line = around.ravel()
    across, each = around.size // len(around), around[0, 0].size
    for step in (across, each):
        length = len(line) - 2 * reach * step
        found = line[reach * step :][:length] * weights[0]
        pair = np.empty_like(found)
        for away in range(1, reach + 1):
            np.add(line[(reach - away) * step :][:length], line[(reach + away) * step :][:length], out=pair)
            pair *= weights[away]
            found += pair
        line = found
    size = (around.shape[0] - 2 * reach, around.shape[1] - 2 * reach, *around.shape[2:])
    return np.lib.stride_tricks.as_strided(line, size, around.strides)


def _surrounded(field: NDArray[_Kind], by: int, *, mirrored: bool = False) -> NDArray[_Kind]:
    """A field (h, w) or (h, w, n) continued by so many lines on every side, or seen on in a mirror."""
    return _prolonged(_prolonged(field, by, 0, mirrored=mirrored), by, 1, mirrored=mirrored)


def _prolonged(field: NDArray[_Kind], by: int, axis: int, *, mirrored: bool = False) -> NDArray[_Kind]:
    """A field (h, w) or (h, w, n) with its first and its last line along an axis so many times more, or with as many
    lines in a mirror."""
    length = field.shape[axis]
    shape = (*field.shape[:axis], length + 2 * by, *field.shape[axis + 1 :])
    found = np.empty(shape, dtype=field.dtype)
    part_of(found, by, by + length, axis)[...] = field
    part_of(found, 0, by, axis)[...] = part_of(field, 0, 1, axis)
    part_of(found, by + length, length + 2 * by, axis)[...] = part_of(field, length - 1, length, axis)
    for away in range(1, min(by, length)) if mirrored else ():
        part_of(found, by - 1 - away, by - away, axis)[...] = part_of(field, away, away + 1, axis)
        beyond = by + length + away
        part_of(found, beyond, beyond + 1, axis)[...] = part_of(field, length - 1 - away, length - away, axis)
    return found
