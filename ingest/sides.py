"""Flat margins that show on some sides of a file only."""

from __future__ import annotations

import numpy as np

from ingest.appearance import FLAT, STEP, distance, in_words
from ingest.blocks import Box
from ingest.lightness import FloatArray
from ingest.rounded import BEGUN, EVEN

_FLAT_SHARE = 0.97

_DEEPEST = 0.42
"""A margin takes at most this share of the file; more would be a picture with a large quiet ground."""

_DEEP_ALONE = 0.04
"""Depth, as a share of the side, past which a margin on one side only is not believed."""

_CUT = 6
"""Lines just outside a cut that say what was cut off; the first two may be half picture."""


def looks_cut_off(field: FloatArray, box: Box) -> list[FloatArray]:
    """The look (3,) of what lies just outside a box in a field (h, w, 3), for each side where that is one look."""
    left, top, right, bottom = box
    strips = (
        field[max(0, top - _CUT) : max(0, top - 2), left:right],
        field[bottom + 2 : bottom + _CUT, left:right],
        field[top:bottom, max(0, left - _CUT) : max(0, left - 2)],
        field[top:bottom, right + 2 : right + _CUT],
    )
    looks = [(np.median(strip, axis=(0, 1)), strip) for strip in strips if strip.size]
    return [look for look, strip in looks if (distance(strip, look) <= FLAT).mean() >= _FLAT_SHARE]


def off_sides(field: FloatArray, cut_off: list[FloatArray]) -> tuple[Box, list[str]]:
    """Flat margins that show on some sides only; cut_off: looks (3,) of what has just been taken off on other sides."""
    height, width = field.shape[:2]
    across = field.swapaxes(0, 1)
    margins = {
        "top": _margin(field),
        "bottom": _margin(field[::-1]),
        "left": _margin(across),
        "right": _margin(across[::-1]),
    }
    depths = {side: depth for side, (depth, _) in margins.items()}
    for side, (depth, look) in margins.items():
        # One deep dark band alone is more often a parapet or a shadow than a margin, unless two sides at least have
        # just lost the same: where margins are unequal, black beside one may be as deep as paper and black elsewhere.
        alike = [at for at, (other, own) in margins.items() if other and float(distance(look, own)) <= FLAT]
        lost = [own for own in cut_off if float(distance(look, own)) <= FLAT]
        if len(alike) < 2 and len(lost) < 2 and depth > _DEEP_ALONE * (height if side in ("top", "bottom") else width):
            depths[side] = 0
    reasons = [f"{in_words(float(margins[side][1][0]))} margin at the {side}" for side in depths if depths[side]]
    return (depths["left"], depths["top"], width - depths["right"], height - depths["bottom"]), reasons


def _margin(lines: FloatArray) -> tuple[int, FloatArray]:
    """Depth in lines of a flat margin at the first edge of `lines` (n, m, 3), and its look; 0 when there is none."""
    count = len(lines)
    look = np.median(lines[0], axis=0).astype(np.float32)
    if (distance(lines[0], look) <= FLAT).mean() < _FLAT_SHARE:
        return 0, look
    away = distance(lines[: int(count * _DEEPEST) + 1], look)
    share = (away <= FLAT).mean(axis=1)
    flat = share >= _FLAT_SHARE
    depth = int(np.argmin(flat))
    if depth == 0:
        return 0, look
    reach = max(2, round(count * 0.015))
    begun = distance(lines[depth : depth + reach], look).max(axis=0) > STEP
    if begun.mean() < BEGUN or float(lines[:depth, :, 0].std()) > EVEN:
        return 0, look
    # A margin that runs a little askew ends where half of the line has left it.
    half = np.flatnonzero(share[depth : depth + reach] < 0.5)
    return depth + (int(half[0]) if len(half) else 1), look
