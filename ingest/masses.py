"""Masses: the connected shapes of a value map."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage import measure

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
    shapes = measure.label(labels, background=OUTSIDE, connectivity=1).astype(np.int32)
    boxes = ndimage.find_objects(shapes)
    if not boxes:
        return ()
    height, width = labels.shape
    flat = shapes.ravel()
    areas = np.bincount(flat)[1:]
    value = np.empty(len(boxes) + 1, dtype=np.int64)
    value[flat] = labels.ravel()
    right, down = (np.arange(width) + 0.5) / width, (np.arange(height) + 0.5) / height
    x = np.bincount(flat, np.tile(right, height))[1:] / areas
    y = np.bincount(flat, np.repeat(down, width))[1:] / areas
    borders = _borders(labels, shapes, len(boxes))
    against = borders / np.maximum(1, borders.sum(axis=1, keepdims=True))
    inside = int(areas.sum())
    found = []
    for at, (rows, columns) in enumerate(boxes):
        sides = (
            ("left", columns.start == 0),
            ("top", rows.start == 0),
            ("right", columns.stop == width),
            ("bottom", rows.stop == height),
        )
        mass = Mass(
            value=VALUE_NAMES[value[at + 1]],
            area=float(areas[at] / inside),
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


def _borders(labels: Labels, shapes: NDArray[np.int32], count: int) -> NDArray[np.int64]:
    """(count, 3) how many pixels of each value lie just outside each shape, numbered from 1."""
    padded = np.pad(shapes, 1)
    turn_across, turn_down = padded[1:-1, 1:] != padded[1:-1, :-1], padded[1:, 1:-1] != padded[:-1, 1:-1]
    rim = turn_across[:, 1:] | turn_across[:, :-1] | turn_down[1:] | turn_down[:-1]
    rows, columns = np.nonzero(rim & (shapes > 0))
    met = np.stack([padded[rows + down, columns + across] for down, across in ((1, 0), (0, 1), (1, 2), (2, 1))])
    # A pixel that a shape meets on two sides counts once for it.
    met.sort(axis=0)
    new = (met > 0) & (met != shapes[rows, columns])
    new[1:] &= met[1:] != met[:-1]
    value = np.broadcast_to(labels[rows, columns], met.shape)
    return np.bincount(met[new] * 3 + value[new], minlength=3 * (count + 1)).reshape(-1, 3)[1:]
