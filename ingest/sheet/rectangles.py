"""Rectangles in the frame that could be panels: straight sides that are there, and one plain material around them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

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

_MEAN_SUPPORT, _LEAST_SUPPORT, _OTHER_SUPPORT = 0.6, 0.22, 0.45
_MOST_KEPT = 300
_ALIKE = 5
"""Pixels up to which rectangles nearly coincide."""


@dataclass(frozen=True)
class Rectangle:
    """box: left, top, right, bottom in pixels of the frame. support: share of each side (left, top, right, bottom)
    along which an edge is seen. gutter: Lab of the plain material around. plain: 0..1, how much of one colour it is."""

    box: tuple[float, float, float, float]
    support: tuple[float, float, float, float]
    gutter: tuple[float, float, float]
    plain: float

    @property
    def quality(self) -> float:
        """0..1, from support and plainness."""
        return sum(self.support) / 4 * (0.5 + 0.5 * self.plain)

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


class Sides:
    """What is seen along each candidate line of one direction, summed so that any stretch of it is told at once."""

    def __init__(self, edges: Bools, colour: FloatArray, inside: Bools, lines: NDArray[np.intp]) -> None:
        """edges (h, w): those that run down; lines: columns of candidates. Rows are handled by transposing all."""
        self.lines = lines
        near = ndimage.maximum_filter1d(edges.astype(np.uint8), 2 * _NEAR + 1, axis=1)
        self._edge = _sums(near[:, lines].T.astype(np.float64))
        self._before = self._strip(colour, inside, lines - _STRIP[1], lines - _STRIP[0])
        self._after = self._strip(colour, inside, lines + _STRIP[0], lines + _STRIP[1])

    @staticmethod
    def _strip(colour: FloatArray, inside: Bools, start: NDArray[np.intp], end: NDArray[np.intp]) -> Numbers:
        """Running sums (k, h + 1, 7) of Lab, its squares and how much of the strip lies in the photo."""
        width = colour.shape[1]
        columns = np.asarray(np.clip(np.rint(np.linspace(start, end, 4)), 0, width - 1), dtype=np.intp)
        tone = np.asarray(colour[:, columns].mean(axis=1), dtype=np.float64).transpose(1, 0, 2)
        there = np.asarray(inside[:, columns].all(axis=1), dtype=np.float64).T
        return _sums(np.concatenate([tone, tone**2, there[..., None]], axis=-1), axis=1)

    def support(self, first: NDArray[np.intp], last: NDArray[np.intp]) -> Numbers:
        """Share of the stretch from row `first` to `last` (n,) along which each line (k,) has an edge: (k, n)."""
        return np.asarray((self._edge[:, last] - self._edge[:, first]) / np.maximum(last - first, 1))

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
        self.sides = np.stack([tall[self.left], wide[self.top].T, tall[self.right], wide[self.bottom].T])

    def rectangles(self) -> list[Rectangle]:
        """All rectangles that could be panels, best first."""
        width = (self.columns[self.right] - self.columns[self.left])[:, None]
        height = (self.rows[self.bottom] - self.rows[self.top])[None]
        sides = self.sides
        mean = ((sides[0] + sides[2]) * height + (sides[1] + sides[3]) * width) / (2 * (width + height))
        ranked = np.sort(sides, axis=0)
        good = (mean >= _MEAN_SUPPORT) & (ranked[0] >= _LEAST_SUPPORT) & (ranked[1] >= _OTHER_SUPPORT)
        good &= (width < _SLIM * height) & (height < _SLIM * width)
        i, j = np.nonzero(good)
        order = np.argsort(-mean[i, j] * (1 + 0.02 * np.log(width[i, 0] * height[0, j])), kind="stable")[:3000]
        return _kept(self._all(i[order], j[order]))

    def judged(self, columns: Sequence[int], rows: Sequence[int]) -> list[Rectangle]:
        """The rectangles of a grid of intervals, row by row."""
        i, j = np.meshgrid(np.array(columns, dtype=np.intp), np.array(rows, dtype=np.intp))
        return self._all(i.ravel(), j.ravel())

    def _all(self, i: NDArray[np.intp], j: NDArray[np.intp]) -> list[Rectangle]:
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
    labels, count = ndimage.label(edges, np.ones((3, 3)))
    length = np.bincount(labels.ravel(), minlength=count + 1).astype(np.float64)
    length[0] = 0
    weight = np.minimum(length[labels], 80.0) * np.clip(strength / _PLAIN_TO_SEE, 0.25, 1)
    profile = ndimage.gaussian_filter1d(weight.sum(axis=0), 1.3)
    peaks = np.flatnonzero((profile >= np.roll(profile, 1)) & (profile > np.roll(profile, -1)) & (profile > 0))
    peaks = peaks[np.argsort(-profile[peaks], kind="stable")]
    kept: list[int] = []
    for at in peaks:
        if all(abs(int(at) - other) > _NEAR for other in kept):
            kept.append(int(at))
        if len(kept) == _LINES:
            break
    return np.array(sorted(kept), dtype=np.intp)


def _pairs(lines: NDArray[np.intp], least: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    first, last = np.triu_indices(len(lines), 1)
    far = lines[last] - lines[first] >= least
    return first[far], last[far]


def _surrounded(across: Sides, down: Sides, at: tuple[NDArray[np.intp], ...], support: Numbers) -> list[Rectangle]:
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
    middle = np.median(mean, axis=0)
    chroma = np.hypot(*np.ptp(mean[..., 1:], axis=0).T)
    light = np.ptp(mean[..., 0], axis=0)
    uneven = np.hypot(spread[..., 1], spread[..., 2]).max(axis=0)
    rough = np.sort(spread[..., 0], axis=0)[2]
    plain = (
        np.clip(1.75 - chroma / 8, 0, 1) * np.clip(1.6 - light / 30, 0, 1)
        * np.clip(1.6 - uneven / 6, 0, 1) * np.clip(1.6 - rough / 12, 0, 1) * (there.min(axis=0) > 0.9)
    )  # fmt: skip
    return [
        Rectangle(
            (float(x0[n]), float(y0[n]), float(x1[n]), float(y1[n])),
            (float(support[0, n]), float(support[1, n]), float(support[2, n]), float(support[3, n])),
            (float(middle[n, 0]), float(middle[n, 1]), float(middle[n, 2])),
            float(plain[n]),
        )
        for n in range(len(x0))
    ]


def _kept(judged: list[Rectangle]) -> list[Rectangle]:
    """The best of rectangles that nearly coincide, in plain surroundings, best first."""
    ranked = sorted((each for each in judged if each.plain >= 0.2), key=lambda one: -one.quality)
    boxes = np.array([each.box for each in ranked]).reshape(-1, 4)
    kept: list[int] = []
    for at in range(len(ranked)):
        if (np.abs(boxes[kept] - boxes[at]).max(axis=1) > _ALIKE).all():
            kept.append(at)
            if len(kept) == _MOST_KEPT:
                break
    return [ranked[at] for at in kept]
