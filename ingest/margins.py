"""What in a file is not picture: flat margins of paper, mount or photographic ground round the painting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.lightness import FloatArray, lightness_CIE1976

_FLAT = 5.0
"""L* within which a margin's tones stay round their median."""

_FLAT_SHARE = 0.97
_STEP = 8.0
"""L* by which the picture must leave the margin's tone where it begins."""

_DEEPEST = 0.4
"""A margin takes at most this share of the side; more would be a picture with a large quiet ground."""


@dataclass(frozen=True)
class Trim:
    """part: the picture (x0, y0, x1, y1) in 0..1 of the file. mask: (h, w) bool inside `part`, or None.
    reasons: what was taken off, in words."""

    part: tuple[float, float, float, float]
    mask: NDArray[np.bool_] | None
    reasons: tuple[str, ...]


def find_picture(luminance: FloatArray) -> Trim:
    """The picture within its margins; luminance (h, w) float32 0..1, the whole file. A doubtful margin is left on."""
    lightness = lightness_CIE1976(luminance)
    height, width = lightness.shape
    top, bottom, left, right = 0, height, 0, width
    reasons: list[str] = []
    for _ in range(2):
        inner = lightness[top:bottom, left:right]
        depths = {
            "top": _margin(inner),
            "bottom": _margin(inner[::-1]),
            "left": _margin(inner.T),
            "right": _margin(inner.T[::-1]),
        }
        if not any(depth for depth, _ in depths.values()):
            break
        reasons += [f"{_words(tone)} margin at the {side}" for side, (depth, tone) in depths.items() if depth]
        top, bottom = top + depths["top"][0], bottom - depths["bottom"][0]
        left, right = left + depths["left"][0], right - depths["right"][0]
    part = (left / width, top / height, right / width, bottom / height)
    return Trim(part, None, tuple(dict.fromkeys(reasons)))


def _margin(lines: FloatArray) -> tuple[int, float]:
    """Depth in lines of a flat margin at the first edge of `lines` (n, m), and its L*; depth 0 when there is none."""
    count = len(lines)
    tone = float(np.median(lines[0]))
    near = np.abs(lines[: int(count * _DEEPEST) + 1] - tone) <= _FLAT
    flat = near.mean(axis=1) >= _FLAT_SHARE
    depth = int(np.argmin(flat)) if not flat.all() else 0
    if depth == 0:
        return 0, tone
    reach = max(2, round(count * 0.015))
    begun = np.abs(lines[depth : depth + reach] - tone).max(axis=0) > _STEP
    # A sky or a dark ground fades away in places; a margin ends along the whole side at once.
    if begun.mean() < 0.6:
        return 0, tone
    return min(depth + 1, count - 1), tone


def _words(tone: float) -> str:
    return "dark" if tone < 25 else "pale" if tone > 75 else "grey"
