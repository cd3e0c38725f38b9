"""Masses: the connected shapes of a value map."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.shapes import Shapes
from ingest.value_map import OUTSIDE, Labels

VALUE_NAMES = ("dark", "mid", "light")
SMALLEST_MASS = 0.01
"""A shape under this share of the picture is an accent, not a mass (common practice)."""


@dataclass(frozen=True)
class Mass:
    """One connected shape of a three-value map.

    value: 'light', 'mid' or 'dark'. area: share of the picture, 0..1. x, y: centre, 0..1, y down.
    x0, y0, x1, y1: bounding box, 0..1. touches: the edges of the picture it reaches, comma-joined.
    against_light, against_mid, against_dark: shares of its outline that border each value; the picture's own edge
    does not count, so they sum to 1 unless the mass fills the picture.
    """

    value: str
    area: float
    x: float
    y: float
    x0: float
    y0: float
    x1: float
    y1: float
    touches: str
    against_light: float
    against_mid: float
    against_dark: float


def find_masses(labels: Labels) -> tuple[Mass, ...]:
    """Masses of a three-value map, (h, w) uint8 as from `value_map`, largest first within light, mid, dark.

    Accents (under `SMALLEST_MASS`) are listed too; their area tells them apart.
    """
    shapes = Shapes.of(labels)
    inside = shapes.label != OUTSIDE
    if not inside.any():
        return ()
    height, width = labels.shape
    runs, number = shapes.runs, shapes.number
    x = np.bincount(number, runs.length * (runs.start + runs.stop)) / (2 * width * shapes.area)
    y = np.bincount(number, runs.length * (2 * runs.row + 1)) / (2 * height * shapes.area)
    borders = _borders(labels, shapes)
    against = borders / np.maximum(1, borders.sum(axis=1, keepdims=True))
    size = int(shapes.area[inside].sum())
    boxes = runs.boxes(number)
    found = []
    for at in np.flatnonzero(inside):
        rows, columns = boxes[at]
        sides = (
            ("left", columns.start == 0),
            ("top", rows.start == 0),
            ("right", columns.stop == width),
            ("bottom", rows.stop == height),
        )
        mass = Mass(
            value=VALUE_NAMES[shapes.label[at]],
            area=float(shapes.area[at] / size),
            x=float(x[at]),
            y=float(y[at]),
            x0=columns.start / width,
            y0=rows.start / height,
            x1=columns.stop / width,
            y1=rows.stop / height,
            touches=",".join(side for side, reached in sides if reached),
            against_light=float(against[at, 2]),
            against_mid=float(against[at, 1]),
            against_dark=float(against[at, 0]),
        )
        found.append(mass)
    return tuple(sorted(found, key=lambda mass: (-VALUE_NAMES.index(mass.value), -mass.area, mass.x, mass.y)))


def _borders(labels: Labels, shapes: Shapes) -> NDArray[np.int64]:
    """(shapes, 3) how many pixels of each value lie just outside each shape."""
    number = np.pad(shapes.over_pixels(np.arange(len(shapes.area))), 1, constant_values=-1)
    turn_across, turn_down = number[1:-1, 1:] != number[1:-1, :-1], number[1:, 1:-1] != number[:-1, 1:-1]
    rim = turn_across[:, 1:] | turn_across[:, :-1] | turn_down[1:] | turn_down[:-1]
    rim &= labels != OUTSIDE
    rows, columns = np.nonzero(rim)
    own, value = number[1:-1, 1:-1][rim], labels[rim]
    counts = np.zeros(3 * len(shapes.area), dtype=np.int64)
    met = [number[rows + down, columns + across] for down, across in ((1, 0), (0, 1), (1, 2), (2, 1))]
    for at, other in enumerate(met):
        # A pixel that a shape meets on two sides counts once for it.
        new = (other >= 0) & (other != own)
        for before in met[:at]:
            new &= other != before
        counts += np.bincount(other[new] * 3 + value[new], minlength=len(counts))
    return counts.reshape(-1, 3)
