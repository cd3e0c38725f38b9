"""Panels whose corners a person gave, all of them or some beside those that were found."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ingest.sheet.finding import Found
from ingest.sheet.frame import Frame, View, square_on
from ingest.sheet.geometry import UNIT, Points, homography, overlap, proportion, transform
from ingest.sheet.looks import quad_of
from ingest.sheet.order import Box, reading_order
from ingest.sheet.rectangles import Rectangle
from ingest.sheet.sheet import SheetError

_BEYOND = 0.02
"""Share of a photo by which a corner may lie outside of it, as a hand sets it that drags it to the border."""

_THE_SAME = 0.8
"""Jaccard index from which a panel that is found again is the one that was found before."""

_ROOM = 12
"""Pixels of the frame that must be seen around a panel, for the light on what surrounds it to be told."""


def as_given(
    rgb: NDArray[np.uint8], quads: list[Points], seen: Found | None = None, unmoved: Sequence[bool] = ()
) -> Found:
    """The panels given (4, 2) each, in pixels of a photo (h, w, 3) uint8, sRGB.

    seen: what is found in the photo. unmoved: which of the panels given were found so; these stay as they are seen, and
    all lie in the plane that was found. Without them they have a frame of their own, whose plane is that of the
    largest, so that the others show how well they were set.
    """
    frame = seen.frame if seen is not None and _holds(seen.frame, quads) else _own_frame(rgb, quads)
    given = []
    for at, quad in enumerate(quads):
        found = _found_again(seen, quad) if seen is not None and frame is seen.frame and unmoved[at] else None
        given.append(found or Rectangle(_box(frame, quad), (1.0,) * 4, (0.0,) * 3, 1.0))
    order, grid = reading_order([each.box for each in given])
    return Found(frame, [given[at] for at in order], grid)


def _own_frame(rgb: NDArray[np.uint8], quads: list[Points]) -> Frame:
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
    return square_on(
        View(rgb, size),
        plane,
        np.array([low, [high[0], low[1]], high, [low[0], high[1]]]),
    )


def _box(frame: Frame, quad: Points) -> Box:
    on = transform(np.linalg.inv(frame.to_photo), quad)
    left, right = on[[0, 3], 0].mean(), on[[1, 2], 0].mean()
    top, bottom = on[[0, 1], 1].mean(), on[[2, 3], 1].mean()
    return float(left), float(top), float(right), float(bottom)


def _holds(frame: Frame, quads: list[Points]) -> bool:
    """Whether a frame shows all panels and what surrounds them; it need not hold what nobody saw when it was made."""
    on = transform(np.linalg.inv(frame.to_photo), np.concatenate(quads))
    height, width = frame.inside.shape
    return bool((on >= _ROOM).all() and (on <= np.array([width, height]) - _ROOM).all())


def _found_again(seen: Found, quad: Points) -> Rectangle | None:
    alike = [(overlap(quad_of(seen.frame, each.box), quad), each) for each in seen.chosen]
    best, rectangle = max(alike, key=lambda pair: pair[0])
    return rectangle if best >= _THE_SAME else None


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
