"""Plain frames: mouldings that run alongside all four sides of a picture, about equally deep."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ingest.appearance import FLAT, STEP, distance
from ingest.lightness import FloatArray

_SHARE = (0.015, 0.25)
"""Depth of a frame, with what wall shows round it, as a share of the shorter side."""

_ALONG = 0.6
"""Share of a side along which a moulding must end at once."""

_ALIKE = 0.3
"""Share by which the depths of two sides may differ."""

_FIRST = 12
"""Lines that are looked at first."""

_EVERY = 2
"""Every so many pixels along a line are looked at."""

Depths = tuple[int, int, int, int]
"""left, top, right, bottom in pixels."""


@dataclass(frozen=True)
class Side:
    """edges: depths at which a straight edge runs along the whole side. plain: depth down to which every line parallel
    to the side has one look."""

    edges: tuple[int, ...]
    plain: int


def frame_depths(field: FloatArray) -> Depths | None:
    """How deep the frame round a picture is, for an appearance (h, w, 3) that begins with it; None without a frame.

    The edge between frame and picture is the deepest that at least three sides have in common. On the fourth the
    picture may start out in the frame's own look, as a dark ground in a black frame, or begin deeper.
    """
    across = field.swapaxes(0, 1)
    sides = [alongside(lines, _SHARE[1]) for lines in (across, field, across[::-1], field[::-1])]
    least, most = (share * min(field.shape[:2]) for share in _SHARE)
    for depth in sorted({edge for side in sides for edge in side.edges}, reverse=True):
        if not max(3.0, least) <= depth <= most:
            continue
        reach = max(3.0, _ALIKE * depth)
        nearest = [min(side.edges, key=lambda edge: abs(edge - depth), default=-1) for side in sides]
        found = [edge for edge in nearest if abs(edge - depth) <= reach]
        if len(found) < 3:
            continue
        usual = int(np.median(found))
        depths = [
            edge if abs(edge - depth) <= reach else min((own for own in side.edges if own > usual), default=usual)
            for edge, side in zip(nearest, sides, strict=True)
        ]
        if all(side.plain >= own - 2 for side, own in zip(sides, depths, strict=True)):
            return depths[0], depths[1], depths[2], depths[3]
    return None


def alongside(lines: FloatArray, share: float) -> Side:
    """What runs alongside the first edge of `lines` (n, m, 3), down to a share of them."""
    count, length = lines.shape[:2]
    deepest = max(2, int(count * share))
    # Corners belong to the neighbouring sides.
    middle = lines[: deepest + 3, length // 5 : length - length // 5]
    # Most sides have no moulding, which their first lines say.
    end = _plain(middle[:_FIRST])
    if end > _FIRST - 3:
        end = _plain(middle)
    if end == 0:
        return Side((), 0)
    middle = middle[: end + 4]
    soft = ndimage.uniform_filter1d(middle, 5, axis=1)[:, ::_EVERY]
    begun = np.zeros(len(middle))
    for depth in range(2, min(end + 2, len(middle) - 1)):
        begun[depth] = float((distance(soft[depth + 1], soft[depth - 2]) > STEP).mean())
    runs, number = ndimage.label(begun >= _ALONG)
    jump = distance(soft[1:], soft[:-1]).mean(axis=1)
    edges = []
    for run in range(1, number + 1):
        depths = np.flatnonzero(runs == run)
        edges.append(int(depths[np.argmax(jump[depths - 1])]))
    return Side(tuple(edges), end)


def _plain(lines: FloatArray) -> int:
    """How many lines (n, m, 3) from the first on have one look each."""
    low, high = np.percentile(lines[:, ::_EVERY], [8, 92], axis=1)
    # A line or two that an edge crosses askew do not end a moulding.
    plain = ndimage.binary_closing(np.pad((high - low <= 2 * FLAT).all(axis=1), 3, mode="edge"), np.ones(3))[3:-3]
    return len(plain) if plain.all() else int(np.argmin(plain))
