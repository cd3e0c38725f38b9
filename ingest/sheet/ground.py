"""What lies in parts of the frame: plain material or a drawing."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.sheet.frame import Frame
from ingest.sheet.rectangles import Rectangle

_PLAIN = 1.6
"""Change in Lab units a pixel up to which a surface is plain."""

_COLOURED = 22.0
"""Chroma of a gutter of blue tape, on which a bare panel would be lighter than what surrounds it."""

_CELLS = 16
"""Parts, down and across, whose mean tones tell whether anything is drawn."""

_LIGHTER, _LIKE = 8.0, -5.0
"""L* by which bare paper or a slab is lighter than a gutter of tape or a joint, and by which it may be darker when it
is of the gutter's own material."""

_EVEN, _VERY_EVEN = 12.0, 7.0
"""Range of the mean tones in L*, a slow change taken off, up to which nothing is drawn, for the one and the other."""


class Ground:
    """The plainness and tone of any part of the frame, from running sums."""

    def __init__(self, frame: Frame) -> None:
        height, width = frame.inside.shape
        # Every other pixel is enough.
        self.colour = np.empty(((height + 1) // 2, (width + 1) // 2, 3), dtype=np.float32)
        change = np.zeros(self.colour.shape[:2], dtype=np.float32)
        for channel in range(3):
            smooth = ndimage.uniform_filter(frame.colour[..., channel], 3)[::2, ::2]
            self.colour[..., channel] = smooth
            for rise, most in (
                (np.abs(smooth[2:] - smooth[:-2]), change[1:-1]),
                (np.abs(smooth[:, 2:] - smooth[:, :-2]), change[:, 1:-1]),
            ):
                np.maximum(most, rise, out=most)
        self.plain = (change < 4 * _PLAIN) & frame.inside[::2, ::2]

    def of(self, outer: Rectangle, inner: list[Rectangle]) -> tuple[float, NDArray[np.float64], float]:
        """Share of plain surface, median Lab and share of the area, of what `inner` leave of `outer`."""
        left, top, right, bottom = (round(edge / 2) for edge in outer.box)
        mask = np.ones((bottom - top, right - left), dtype=bool)
        mask[:2], mask[-2:], mask[:, :2], mask[:, -2:] = False, False, False, False
        for each in inner:
            x0, y0, x1, y1 = (round(edge / 2) for edge in each.box)
            mask[max(0, y0 - top - 2) : max(0, y1 - top + 2), max(0, x0 - left - 2) : max(0, x1 - left + 2)] = False
        if mask.sum() < 10:
            return 0.0, np.zeros(3), 0.0
        here = self.colour[top:bottom, left:right][mask]
        return float(self.plain[top:bottom, left:right][mask].mean()), np.median(here, axis=0), float(mask.mean())


def is_blank(frame: Frame, rectangle: Rectangle) -> bool:
    """Whether nothing is drawn in a rectangle: bare paper between tapes, a slab of a floor between its joints."""
    left, top, right, bottom = (round(edge) for edge in rectangle.box)
    if float(np.hypot(*rectangle.gutter[1:])) > _COLOURED:
        return False
    here = frame.colour[top + 4 : bottom - 4, left + 4 : right - 4, 0]
    down, across = (side // _CELLS for side in here.shape)
    if not down or not across:
        return False
    median = float(np.median(here[::down, ::across]))
    if median < rectangle.gutter[0] + _LIKE:
        return False
    # Grain and speckles are no drawing, so means are compared; light that falls off over them is none either.
    cells = here[: down * _CELLS, : across * _CELLS].reshape(_CELLS, down, _CELLS, across).mean(axis=(1, 3))
    y, x = np.mgrid[:_CELLS, :_CELLS] - (_CELLS - 1) / 2
    square = float((x * x).sum())
    rest = cells - x * float((cells * x).sum()) / square - y * float((cells * y).sum()) / square
    low, high = np.percentile(rest, [3, 97])
    return bool(high - low < (_EVEN if median > rectangle.gutter[0] + _LIGHTER else _VERY_EVEN))
