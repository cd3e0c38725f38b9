"""The course that the sides of a panel run: where, in the photo itself, each of them lies along its length.

A frame tells sides as straight lines, from a picture smaller than the photo. Tape is not laid quite straight and wash
paper cockles; corners half a hundredth off, and a middle as far off with the corners right, are enough for a study to
lie differently against a picture. Each side is therefore followed in the photo as fine as it is, and told as a curve
that bends as little as what is seen of it allows (a polynomial of Legendre's, its higher terms held back: ridge
regression, Hoerl & Kennard 1970; what strays weighed down by Tukey's biweight, Beaton & Tukey 1974).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage

from ingest.sheet.geometry import UNIT, Points, homography, transform

_KNOTS = np.linspace(0.0, 1.0, 33)
"""Shares of a side at which it is told how far it lies off the straight line."""

_BENDS = np.array([0.01, 0.01, 0.004, 0.002, 0.001])
"""How far off sides lie, lean, bow and wave, in shares of their length, as a rule."""

_REACH, _REACH_SHARE = 3.0, 0.012
"""Pixels, and share of a panel's other side, within which a side lies to either side of where it was seen."""

_STEP = 0.5
"""Pixels from one place across a side to the next."""

_EVERY, _FEWEST, _MOST = 2.0, 24, 240
"""Pixels from one place along a side to the next, and how many of them there are."""

_ALONG = 5
"""Places along a side that are averaged."""

_SMOOTH = 0.6
"""Pixels (standard deviation) by which a change across a side is smoothed."""

_QUIET, _FAINTEST = 3.0, 0.6
"""A change counts as an edge from so many times that of the plain gutter, and from so many hundredths of white."""

_AHEAD, _OUTERMOST = 6.0, 0.2
"""An edge is one if it is at least so strong a share of the strongest within so many pixels further in: coders and
lenses leave faint ripples beside a strong edge."""

_LEAST_SEEN = 10
"""Places of a side at which an edge must be seen for it to be followed."""

_STRAY, _TOGETHER = 0.5, 12.0
"""Pixels by which places stray at least, and how many of them stray together, as the drawing makes them."""

_TUKEY = 4.0
_ROUNDS = 12

_LUMA = np.array([[0.299, 0.587, 0.114], [-0.0676, -0.1324, 0.2], [0.2, -0.1676, -0.0324]], dtype=np.float32)
"""From red, green and blue to light and, for less than half as much, two colours (ITU-R BT.601, scaled): pictures are
coded with their colour blurred."""


@dataclass(frozen=True)
class Course:
    """A panel as it lies in a photo. corners: (4, 2) in pixels, clockwise from its top left. plane: (3, 3) takes the
    sheet it lies on to the photo. off: (4, k, 2) how far its sides, top, right, bottom and left, each as one goes
    round, lie off straight ones on that plane, at shares 0..1 of them."""

    corners: Points
    plane: Points
    off: Points

    @classmethod
    def straight(cls, corners: ArrayLike, plane: ArrayLike | None = None) -> Course:
        """With sides as straight as lines; without a plane, a rectangle on one of its own."""
        q = np.asarray(corners, dtype=np.float64)
        own = homography(UNIT, q) if plane is None else np.asarray(plane, dtype=np.float64)
        return cls(q, own, np.zeros((4, len(_KNOTS), 2)))

    def moved(self, by: ArrayLike) -> Course:
        """The same, seen from elsewhere: `by` (2,) pixels further."""
        x, y = np.asarray(by, dtype=np.float64)
        return self._seen_by(np.array([[1, 0, x], [0, 1, y], [0, 0, 1]]))

    def scaled(self, by: ArrayLike) -> Course:
        """The same in a photo so many times as wide and high."""
        return self._seen_by(np.diag([*np.asarray(by, dtype=np.float64), 1.0]))

    def at(self, points: ArrayLike) -> Points:
        """Where points (..., 2) of the panel, 0..1 across and down, lie in the photo.

        On the sheet, what is between the sides goes with them (a bilinearly blended patch, Coons 1967). Only the sheet
        slants: the corners of a panel that is not quite square would, taken for a slant of its own, push all that is
        drawn in it to one side.
        """
        p = np.asarray(points, dtype=np.float64)
        u, v = p[..., :1], p[..., 1:]
        first, second, third, fourth = transform(np.linalg.inv(self.plane), self.corners)
        top, right, bottom, left = self.off
        return transform(
            self.plane,
            (1 - v) * ((1 - u) * first + u * second + _between(top, u))
            + v * ((1 - u) * fourth + u * third + _between(bottom, 1 - u))
            + u * _between(right, v)
            + (1 - u) * _between(left, 1 - v),
        )

    def _seen_by(self, change: Points) -> Course:
        return Course(transform(change, self.corners), change @ self.plane, self.off)


def follow(rgb: NDArray[np.uint8], corners: ArrayLike, plane: ArrayLike | None = None) -> Course:
    """The course of a panel's sides in a photo (h, w, 3) uint8, near the straight ones between corners (4, 2).

    plane: (3, 3) takes the sheet to the photo; without it the panel is taken for a rectangle.
    """
    q = np.asarray(corners, dtype=np.float64)
    sides = [_Side(rgb, *np.roll(q, -at, axis=0)) for at in range(4)]
    met = np.stack([_meeting(sides[at - 1], sides[at], q[at]) for at in range(4)])
    course = Course.straight(met if np.isfinite(met).all() else q, plane)
    to_plane = np.linalg.inv(course.plane)
    flat = transform(to_plane, course.corners)
    off = np.empty_like(course.off)
    for at, (start, end) in enumerate(zip(flat, np.roll(flat, -1, axis=0), strict=True)):
        straight = start + _KNOTS[:, None] * (end - start)
        off[at] = transform(to_plane, sides[at].nearest(transform(course.plane, straight))) - straight
        # Where two sides meet they are as one.
        off[at] -= off[at, 0] + _KNOTS[:, None] * (off[at, -1] - off[at, 0])
    return Course(course.corners, course.plane, off)


class _Side:
    """One side: from start to end, and how far it lies inside of that line (terms of Legendre's polynomials)."""

    def __init__(self, rgb: NDArray[np.uint8], start: Points, end: Points, after: Points, before: Points) -> None:
        self._start, self._way = start, end - start
        self.length = float(np.hypot(*self._way))
        self.inward = np.array([-self._way[1], self._way[0]]) / self.length
        other = min(np.hypot(*(after - end)), np.hypot(*(before - start)))
        shares, depth, weight = self._edge(rgb, _REACH + _REACH_SHARE * float(other))
        self._terms = _smooth(shares, depth, weight, _BENDS * self.length)

    def depth(self, point: Points) -> float:
        """How far inside of the line the side lies beside a point (2,)."""
        return float(legendre.legval(2 * self._share(point) - 1, self._terms))

    def nearest(self, points: Points) -> Points:
        """Where the side lies beside points (n, 2)."""
        share = self._share(points)
        inside = legendre.legval(2 * share - 1, self._terms)
        return np.asarray(self._start + share[:, None] * self._way + inside[:, None] * self.inward)

    def _share(self, points: Points) -> Points:
        return np.asarray(np.clip((points - self._start) @ self._way / self.length**2, -0.1, 1.1))

    def _edge(self, rgb: NDArray[np.uint8], reach: float) -> tuple[Points, Points, Points]:
        """Shares of the side (n,), how far inside of the line the panel begins there, and what that counts for."""
        count = int(np.clip(self.length / _EVERY, _FEWEST, _MOST))
        shares = (np.arange(count) + 0.5) / count
        room = _REACH + reach
        depth = np.arange(-room, room + _STEP / 2, _STEP)
        at = self._start + shares[:, None, None] * self._way + depth[:, None] * self.inward - 0.5
        x, y = np.moveaxis(at, -1, 0)
        codes = np.stack(
            [ndimage.map_coordinates(rgb[..., c], [y, x], np.float32, order=1, mode="nearest") for c in range(3)],
            axis=-1,
        )
        seen = ndimage.uniform_filter1d(codes @ _LUMA.T * np.float32(100 / 255), _ALONG, axis=0, mode="nearest")
        seen = ndimage.gaussian_filter1d(seen, _SMOOTH / _STEP, axis=1)
        pixel = round(1 / _STEP)
        change = np.sqrt(((seen[:, 2 * pixel :] - seen[:, : -2 * pixel]) ** 2).sum(axis=-1)) / 2
        depth = depth[pixel:-pixel]
        quiet = float(np.median(change[:, : max(4, round(0.4 * reach / _STEP))]))
        least = max(_QUIET * quiet, _FAINTEST)
        ahead = round(_AHEAD / _STEP)
        strongest = ndimage.maximum_filter1d(change, ahead + 1, axis=1, origin=-(ahead // 2))
        before, here, behind = change[:, :-2], change[:, 1:-1], change[:, 2:]
        edge = (here >= before) & (here > behind) & (here > least) & (here > _OUTERMOST * strongest[:, 1:-1])
        # Beyond the outermost edge lies plain gutter; within it the drawing has edges of its own.
        place, row = edge.argmax(axis=1), np.arange(count)
        low, top, high = before[row, place], here[row, place], behind[row, place]
        bend = np.minimum(low - 2 * top + high, -1e-6)
        inside = depth[1:-1][place] + np.clip(0.5 * (low - high) / bend, -0.5, 0.5) * _STEP
        return shares, inside, np.where(edge.any(axis=1), np.minimum(top / least - 1, 1.0), 0.0)


def _smooth(shares: Points, depth: Points, weight: Points, bends: Points) -> Points:
    """Terms of Legendre's polynomials through places of a side; all 0 where too few are seen."""
    terms: Points = np.zeros(len(bends))
    seen = weight > 0
    if seen.sum() < _LEAST_SEEN:
        return terms
    basis = legendre.legvander(2 * shares - 1, len(bends) - 1)
    terms[0] = np.median(depth[seen])
    for _ in range(_ROUNDS):
        rest = depth - basis @ terms
        scale = max(1.4826 * float(np.median(np.abs(rest[seen]))), _STRAY)
        trust = weight * np.clip(1 - (rest / (_TUKEY * scale)) ** 2, 0, 1) ** 2 / (scale**2 * _TOGETHER)
        weighed = basis.T * trust
        terms = np.asarray(np.linalg.solve(weighed @ basis + np.diag(bends**-2.0), weighed @ depth))
    return terms


def _meeting(first: _Side, second: _Side, near: Points) -> Points:
    """Where two sides meet near a point (2,): each bends so little that a few steps find it."""
    inward = np.array([first.inward, second.inward])
    point = near
    for _ in range(4):
        point = np.linalg.solve(inward, inward @ near + [first.depth(point), second.depth(point)])
    return point


def _between(off: Points, share: Points) -> Points:
    """Off (k, 2), told at `_KNOTS`, at shares (..., 1) in between."""
    return np.concatenate([np.interp(share, _KNOTS, off[:, axis]) for axis in (0, 1)], axis=-1)
