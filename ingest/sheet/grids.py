"""Grids of panels: rows and columns whose sides line up, so that a side too faint in one panel is told by the others.

A grid is a choice of column intervals and row intervals between candidate lines. It is worth the length of its panels'
sides where edges are seen, less what is not seen. Starting from panels that are seen well, columns and rows are added
and exchanged while the grid gains. Between neighbours there must be a gutter: nothing is seen there along the lines
that would be sides.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ingest.sheet.crossing import Crossings
from ingest.sheet.rectangles import Rectangle, Sides, Survey

_NEEDED = 0.55
"""Share of a side that must be seen for it to add to a grid's worth."""

_ADDED = 0.08
"""Worth a pixel of perimeter from which a row or column is added."""

_GAP = 7
_BARE = 0.42
"""Share seen of the lines across a gutter, up to which it is one."""

_SEEDS = 30
_MOST = 4
_TRIED = 12
_ALIKE = 0.06
"""Difference in width, as a share, up to which columns are alike."""

_LARGER = 0.35
_PLAIN = 0.35
_STRIP = 0.22
_LESS = 0.3

_Numbers = NDArray[np.floating]
_Indices = NDArray[np.intp]


@dataclass(frozen=True)
class Grid:
    """columns and rows: indices of intervals, in order. worth: in pixels of sides seen beyond what is needed."""

    columns: tuple[int, ...]
    rows: tuple[int, ...]
    worth: float


class _Axis:
    """Intervals of one direction, and the lines of the other that cross them."""

    def __init__(self, first: _Indices, last: _Indices, lines: _Indices, crossing: Sides) -> None:
        self.first, self.last, self.start, self.end = first, last, lines[first], lines[last]
        self._crossing = crossing

    def apart(self, chosen: list[int]) -> NDArray[np.bool_]:
        """Which intervals leave a gap to all those chosen."""
        free = np.ones(len(self.start), dtype=bool)
        for at in chosen:
            free &= (self.start >= self.end[at] + _GAP) | (self.end <= self.start[at] - _GAP)
        return free

    def seen(self, lines: list[int], start: int, end: int) -> float:
        """Share seen of lines of the other direction between two places; 0 when they are no place apart."""
        # Edges run a little past their ends, as they are averaged along.
        start, end = start + 2, end - 2
        if end <= start:
            return 0.0
        return self._crossing.seen(lines, start, end)

    def parted(self, chosen: list[int], lines: list[int]) -> bool:
        """Whether gutters part the chosen intervals, as lines of the other direction tell."""
        order = sorted(chosen, key=lambda at: self.start[at])
        return all(self.seen(lines, int(self.end[a]), int(self.start[b])) < _BARE for a, b in pairwise(order))


def best_grid(survey: Survey, crossings: Crossings, found: list[Rectangle]) -> tuple[Grid, list[Rectangle]] | None:
    """The grid worth most, and its panels; None when nothing stands in one. found: rectangles to start from, best
    first."""
    across = _Axis(survey.left, survey.right, survey.columns, survey.down)
    down = _Axis(survey.top, survey.bottom, survey.rows, survey.across)
    width = (across.end - across.start)[:, None].astype(np.float32)
    height = (down.end - down.start)[None].astype(np.float32)
    sides = survey.sides
    around = 2 * (width + height)
    upright, level = (sides[0] + sides[2]) / 2, (sides[1] + sides[3]) / 2
    mean = (2 * upright * height + 2 * level * width) / around
    # Both directions must be seen: two long lines make no panel.
    seen = (mean + np.minimum(upright, level)) / 2
    table = _Table(survey, crossings, seen, (seen - _NEEDED) * around, around)
    best: Grid | None = None
    done: set[tuple[int, int]] = set()
    for seed in _seeds(survey, found):
        # From a cell of a grid that was grown the same would grow, as a rule.
        if seed in done:
            continue
        grid = _grown(seed, table, across, down)
        done.update((column, row) for column in grid.columns for row in grid.rows)
        several = len(grid.columns) * len(grid.rows) > 1
        if several and (best is None or grid.worth > best.worth):
            best = grid
    if best is None:
        return None
    best = _drawn_in(best, table.worth, across, down, sides)
    return best, survey.judged(best.columns, best.rows)


def _seeds(survey: Survey, found: list[Rectangle]) -> list[tuple[int, int]]:
    columns = {
        (int(a), int(b)): n
        for n, (a, b) in enumerate(zip(survey.columns[survey.left], survey.columns[survey.right], strict=True))
    }
    rows = {
        (int(a), int(b)): n
        for n, (a, b) in enumerate(zip(survey.rows[survey.top], survey.rows[survey.bottom], strict=True))
    }
    return [
        (columns[round(each.box[0]), round(each.box[2])], rows[round(each.box[1]), round(each.box[3])])
        for each in found[:_SEEDS]
    ]


def _lines(axis: _Axis, chosen: list[int]) -> list[int]:
    return [int(line) for at in chosen for line in (axis.first[at], axis.last[at])]


@dataclass(frozen=True)
class _Table:
    """For every column interval and row interval (n, m): how well the panel there is seen, its worth and perimeter."""

    survey: Survey
    crossings: Crossings
    seen: _Numbers
    worth: _Numbers
    around: _Numbers
    known: dict[tuple[int, int], bool] = field(default_factory=dict)

    def plain(self, columns: list[int], rows: list[int]) -> bool:
        """Whether all panels of a grid stand in plain surroundings."""
        # Row by row, as cells are judged.
        cells = [(column, row) for row in rows for column in columns]
        if any(cell not in self.known for cell in cells):
            for cell, each in zip(cells, self.survey.judged(columns, rows), strict=True):
                if cell not in self.known:
                    self.known[cell] = each.plain >= _PLAIN and not self.crossings.cross(each)
        return all(self.known[cell] for cell in cells)


def _grown(seed: tuple[int, int], table: _Table, across: _Axis, down: _Axis) -> Grid:
    columns, rows = [seed[0]], [seed[1]]
    for _ in range(3):
        before = (tuple(columns), tuple(rows))
        columns = _improved(columns, table, rows, across, _lines(down, rows), False)
        rows = _improved(rows, table, columns, down, _lines(across, columns), True)
        if (tuple(columns), tuple(rows)) == before:
            break
    total = float(table.worth[np.ix_(columns, rows)].sum())
    order = sorted(columns, key=lambda at: across.start[at]), sorted(rows, key=lambda at: down.start[at])
    return Grid(tuple(order[0]), tuple(order[1]), total)


def _improved(
    chosen: list[int], table: _Table, fixed: list[int], axis: _Axis, lines: list[int], are_rows: bool
) -> list[int]:
    """Intervals exchanged for better ones and added to, with the other direction's as they are."""
    chosen = list(chosen)
    seen, worth, around = (part.T if are_rows else part for part in (table.seen, table.worth, table.around))
    # A larger panel is better than a smaller one only if it is seen about as well.
    value = (seen[:, fixed] * around[:, fixed] ** _LARGER).sum(axis=1)
    gain, reach = worth[:, fixed].sum(axis=1), around[:, fixed].sum(axis=1)
    size = (axis.end - axis.start).astype(np.float64)

    def fits(new: int, others: list[int]) -> bool:
        if not axis.parted([*others, new], lines):
            return False
        return table.plain(fixed, [new]) if are_rows else table.plain([new], fixed)

    for at in range(len(chosen)):
        others = chosen[:at] + chosen[at + 1 :]
        rated = value * _alike(size, others)
        rated[~axis.apart(others)] = -np.inf
        for new in np.argsort(-rated, kind="stable")[:_TRIED]:
            if rated[new] <= rated[chosen[at]]:
                break
            if fits(int(new), others):
                chosen[at] = int(new)
                break
    while len(chosen) < _MOST:
        rated = gain * _alike(size, chosen)
        rated[~axis.apart(chosen) | (gain < _ADDED * reach)] = -np.inf
        for new in np.argsort(-rated, kind="stable")[:_TRIED]:
            if np.isfinite(rated[new]) and fits(int(new), chosen):
                chosen.append(int(new))
                break
        else:
            break
    return chosen


def _alike(size: _Numbers, others: list[int]) -> _Numbers:
    """A factor a little above 1 for intervals as wide as the others."""
    if not others:
        return np.ones_like(size)
    middle = float(np.median(size[others]))
    return np.asarray(1 + 0.06 * (np.abs(size - middle) < _ALIKE * middle + 3))


def _drawn_in(grid: Grid, worth: _Numbers, across: _Axis, down: _Axis, sides: _Numbers) -> Grid:
    """A grid whose lines at the outer edge of tape are drawn in to the panels."""
    columns, rows = list(grid.columns), list(grid.rows)
    for _ in range(2):
        height = (down.end - down.start)[rows].astype(np.float64)
        seen = sides[:, :, rows]
        columns = [
            _inner(at, across, _lines(down, rows), seen[0] @ height, seen[2] @ height, float(height.sum()))
            for at in columns
        ]
        width = (across.end - across.start)[columns].astype(np.float64)
        seen = sides[:, columns]
        rows = [
            _inner(at, down, _lines(across, columns), width @ seen[1], width @ seen[3], float(width.sum()))
            for at in rows
        ]
    return Grid(tuple(columns), tuple(rows), float(worth[np.ix_(columns, rows)].sum()))


def _inner(at: int, axis: _Axis, lines: list[int], begins: _Numbers, ends: _Numbers, length: float) -> int:
    """The interval, or one within it that differs by strips of gutter alone."""
    start, end = int(axis.start[at]), int(axis.end[at])
    reach = _STRIP * (end - start)
    best = at
    within = (
        (axis.start >= start) & (axis.end <= end) & (axis.start - start <= reach) & (end - axis.end <= reach)
        & ((axis.start - start >= _GAP) | (axis.start == start)) & ((end - axis.end >= _GAP) | (axis.end == end))
        & (begins >= begins[at] - _LESS * length) & (ends >= ends[at] - _LESS * length)
    )  # fmt: skip
    for new in np.flatnonzero(within):
        bare_start = axis.start[new] == start or axis.seen(lines, start, int(axis.start[new])) < _BARE * 0.7
        bare_end = axis.end[new] == end or axis.seen(lines, int(axis.end[new]), end) < _BARE * 0.7
        # Of several, the widest strip that is bare.
        if bare_start and bare_end and axis.end[new] - axis.start[new] < axis.end[best] - axis.start[best]:
            best = int(new)
    return best
