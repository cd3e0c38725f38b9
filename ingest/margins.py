"""What in a file is not picture: page paper, mounts, photographic ground, captions and colour bars round the painting.

The outermost ring of the file says what the ground is, if one tone rules it. Everything that leaves that tone is
content; the largest block of content is the picture, and smaller blocks set off by a clear gap (a caption, a colour
bar, a grey ramp) are not. A cut is only made where the picture begins along a whole side at once: a pale sky or a
dark ground fades into its picture in places, a margin ends along its whole length. Content that fills an oval, a
round or an arch instead of a rectangle is kept with a mask.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import FloatArray, lightness_CIE1976

_FLAT = 5.0
"""L* within which a ground stays round its median."""

_FLAT_SHARE = 0.97
_STEP = 8.0
"""L* by which the picture must leave the ground's tone where it begins."""

_BEGUN = 0.6
"""Share of a side along which the picture must begin at once."""

_RULED = 0.7
"""Share of the file's outermost ring that one tone must hold to be a ground on all sides."""

_DEEPEST = 0.42
"""A margin takes at most this share of the file; more would be a picture with a large quiet ground."""

_GAP = 0.008
"""A gap between blocks of content, as a share of the side."""

_ROUND = 0.955
"""Overlap with an oval or an arch from which the picture is taken to have that shape."""

Box = tuple[int, int, int, int]
"""left, top, right, bottom in pixels."""


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
    left, top, right, bottom = 0, 0, width, height
    reasons: list[str] = []
    mask: NDArray[np.bool_] | None = None
    for _ in range(3):
        inner = lightness[top:bottom, left:right]
        box, why, mask = _off_ground(inner)
        if mask is None and not why:
            box, why = _off_sides(inner)
        if not why:
            break
        reasons += why
        left, top, right, bottom = left + box[0], top + box[1], left + box[2], top + box[3]
        if mask is not None:
            break
    part = (left / width, top / height, right / width, bottom / height)
    return Trim(part, mask, tuple(dict.fromkeys(reasons)))


def _off_ground(lightness: FloatArray) -> tuple[Box, list[str], NDArray[np.bool_] | None]:
    """The picture on a ground that shows on all sides: its box, the reasons, and a mask when it is no rectangle."""
    height, width = lightness.shape
    whole: Box = (0, 0, width, height)
    ring = np.concatenate([lightness[0], lightness[-1], lightness[:, 0], lightness[:, -1]])
    tone = float(np.median(ring))
    near = np.abs(ring - tone) <= _FLAT
    if near.mean() < _RULED:
        return _rounded_at_corners(lightness)
    allowed = max(_FLAT, 4.0 * float(ring[near].std()))
    content = np.abs(ndimage.gaussian_filter(lightness, 0.7) - tone) > allowed
    content = ndimage.binary_opening(content, iterations=1)
    box, others = _main_block(content)
    left, top, right, bottom = box
    if right - left < 0.3 * width or bottom - top < 0.3 * height:
        return whole, [], None
    block = content[top:bottom, left:right]
    mask = _rounded(block)
    if mask is not None:
        return box, [f"{_words(tone)} ground round a picture that is no rectangle", *others], mask
    begun = {
        "left": _begins(block.T),
        "top": _begins(block),
        "right": _begins(block.T[::-1]),
        "bottom": _begins(block[::-1]),
    }
    cut = {"left": left, "top": top, "right": width - right, "bottom": height - bottom}
    sure = {side for side in cut if cut[side] and begun[side] >= _BEGUN}
    # Where three sides are sure, the fourth belongs to the same ground even if the picture starts out in its tone.
    if len(sure) >= 3:
        sure |= {side for side in cut if cut[side] and begun[side] >= 0.15}
    if not sure:
        return whole, [], None
    kept: Box = (
        left if "left" in sure else 0,
        top if "top" in sure else 0,
        right if "right" in sure else width,
        bottom if "bottom" in sure else height,
    )
    reasons = [f"{_words(tone)} margin at the {side}" for side in ("top", "bottom", "left", "right") if side in sure]
    return kept, reasons + (others if len(sure) >= 3 else []), None


def _rounded_at_corners(lightness: FloatArray) -> tuple[Box, list[str], NDArray[np.bool_] | None]:
    """A round or arched picture that reaches the file's edges, so that its ground shows in the corners alone."""
    height, width = lightness.shape
    deep, wide = max(2, height // 25), max(2, width // 25)
    corners = np.concatenate([lightness[:deep, :wide].ravel(), lightness[:deep, -wide:].ravel()])
    tone = float(np.median(corners))
    mask = None
    if (np.abs(corners - tone) <= _FLAT).mean() >= _FLAT_SHARE:
        near = np.abs(ndimage.gaussian_filter(lightness, 0.7) - tone) <= _FLAT
        patches, _ = ndimage.label(near)
        ground = np.isin(patches, [patches[0, 0], patches[0, -1], patches[-1, 0], patches[-1, -1]]) & near
        mask = _rounded(~ground)
    reasons = [] if mask is None else [f"{_words(tone)} corners round a picture that is no rectangle"]
    return (0, 0, width, height), reasons, mask


def _main_block(content: NDArray[np.bool_]) -> tuple[Box, list[str]]:
    """The largest block of content, and what else stood apart from it."""
    height, width = content.shape
    left, top, right, bottom = 0, 0, width, height
    others: list[str] = []
    for _ in range(2):
        top, bottom, apart = _longest_run(content[:, left:right].mean(axis=1), top, bottom)
        others += ["a caption or other matter above or below"] if apart else []
        left, right, apart = _longest_run(content[top:bottom].mean(axis=0), left, right)
        others += ["a colour bar or other matter beside it"] if apart else []
    return (left, top, right, bottom), list(dict.fromkeys(others))


def _longest_run(share: NDArray[np.float64], start: int, end: int) -> tuple[int, int, bool]:
    """The heaviest run of lines with content between gaps, and whether there were others."""
    filled = share[start:end] > 0.004
    gap = max(2, round(_GAP * len(share)))
    filled = ndimage.binary_closing(np.pad(filled, gap), np.ones(gap))[gap:-gap]
    edges = np.flatnonzero(np.diff(np.concatenate([[False], filled, [False]]).astype(np.int8)))
    if not len(edges):
        return start, end, False
    runs = [(start + first, start + last) for first, last in pairwise(edges)][::2]
    weights = [float(share[first:last].sum()) for first, last in runs]
    best = int(np.argmax(weights))
    first, last = runs[best]
    return int(first), int(last), len(runs) > 1


def _begins(block: NDArray[np.bool_]) -> float:
    """Share of the first edge of a block of content along which it begins at once."""
    reach = max(2, round(0.015 * len(block)))
    return float(block[:reach].any(axis=0).mean())


def _ground_corners(block: NDArray[np.bool_]) -> int:
    """How many corners of a block are ground."""
    height, width = block.shape
    deep, wide = max(2, round(0.06 * height)), max(2, round(0.06 * width))
    corners = (block[:deep, :wide], block[:deep, -wide:], block[-deep:, :wide], block[-deep:, -wide:])
    return sum(float(corner.mean()) < 0.1 for corner in corners)


def _rounded(block: NDArray[np.bool_]) -> NDArray[np.bool_] | None:
    """The oval, round or arched shape that content fills, or None when it fills its box or no plain shape."""
    height, width = block.shape
    if _ground_corners(block) < 2:
        return None
    filled = ndimage.binary_fill_holes(ndimage.binary_closing(np.pad(block, 8), iterations=4))[8:-8, 8:-8]
    # Content that touches the ground's tone in places leaves bays in the shape; rows and columns bridge them.
    filled = _bridged(filled) & _bridged(filled.T).T
    v, u = np.mgrid[0:height, 0:width]
    u, v = (u + 0.5) / width * 2 - 1, (v + 0.5) / height * 2 - 1
    shapes = [u**2 + v**2 <= 1]
    for rise in (0.15, 0.2, 0.25, 0.3, 0.36, 0.43, 0.5):
        # An arch: a half oval over `rise` of the height, straight sides below.
        shapes.append((v >= rise * 2 - 1) | (u**2 + ((v + 1 - rise * 2) / (rise * 2)) ** 2 <= 1))
    overlaps = [float((filled & shape).sum()) / float((filled | shape).sum()) for shape in shapes]
    best = int(np.argmax(overlaps))
    return shapes[best] if overlaps[best] >= _ROUND else None


def _bridged(shape: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Each row filled from its first to its last content."""
    return np.asarray(
        np.maximum.accumulate(shape, axis=1) & np.maximum.accumulate(shape[:, ::-1], axis=1)[:, ::-1], dtype=bool
    )


def _off_sides(lightness: FloatArray) -> tuple[Box, list[str]]:
    """Flat margins that show on some sides only."""
    height, width = lightness.shape
    depths = {
        "top": _margin(lightness),
        "bottom": _margin(lightness[::-1]),
        "left": _margin(lightness.T),
        "right": _margin(lightness.T[::-1]),
    }
    reasons = [f"{_words(tone)} margin at the {side}" for side, (depth, tone) in depths.items() if depth]
    box = (depths["left"][0], depths["top"][0], width - depths["right"][0], height - depths["bottom"][0])
    return box, reasons


def _margin(lines: FloatArray) -> tuple[int, float]:
    """Depth in lines of a flat margin at the first edge of `lines` (n, m), and its L*; depth 0 when there is none."""
    count = len(lines)
    tone = float(np.median(lines[0]))
    near = np.abs(lines[: int(count * _DEEPEST) + 1] - tone) <= _FLAT
    share = near.mean(axis=1)
    flat = share >= _FLAT_SHARE
    depth = int(np.argmin(flat)) if not flat.all() else 0
    if depth == 0:
        return 0, tone
    reach = max(2, round(count * 0.015))
    begun = np.abs(lines[depth : depth + reach] - tone).max(axis=0) > _STEP
    if begun.mean() < _BEGUN:
        return 0, tone
    # A margin that runs a little askew ends where half of the line has left it.
    half = np.flatnonzero(share[depth : depth + reach] < 0.5)
    return depth + (int(half[0]) if len(half) else 1), tone


def _words(tone: float) -> str:
    return "dark" if tone < 25 else "pale" if tone > 75 else "grey"
