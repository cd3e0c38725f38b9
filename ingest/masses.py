"""Masses: the connected shapes of a value map."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

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
    inside = int((labels != OUTSIDE).sum())
    found: list[Mass] = []
    for value in (2, 1, 0):
        shapes, count = ndimage.label(labels == value)
        boxes = ndimage.find_objects(shapes)
        masses = [
            _measure(labels, shapes, number, box, value, inside)
            for number, box in zip(range(1, count + 1), boxes, strict=True)
        ]
        found += sorted(masses, key=lambda mass: (-mass.area, mass.x, mass.y))
    return tuple(found)


def _measure(
    labels: Labels, shapes: NDArray[np.int32], number: int, box: tuple[slice, slice], value: int, inside: int
) -> Mass:
    height, width = labels.shape
    rows, columns = box
    # One pixel wider than the mass, so that what it borders on is in view.
    wide = (
        slice(max(0, rows.start - 1), min(height, rows.stop + 1)),
        slice(max(0, columns.start - 1), min(width, columns.stop + 1)),
    )
    shape = shapes[wide] == number
    area = int(shape.sum())
    across, down = shape.sum(axis=0), shape.sum(axis=1)
    x = (wide[1].start + float(across @ (np.arange(len(across)) + 0.5)) / area) / width
    y = (wide[0].start + float(down @ (np.arange(len(down)) + 0.5)) / area) / height
    outline = ndimage.binary_dilation(shape) & ~shape
    borders = np.bincount(labels[wide][outline], minlength=3)[:3].astype(float)
    borders[value] = 0.0
    against = borders / max(1.0, borders.sum())
    sides = (
        ("left", columns.start == 0),
        ("top", rows.start == 0),
        ("right", columns.stop == width),
        ("bottom", rows.stop == height),
    )
    return Mass(
        value=VALUE_NAMES[value],
        area=area / max(1, inside),
        x=x,
        y=y,
        x0=columns.start / width,
        y0=rows.start / height,
        x1=columns.stop / width,
        y1=rows.stop / height,
        touches=",".join(side for side, reached in sides if reached),
        against_light=float(against[2]),
        against_mid=float(against[1]),
        against_dark=float(against[0]),
    )
