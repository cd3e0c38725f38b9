"""The masses of a study drawn on the work that it was matched with: outlines in 0..1 of the work."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.measure import approximate_polygon, find_contours

from archive.correspondence import Fellow

_FINE = 4
"""How many times finer than the study's cells an outline is drawn."""

_ROUNDED = 0.6
"""Cells over which its corners are rounded: a cell's corner is no corner of the drawing."""

_KEPT = 0.25
"""Cells by which an outline may be off once points that tell nothing are left out."""

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
    fine = np.kron(mass.shape, np.ones((_FINE, _FINE), dtype=np.float32))
    soft = ndimage.gaussian_filter(fine, _ROUNDED * _FINE, mode="nearest")
    drawn = []
    for ring in find_contours(np.pad(soft, 1), 0.5):
        kept = approximate_polygon(ring, _KEPT * _FINE)
        if len(kept) < 4:
            continue
        # Padded by one, the picture has the middle of its first own step at 1, which is half a step inside the study.
        v, u = np.clip((kept.T - 0.5) / (side * _FINE), 0, 1)
        drawn.append(tuple(zip(_at(x, u, v), _at(y, u, v), strict=True)))
    return Outline(mass.value, mass.words, mass.alike, tuple(drawn))


def _at(net: Floats, u: NDArray[np.float64], v: NDArray[np.float64]) -> list[float]:
    """Values of a net (g, g) at places u, v in 0..1; past its outermost middles its slope goes on."""
    side = len(net)
    column, row = u * side - 0.5, v * side - 0.5
    left = np.clip(np.floor(column), 0, side - 2).astype(int)
    top = np.clip(np.floor(row), 0, side - 2).astype(int)
    across, down = column - left, row - top
    upper = net[top, left] * (1 - across) + net[top, left + 1] * across
    lower = net[top + 1, left] * (1 - across) + net[top + 1, left + 1] * across
    return [round(float(value), 4) for value in upper * (1 - down) + lower * down]
