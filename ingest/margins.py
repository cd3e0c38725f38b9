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
from ingest.rounded import BEGUN, EVEN, STEP, rounded_shape

_FLAT = 5.0
"""L* within which a ground stays round its median."""

_FLAT_SHARE = 0.97
_RULED = 0.7
"""Share of the file's outermost ring that one tone must hold to be a ground on all sides."""

_DEEPEST = 0.42
"""A margin takes at most this share of the file; more would be a picture with a large quiet ground."""

_DEEP_ALONE = 0.04
"""Depth, as a share of the side, past which a margin on one side only is not believed."""

_FRAME_SHARE = (0.015, 0.25)
"""Depth of a frame, with what wall shows round it, as a share of the shorter side."""

_PANEL = 0.5
"""Weight, against the heaviest block of content, from which another block is part of the picture."""

_GAP = 0.008
"""A gap between blocks of content, as a share of the side."""

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
        # After a cut the outermost lines may be half margin; they are not asked what the next ground is.
        aside = 2 if reasons else 0
        inner = lightness[top + aside : bottom - aside, left + aside : right - aside]
        box, why, mask = _off_ground(inner)
        if mask is None and any(edge == end for edge, end in zip(box, _whole(inner), strict=True)):
            # Ground on all sides is plain enough; where it is not, mouldings may say more than a margin or two.
            framed, frame = _off_frame(inner)
            box, why = (framed, frame) if frame else (box, why) if why else _off_sides(inner)
        if not why:
            break
        reasons += why
        if mask is not None and aside:
            mask = np.pad(mask, aside, mode="edge") if box == _whole(inner) else mask
        left, top, right, bottom = _moved(box, inner, aside, left, top)
        if mask is not None:
            break
    part = (left / width, top / height, right / width, bottom / height)
    return Trim(part, mask, tuple(dict.fromkeys(reasons)))


def _whole(lightness: FloatArray) -> Box:
    height, width = lightness.shape
    return 0, 0, width, height


def _moved(box: Box, inner: FloatArray, aside: int, left: int, top: int) -> Box:
    """A box found inside `inner`, in pixels of the file; sides left alone keep the lines that were set aside."""
    height, width = inner.shape
    return (
        left + (box[0] + aside if box[0] else 0),
        top + (box[1] + aside if box[1] else 0),
        left + box[2] + (aside if box[2] < width else 2 * aside),
        top + box[3] + (aside if box[3] < height else 2 * aside),
    )


def _off_ground(lightness: FloatArray) -> tuple[Box, list[str], NDArray[np.bool_] | None]:
    """The picture on a ground that shows on all sides: its box, the reasons, and a mask when it is no rectangle."""
    height, width = lightness.shape
    whole = _whole(lightness)
    smooth = ndimage.gaussian_filter(lightness, 1.0)
    ring = np.concatenate([smooth[0], smooth[-1], smooth[:, 0], smooth[:, -1]])
    tone = float(np.median(ring))
    near = np.abs(ring - tone) <= _FLAT
    if near.mean() < _RULED:
        return _rounded_at_corners(lightness)
    allowed = max(_FLAT, 4.0 * float(ring[near].std()))
    content = ndimage.binary_opening(np.abs(smooth - tone) > allowed, iterations=2)
    box, others = _main_block(content)
    left, top, right, bottom = box
    if right - left < 0.3 * width or bottom - top < 0.3 * height:
        return whole, [], None
    box = left, top, right, bottom = _snapped(box, np.abs(lightness - tone) > allowed)
    block = content[top:bottom, left:right]
    mask = rounded_shape(block, lightness[top:bottom, left:right], tone)
    if mask is not None:
        return box, [f"{_words(tone)} ground round a picture that is no rectangle", *others], mask
    begun = {
        "left": _begins(block.T),
        "top": _begins(block),
        "right": _begins(block.T[::-1]),
        "bottom": _begins(block[::-1]),
    }
    cut = {"left": left, "top": top, "right": width - right, "bottom": height - bottom}
    sure = {side for side in cut if cut[side] and begun[side] >= BEGUN}
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
    if float(corners.std()) <= EVEN:
        near = np.abs(ndimage.gaussian_filter(lightness, 0.7) - tone) <= _FLAT
        patches, _ = ndimage.label(near)
        ground = np.isin(patches, [patches[0, 0], patches[0, -1], patches[-1, 0], patches[-1, -1]]) & near
        mask = rounded_shape(~ground, lightness, tone)
    reasons = [] if mask is None else [f"{_words(tone)} corners round a picture that is no rectangle"]
    return (0, 0, width, height), reasons, mask


def _snapped(box: Box, content: NDArray[np.bool_]) -> Box:
    """A box round smoothed content, drawn in to where the content itself begins along half of each side."""
    left, top, right, bottom = box

    def inset(lines: NDArray[np.bool_]) -> int:
        begun = np.flatnonzero(lines[:4].mean(axis=1) >= 0.5)
        return int(begun[0]) if len(begun) else 0

    inner = content[top:bottom, left:right]
    return (
        left + inset(inner.T),
        top + inset(inner),
        right - inset(inner.T[::-1]),
        bottom - inset(inner[::-1]),
    )


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
    filled = share[start:end] > 0.008
    gap = max(2, round(_GAP * len(share)))
    filled = ndimage.binary_closing(np.pad(filled, gap), np.ones(gap))[gap:-gap]
    edges = np.flatnonzero(np.diff(np.concatenate([[False], filled, [False]]).astype(np.int8)))
    if not len(edges):
        return start, end, False
    runs = [(start + first, start + last) for first, last in pairwise(edges)][::2]
    weights = [float(share[first:last].sum()) for first, last in runs]
    # Panels of one work weigh alike; a caption or a colour bar weighs little beside its picture.
    panels = [at for at, weight in enumerate(weights) if weight >= _PANEL * max(weights)]
    first, last = runs[panels[0]][0], runs[panels[-1]][1]
    return int(first), int(last), any(run[1] <= first or run[0] >= last for run in runs)


def _begins(block: NDArray[np.bool_]) -> float:
    """Share of the first edge of a block of content along which it begins at once."""
    reach = max(2, round(0.015 * len(block)))
    return float(block[:reach].any(axis=0).mean())


def _off_sides(lightness: FloatArray) -> tuple[Box, list[str]]:
    """Flat margins that show on some sides only."""
    height, width = lightness.shape
    depths = {
        "top": _margin(lightness),
        "bottom": _margin(lightness[::-1]),
        "left": _margin(lightness.T),
        "right": _margin(lightness.T[::-1]),
    }
    tones = [tone for depth, tone in depths.values() if depth]
    for side, (depth, tone) in depths.items():
        # One deep dark band alone is more often a parapet or a shadow than a margin.
        alone = sum(abs(tone - other) <= _FLAT for other in tones) < 2
        if alone and depth > _DEEP_ALONE * (height if side in ("top", "bottom") else width):
            depths[side] = (0, tone)
    reasons = [f"{_words(tone)} margin at the {side}" for side, (depth, tone) in depths.items() if depth]
    box = (depths["left"][0], depths["top"][0], width - depths["right"][0], height - depths["bottom"][0])
    return box, reasons


def _off_frame(lightness: FloatArray) -> tuple[Box, list[str]]:
    """A plain frame: on all four sides mouldings run alongside, each line nearly of one tone, about equally deep."""
    height, width = lightness.shape
    sides = [_moulding(side) for side in (lightness.T, lightness, lightness.T[::-1], lightness[::-1])]
    sure = [depth for depth, begins in sides if begins]
    if len(sure) < 3:
        return _whole(lightness), []
    # On the fourth side the picture may start out in the frame's own tone; the frame is as deep there as elsewhere.
    depths = [depth if begins else min(depth, int(np.median(sure))) for depth, begins in sides]
    least, most = (share * min(height, width) for share in _FRAME_SHARE)
    if min(depths) < max(3.0, least) or max(depths) > most or max(depths) > 2.5 * min(depths):
        return _whole(lightness), []
    return (depths[0], depths[1], width - depths[2], height - depths[3]), ["a frame"]


def _moulding(lines: FloatArray) -> tuple[int, bool]:
    """How many lines from the first edge of `lines` (n, m) run alongside it in one tone each, and whether the picture
    begins at once behind them."""
    count, length = lines.shape
    deepest = max(2, int(count * 0.25))
    # Corners belong to the neighbouring sides.
    middle = lines[:deepest, length // 5 : length - length // 5]
    spread = np.percentile(middle, 92, axis=1) - np.percentile(middle, 8, axis=1)
    plain = spread <= 2 * _FLAT
    depth = int(np.argmin(plain)) if not plain.all() else deepest
    if depth == 0:
        return 0, False
    reach = max(2, round(count * 0.015))
    ahead = lines[depth : depth + reach, length // 5 : length - length // 5]
    begun = np.abs(ahead - np.median(middle[depth - 1])).max(axis=0) > STEP
    return depth, float(begun.mean()) >= 0.5


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
    begun = np.abs(lines[depth : depth + reach] - tone).max(axis=0) > STEP
    if begun.mean() < BEGUN or float(lines[:depth].std()) > EVEN:
        return 0, tone
    # A margin that runs a little askew ends where half of the line has left it.
    half = np.flatnonzero(share[depth : depth + reach] < 0.5)
    return depth + (int(half[0]) if len(half) else 1), tone


def _words(tone: float) -> str:
    return "dark" if tone < 25 else "pale" if tone > 75 else "grey"
