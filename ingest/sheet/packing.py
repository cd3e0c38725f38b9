"""What rectangles are worth together: which lie apart, stand in rows and columns, and show most of their sides."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ingest.sheet.rectangles import Rectangle, worth_of

SAME = 5
"""Pixels of the frame up to which two lines are one."""

_IN_LINE = 0.15
"""By how much more, as a share, a panel with a mate counts when one choice of panels is held against another."""

MATE = 0.07
"""What a panel in the same row, or in the same column, adds to the quality of a rectangle."""


def evidence(chosen: list[Rectangle]) -> float:
    """Pixels of sides that are seen, beyond what chance would show."""
    return float(sum(
        2 * (each.box[2] - each.box[0] + each.box[3] - each.box[1]) * (sum(each.support) / 4 - 0.55) for each in chosen
    ))  # fmt: skip


def weight(chosen: list[Rectangle]) -> float:
    """How much there is to say for a choice of panels: their quality and size, rows and columns that they stand in, and
    light gutters before dark ones."""
    if not chosen:
        return 0.0
    mates = mates_of(np.array([each.box for each in chosen]), list(range(len(chosen))))
    light = np.array([0.5 + each.gutter[0] / 100 for each in chosen])
    return float((lifted(chosen, mates) * light) @ (1 + _IN_LINE * mates))


def lifted(kept: list[Rectangle], mates: NDArray[np.intp]) -> NDArray[np.float64]:
    """The worth of rectangles, each seen the more surely for its mates."""
    return np.array([
        worth_of(each, min(1.0, each.quality + MATE * count)) for each, count in zip(kept, mates, strict=True)
    ])  # fmt: skip


def mates_of(boxes: NDArray[np.float64], chosen: list[int]) -> NDArray[np.intp]:
    """How many of 'a row mate' and 'a column mate' each box (n, 4) has among those chosen."""
    near = np.abs(boxes[:, None] - boxes[None, chosen]) <= SAME + 1
    itself = np.arange(len(boxes))[:, None] == np.array(chosen)[None]
    beside = near[..., 1] & near[..., 3] & ~near[..., 0] & ~near[..., 2] & ~itself
    below = near[..., 0] & near[..., 2] & ~near[..., 1] & ~near[..., 3] & ~itself
    return np.asarray(beside.any(axis=1).astype(int) + below.any(axis=1).astype(int))


def packed(worth: NDArray[np.float64], apart: NDArray[np.bool_]) -> list[int]:
    """Rectangles that lie apart and together are worth most, by greedy choice and exchange of one for several."""

    def greedy(among: NDArray[np.intp]) -> list[int]:
        taken: list[int] = []
        for at in among[np.argsort(-worth[among], kind="stable")]:
            if worth[at] > 0 and apart[at, taken].all():
                taken.append(int(at))
        return taken

    chosen = greedy(np.arange(len(worth)))
    for _ in range(8):
        better = None
        for at in chosen:
            others = [other for other in chosen if other != at]
            free = np.flatnonzero(apart[:, others].all(axis=1) & (np.arange(len(worth)) != at))
            free = free[~np.isin(free, others)]
            # Those that are surely apart from what stays may together be worth more than the one they replace.
            instead = greedy(free)
            if worth[instead].sum() > worth[at] * 1.02:
                better = others + instead
                break
        if better is None:
            break
        chosen = better
    return chosen
