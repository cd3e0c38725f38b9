"""Panels whose corners a person gave."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ingest.sheet.finding import Found
from ingest.sheet.frame import View, square_on
from ingest.sheet.geometry import UNIT, Points, homography, overlap, proportion, transform
from ingest.sheet.looks import quad_of
from ingest.sheet.order import reading_order
from ingest.sheet.rectangles import Rectangle
from ingest.sheet.sheet import SheetError

_BEYOND = 0.02
"""Share of a photo by which a corner may lie outside of it, as a hand sets it that drags it to the border."""


def as_given(rgb: NDArray[np.uint8], quads: list[Points]) -> Found:
    """The panels given (4, 2) each, in pixels of a photo (h, w, 3) uint8, sRGB, seen in a frame of their own.

    The plane is that of the largest, so that the others show how well they were set.
    """
    size = (rgb.shape[1], rgb.shape[0])
    largest = max(quads, key=lambda quad: float(np.ptp(quad, axis=0).prod()))
    ratio = proportion(largest, size)
    width = float(np.hypot(*(largest[1] - largest[0])))
    plane = homography(UNIT * [width, width / ratio], largest)
    corners = np.concatenate(quads)
    low, high = corners.min(axis=0), corners.max(axis=0)
    reach = 0.15 * (high - low)
    low = np.maximum(low - reach, 0)
    high = np.minimum(high + reach, size)
    frame = square_on(
        View(rgb, size),
        plane,
        np.array([low, [high[0], low[1]], high, [low[0], high[1]]]),
    )
    boxes = []
    for quad in quads:
        on = transform(np.linalg.inv(frame.to_photo), quad)
        left, right = on[[0, 3], 0].mean(), on[[1, 2], 0].mean()
        top, bottom = on[[0, 1], 1].mean(), on[[2, 3], 1].mean()
        boxes.append((float(left), float(top), float(right), float(bottom)))
    order, grid = reading_order(boxes)
    return Found(frame, [Rectangle(boxes[at], (1.0,) * 4, (0.0,) * 3, 1.0) for at in order], grid)


def check_within(quads: list[Points], size: tuple[int, int]) -> None:
    """SheetError in words when quadrilaterals (4, 2) do not lie in a photo of `size` (width, height) pixels."""
    beyond = _BEYOND * max(size)
    for quad in quads:
        middle = quad.mean(axis=0)
        if quad.min() < -beyond or (quad > np.array(size) + beyond).any() or not ((middle > 0) & (middle < size)).all():
            message = f"Corners must lie in the photo, which is {size[0]} x {size[1]} pixels as it is seen upright."
            raise SheetError(message)


def matching(found: Found, quads: list[Points]) -> list[int]:
    """Which of the quadrilaterals given each panel found is."""
    return [int(np.argmax([overlap(quad_of(found.frame, each.box), quad) for quad in quads])) for each in found.chosen]
