"""Blocks of content on a ground: the picture, and what stands apart from it as captions and colour bars do."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.ground import ruled_lines
from ingest.lightness import FloatArray
from ingest.windows import steps_away

_PANEL = 0.5
"""Weight, against the heaviest block of content, from which another block is part of the picture."""

_GAP = 0.008
"""A gap between blocks of content, as a share of the side."""

_RULE = 0.05
"""Distance from a picture, as a share of the side, within which a ruled line belongs to its margin."""

_ROOM = 0.04
"""Widest margin of a page with ruled lines at least, beside and above or below, as shares of its sides together."""

_SPOTTED = 0.03
"""How far from the picture spots on the margin may begin that close the gap to it and are taken for its edge, as a
share of the file's longest side."""

_SPOTS = 0.03
"""Share of the lines up to there that they hold at most."""

_WHOLE = 0.9
"""Share of a side along which the picture begins behind them."""

Box = tuple[int, int, int, int]
"""left, top, right, bottom in pixels."""


def picture_block(
    away: FloatArray, smooth_away: FloatArray, allowed: float
) -> tuple[NDArray[np.bool_], Box, list[str]]:
    """What is not ground, the box of its main block, and what else stood apart from it.

    Lines ruled closely round the picture belong to its margin; a line drawn round loose content is the picture's edge.
    """
    content = _opened(smooth_away > allowed)
    box, others = main_block(content)
    height, width = content.shape
    room = max(box[0], width - box[2]) / width + max(box[1], height - box[3]) / height
    # A page with ruled lines has room for them.
    lines = ruled_lines(away, allowed) if room >= _ROOM else None
    if lines is not None:
        bare = _opened((smooth_away > allowed) & ~lines)
        inner, apart = main_block(bare)
        if _ruled_round(inner, lines):
            return bare, inner, [*apart, "a ruled line"]
    return content, box, others


def _opened(shape: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """A shape without what is thinner than five pixels across."""
    return steps_away(steps_away(shape, 2, np.logical_and), 2, np.logical_or)


def _ruled_round(box: Box, lines: NDArray[np.bool_]) -> bool:
    """Whether lines run close by a box on three sides or four."""
    height, width = lines.shape
    left, top, right, bottom = box
    if right <= left or bottom <= top:
        return False
    deep, wide = max(4, round(_RULE * height)), max(4, round(_RULE * width))
    beside = (
        lines[top:bottom, max(0, left - wide) : left].mean(axis=0),
        lines[top:bottom, right : right + wide].mean(axis=0),
        lines[max(0, top - deep) : top, left:right].mean(axis=1),
        lines[bottom : bottom + deep, left:right].mean(axis=1),
    )
    return sum(len(share) > 0 and float(share.max()) >= 0.7 for share in beside) >= 3


def main_block(content: NDArray[np.bool_]) -> tuple[Box, list[str]]:
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


def snapped(box: Box, content: NDArray[np.bool_], smooth: NDArray[np.bool_]) -> Box:
    """A box round smooth content, drawn in to where the content itself begins along half of each side.

    Where only spots on the margin lie between, or the thin rim of a mount, which smoothing wipes out, that may be some
    way in, if it then begins all along the side.
    """
    left, top, right, bottom = box
    reach = max(4, round(_SPOTTED * max(content.shape)))

    def inset(lines: NDArray[np.bool_], smooth_lines: NDArray[np.bool_]) -> int:
        begun = np.flatnonzero(lines[:4].mean(axis=1) >= 0.5)
        both = (lines[: reach + 4] & smooth_lines[: reach + 4]).mean(axis=1)
        whole = np.flatnonzero(both >= 0.5)
        later = int(whole[0]) if len(whole) else 0
        if 4 <= later < reach and both[:later].mean() <= _SPOTS and both[later : later + 4].max() >= _WHOLE:
            return later
        return int(begun[0]) if len(begun) else 0

    inner, smoothed = content[top:bottom, left:right], smooth[top:bottom, left:right]
    return (
        left + inset(inner.T, smoothed.T),
        top + inset(inner, smoothed),
        right - inset(inner.T[::-1], smoothed.T[::-1]),
        bottom - inset(inner[::-1], smoothed[::-1]),
    )


def begun(block: NDArray[np.bool_]) -> dict[str, float]:
    """Share of each side of a block of content along which it begins at once."""
    return {
        "left": _begins(block.T),
        "top": _begins(block),
        "right": _begins(block.T[::-1]),
        "bottom": _begins(block[::-1]),
    }


def _begins(block: NDArray[np.bool_]) -> float:
    """Share of the first edge of a block of content along which it begins at once."""
    reach = max(2, round(0.015 * len(block)))
    return float(block[:reach].any(axis=0).mean())
