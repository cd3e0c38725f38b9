"""Dividing the light out of a sheet's panels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.lightness import LIGHT_OF_CODE, LUMINANCE_ROW, FloatArray, lightness_CIE1976, luminance_CIE1976
from ingest.sheet.finding import Found
from ingest.sheet.light import Light, fit_light
from ingest.sheet.shine import CLIPPED
from ingest.sheet.strips import WHITE, Material, material, plain_parts, strips_of

_GRAIN = 4
_TOLERANCE = 2.0
"""L* within which a flattened strip is even."""


@dataclass(frozen=True)
class Flattened:
    """light: as told by the strips, or None where there were too few of them. white: linear light of the sheet's white
    in flattened panels. confidence: share of the strips that come out within 2 L* of their own tone. shadows: how many
    edges of shadow cross the panels. burnt: share of the strips that are clipped."""

    light: Light | None
    material: Material | None
    confidence: float
    shadows: int
    burnt: float

    @property
    def toned(self) -> bool:
        """Whether the paper is toned."""
        return self.material is not None and self.material.toned

    @property
    def white(self) -> float:
        """Linear light of white paper in a flattened panel."""
        return float(luminance_CIE1976(WHITE))

    def light_at(self, points: NDArray[np.float64]) -> FloatArray:
        """What to divide linear light (..., 3) at points (..., 2) of the frame by."""
        if self.light is None or self.material is None:
            return np.ones((*points.shape[:-1], 3), dtype=np.float32)
        return (self.light.at(points) / self.material.gain).astype(np.float32)


def flatten(found: Found) -> Flattened:
    """The light on the panels found in a photo, as their frame shows them."""
    seen = LIGHT_OF_CODE.take(found.frame.rgb)
    plain = plain_parts(seen, found.frame.inside)
    strips = strips_of([each.box for each in found.chosen], plain)
    light = fit_light(seen, strips, _GRAIN)
    if light is None:
        return Flattened(None, None, 0.0, 0, 0.0)
    rows, columns = np.nonzero(strips)
    burnt = float((seen[rows, columns].min(axis=-1) > CLIPPED).mean())
    thin = slice(None, None, max(1, len(rows) // 4000))
    points = np.stack([columns[thin] + 0.5, rows[thin] + 0.5], axis=-1).astype(np.float64)
    row = np.asarray(LUMINANCE_ROW)
    tone = lightness_CIE1976(0.88 * (seen[rows[thin], columns[thin]] / light.at(points)) @ row)
    even = float((np.abs(tone - np.median(tone)) <= _TOLERANCE).mean())
    made = material(seen, light, found.chosen, plain)
    return Flattened(light, made, round(even, 3), len(light.steps), burnt)
