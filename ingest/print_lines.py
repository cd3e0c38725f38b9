"""Lines of print above or below a plate that run to the edge of the file, so that no ground shows all round."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from ingest.appearance import FLAT, STEP, distance
from ingest.blocks import Box
from ingest.lightness import FloatArray
from ingest.rounded import BEGUN

_DEEPEST = 0.3
"""Print takes at most this share of the file's height."""

_PAPER_LIGHTNESS = 60.0

_CLEAR = 0.97
"""Share of a line of pixels that must be paper between two lines of print, and between print and plate."""

_PLATE = 0.4
"""Share of paper in a line of pixels below which it belongs to the plate."""

_STROKE = 0.012
"""Thickness, as a share of the file's height, that no stroke of print reaches."""


def off_print(field: FloatArray) -> tuple[Box, list[str]]:
    """The file without the lines of print below or above its plate; an appearance (h, w, 3)."""
    height, width = field.shape[:2]
    above, below = _depth(field), _depth(field[::-1])
    where = [name for name, depth in (("above", above), ("below", below)) if depth]
    return (0, above, width, height - below), [f"print {name} the plate" for name in where]


def _depth(lines: FloatArray) -> int:
    """How many lines of pixels from the first edge of `lines` (n, m, 3) hold print on paper; 0 when they do not."""
    count = len(lines)
    zone = lines[: int(count * _DEEPEST) + 1]
    # Most of a line of print is paper, so that its median is the paper's look.
    paper = np.median(zone[: max(3, count // 50)].reshape(-1, 3), axis=0)
    if paper[0] < _PAPER_LIGHTNESS:
        return 0
    away = distance(zone, paper)
    share = (away <= 1.4 * FLAT).mean(axis=1)
    body = max(3, round(0.02 * count))
    plate = ndimage.minimum_filter1d((share < _PLATE).astype(np.uint8), body, origin=-(body // 2), mode="nearest")
    depth = int(np.argmax(plate)) if plate.any() else 0
    if depth < 3 or depth >= len(zone) - body:
        return 0
    clear = share[:depth] >= _CLEAR
    # A clear gap beside the plate, at least one line of print before it, and nothing there thicker than a stroke.
    gap = clear[max(0, depth - body) : depth]
    ink = away[:depth] > 1.4 * FLAT
    stroke = max(4, round(_STROKE * count))
    thick = ndimage.binary_opening(ink, np.ones((stroke, stroke), dtype=bool))
    begun = (distance(zone[depth : depth + 4], paper) > STEP).any(axis=0).mean()
    printed = gap.sum() >= 2 and not clear.all() and share[:depth].mean() >= 0.75
    return depth if printed and thick.mean() < 0.01 and begun >= BEGUN else 0
