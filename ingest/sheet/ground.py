"""What lies in parts of the frame: plain material or a drawing."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ingest.sheet.frame import Frame
from ingest.sheet.rectangles import Rectangle

_PLAIN = 1.6
"""Change in Lab units a pixel up to which a surface is plain."""

_COLOURED = 22.0
"""Chroma of a gutter of blue tape, on which a bare panel would be lighter than what surrounds it."""

_CELLS, _SAMPLED = 16, 4
"""Parts, down and across, whose mean tones tell whether anything is drawn, and how many pixels down and across tell the
mean of each."""

_ENOUGH = 2000
"""Pixels whose median tells a tone."""

_PART = 8000
"""Pixels of a part of the frame that tell how plain it is."""

_RING = (3, 8)
"""Pixels outside a rectangle between which its gutter is held against itself."""

_CONTRAST = 2.5
"""Times the gutter's own deviation, from which a drawing stands out from it."""

_LIGHTER, _LIKE = 8.0, -5.0
"""L* by which bare paper or a slab is lighter than a gutter of tape or a joint, and by which it may be darker when it
is of the gutter's own material."""

_DARKER = 2.0
"""L* below its gutter from which something dark is drawn in a rectangle."""

_EVEN, _VERY_EVEN = 12.0, 7.0
"""Range of the mean tones in L*, a slow change taken off, up to which nothing is drawn, for the one and the other."""


class Ground:
    """The plainness and tone of any part of the frame, from running sums."""

    def __init__(self, frame: Frame) -> None:
        height, width = frame.inside.shape
        # The means of two by two pixels are enough.
        self.colour = np.empty(((height + 1) // 2, (width + 1) // 2, 3), dtype=np.float32)
        change = np.zeros(self.colour.shape[:2], dtype=np.float32)
        for channel in range(3):
            fine = frame.colour[..., channel]
            smooth = np.array(fine[::2, ::2])
            smooth[:, : width // 2] += fine[::2, 1::2]
            smooth[: height // 2] += fine[1::2, ::2]
            smooth[: height // 2, : width // 2] += fine[1::2, 1::2]
            smooth[:, : width // 2] *= 0.5
            smooth[: height // 2] *= 0.5
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
        # Of a large part some pixels are enough.
        step = max(1, int(np.sqrt((bottom - top) * (right - left) / _PART)))
        rows, columns = np.arange(top + 2, bottom - 2, step), np.arange(left + 2, right - 2, step)
        mask = np.ones((len(rows), len(columns)), dtype=bool)
        for each in inner:
            x0, y0, x1, y1 = (round(edge / 2) for edge in each.box)
            above, below = np.searchsorted(rows, (y0 - 2, y1 + 2))
            before, after = np.searchsorted(columns, (x0 - 2, x1 + 2))
            mask[above:below, before:after] = False
        if mask.sum() < 10:
            return 0.0, np.zeros(3), 0.0
        part = slice(top + 2, bottom - 2, step), slice(left + 2, right - 2, step)
        here = self.colour[part][mask]
        tone = np.median(here[:: 1 + len(here) // _ENOUGH], axis=0)
        # The border of two pixels that is left off counts as covered.
        share = float(mask.mean()) * (bottom - top - 4) * (right - left - 4) / ((bottom - top) * (right - left))
        return float(self.plain[part][mask].mean()), tone, share


def is_blank(frame: Frame, rectangle: Rectangle) -> bool:
    """Whether nothing is drawn in a rectangle: bare paper between tapes, a slab of a floor between its joints."""
    left, top, right, bottom = (round(edge) for edge in rectangle.box)
    if float(np.hypot(*rectangle.gutter[1:])) > _COLOURED:
        return False
    # Grain and speckles are no drawing, so means are compared; some pixels of each part are enough for them.
    down, across = (max(1, (side - 8) // (_CELLS * _SAMPLED)) for side in (bottom - top, right - left))
    here = frame.colour[top + 4 : bottom - 4 : down, left + 4 : right - 4 : across, 0]
    tall, wide = (side // _CELLS for side in here.shape)
    if not tall or not wide:
        return False
    sums = here[: tall * _CELLS, : wide * _CELLS].reshape(_CELLS, tall, _CELLS * wide).sum(axis=1)
    cells = sums.reshape(_CELLS, _CELLS, wide).sum(axis=2) / (tall * wide)
    tones = np.sort(cells, axis=None)
    median = float(tones[cells.size // 2])
    if median > rectangle.gutter[0] + _LIGHTER and tones[cells.size // 32] > rectangle.gutter[0] - _DARKER:
        # Lighter than its gutter all over, as slabs between dark joints are: drawings hold darks.
        return True
    if median < rectangle.gutter[0] + _LIKE:
        return False
    # Light that falls off over them is no drawing either.
    # What lies along the border may be the joint itself.
    cells = cells[1:-1, 1:-1]
    x = np.arange(_CELLS - 2) - (_CELLS - 3) / 2
    slope = float((_CELLS - 2) * (x * x).sum())
    rest = cells - x * float((cells @ x).sum() / slope) - (x * float((x @ cells).sum() / slope))[:, None]
    ranked = np.sort(rest, axis=None)
    spread = ranked[-1 - len(ranked) // 32] - ranked[len(ranked) // 32]
    return bool(spread < (_EVEN if median > rectangle.gutter[0] + _LIGHTER else _VERY_EVEN))


def stands_out(frame: Frame, rectangle: Rectangle) -> bool:
    """Whether what lies in a rectangle differs from its gutter by more than the gutter does from itself: a drawing on
    paper, not a chance rectangle on gravel or grass."""
    left, top, right, bottom = (round(edge) for edge in rectangle.box)
    tone = frame.colour[..., 0]
    height, width = tone.shape
    near, far = _RING
    strips = (
        tone[top:bottom, max(0, left - far) : max(0, left - near)],
        tone[top:bottom, min(width, right + near) : min(width, right + far)],
        tone[max(0, top - far) : max(0, top - near), left:right],
        tone[min(height, bottom + near) : min(height, bottom + far), left:right],
    )
    own = [float(np.median(np.abs(strip - np.median(strip)))) for strip in strips if strip.size]
    here = tone[top + 4 : bottom - 4 : 2, left + 4 : right - 4 : 2]
    if not own or not here.size:
        return True
    contrast = float(np.sqrt(np.mean((here - rectangle.gutter[0]) ** 2)))
    return contrast > _CONTRAST * 1.4826 * float(np.median(own))
