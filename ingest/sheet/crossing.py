"""Gutters that cross a rectangle: whether it is two panels with what parts them.

Where a gutter leaves a rectangle nothing is seen along the rectangle's side, and from there a plain band of the
gutter's material runs straight through to the other side.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import FloatArray
from ingest.sheet.frame import Frame
from ingest.sheet.rectangles import Rectangle

_NEAR = 3
_LEAST = 6
"""Least width of a gutter in pixels of the frame."""

_WIDEST = 0.35
_EVEN = 3.0
"""Deviation in L* along a gutter, its slow change taken off, up to which it is plain."""

_LIKE = 7.0
_BORDERS = (0.55, 0.12)
"""Share of the clearer and of the fainter border of a gutter along which an edge is seen."""

_Bools = NDArray[np.bool_]


class Crossings:
    """Tells of rectangles of a frame whether a gutter crosses them."""

    def __init__(self, frame: Frame) -> None:
        self._upright = ndimage.maximum_filter1d(frame.upright.astype(np.uint8), 2 * _NEAR + 1, axis=1) > 0
        self._level = ndimage.maximum_filter1d(frame.level.astype(np.uint8), 2 * _NEAR + 1, axis=0) > 0
        self._colour = frame.colour

    def cross(self, rectangle: Rectangle) -> bool:
        """Whether a gutter runs through a rectangle from side to side or from top to bottom."""
        left, top, right, bottom = (round(edge) for edge in rectangle.box)
        gutter = np.array(rectangle.gutter)
        return _crossed(self._upright, self._level, self._colour, (left, top, right, bottom), gutter) or _crossed(
            self._level.T, self._upright.T, self._colour.transpose(1, 0, 2), (top, left, bottom, right), gutter
        )


def _crossed(
    upright: _Bools,
    level: _Bools,
    colour: FloatArray,
    box: tuple[int, int, int, int],
    gutter: NDArray[np.float64],
) -> bool:
    """Whether a plain band runs from the left side to the right one."""
    left, top, right, bottom = box
    tall = bottom - top
    first, last = top + max(8, tall // 8), bottom - max(8, tall // 8)
    if last - first < _LEAST:
        return False
    bare = ~(upright[first:last, left] | upright[first:last, right])
    for start, end in _runs(bare):
        start, end = start + first, end + first
        if end - start < _LEAST or end - start > _WIDEST * tall + 4:
            continue
        inset = max(1, (end - start) // 5)
        band = colour[start + inset : end - inset, left + 3 : right - 2]
        if not band.size:
            continue
        line = band.mean(axis=0)
        slow = ndimage.uniform_filter1d(line[:, 0], max(3, len(line) // 3), mode="nearest")
        if (
            float(np.abs(line[:, 0] - slow).mean()) > _EVEN
            or float(np.percentile(np.ptp(band[..., 0], axis=0), 80)) > 8
        ):
            continue
        ends = np.concatenate([line[:6], line[-6:]]).mean(axis=0)
        if abs(ends[0] - gutter[0]) > 3 * _LIKE or float(np.hypot(*(line.mean(axis=0) - gutter)[1:])) > _LIKE:
            continue
        reach = 4
        borders = sorted(
            float(level[max(0, at - reach) : at + reach + 1, left + 3 : right - 2].any(axis=0).mean())
            for at in (start, end)
        )
        if borders[1] >= _BORDERS[0] and borders[0] >= _BORDERS[1]:
            return True
    return False


def _runs(there: _Bools) -> list[tuple[int, int]]:
    """Where runs of True begin and end."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], there, [False]]).astype(np.int8)))
    return [(int(start), int(end)) for start, end in zip(edges[::2], edges[1::2], strict=True)]
