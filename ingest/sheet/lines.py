"""Straight edges in a picture: where a side of paper, tape or panel may run.

Edges are found in CIE Lab, so that blue tape on grey or cream tape beside a pale wash count as well as light against
dark. Thin ridges of the gradient that run in nearly one direction are gathered into segments.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from ingest.lightness import LIGHT_OF_CODE, FloatArray, lightness_CIE1976
from ingest.windows import BAND, change_along, gaussian

_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]], dtype=np.float32)
"""Linear sRGB to CIE XYZ (IEC 61966-2-1:1999)."""

_D65 = np.array([0.9505, 1.0, 1.089], dtype=np.float32)

_FINEST = (1 << 16) - 1
_PARTS = np.rint(_FINEST * (_XYZ / _D65[:, None])[..., None] * LIGHT_OF_CODE).astype(np.intp)
"""What each code of each channel adds to X, Y and Z (3, 3, 256), in whole steps: sums of them look up the lightness,
which is worked out in a quarter of the time of a cube root. It is off by 0.15 of a unit of Lab at most, in the dark."""

_LIGHTNESS = lightness_CIE1976(np.arange(_FINEST + 1) / _FINEST)

EDGE_WEIGHTS = (1.0, 0.5, 0.5)
"""What changes in L*, a* and b* count for in an edge: pictures are coded with their colour blurred and noisy."""


_DIRECTIONS = 12
_STEEP = 1.1
"""Smallest gradient, in Lab units a pixel, that makes an edge."""

_FEWEST = 8
"""Pixels that make a segment at least."""

_SHORTEST = 0.022
"""Shortest segment as a share of the longer side."""

_PLAIN_TO_SEE = 6.0
"""Gradient in Lab units a pixel from which an edge counts in full."""

_MOST = 240
_BESIDE = 5.0
"""Pixels from a segment at which it is looked what lies beside it."""

_CROWD_REACH, _PARALLEL = 0.04, np.cos(np.radians(8.0))
"""How far beside a segment, as a share of the longer side, others are counted that run as it does, within an angle."""

_COMPANY, _CROWDED = 3.0, 0.15
"""Segments beside one up to which it counts in full, and what it counts for in the thick of others."""

_ROUGH = 1.0
"""Gradient in Lab units a pixel from which a surface is no longer plain."""


@dataclass(frozen=True)
class Segments:
    """middles (n, 2) in pixels, directions (n, 2) of unit length, weights (n,): lengths in pixels, less where the edge
    is faint. Heaviest first."""

    middles: NDArray[np.float64]
    directions: NDArray[np.float64]
    weights: NDArray[np.float64]

    def within(self, low: NDArray[np.float64], high: NDArray[np.float64]) -> Segments:
        """Those with their middles in a box of the picture."""
        kept = ((self.middles >= low) & (self.middles <= high)).all(axis=1)
        return Segments(self.middles[kept], self.directions[kept], self.weights[kept])

    def moved(self, origin: tuple[float, float], finer: float) -> Segments:
        """Those seen in a part of a picture that begins at `origin` and has `finer` pixels to one of the picture, in
        the picture's own pixels."""
        return Segments(self.middles / finer + np.array(origin), self.directions, self.weights / finer)


def lab(rgb: NDArray[np.uint8]) -> FloatArray:
    """CIE Lab (h, w, 3) of 8-bit sRGB (h, w, 3) under D65 (ISO/CIE 11664-4:2019), each channel a plane of its own in
    memory."""
    height, width = rgb.shape[:2]
    planes = np.empty((3, height, width), dtype=np.float32)
    # In bands that stay in the processor's cache.
    for first in range(0, height, BAND):
        codes = [rgb[first : first + BAND, :, channel].astype(np.intp) for channel in range(3)]
        found = []
        for parts in _PARTS:
            at = parts[0].take(codes[0])
            for part, code in zip(parts[1:], codes[1:], strict=True):
                at += part.take(code)
            found.append(_LIGHTNESS.take(at, mode="clip"))
        x, y, z = found
        here = planes[:, first : first + BAND]
        here[0] = y
        # Each f(t) of the standard is (L* of t + 16) / 116.
        np.multiply(x - y, np.float32(500 / 116), out=here[1])
        np.multiply(y - z, np.float32(200 / 116), out=here[2])
    return planes.transpose(1, 2, 0)


def segments(colour: FloatArray) -> Segments:
    """Straight edges of a picture in Lab (h, w, 3)."""
    apart, both, total = _structure(colour)
    strength = np.hypot(apart, both)
    strength += total
    np.sqrt(strength, out=strength)
    y, x = np.nonzero(strength > _STEEP)
    turn: FloatArray = np.arctan2(both[y, x], apart[y, x])
    turn *= np.float32(0.5)
    ridge = _on_ridge(strength, turn, x, y)
    x, y, turn = x[ridge], y[ridge], turn[ridge]
    found = [_gathered(strength, turn, x, y, start) for start in (0.0, 0.5)]
    rows = np.concatenate(found)
    rows = rows[rows[:, 4] >= _SHORTEST * max(colour.shape)]
    # The grain of wood is long but faint; sides of paper and panels are mostly plain to see.
    weights = rows[:, 4] * np.clip(rows[:, 5] / _PLAIN_TO_SEE, 0.15, 1) * _calm(rows, strength)
    order = np.argsort(-weights, kind="stable")[:_MOST]
    rows, weights = rows[order], weights[order] * _alone(rows[order], _CROWD_REACH * max(colour.shape))
    order = np.argsort(-weights, kind="stable")
    return Segments(rows[order, :2], rows[order, 2:4], weights[order])


def _alone(rows: NDArray[np.float64], reach: float) -> NDArray[np.float64]:
    """What segments count for by how many run beside them: a side of a panel has that of the next one or the edge of
    tape near it, a line of the grain of wood many of its kind."""
    middles, ways, lengths = rows[:, :2], rows[:, 2:4], rows[:, 4]
    apart = middles[None] - middles[:, None]
    along = np.abs((apart * ways[:, None]).sum(axis=-1))
    aside = np.abs(apart[..., 0] * ways[:, None, 1] - apart[..., 1] * ways[:, None, 0])
    near = (aside < reach) & (along < (lengths[:, None] + lengths) / 2) & (np.abs(ways @ ways.T) > _PARALLEL)
    # The shorter one beside a long one tells little of it.
    beside = (near * np.minimum(1, lengths / lengths[:, None])).sum(axis=1) - 1
    return np.asarray(np.clip(_COMPANY / np.maximum(beside, 1e-6), _CROWDED, 1))


def _calm(rows: NDArray[np.float64], strength: FloatArray) -> NDArray[np.float64]:
    """What segments count for by what lies beside them: paper and tape are plain on one side, grass on none."""
    along = np.linspace(-0.4, 0.4, 7)[:, None] * rows[:, 4]
    height, width = strength.shape
    beside = []
    for away in (-_BESIDE, _BESIDE):
        x = rows[:, 0] + along * rows[:, 2] - away * rows[:, 3]
        y = rows[:, 1] + along * rows[:, 3] + away * rows[:, 2]
        seen = strength[np.clip(y, 0, height - 1).astype(int), np.clip(x, 0, width - 1).astype(int)]
        beside.append(np.median(seen, axis=0))
    return np.asarray(np.clip(_ROUGH / np.maximum(np.minimum(*beside), 1e-6), 0.1, 1))


def _structure(colour: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Of a picture (h, w, 3) smoothed by a little, each (h, w): half of by how much more it changes to the right than
    down, how it changes along with both, and half of how much in all, squared and summed over the channels. They tell
    the strongest direction of change (Di Zenzo 1986)."""
    apart, both, total = (np.zeros(colour.shape[:2], dtype=np.float32) for _ in range(3))
    for channel, weight in enumerate(EDGE_WEIGHTS):
        smooth = gaussian(colour[..., channel] * np.float32(weight), 1.0, 4)
        across, down = change_along(smooth, 1), change_along(smooth, 0)
        both += across * down
        across *= across
        down *= down
        total += across
        total += down
        across -= down
        apart += across
    apart *= np.float32(0.5)
    total *= np.float32(0.5)
    return apart, both, total


def _on_ridge(strength: FloatArray, turn: FloatArray, x: NDArray[np.intp], y: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Which of some pixels (n,) lie where the gradient is strongest along its own direction, of four."""
    sector = np.rint(turn / (np.pi / 4)).astype(int) % 4
    right, below = np.array([(1, 0), (1, 1), (0, 1), (-1, 1)])[sector].T
    padded = np.pad(strength, 1)
    own = strength[y, x]
    return np.asarray((own >= padded[y + 1 + below, x + 1 + right]) & (own > padded[y + 1 - below, x + 1 - right]))


def _gathered(
    strength: FloatArray,
    turn: FloatArray,
    x: NDArray[np.intp],
    y: NDArray[np.intp],
    start: float,
) -> NDArray[np.float64]:
    """Rows of x, y, dx, dy, length, strength of connected ridge pixels within a sector of direction."""
    sector = np.floor((turn / np.pi * _DIRECTIONS + start) % _DIRECTIONS).astype(int)
    marks = _connected(x, y, sector, strength.shape)
    size = np.bincount(marks)
    # Grass and gravel are nothing but small groups.
    kept = (size >= _FEWEST)[marks]
    x, y, marks = x[kept], y[kept], (np.cumsum(size >= _FEWEST) - 1)[marks[kept]]
    size = size[size >= _FEWEST].astype(float)
    total = len(size)
    cx, cy = np.bincount(marks, x, total) / size, np.bincount(marks, y, total) / size
    u, v = x - cx[marks], y - cy[marks]
    uu, vv, uv = (np.bincount(marks, each, total) / size for each in (u * u, v * v, u * v))
    angle = 0.5 * np.arctan2(2 * uv, uu - vv)
    long = np.sqrt(12 * np.maximum((uu + vv) / 2 + np.hypot((uu - vv) / 2, uv), 0))
    thick = np.sqrt(np.maximum((uu + vv) / 2 - np.hypot((uu - vv) / 2, uv), 0))
    straight = (thick < 0.9) & (thick < 0.03 * long + 0.35)
    mean = np.bincount(marks, strength[y, x], total) / size
    rows = np.stack([cx + 0.5, cy + 0.5, np.cos(angle), np.sin(angle), long, mean], axis=1)
    return np.asarray(rows[straight])


def _connected(
    x: NDArray[np.intp], y: NDArray[np.intp], sector: NDArray[np.intp], shape: tuple[int, int]
) -> NDArray[np.intp]:
    """Numbers (n,) of the groups in which pixels of one sector touch each other."""
    at = np.full((shape[0] + 2, shape[1] + 2), -1, dtype=np.intp)
    at[y + 1, x + 1] = np.arange(len(x))
    first, second = [], []
    for right, below in ((1, 0), (-1, 1), (0, 1), (1, 1)):
        other = at[y + 1 + below, x + 1 + right]
        joined = np.flatnonzero((other >= 0) & (sector[other] == sector))
        first.append(joined)
        second.append(other[joined])
    one, two = np.concatenate(first), np.concatenate(second)
    graph = csr_array((np.ones(len(one), dtype=bool), (one, two)), shape=(len(x), len(x)))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.intp)
