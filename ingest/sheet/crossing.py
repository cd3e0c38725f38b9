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
from ingest.windows import extreme

_NEAR = 3
_STRAY = 4
"""Pixels by which the border of a gutter may lie beside where the sides end."""

_LEAST = 6
"""Least width of a gutter in pixels of the frame."""

_WIDEST = 0.35
_EVEN = 3.0
"""Deviation in L* along a gutter, its slow change taken off, up to which it is plain."""

_ROUGH, _MOST_ROUGH = 8.0, 0.2
"""Range of L* across a gutter, and share of its length up to which it may be more."""

_LIKE = 7.0
_BORDERS = (0.55, 0.12)
"""Share of the clearer and of the fainter border of a gutter along which an edge is seen."""

_Bools = NDArray[np.bool_]


class Crossings:
    """Tells of rectangles of a frame whether a gutter crosses them."""

    def __init__(self, frame: Frame) -> None:
        self._upright = extreme(frame.upright, _NEAR, np.logical_or, (1,))
        # Transposed, so that the places along a row lie side by side in memory.
        self._level = np.ascontiguousarray(extreme(frame.level, _NEAR, np.logical_or, (0,)).T)
        self._colour = frame.colour
        reach = _NEAR + _STRAY
        self._down = np.cumsum(extreme(frame.upright, reach, np.logical_or, (1,)), axis=0, dtype=np.int32)
        self._across = np.cumsum(extreme(frame.level, reach, np.logical_or, (0,)), axis=1, dtype=np.int32)

    def cross(self, rectangle: Rectangle) -> bool:
        """Whether a gutter runs through a rectangle from side to side or from top to bottom."""
        left, top, right, bottom = (round(edge) for edge in rectangle.box)
        gutter = np.array(rectangle.gutter)
        return _crossed(self._upright, self._across, self._colour, (left, top, right, bottom), gutter) or _crossed(
            self._level, self._down.T, self._colour.transpose(1, 0, 2), (top, left, bottom, right), gutter
        )


def _crossed(
    upright: _Bools,
    across: NDArray[np.int32],
    colour: FloatArray,
    box: tuple[int, int, int, int],
    gutter: NDArray[np.float64],
) -> bool:
    """Whether a plain band runs from the left side to the right one. across: running sums, along rows, of where an edge
    that runs across is near."""
    left, top, right, bottom = box
    tall = bottom - top
    first, last = top + max(8, tall // 8), bottom - max(8, tall // 8)
    if last - first < _LEAST:
        return False
    bare = ~(upright[first:last, left] | upright[first:last, right])
    most = len(upright) - 1
    for start, end in _runs(bare):
        start, end = start + first, end + first
        if end - start < _LEAST or end - start > _WIDEST * tall + 4:
            continue
        seen = sorted(
            (across[at, right - 3] - across[at, left + 2]) / max(1, right - left - 5) for at in (start, min(end, most))
        )
        if seen[1] < _BORDERS[0] or seen[0] < _BORDERS[1]:
            continue
        inset = max(1, (end - start) // 5)
        band = colour[start + inset : end - inset, left + 3 : right - 2]
        if not band.size:
            continue
        line = band.mean(axis=0)
        ends = np.concatenate([line[:6], line[-6:]]).mean(axis=0)
        if abs(ends[0] - gutter[0]) > 3 * _LIKE or float(np.hypot(*(line.mean(axis=0) - gutter)[1:])) > _LIKE:
            continue
        slow = ndimage.uniform_filter1d(line[:, 0], max(3, len(line) // 3), mode="nearest")
        if float(np.abs(line[:, 0] - slow).mean()) > _EVEN:
            continue
        tone = band[..., 0]
        if float(((tone.max(axis=0) - tone.min(axis=0)) > _ROUGH).mean()) <= _MOST_ROUGH:
            return True
    return False


def _runs(there: _Bools) -> list[tuple[int, int]]:
    """Where runs of True begin and end."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], there, [False]]).astype(np.int8)))
    return [(int(start), int(end)) for start, end in zip(edges[::2], edges[1::2], strict=True)]
