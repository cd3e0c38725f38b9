"""Pictures that are ovals, rounds or arches, round or pointed, rather than rectangles."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.appearance import STEP
from ingest.lightness import FloatArray
from ingest.windows import steps_away

BEGUN = 0.6
"""Share of a side or a curve along which the picture must begin at once."""

EVEN = 2.0
"""L* by which the ground outside an oval or an arch, and a margin on one side only, may stray (standard deviation)."""

_ROUND = 0.955
"""Overlap with an oval or an arch from which the picture is taken to have that shape."""

_ROUND_AT_CORNERS = 0.975
"""The same where the ground shows in the corners of the file alone; dark corners of a picture come near it."""

_EXACT = 0.985
"""Overlap from which content on a ground that shows all round hardly has that shape by chance."""

_BEGUN_WITHIN = 0.45
"""What is then enough of its rim to be away from the ground: flowers as pale as the paper may lie along it."""

_TALLEST = 2.0
"""Height of a pointed arch at most, as a share of that of its picture; more has nearly straight sides."""

_COARSE = 3
"""Every so many pixels a shape is compared."""

_SOFT = 4
"""Pixels by which the box of a block of content may be too wide, since smoothing widened the content."""

Outline = tuple[Callable[..., NDArray[np.bool_]], float | None]
"""What draws an outline into a box, and the share of the height over which it arches."""


def rounded_shape(
    block: NDArray[np.bool_], away: FloatArray, lightness: FloatArray, *, at_corners: bool = False
) -> NDArray[np.bool_] | None:
    """The oval, round, arched or pointed shape that a block of content fills, (h, w) bool, or None.

    away: how far each pixel is from the look of the ground. at_corners: the block is the whole file. Outside the shape
    the ground must be even, and along its curve the picture must begin at once; otherwise dark or pale corners of a
    whole picture would be taken for ground.
    """
    height, width = block.shape
    if _ground_corners(block) < 2:
        return None
    closed = steps_away(steps_away(np.pad(block, 8), 4, np.logical_or), 4, np.logical_and)
    filled = ndimage.binary_fill_holes(closed)[8:-8, 8:-8]
    # Content that touches the ground's tone in places leaves bays in the shape; rows and columns bridge them.
    filled = _bridged(filled) & _bridged(filled.T).T
    # An oval has no straight sides; a round arch is half an oval over `rise` of the height.
    outlines: list[Outline] = [
        (_shape, rise) for rise in (None, *np.linspace(0.1, 0.9, 25), min(0.95, width / height / 2))
    ]
    # A pointed arch is at least as high as half its width; it may be cut off before its sides are upright.
    outlines += [
        (_pointed, rise) for rise in np.linspace(width / height / 2, _TALLEST, 40) if width < height * 2 * rise
    ]
    coarse = filled[_COARSE // 2 :: _COARSE, _COARSE // 2 :: _COARSE]
    overlaps = [_overlap(coarse, draw(coarse.shape[0], coarse.shape[1], rise)) for draw, rise in outlines]
    best = int(np.argmax(overlaps))
    if overlaps[best] < (_ROUND_AT_CORNERS if at_corners else _ROUND):
        return None
    draw, rise = outlines[best]
    shape = draw(height, width, rise)
    if not at_corners:
        inset = [draw(height, width, rise, by) for by in range(_SOFT + 1)]
        shape = max(inset, key=lambda narrower: _step_along(narrower, away))
    outside = ~steps_away(shape, 3, np.logical_or)
    edge = shape & ~steps_away(shape, max(3, round(0.012 * max(height, width))), np.logical_and)
    edge[:, [0, -1]] = False
    curve = edge & steps_away(outside, max(7, round(0.02 * max(height, width))), np.logical_or)
    if not outside.any() or not curve.any():
        return None
    even = float(np.median(np.abs(lightness[outside] - np.median(lightness[outside])))) <= EVEN
    begun = float((away[curve] > STEP).mean())
    least = _BEGUN_WITHIN if overlaps[best] >= _EXACT and not at_corners else BEGUN
    return shape if even and begun >= least else None


def _shape(height: int, width: int, rise: float | None, inset: int = 0) -> NDArray[np.bool_]:
    """An oval, or with `rise` an arch, that fills a box but for so many pixels on every side."""
    u = (np.arange(width)[None] + 0.5 - width / 2) / max(1.0, width / 2 - inset)
    v = (np.arange(height)[:, None] + 0.5 - height / 2) / max(1.0, height / 2 - inset)
    if rise is not None:
        # Below the shoulders of an arch each row is as wide as the next, down to the foot.
        v = np.where(v > 1, 2.0, np.minimum(v + 1 - rise * 2, 0.0) / (rise * 2))
    return np.asarray(u**2 + v**2 <= 1)


def _pointed(height: int, width: int, rise: float | None, inset: int = 0) -> NDArray[np.bool_]:
    """A pointed arch that fills a box but for so many pixels on every side: two arcs about centres on the line where
    its sides become upright, `rise` of the height below its point."""
    half, high = max(1.0, width / 2 - inset), (rise or 1.0) * height
    radius = (half**2 + high**2) / (2 * half)
    x = np.abs(np.arange(width) + 0.5 - width / 2)[None]
    y = (np.arange(height) + 0.5 - inset)[:, None]
    above = np.maximum(high - y, 0.0)
    reach = half - radius + np.sqrt(np.maximum(radius**2 - above**2, 0.0))
    return np.asarray((x <= reach) & (y >= 0) & (y <= height - 2 * inset))


def _overlap(one: NDArray[np.bool_], other: NDArray[np.bool_]) -> float:
    return float((one & other).sum()) / max(1.0, float((one | other).sum()))


def _step_along(shape: NDArray[np.bool_], away: FloatArray) -> float:
    """How much farther from the ground the rim of a shape is than what lies just outside it."""
    within = shape & steps_away(~shape, 2, np.logical_or)
    beyond = steps_away(shape, 2, np.logical_or) & ~shape
    if not within.any() or not beyond.any():
        return 0.0
    return float(away[within].mean()) - float(away[beyond].mean())


def _bridged(shape: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Each row filled from its first to its last content."""
    return np.asarray(
        np.maximum.accumulate(shape, axis=1) & np.maximum.accumulate(shape[:, ::-1], axis=1)[:, ::-1], dtype=bool
    )


def _ground_corners(block: NDArray[np.bool_]) -> int:
    """How many corners of a block are ground."""
    height, width = block.shape
    deep, wide = max(2, round(0.06 * height)), max(2, round(0.06 * width))
    corners = (block[:deep, :wide], block[:deep, -wide:], block[-deep:, :wide], block[-deep:, -wide:])
    return sum(float(corner.mean()) < 0.1 for corner in corners)
