"""The masses of a study drawn on the work that it was matched with: outlines in 0..1 of the work."""

from __future__ import annotations

from dataclasses import dataclass

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

Floats = NDArray[np.float32]


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
    side = len(mass.shape)
    soft = ndimage.gaussian_filter(mass.shape.astype(np.float32), _ROUNDED, mode="nearest")
    drawn = []
    for ring in find_contours(np.pad(soft, 1), 0.5):
        kept = _thinned(ring)
        # Padded by one, the picture has the middle of its first own cell at 1, which is half a cell inside the study.
        v, u = np.clip((kept.T - 0.5) / side, 0, 1)
        drawn.append(tuple(zip(_at(x, u, v), _at(y, u, v), strict=True)))
    return Outline(mass.value, mass.words, mass.alike, tuple(drawn))


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


def _at(net: Floats, u: NDArray[np.float64], v: NDArray[np.float64]) -> list[float]:
    """Values of a net (g, g) at places u, v in 0..1; past its outermost middles its slope goes on."""
    side = len(net)
    column, row = u * side - 0.5, v * side - 0.5
    left = np.clip(np.floor(column), 0, side - 2).astype(int)
    top = np.clip(np.floor(row), 0, side - 2).astype(int)
    across, down = column - left, row - top
    upper = net[top, left] * (1 - across) + net[top, left + 1] * across
    lower = net[top + 1, left] * (1 - across) + net[top + 1, left + 1] * across
    values: list[float] = np.round((upper * (1 - down) + lower * down).astype(np.float64), 4).tolist()
    return values
