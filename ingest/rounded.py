"""Pictures that are ovals, rounds or arches rather than rectangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import FloatArray

STEP = 8.0
"""L* by which a picture must leave the tone of its ground where it begins."""

BEGUN = 0.6
"""Share of a side or a curve along which the picture must begin at once."""

EVEN = 2.0
"""L* by which the ground outside an oval or an arch, and a margin on one side only, may stray (standard deviation)."""

_ROUND = 0.955
"""Overlap with an oval or an arch from which the picture is taken to have that shape."""


def rounded_shape(block: NDArray[np.bool_], lightness: FloatArray, tone: float) -> NDArray[np.bool_] | None:
    """The oval, round or arched shape that a block of content fills, or None.

    Outside the shape the ground must be even, and along its curve the picture must begin at once; otherwise dark or
    pale corners of a whole picture would be taken for ground.
    """
    height, width = block.shape
    if _ground_corners(block) < 2:
        return None
    filled = ndimage.binary_fill_holes(ndimage.binary_closing(np.pad(block, 8), iterations=4))[8:-8, 8:-8]
    # Content that touches the ground's tone in places leaves bays in the shape; rows and columns bridge them.
    filled = _bridged(filled) & _bridged(filled.T).T
    v, u = np.mgrid[0:height, 0:width]
    u, v = (u + 0.5) / width * 2 - 1, (v + 0.5) / height * 2 - 1
    shapes = [u**2 + v**2 <= 1]
    for rise in (*np.linspace(0.1, 0.9, 25), min(0.95, width / height / 2)):
        # An arch: a half oval over `rise` of the height, straight sides below.
        shapes.append((v >= rise * 2 - 1) | (u**2 + ((v + 1 - rise * 2) / (rise * 2)) ** 2 <= 1))
    overlaps = [float((filled & shape).sum()) / float((filled | shape).sum()) for shape in shapes]
    best = int(np.argmax(overlaps))
    shape = shapes[best]
    if overlaps[best] < _ROUND:
        return None
    outside = ~ndimage.binary_dilation(shape, iterations=3)
    edge = shape & ~ndimage.binary_erosion(shape, iterations=max(3, round(0.012 * max(height, width))))
    edge[:, [0, -1]] = False
    curve = edge & ndimage.binary_dilation(outside, iterations=max(7, round(0.02 * max(height, width))))
    if not outside.any() or not curve.any():
        return None
    even = float(np.median(np.abs(lightness[outside] - np.median(lightness[outside])))) <= EVEN
    begun = float((np.abs(lightness[curve] - tone) > STEP).mean())
    return shape if even and begun >= BEGUN else None


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
