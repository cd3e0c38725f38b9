"""The masses of a study drawn on the work that it was matched with: outlines in 0..1 of the work."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.measure import find_contours

from archive.correspondence import Fellow

_ROUNDED = 0.6
"""Cells over which its corners are rounded: a cell's corner is no corner of the drawing."""

_TELLING, _THINNED = 0.08, 4
"""Cells by which a point must be off the line from the one before to the one after to tell something, and how many
times every other one of those that tell nothing is left out: no outline is off by more than a third of a cell."""

_REMEMBERED = 64
"""Masses whose outlines are kept: the same few of a study are drawn on every work that is named."""

Floats = NDArray[np.float32]
Points = NDArray[np.float64]


@dataclass(frozen=True)
class Outline:
    """A mass of the study as it lies on the work.

    value: 'light' or 'dark'. words: 'the light upper left', as in the study when it faces the way the work does. alike:
    whether most of it falls on the same value. points: closed outlines, the outer one and any holes, each of points
    (x, y) in 0..1 of the work; they may run a little past its edge.
    """

    value: str
    words: str
    alike: bool
    points: tuple[tuple[tuple[float, float], ...], ...]


def outline(mass: Fellow, x: Floats, y: Floats) -> Outline:
    """Draw a mass on the work; x, y (g, g) say where in 0..1 of the work the middle of each cell of the study looks."""
    net = np.stack([x, y])
    drawn = [_at(net, u, v) for u, v in _rings(np.packbits(mass.shape).tobytes(), len(mass.shape))]
    return Outline(mass.value, mass.words, mass.alike, tuple(drawn))


@lru_cache(maxsize=_REMEMBERED)
def _rings(packed: bytes, side: int) -> tuple[Points, ...]:
    """Outlines (2, n) of a mass, u and v in 0..1 of the study; of `side` cells a side, packed as bits."""
    shape = np.unpackbits(np.frombuffer(packed, np.uint8), count=side * side).reshape(side, side)
    soft = ndimage.gaussian_filter(shape.astype(np.float32), _ROUNDED, mode="nearest")
    # Padded by one, the picture has the middle of its first own cell at 1, which is half a cell inside the study.
    return tuple(np.clip((_thinned(ring).T[::-1] - 0.5) / side, 0, 1) for ring in find_contours(np.pad(soft, 1), 0.5))


def _thinned(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    """A closed ring (n, 2), its first point again at its end, without the points that tell nothing of its shape."""
    points = ring[:-1]
    for _ in range(_THINNED):
        round_about = np.concatenate([points[-1:], points, points[:1]])
        down, right = (round_about[2:] - round_about[:-2]).T
        aside = points - round_about[:-2]
        tells = np.abs(down * aside[:, 1] - right * aside[:, 0]) > _TELLING * np.hypot(down, right)
        tells[::2] = True
        points = points[tells]
    return np.concatenate([points, points[:1]])


def _at(net: Floats, u: NDArray[np.float64], v: NDArray[np.float64]) -> tuple[tuple[float, float], ...]:
    """Where a net (2, g, g) of x and y has places u, v in 0..1; past its outermost middles its slope goes on."""
    side = net.shape[1]
    column, row = u * side - 0.5, v * side - 0.5
    left = np.clip(np.floor(column), 0, side - 2).astype(int)
    top = np.clip(np.floor(row), 0, side - 2).astype(int)
    across, down = column - left, row - top
    upper = net[:, top, left] * (1 - across) + net[:, top, left + 1] * across
    lower = net[:, top + 1, left] * (1 - across) + net[:, top + 1, left + 1] * across
    x, y = np.round((upper * (1 - down) + lower * down).astype(np.float64), 4).tolist()
    return tuple(zip(x, y, strict=True))
