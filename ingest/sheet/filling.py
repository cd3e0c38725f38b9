"""Panels put in reading order: one that sticks out of its row and column drawn back, one that is missing put in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ingest.sheet.alike import as_large_as_others
from ingest.sheet.ends import to_their_ends
from ingest.sheet.frame import Frame
from ingest.sheet.geometry import Points
from ingest.sheet.order import Box, missing_cells, reading_order
from ingest.sheet.rectangles import Rectangle, support_of

_GUESSED, _PLAINLY = 0.4, 0.75
"""Share of a side that counts as seen where others tell where it is, and from which it is seen plainly by itself."""

_DRAWN, _HARDLY = 0.15, 0.2
"""Share of a cell that is not of the gutter's tone, and of its sides that is seen, from which a panel is missing."""

_AGREE = 7.0
"""Pixels of the frame within which panels line up."""

_LEANING = 0.06
"""Steepest lean of a row against the frame."""

_SEVERAL = 3
"""Panels in a row and column from which they tell where another one's sides are, however surely it is seen."""

_MOSTLY = 0.6
_AS_WELL, _OUTVOTED = 0.8, 1.05
"""By how much, of four sides, less may be seen of a panel where its row and column would have it, and where several
agree: a side along bare paper is not seen at all."""


def in_grid(
    frame: Frame, chosen: list[Rectangle], layout: tuple[int, int] | None
) -> tuple[list[Rectangle], tuple[int, int] | None]:
    """Panels in reading order; one that is missing from a grid of others is put where it must be, if something is
    drawn there or the layout says so. With them the rows and columns of the grid, None when they stand in none."""
    chosen = as_large_as_others(frame, to_their_ends(frame, _lined_up(frame, list(chosen))))
    missing = missing_cells([each.box for each in chosen])
    order, grid = reading_order([*(each.box for each in chosen), *missing])
    wanted = layout is None or grid == layout
    for cell in missing if wanted and len(missing) <= len(chosen) // 2 else []:
        left, top, right, bottom = (round(edge) for edge in cell)
        here = frame.colour[top + 4 : bottom - 4, left + 4 : right - 4].reshape(-1, 3)
        gutter = np.median([each.gutter for each in chosen], axis=0)
        drawn = float((np.abs(here - gutter).max(axis=-1) > 6).mean()) if len(here) else 0.0
        if layout is not None or (drawn > _DRAWN and sum(support_of(frame, cell)) > 4 * _HARDLY):
            left_seen, top_seen, right_seen, bottom_seen = (max(_GUESSED, side) for side in support_of(frame, cell))
            tone = (float(gutter[0]), float(gutter[1]), float(gutter[2]))
            chosen.append(Rectangle(cell, (left_seen, top_seen, right_seen, bottom_seen), tone, 1.0))
    chosen = _told_by_others(chosen)
    order, grid = reading_order([each.box for each in chosen])
    return [chosen[at] for at in order], grid


def _told_by_others(chosen: list[Rectangle]) -> list[Rectangle]:
    """Panels, with sides that are hardly seen counted as those of a missing cell are, where two others that are seen
    there end on the same line."""
    boxes, support = np.array([each.box for each in chosen]), np.array([each.support for each in chosen])
    told = support.copy()
    for side in range(4):
        near = np.abs(boxes[:, side, None] - boxes[None, :, side]) <= _AGREE
        many = (near & (support[None, :, side] >= _PLAINLY)).sum(axis=1) - (support[:, side] >= _PLAINLY)
        told[many >= 2, side] = np.maximum(told[many >= 2, side], _GUESSED)
    return [
        replace(each, support=(float(a), float(b), float(c), float(d)))
        for each, (a, b, c, d) in zip(chosen, told, strict=True)
    ]


def _lined_up(frame: Frame, chosen: list[Rectangle]) -> list[Rectangle]:
    """Panels, with one that sticks out of its row and column drawn back to them if its sides are seen there as well."""
    boxes = np.array([each.box for each in chosen])
    middles = (boxes[:, :2] + boxes[:, 2:]) / 2
    result = list(chosen)
    quality = np.array([each.quality for each in chosen])
    for at, each in enumerate(chosen):
        row = (boxes[:, 1] < middles[at, 1]) & (boxes[:, 3] > middles[at, 1])
        column = (boxes[:, 0] < middles[at, 0]) & (boxes[:, 2] > middles[at, 0])
        row[at] = column[at] = False
        # One that is seen more surely is outvoted by several that agree.
        several = row.sum() + column.sum() >= _SEVERAL
        if not several:
            row, column = row & (quality > quality[at]), column & (quality > quality[at])
        if not row.any() or not column.any():
            continue
        down, up_and_down = _told(middles[row, 0], boxes[row][:, [1, 3]], middles[at, 0])
        across, side_to_side = _told(middles[column, 1], boxes[column][:, [0, 2]], middles[at, 1])
        if max(up_and_down, side_to_side) > _AGREE:
            continue
        box = (float(across[0]), float(down[0]), float(across[1]), float(down[1]))
        shared = np.minimum(boxes[at, 2:], box[2:]) - np.maximum(boxes[at, :2], box[:2])
        away = float(np.abs(np.array(box) - boxes[at]).max())
        if away <= _AGREE or shared.min() <= 0 or shared.prod() < _MOSTLY * each.area:
            continue
        gaps = np.maximum(boxes[:, :2] - box[2:], np.array(box[:2]) - boxes[:, 2:]).max(axis=1)
        if (np.delete(gaps, at) < _AGREE).any():
            continue
        box, seen = _where_seen(frame, box)
        if sum(seen) > sum(each.support) - (_OUTVOTED if several else _AS_WELL):
            result[at] = Rectangle(box, seen, each.gutter, each.plain)
    return result


def _where_seen(frame: Frame, box: Box) -> tuple[Box, tuple[float, float, float, float]]:
    """A box with each side moved to where, within what panels that line up differ by, most of it is seen; and the share
    seen of each."""
    reach = int(_AGREE)
    best, seen = list(box), list(support_of(frame, box))
    for away in sorted(range(-reach, reach + 1), key=abs):
        moved = support_of(frame, (box[0] + away, box[1] + away, box[2] + away, box[3] + away))
        for side in range(4):
            if moved[side] > seen[side]:
                best[side], seen[side] = box[side] + away, moved[side]
    return (best[0], best[1], best[2], best[3]), (seen[0], seen[1], seen[2], seen[3])


def _told(places: Points, edges: Points, place: float) -> tuple[Points, float]:
    """Where the two edges (n, 2) of others at `places` (n,) of a row or column would be at `place`, as they may lean
    together, and by how much they differ at most; without end when they lean too much to tell."""
    middle, differ = np.median(edges, axis=0), float(np.ptp(edges, axis=0).max())
    if len(places) < 2 or np.ptp(places) < 1:
        return middle, differ
    line = np.polyfit(places - place, edges, 1)
    if np.abs(line[0]).max() > _LEANING:
        return middle, np.inf
    rest = edges - (np.outer(places - place, line[0]) + line[1])
    return line[1], float(np.ptp(rest, axis=0).max())
