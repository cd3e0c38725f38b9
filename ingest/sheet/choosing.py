"""Which of the rectangles are the panels.

A sheet holds more rectangles than panels: the paper itself, the outer edge of tape, two panels with the gutter between
them, the part of a panel below a straight horizon. They are told apart by what lies between: what parts panels from
each other and from the rim is plain and of the gutter's own material, what lies within a panel is not.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ingest.sheet.crossing import Crossings
from ingest.sheet.frame import Frame
from ingest.sheet.ground import Ground, is_blank, stands_out
from ingest.sheet.rectangles import Rectangle, worth_of

_GOOD = 0.62
"""Quality from which a rectangle can show that another one is only its surroundings."""

_GAP = 7
"""Least width of a gutter in pixels of the frame."""

_SAME = 5
_ENDS, _RUNS_ON = 0.4, 0.62
"""Share of a line beyond a panel's corner that is seen: below the first it ends there, above the second it runs on."""

_OVERRUN = 3
"""Pixels by which an edge is seen beyond its end, as it is averaged along."""

_SURE_ENOUGH = 0.66
"""Quality, against that of the surest panel, below which a rectangle beside it is chance."""

_CERTAIN = 0.95
"""Quality from which nothing else is asked of a rectangle."""

_ONE_MATERIAL = 6.0
"""Difference in chroma up to which two gutters are of one material in different light."""

_SURE = 0.92
"""Quality from which a rectangle is a panel that others may line up with."""

_WHOLE = 0.75
"""Quality from which a larger rectangle can show that another one is only a part of it."""

_IN_LINE = 0.15
"""By how much more, as a share, a panel with a mate counts when one choice of panels is held against another."""

_MATE = 0.07
"""What a panel in the same row, or in the same column, adds to the quality of a rectangle."""


def evidence(chosen: list[Rectangle]) -> float:
    """Pixels of sides that are seen, beyond what chance would show."""
    return float(sum(
        2 * (each.box[2] - each.box[0] + each.box[3] - each.box[1]) * (sum(each.support) / 4 - 0.55) for each in chosen
    ))  # fmt: skip


def choose(frame: Frame, crossings: Crossings, found: list[Rectangle]) -> list[Rectangle]:
    """The panels among rectangles sorted best first."""
    if not found:
        return []
    ground = Ground(frame)
    boxes = np.array([each.box for each in found])
    quality = np.array([each.quality for each in found])
    sure = [int(at) for at in np.flatnonzero(quality >= _SURE)]
    # Panels stand in rows and columns: one that lines up with a sure one is more likely one.
    mates = _mates(boxes, sure)
    quality = np.minimum(1.0, quality + _MATE * mates)
    panels = np.array([not crossings.cross(each) for each in found])
    # Small before large, so that what surrounds is judged by panels and not by other surroundings.
    for at in np.argsort([each.area for each in found], kind="stable"):
        panels[at] = panels[at] and not _is_surroundings(int(at), found, boxes, quality, mates, panels, ground, frame)
    left = [int(at) for at in np.flatnonzero(panels)]
    left = _not_cut_short(left, found, boxes)
    if not left:
        return []
    boxes = boxes[left]
    kept = [found[at] for at in left]
    gaps = boxes[:, None, :2] - boxes[None, :, 2:]
    apart = np.maximum(gaps, gaps.transpose(1, 0, 2)).max(axis=-1) >= _GAP - 1
    chosen = _packed(np.array([each.worth for each in kept]), apart)
    for _ in range(2):
        chosen = _packed(_lifted(kept, _mates(boxes, chosen)), apart)
    sheet = _of_one_sheet([kept[at] for at in chosen])
    if not sheet:
        return []
    surest = max(sheet, key=lambda each: each.quality)
    return [
        each
        for each in sheet
        if each.quality > _SURE_ENOUGH * surest.quality
        and (each.quality >= _CERTAIN or (_chroma_apart(each, surest) < _ONE_MATERIAL and stands_out(frame, each)))
    ]


def _chroma_apart(first: Rectangle, second: Rectangle) -> float:
    return float(np.hypot(*(np.array(first.gutter) - second.gutter)[1:]))


def _not_cut_short(left: list[int], found: list[Rectangle], boxes: NDArray[np.float64]) -> list[int]:
    """Those that are not a part of a larger rectangle, ended by a straight edge within the drawing."""
    kept: list[int] = []
    quality = np.array([found[at].quality for at in left])
    among = boxes[left]
    for n, at in enumerate(left):
        box = boxes[at]
        holds = (among[:, :2] <= box[:2] + _SAME).all(axis=1) & (among[:, 2:] >= box[2:] - _SAME).all(axis=1)
        larger = holds & (np.abs(among - box).max(axis=1) > _SAME) & (quality > max(_WHOLE, quality[n] - 0.15))
        for m in np.flatnonzero(larger):
            if _beyond(found[left[m]], [found[at]]) > _RUNS_ON and not _holds_another(int(m), n, among, quality):
                break
        else:
            kept.append(at)
    return kept


def _holds_another(outer: int, inner: int, boxes: NDArray[np.float64], quality: NDArray[np.float64]) -> bool:
    """Whether an outer rectangle holds yet another one, apart from the inner one and as surely seen as itself."""
    within = (boxes[:, :2] >= boxes[outer, :2] - _SAME).all(axis=1) & (boxes[:, 2:] <= boxes[outer, 2:] + _SAME).all(
        axis=1
    )
    size = (boxes[:, 2:] - boxes[:, :2]).prod(axis=1)
    others = np.flatnonzero(within & (quality > max(0.85, quality[outer] - 0.02)) & (size > 0.12 * size[outer]))
    return quality[inner] > 0.7 and any(_apart(boxes[n], boxes[inner]) for n in others)


def _beyond(outer: Rectangle, inner: list[Rectangle]) -> float:
    """Share seen of the outer rectangle's sides where they run on beyond inner ones that lie on them; -1 if none do."""
    box = np.array(outer.box)
    length = np.array([box[3] - box[1], box[2] - box[0]] * 2)
    seen, bare = 0.0, 0.0
    for side in range(4):
        lying = [each for each in inner if abs(each.box[side] - box[side]) <= _SAME]
        if not lying:
            continue
        along = (1, 3) if side % 2 == 0 else (0, 2)
        covered = [each.box[along[1]] - each.box[along[0]] for each in lying]
        ends = sum(
            (each.box[along[0]] - box[along[0]] > _SAME) + (box[along[1]] - each.box[along[1]] > _SAME)
            for each in lying
        )
        rest = length[side] - sum(covered) - ends * _OVERRUN
        if rest <= _SAME:
            continue
        edge = outer.support[side] * length[side] - ends * _OVERRUN
        edge -= sum(each.support[side] * long for each, long in zip(lying, covered, strict=True))
        seen += max(0.0, edge)
        bare += rest
    return seen / bare if bare > 0 else -1.0


def _lifted(kept: list[Rectangle], mates: NDArray[np.intp]) -> NDArray[np.float64]:
    """The worth of rectangles, each seen the more surely for its mates."""
    return np.array([
        worth_of(each, min(1.0, each.quality + _MATE * count)) for each, count in zip(kept, mates, strict=True)
    ])  # fmt: skip


def _mates(boxes: NDArray[np.float64], chosen: list[int]) -> NDArray[np.intp]:
    """How many of 'a row mate' and 'a column mate' each box (n, 4) has among those chosen."""
    near = np.abs(boxes[:, None] - boxes[None, chosen]) <= _SAME + 1
    itself = np.arange(len(boxes))[:, None] == np.array(chosen)[None]
    beside = near[..., 1] & near[..., 3] & ~near[..., 0] & ~near[..., 2] & ~itself
    below = near[..., 0] & near[..., 2] & ~near[..., 1] & ~near[..., 3] & ~itself
    return np.asarray(beside.any(axis=1).astype(int) + below.any(axis=1).astype(int))


def _packed(worth: NDArray[np.float64], apart: NDArray[np.bool_]) -> list[int]:
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


def _apart(a: NDArray[np.float64], b: NDArray[np.float64]) -> bool:
    return bool(max(a[0] - b[2], b[0] - a[2], a[1] - b[3], b[1] - a[3]) >= _GAP - 1)


def _is_surroundings(
    at: int,
    found: list[Rectangle],
    boxes: NDArray[np.float64],
    quality: NDArray[np.float64],
    mates: NDArray[np.intp],
    panels: NDArray[np.bool_],
    ground: Ground,
    frame: Frame,
) -> bool:
    """Whether a rectangle is the paper, the tape or a group of panels rather than a panel.

    Where gutters meet, nothing is seen along the line that would be its side.
    """
    outer, box = found[at], boxes[at]
    if is_blank(frame, outer):
        return True
    within = (boxes[:, :2] >= box[:2] - _SAME).all(axis=1) & (boxes[:, 2:] <= box[2:] + _SAME).all(axis=1)
    inset = np.concatenate([boxes[:, :2] - box[:2], box[2:] - boxes[:, 2:]], axis=1)
    inner = np.flatnonzero(within & panels & (inset.max(axis=1) > _SAME) & (quality >= max(_GOOD, 0.7 * quality[at])))
    if not len(inner):
        return False
    beyond = np.array([_beyond(outer, [found[n]]) for n in inner])
    lead = np.where(beyond < _ENDS / 2, 0.12, 0.03)
    surer = (quality[inner] > quality[at] - lead) | (mates[inner] > mates[at])
    if ((beyond >= 0) & (beyond < _ENDS) & surer).any():
        return True
    inside = [found[n] for n in _apart_from_each_other(inner, found, boxes)]
    if (
        len(inside) >= 2
        and sum(each.area for each in inside) > 0.3 * outer.area
        and 0 <= _beyond(outer, inside) < _ENDS
    ):
        return True
    if any(0 <= _beyond(outer, [found[a], found[b]]) < _ENDS for a, b in _in_line(inner, boxes, 0.3 * outer.area)):
        return True
    clear = inner[inset[inner].min(axis=1) > _SAME]
    inside = [found[n] for n in _apart_from_each_other(clear, found, boxes)]
    if sum(each.area for each in inside) < 0.12 * outer.area:
        return False
    plain, tone, share = ground.of(outer, inside)
    if share == 0.0 or plain < 0.8:
        return False
    # One inside another: a motif within a panel lies on a tone of its own, a panel on its paper or its tape.
    outside = np.array(outer.gutter)
    darker = outside[0] - tone[0] > 14
    coloured = np.hypot(*(tone - outside)[1:]) > 9
    return bool(not darker or coloured)


def _in_line(among: NDArray[np.intp], boxes: NDArray[np.float64], least: float) -> list[tuple[int, int]]:
    """Pairs of boxes side by side or one below the other, as panels stand in a grid, with a gutter between and at least
    so much area together."""
    some = boxes[among]
    near = np.abs(some[:, None] - some[None]) <= _SAME
    gap = some[None, :, :2] - some[:, None, 2:] >= _GAP - 1
    area = (some[:, 2:] - some[:, :2]).prod(axis=1)
    paired = ((near[..., 1] & near[..., 3] & gap[..., 0]) | (near[..., 0] & near[..., 2] & gap[..., 1])) & (
        area[:, None] + area[None] > least
    )
    return [(int(among[a]), int(among[b])) for a, b in zip(*np.nonzero(paired), strict=True)]


def _apart_from_each_other(among: NDArray[np.intp], found: list[Rectangle], boxes: NDArray[np.float64]) -> list[int]:
    """Rectangles that lie apart, those worth most first."""
    packed: list[int] = []
    worth = np.array([found[n].worth for n in among])
    for n in among[np.argsort(-worth, kind="stable")]:
        if all(_apart(boxes[n], boxes[other]) for other in packed):
            packed.append(int(n))
    return packed


def _of_one_sheet(chosen: list[Rectangle]) -> list[Rectangle]:
    """Those that share a gutter material and are not too unlike in size, starting from the weightiest group."""
    best: list[Rectangle] = []
    for seed in chosen:
        tone = np.array(seed.gutter)
        group = [
            each
            for each in chosen
            if np.hypot(*(np.array(each.gutter) - tone)[1:]) < 9
            and abs(each.gutter[0] - tone[0]) < 28
            and 0.06 < each.area / seed.area < 16
        ]
        if weight(group) > weight(best):
            best = group
    return best


def weight(chosen: list[Rectangle]) -> float:
    """How much there is to say for a choice of panels: their quality and size, rows and columns that they stand in, and
    light gutters before dark ones."""
    if not chosen:
        return 0.0
    mates = _mates(np.array([each.box for each in chosen]), list(range(len(chosen))))
    light = np.array([0.5 + each.gutter[0] / 100 for each in chosen])
    return float((_lifted(chosen, mates) * light) @ (1 + _IN_LINE * mates))
