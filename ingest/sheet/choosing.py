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
from ingest.sheet.ground import Ground, stands_out
from ingest.sheet.packing import MATE, SAME, lifted, mates_of, packed, weight
from ingest.sheet.rectangles import Rectangle

_GOOD = 0.62
"""Quality from which a rectangle can show that another one is only its surroundings."""

_GAP = 7
"""Least width of a gutter in pixels of the frame."""

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


def choose(frame: Frame, crossings: Crossings, found: list[Rectangle]) -> list[Rectangle]:
    """The panels among rectangles, sorted best first, in which something is drawn."""
    if not found:
        return []
    boxes = np.array([each.box for each in found])
    quality = np.array([each.quality for each in found])
    sure = [int(at) for at in np.flatnonzero(quality >= _SURE)]
    # Panels stand in rows and columns: one that lines up with a sure one is more likely one.
    mates = mates_of(boxes, sure)
    quality = np.minimum(1.0, quality + MATE * mates)
    among = _Among(found, boxes, np.array([each.support for each in found]), quality, mates)
    ground = Ground(frame)
    panels = np.array([not crossings.cross(each) for each in found])
    # Small before large, so that what surrounds is judged by panels and not by other surroundings.
    for at in np.argsort([each.area for each in found], kind="stable"):
        panels[at] = panels[at] and not _is_surroundings(int(at), among, panels, ground)
    left = [int(at) for at in np.flatnonzero(panels)]
    left = _not_cut_short(left, among)
    if not left:
        return []
    boxes = boxes[left]
    kept = [found[at] for at in left]
    gaps = boxes[:, None, :2] - boxes[None, :, 2:]
    apart = np.maximum(gaps, gaps.transpose(1, 0, 2)).max(axis=-1) >= _GAP - 1
    chosen = packed(np.array([each.worth for each in kept]), apart)
    for _ in range(2):
        chosen = packed(lifted(kept, mates_of(boxes, chosen)), apart)
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


class _Among:
    """Rectangles held against each other: boxes (n, 4), support (n, 4), quality and mates (n,)."""

    def __init__(
        self,
        found: list[Rectangle],
        boxes: NDArray[np.float64],
        support: NDArray[np.float64],
        quality: NDArray[np.float64],
        mates: NDArray[np.intp],
    ) -> None:
        self.found, self.boxes, self.support, self.quality, self.mates = found, boxes, support, quality, mates
        self.worth = np.array([each.worth for each in found])

    def inset(self, at: int) -> NDArray[np.float64]:
        """How far each rectangle's sides (n, 4) lie within those of one; negative where they lie outside."""
        apart = self.boxes - self.boxes[at]
        apart[:, 2:] *= -1
        return np.asarray(apart)

    def beyond(self, outer: int, inner: NDArray[np.intp]) -> NDArray[np.float64]:
        """`_beyond` for each of some (n,) by itself."""
        box, boxes = self.boxes[outer], self.boxes[inner]
        lying = np.abs(boxes - box) <= SAME
        # Sides run upright, level, upright, level.
        length = np.array([box[3] - box[1], box[2] - box[0]] * 2)
        covered = (boxes[:, 2:] - boxes[:, :2])[:, [1, 0, 1, 0]]
        ends = (boxes[:, [1, 0]] - box[[1, 0]] > SAME).astype(int) + (box[[3, 2]] - boxes[:, [3, 2]] > SAME)
        ends = ends[:, [0, 1, 0, 1]] * _OVERRUN
        rest = length - covered - ends
        counts = lying & (rest > SAME)
        edge = self.support[outer] * length - ends - self.support[inner] * covered
        bare = np.where(counts, rest, 0).sum(axis=1)
        seen = np.where(counts, np.maximum(edge, 0), 0).sum(axis=1)
        return np.asarray(np.where(bare > 0, seen / np.maximum(bare, 1e-9), -1.0))


def _not_cut_short(left: list[int], all_of_them: _Among) -> list[int]:
    """Those that are not a part of a larger rectangle, ended by a straight edge within the drawing."""
    kept: list[int] = []
    quality = np.array([all_of_them.found[at].quality for at in left])
    among = all_of_them.boxes[left]
    for n, at in enumerate(left):
        box = among[n]
        holds = (among[:, :2] <= box[:2] + SAME).all(axis=1) & (among[:, 2:] >= box[2:] - SAME).all(axis=1)
        larger = holds & (np.abs(among - box).max(axis=1) > SAME) & (quality > max(_WHOLE, quality[n] - 0.15))
        for m in np.flatnonzero(larger):
            runs_on = all_of_them.beyond(left[m], np.array([at]))[0] > _RUNS_ON
            if runs_on and not _holds_another(int(m), n, among, quality) and not _overlapped(int(m), n, among, quality):
                break
        else:
            kept.append(at)
    return kept


def _holds_another(outer: int, inner: int, boxes: NDArray[np.float64], quality: NDArray[np.float64]) -> bool:
    """Whether an outer rectangle holds yet another one, apart from the inner one and as surely seen as itself."""
    within = (boxes[:, :2] >= boxes[outer, :2] - SAME).all(axis=1) & (boxes[:, 2:] <= boxes[outer, 2:] + SAME).all(
        axis=1
    )
    size = (boxes[:, 2:] - boxes[:, :2]).prod(axis=1)
    others = np.flatnonzero(within & (quality > max(0.85, quality[outer] - 0.02)) & (size > 0.12 * size[outer]))
    return quality[inner] > 0.7 and any(_apart(boxes[n], boxes[inner]) for n in others)


def _overlapped(outer: int, inner: int, boxes: NDArray[np.float64], quality: NDArray[np.float64]) -> bool:
    """Whether a rectangle that is seen more surely than an outer one, and lies apart from the inner one, sticks out of
    the outer one: panels do not lie over each other, so that one is none."""
    shared = np.minimum(boxes[:, 2:], boxes[outer, 2:]) - np.maximum(boxes[:, :2], boxes[outer, :2])
    over = (shared > 0).all(axis=1) & (shared.prod(axis=1) > 0.12 * (boxes[outer, 2:] - boxes[outer, :2]).prod())
    out = (boxes[:, :2] < boxes[outer, :2] - SAME).any(axis=1) | (boxes[:, 2:] > boxes[outer, 2:] + SAME).any(axis=1)
    others = np.flatnonzero(over & out & (quality > max(0.85, quality[outer] + 0.02)))
    return any(_apart(boxes[n], boxes[inner]) for n in others)


def _beyond(outer: Rectangle, inner: list[Rectangle]) -> float:
    """Share seen of the outer rectangle's sides where they run on beyond inner ones that lie on them; -1 if none do."""
    box = np.array(outer.box)
    length = np.array([box[3] - box[1], box[2] - box[0]] * 2)
    seen, bare = 0.0, 0.0
    for side in range(4):
        lying = [each for each in inner if abs(each.box[side] - box[side]) <= SAME]
        if not lying:
            continue
        along = (1, 3) if side % 2 == 0 else (0, 2)
        covered = [each.box[along[1]] - each.box[along[0]] for each in lying]
        ends = sum(
            (each.box[along[0]] - box[along[0]] > SAME) + (box[along[1]] - each.box[along[1]] > SAME) for each in lying
        )
        rest = length[side] - sum(covered) - ends * _OVERRUN
        if rest <= SAME:
            continue
        edge = outer.support[side] * length[side] - ends * _OVERRUN
        edge -= sum(each.support[side] * long for each, long in zip(lying, covered, strict=True))
        seen += max(0.0, edge)
        bare += rest
    return seen / bare if bare > 0 else -1.0


def _apart(a: NDArray[np.float64], b: NDArray[np.float64]) -> bool:
    return bool(max(a[0] - b[2], b[0] - a[2], a[1] - b[3], b[1] - a[3]) >= _GAP - 1)


def _is_surroundings(at: int, among: _Among, panels: NDArray[np.bool_], ground: Ground) -> bool:
    """Whether a rectangle is the paper, the tape or a group of panels rather than a panel.

    Where gutters meet, nothing is seen along the line that would be its side.
    """
    found, boxes, quality, mates = among.found, among.boxes, among.quality, among.mates
    outer = found[at]
    could = np.flatnonzero(panels & (quality >= max(_GOOD, 0.7 * quality[at])))
    inset = among.inset(at)
    inner = could[(inset[could].min(axis=1) >= -SAME) & (inset[could].max(axis=1) > SAME)]
    if not len(inner):
        return False
    beyond = among.beyond(at, inner)
    lead = np.where(beyond < _ENDS / 2, 0.12, 0.03)
    surer = (quality[inner] > quality[at] - lead) | (mates[inner] > mates[at])
    if ((beyond >= 0) & (beyond < _ENDS) & surer).any():
        return True
    inside = [found[n] for n in _apart_from_each_other(inner, among)]
    if (
        len(inside) >= 2
        and sum(each.area for each in inside) > 0.3 * outer.area
        and 0 <= _beyond(outer, inside) < _ENDS
    ):
        return True
    if any(0 <= _beyond(outer, [found[a], found[b]]) < _ENDS for a, b in _in_line(inner, boxes, 0.3 * outer.area)):
        return True
    clear = inner[inset[inner].min(axis=1) > SAME]
    inside = [found[n] for n in _apart_from_each_other(clear, among)]
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
    near = np.abs(some[:, None] - some[None]) <= SAME
    gap = some[None, :, :2] - some[:, None, 2:] >= _GAP - 1
    area = (some[:, 2:] - some[:, :2]).prod(axis=1)
    paired = ((near[..., 1] & near[..., 3] & gap[..., 0]) | (near[..., 0] & near[..., 2] & gap[..., 1])) & (
        area[:, None] + area[None] > least
    )
    return [(int(among[a]), int(among[b])) for a, b in zip(*np.nonzero(paired), strict=True)]


def _apart_from_each_other(some: NDArray[np.intp], among: _Among) -> list[int]:
    """Rectangles that lie apart, those worth most first."""
    packed: list[int] = []
    left = some[np.argsort(-among.worth[some], kind="stable")]
    while len(left):
        packed.append(int(left[0]))
        box, others = among.boxes[left[0]], among.boxes[left]
        gaps = np.maximum(others[:, :2] - box[2:], box[:2] - others[:, 2:]).max(axis=1)
        left = left[gaps >= _GAP - 1]
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
