"""Rectangles in the frame that could be panels: straight sides that are there, and one plain material around them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from ingest.lightness import FloatArray
from ingest.sheet.frame import Frame

Bools = NDArray[np.bool_]
Numbers = NDArray[np.float64]

_LINES = 40
"""Most rows and most columns that are tried as sides."""

_PLAIN_TO_SEE = 2.5
"""Averaged change in Lab units a pixel from which an edge counts in full."""

_NEAR = 3
"""Pixels by which an edge may stray from a straight side."""

_SMALLEST = 0.035
"""Shortest side of a panel as a share of the frame's longer side."""

_SLIM = 6.0
_STRIP = (4, 8)
"""Pixels outside a side between which the gutter is looked at."""

_SEEN = 0.7
"""Share of a side along which an edge must be seen for it to be beyond doubt."""

_MEAN_SUPPORT, _LEAST_SUPPORT, _OTHER_SUPPORT = 0.6, 0.22, 0.45
_MOST_KEPT, _MOST_JUDGED = 300, 3000
_ALIKE = 5
"""Pixels up to which rectangles nearly coincide."""


@dataclass(frozen=True)
class Rectangle:
    """box: left, top, right, bottom in pixels of the frame. support: share of each side (left, top, right, bottom)
    along which an edge is seen. gutter: Lab of the plain material around. plain: 0..1, how much of one colour it is.
    trust: what its confidence is at most."""

    box: tuple[float, float, float, float]
    support: tuple[float, float, float, float]
    gutter: tuple[float, float, float]
    plain: float
    trust: float = 1.0

    @property
    def quality(self) -> float:
        """0..1, from support and plainness."""
        return sum(self.support) / 4 * (0.5 + 0.5 * self.plain)

    @property
    def confidence(self) -> float:
        """0..1, how sure it is that a panel ends at all four sides: quality, less where one of them is hardly seen."""
        return min(self.trust, self.quality * min(1.0, 0.5 + 0.5 * min(self.support) / _SEEN))

    @property
    def worth(self) -> float:
        """What the rectangle adds to a choice of panels: the length of its sides, by how surely they are seen."""
        return worth_of(self, self.quality)

    @property
    def area(self) -> float:
        """In pixels of the frame."""
        return (self.box[2] - self.box[0]) * (self.box[3] - self.box[1])


def worth_of(rectangle: Rectangle, quality: float) -> float:
    """The worth of a rectangle, were its quality another."""
    left, top, right, bottom = rectangle.box
    return 2 * (right - left + bottom - top) * (2 * max(0.0, quality - 0.5)) ** 3


@dataclass(frozen=True)
class _Judged:
    """The fields of many rectangles: boxes (n, 4), support (n, 4), gutter (n, 3), plain (n,)."""

    boxes: Numbers
    support: Numbers
    gutter: Numbers
    plain: Numbers

    def rectangles(self, some: Iterable[int]) -> list[Rectangle]:
        boxes, support, gutter = self.boxes.tolist(), self.support.tolist(), self.gutter.tolist()
        return [Rectangle(tuple(boxes[n]), tuple(support[n]), tuple(gutter[n]), float(self.plain[n])) for n in some]


class Sides:
    """What is seen along each candidate line of one direction, summed so that any stretch of it is told at once."""

    def __init__(self, edges: Bools, colour: FloatArray, inside: Bools, lines: NDArray[np.intp]) -> None:
        """edges (h, w): those that run down; lines: columns of candidates. Rows are handled by transposing all."""
        self.lines = lines
        most = edges.shape[1] - 1
        near = np.logical_or.reduce([edges[:, np.clip(lines + away, 0, most)] for away in range(-_NEAR, _NEAR + 1)])
        self._edge = _sums(near.T.astype(np.float64))
        self._before = self._strip(colour, inside, lines - _STRIP[1], lines - _STRIP[0])
        self._after = self._strip(colour, inside, lines + _STRIP[0], lines + _STRIP[1])

    @staticmethod
    def _strip(colour: FloatArray, inside: Bools, start: NDArray[np.intp], end: NDArray[np.intp]) -> Numbers:
        """Running sums (k, h + 1, 7) of Lab, its squares and how much of the strip lies in the photo."""
        width = colour.shape[1]
        columns = np.asarray(np.clip(np.rint(np.linspace(start, end, 4)), 0, width - 1), dtype=np.intp)
        rows = np.zeros((columns.shape[1], len(colour) + 1, 7))
        for channel in range(3):
            tone = sum(colour[:, some, channel].T for some in columns) * 0.25
            rows[:, 1:, channel], rows[:, 1:, 3 + channel] = tone, tone * tone
        rows[:, 1:, 6] = np.logical_and.reduce([inside[:, some] for some in columns]).T
        return np.cumsum(rows, axis=1, out=rows)

    def support(self, first: NDArray[np.intp], last: NDArray[np.intp]) -> Numbers:
        """Share of the stretch from row `first` to `last` (n,) along which each line (k,) has an edge: (k, n)."""
        return np.asarray((self._edge[:, last] - self._edge[:, first]) / np.maximum(last - first, 1))

    def seen(self, lines: list[int], first: int, last: int) -> float:
        """Share of the stretch from row `first` to `last` along which some of the lines have an edge."""
        edge = self._edge[lines]
        return float((edge[:, last] - edge[:, first]).sum()) / (len(lines) * max(last - first, 1))

    def gutter(self, before: bool, line: NDArray[np.intp], first: NDArray[np.intp], last: NDArray[np.intp]) -> Numbers:
        """Mean Lab, its deviation and the share within the photo (n, 7) of the strip on one side of each line (n,)."""
        table = self._before if before else self._after
        inset = np.maximum((last - first) // 20, 1)
        a, b = first + inset, np.maximum(last - inset, first + inset + 1)
        mean: Numbers = (table[line, b] - table[line, a]) / (b - a).reshape(-1, 1)
        spread = np.sqrt(np.maximum(mean[:, 3:6] - mean[:, :3] ** 2, 0))
        return np.concatenate([mean[:, :3], spread, mean[:, 6:]], axis=1)


def _sums(values: Numbers, axis: int = 1) -> Numbers:
    pad = [(0, 0)] * values.ndim
    pad[axis] = (1, 0)
    return np.asarray(np.cumsum(np.pad(values, pad), axis=axis))


class Survey:
    """Candidate lines of a frame, the intervals between them, and what is seen of the sides of every rectangle.

    columns, rows: places of lines. left, right and top, bottom: lines of each interval, as indices. sides (4, n, m):
    share seen of the left, top, right and bottom side for column interval n and row interval m.
    """

    def __init__(self, frame: Frame) -> None:
        self.columns, self.rows = (
            candidate_lines(frame.upright, frame.strength_x),
            candidate_lines(frame.level.T, frame.strength_y.T),
        )
        self.across = Sides(frame.upright, frame.colour, frame.inside, self.columns)
        self.down = Sides(frame.level.T, frame.colour.transpose(1, 0, 2), frame.inside.T, self.rows)
        least = _SMALLEST * max(frame.inside.shape)
        self.left, self.right = _pairs(self.columns, least)
        self.top, self.bottom = _pairs(self.rows, least)
        tall = self.across.support(self.rows[self.top], self.rows[self.bottom])
        wide = self.down.support(self.columns[self.left], self.columns[self.right])
        tall, wide = tall.astype(np.float32), np.ascontiguousarray(wide.T, dtype=np.float32)
        self.sides = np.stack([tall[self.left], wide[:, self.top], tall[self.right], wide[:, self.bottom]])

    def rectangles(self) -> list[Rectangle]:
        """All rectangles that could be panels, best first."""
        width = (self.columns[self.right] - self.columns[self.left]).astype(np.float32)[:, None]
        height = (self.rows[self.bottom] - self.rows[self.top]).astype(np.float32)[None]
        left, top, right, bottom = self.sides
        upright, level = left + right, top + bottom
        mean = (upright * height + level * width) / (2 * (width + height))
        # What is seen of the worst side and of the second worst.
        least, other = np.minimum(left, right), np.minimum(top, bottom)
        second = np.minimum(np.maximum(least, other), np.minimum(upright - least, level - other))
        good = (mean >= _MEAN_SUPPORT) & (np.minimum(least, other) >= _LEAST_SUPPORT) & (second >= _OTHER_SUPPORT)
        good &= (width < _SLIM * height) & (height < _SLIM * width)
        i, j = np.nonzero(good)
        order = np.argsort(-mean[i, j] * (1 + 0.02 * np.log(width[i, 0] * height[0, j])), kind="stable")[:_MOST_JUDGED]
        return _kept(self._all(i[order], j[order]))

    def judged(self, columns: Sequence[int], rows: Sequence[int]) -> list[Rectangle]:
        """The rectangles of a grid of intervals, row by row."""
        i, j = np.meshgrid(np.array(columns, dtype=np.intp), np.array(rows, dtype=np.intp))
        return self._all(i.ravel(), j.ravel()).rectangles(range(i.size))

    def _all(self, i: NDArray[np.intp], j: NDArray[np.intp]) -> _Judged:
        at = (self.left[i], self.top[j], self.right[i], self.bottom[j])
        return _surrounded(self.across, self.down, at, self.sides[:, i, j])


def with_others(found: list[Rectangle], others: list[Rectangle]) -> list[Rectangle]:
    """Rectangles, best first, and those of some others that are not among them."""
    boxes = np.array([each.box for each in found]).reshape(-1, 4)
    new = [each for each in others if not (np.abs(boxes - each.box).max(axis=1) <= _ALIKE).any()]
    return sorted([*found, *new], key=lambda each: -each.quality)


def support_of(frame: Frame, box: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    """Share of each side (left, top, right, bottom) of a box in the frame along which an edge is seen near it."""
    left, top, right, bottom = (round(edge) for edge in box)

    def seen(edges: Bools, line: int, first: int, last: int) -> float:
        near = edges[max(0, first) : last, max(0, line - _NEAR) : line + _NEAR + 1]
        return float(near.any(axis=1).mean()) if near.size else 0.0

    return (
        seen(frame.upright, left, top, bottom),
        seen(frame.level.T, top, left, right),
        seen(frame.upright, right, top, bottom),
        seen(frame.level.T, bottom, left, right),
    )


def candidate_lines(edges: Bools, strength: FloatArray) -> NDArray[np.intp]:
    """Columns along which edges that run down (h, w) gather, long runs before many short ones and plain ones before
    faint ones, as the grain of wood is."""
    labels, _ = ndimage.label(edges, np.ones((3, 3)))
    y, x = np.nonzero(edges)
    run = labels[y, x]
    length = np.bincount(run).astype(np.float64)
    weight = np.minimum(length[run], 80.0) * np.clip(strength[y, x] / _PLAIN_TO_SEE, 0.25, 1)
    profile = ndimage.gaussian_filter1d(np.bincount(x, weight, edges.shape[1]), 1.3)
    peaks = np.flatnonzero((profile >= np.roll(profile, 1)) & (profile > np.roll(profile, -1)) & (profile > 0))
    peaks = peaks[np.argsort(-profile[peaks], kind="stable")]
    kept: list[int] = []
    free = np.ones(len(profile), dtype=bool)
    for at in peaks.tolist():
        if free[at]:
            kept.append(at)
            free[max(0, at - _NEAR) : at + _NEAR + 1] = False
            if len(kept) == _LINES:
                break
    return np.array(sorted(kept), dtype=np.intp)


def _pairs(lines: NDArray[np.intp], least: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    first, last = np.triu_indices(len(lines), 1)
    far = lines[last] - lines[first] >= least
    return first[far], last[far]


def _surrounded(across: Sides, down: Sides, at: tuple[NDArray[np.intp], ...], support: NDArray[np.floating]) -> _Judged:
    """Rectangles (indices of left, top, right, bottom lines) with what lies around them."""
    left, top, right, bottom = at
    x0, y0, x1, y1 = across.lines[left], down.lines[top], across.lines[right], down.lines[bottom]
    strips = np.stack([
        across.gutter(True, left, y0, y1),
        down.gutter(True, top, x0, x1),
        across.gutter(False, right, y0, y1),
        down.gutter(False, bottom, x0, x1),
    ])  # fmt: skip
    mean, spread, there = strips[..., :3], strips[..., 3:6], strips[..., 6]
    ordered = np.sort(mean, axis=0)
    middle = (ordered[1] + ordered[2]) / 2
    light, *tint = (ordered[3] - ordered[0]).T
    chroma = np.hypot(*tint)
    uneven = np.hypot(spread[..., 1], spread[..., 2]).max(axis=0)
    rough = np.sort(spread[..., 0], axis=0)[2]
    plain = (
        np.clip(1.75 - chroma / 8, 0, 1) * np.clip(1.6 - light / 30, 0, 1)
        * np.clip(1.6 - uneven / 6, 0, 1) * np.clip(1.6 - rough / 12, 0, 1) * (there.min(axis=0) > 0.9)
    )  # fmt: skip
    return _Judged(np.stack([x0, y0, x1, y1], axis=1).astype(np.float64), support.T.astype(np.float64), middle, plain)


def _kept(judged: _Judged) -> list[Rectangle]:
    """The best of rectangles that nearly coincide, in plain surroundings, best first."""
    plain = np.flatnonzero(judged.plain >= 0.2)
    quality = judged.support[plain].mean(axis=1) * (0.5 + 0.5 * judged.plain[plain])
    ranked = plain[np.argsort(-quality, kind="stable")]
    if not len(ranked):
        return []
    tree = cKDTree(judged.boxes[ranked])
    free = np.ones(len(ranked), dtype=bool)
    kept: list[int] = []
    for at in range(len(ranked)):
        if free[at]:
            kept.append(int(ranked[at]))
            free[tree.query_ball_point(judged.boxes[ranked[at]], _ALIKE, p=np.inf)] = False
            if len(kept) == _MOST_KEPT:
                break
    return judged.rectangles(kept)
