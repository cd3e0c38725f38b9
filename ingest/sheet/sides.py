"""Sides of panels drawn to where their edges are: a straight line through the edge points of each side.

Tape is not laid quite straight and cockled paper bends, so sides may lean a little; corners are where sides meet.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ingest.lightness import FloatArray
from ingest.sheet.frame import Frame
from ingest.sheet.rectangles import Rectangle

_OUT, _IN = 5, 5
"""Pixels of the frame outside and inside of a side within which its edge is looked for."""

_LEAST = 12
_STEEPEST = 0.04
"""Largest lean of a side against the frame."""

_Numbers = NDArray[np.float64]


def corners(frame: Frame, rectangle: Rectangle) -> _Numbers:
    """Corners (4, 2) in pixels of the frame, clockwise from the top left."""
    left, top, right, bottom = rectangle.box
    tall, wide = (round(top), round(bottom)), (round(left), round(right))
    sides = [
        _line(frame.upright, frame.strength_x, left, tall, -1),
        _line(frame.level.T, frame.strength_y.T, top, wide, -1),
        _line(frame.upright, frame.strength_x, right, tall, 1),
        _line(frame.level.T, frame.strength_y.T, bottom, wide, 1),
    ]

    def meet(upright: tuple[float, float], level: tuple[float, float]) -> tuple[float, float]:
        # x = a + b y and y = c + d x
        (a, b), (c, d) = upright, level
        x = (a + b * c) / (1 - b * d)
        return x, c + d * x

    west, north, east, south = sides
    return np.array([meet(west, north), meet(east, north), meet(east, south), meet(west, south)])


def _line(
    edges: NDArray[np.bool_], strength: FloatArray, at: float, span: tuple[int, int], out: int
) -> tuple[float, float]:
    """A side that runs down as x = a + b y; out: -1 for a left side, 1 for a right one. Pixels have their middles at a
    half."""
    first, last = span
    inset = max(2, (last - first) // 40)
    rows = np.arange(max(0, first + inset), min(len(edges), last - inset))
    near = round(at) + out * np.arange(_OUT, -_IN - 1, -1)
    near = near[(near >= 1) & (near < edges.shape[1] - 1)]
    seen = edges[np.ix_(rows, near)]
    there = seen.any(axis=1)
    if there.sum() < max(_LEAST, 0.15 * len(rows)):
        return at + 0.5, 0.0
    rows = rows[there]
    # The outermost edge counts: beyond it lies plain gutter, within it the drawing has edges of its own.
    x = near[seen[there].argmax(axis=1)]
    before, here, after = (strength[rows, x + step].astype(np.float64) for step in (-1, 0, 1))
    bend = before - 2 * here + after
    shift = np.where(np.abs(bend) > 1e-6, 0.5 * (before - after) / np.where(np.abs(bend) > 1e-6, bend, 1), 0.0)
    points = x + 0.5 + np.clip(shift, -0.5, 0.5)
    y = rows + 0.5
    middle = float(y.mean())
    trust = np.ones(len(y))
    a, b = float(np.median(points)), 0.0
    for _ in range(8):
        rest = points - (a + b * (y - middle))
        scale = max(1.4826 * float(np.partition(np.abs(rest), len(rest) // 2)[len(rest) // 2]), 0.35)
        trust = np.clip(1 - (rest / (4 * scale)) ** 2, 0, 1) ** 2 + 1e-6
        trust /= trust.sum()
        mean, mid = float(points @ trust), float(y @ trust)
        weighed = (y - mid) * trust
        spread = float((y - mid) @ weighed)
        lean = float((points - mean) @ weighed) / max(spread, 1.0)
        # A side seen along a short stretch tells little of its lean.
        b = float(np.clip(lean, -_STEEPEST, _STEEPEST)) * min(1.0, 12 * spread / float(last - first) ** 2)
        a = float(mean + b * (middle - mid))
    return a - b * middle, b
