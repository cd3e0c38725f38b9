"""How tone is laid across the frame: in rows, columns, along a slant, about the centre, as one grade."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.lightness import FloatArray
from ingest.shrink import shrunk

_STRIPS = 24
_SLANTS = (30, 45, 60, 120, 135, 150)
_SIDE = 96


@dataclass(frozen=True)
class Structure:
    """Shares of the variance of L*, 0..1, that each layout explains.

    rows, columns: level strips; upright strips. slant, slant_angle: the best strips lying 30 to 60 degrees off the
    axes, and the direction in degrees (0 = tone changes to the right, 90 = downwards). radial: rings about the centre;
    radial_sign: +1 when the centre is the lighter, -1 when the darker. plane, plane_direction: one even grade, and the
    direction in which it grows lighter (degrees, 0 = to the right, 90 = upwards). ends: L* difference between the two
    outer quarters along the slant.
    """

    rows: float
    columns: float
    slant: float
    slant_angle: float
    slant_ends: float
    radial: float
    radial_sign: float
    plane: float
    plane_direction: float


def structure(squinted: FloatArray, mask: NDArray[np.bool_] | None = None) -> Structure:
    """Measure a squinted picture, (h, w) float32 L*, in a frame of 0..1 by 0..1, inside `mask` if there is one."""
    small, inside = shrunk(squinted, mask, min(_SIDE, max(squinted.shape)))
    field = small.astype(np.float64)
    chosen = np.ones(field.shape, dtype=bool) if inside is None else inside
    height, width = field.shape
    v, u = np.mgrid[0:height, 0:width]
    u, v = ((u + 0.5) / width - 0.5)[chosen], ((v + 0.5) / height - 0.5)[chosen]
    tone = field[chosen]
    total = float(tone.var())
    if total < 1e-3:
        return Structure(0.0, 0.0, 0.0, 45.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    apart = tone - tone.mean()

    def explained(place: NDArray[np.float64]) -> float:
        # What is added to the span keeps the last place within the last strip.
        span = float(np.ptp(place)) + 1e-9
        strip = ((place - place.min()) / span * _STRIPS).astype(np.intp)
        count = np.bincount(strip, minlength=_STRIPS)
        mean = np.bincount(strip, apart, minlength=_STRIPS) / np.maximum(count, 1)
        return float(count @ mean**2) / tone.size / total

    def along(angle: int) -> NDArray[np.float64]:
        turn = np.deg2rad(angle)
        return np.asarray(u * np.cos(turn) + v * np.sin(turn))

    by_slant = {angle: explained(along(angle)) for angle in _SLANTS}
    slant_angle = max(_SLANTS, key=lambda angle: by_slant[angle])
    slanted = along(slant_angle)
    low, high = np.quantile(slanted, [0.25, 0.75])
    ends = float(tone[slanted > high].mean() - tone[slanted < low].mean())

    distance = np.hypot(u, v)
    centre, rim = tone[distance < 0.25], tone[distance > 0.5]
    sign = float(np.sign(centre.mean() - rim.mean())) if centre.size and rim.size else 0.0
    design = np.stack([np.ones_like(u), u, v], axis=1)
    fitted = np.linalg.solve(design.T @ design, design.T @ apart)
    plane = 1.0 - float(((apart - design @ fitted) ** 2).mean()) / total
    return Structure(
        rows=explained(along(90)),
        columns=explained(along(0)),
        slant=by_slant[slant_angle],
        slant_angle=float(slant_angle),
        slant_ends=ends,
        radial=explained(distance),
        radial_sign=sign,
        plane=plane,
        plane_direction=float(np.rad2deg(np.arctan2(-fitted[2], fitted[1])) % 360.0),
    )
