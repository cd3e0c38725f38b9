"""The ground that shows on all sides of a picture: paper, card, a wall, photographic black."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.appearance import FLAT, distance
from ingest.lightness import FloatArray
from ingest.windows import all_along, extreme, steps_away

_RULED = 0.7
"""Share of the file's outermost ring that one look must hold to be a ground on all sides."""

_FOLDED = 0.9
"""The same for a page that sinks into a fold, whose ring is compared with a shade from side to side."""


@dataclass(frozen=True)
class Ground:
    """look: (3,), or (1, w, 3) or (h, 1, 3) where it is shaded from side to side. allowed: distance within which a
    pixel may be ground. lightness: its L* on the whole."""

    look: FloatArray
    allowed: float
    lightness: float

    def away(self, field: FloatArray) -> FloatArray:
        """How far each pixel of a field (h, w, 3) is from the ground, (h, w)."""
        return distance(field, self.look)


def ground_all_round(field: FloatArray) -> Ground | None:
    """The ground that a field (h, w, 3) has on all sides, or None."""
    across = field.swapaxes(0, 1)
    top, bottom, left, right = (_rim(lines) for lines in (field, field[::-1], across, across[::-1]))
    ring = np.concatenate([top, bottom, left, right])
    look = np.median(ring, axis=0)
    near = distance(ring, look) <= FLAT
    if near.mean() >= _RULED:
        allowed = max(FLAT, 4.0 * float(ring[near, 0].std()))
        return Ground(look.astype(np.float32), allowed, float(look[0]))
    for turned, along, ends in ((False, (top, bottom), (left, right)), (True, (left, right), (top, bottom))):
        shade = _shade(along, ends)
        if shade is not None:
            return Ground(shade[:, None] if turned else shade[None], 1.4 * FLAT, float(np.median(shade[:, 0])))
    return None


def _rim(lines: FloatArray) -> FloatArray:
    """The first edge of `lines` (n, m, 3), slightly smoothed against grain, (m, 3)."""
    return np.asarray(ndimage.gaussian_filter(lines[:6], (1.0, 1.0, 0.0))[0])


def _shade(along: tuple[FloatArray, FloatArray], ends: tuple[FloatArray, FloatArray]) -> FloatArray | None:
    """The look (w, 3) of a ground that is shaded in one direction alone, as a page is towards the fold of its book:
    equal along the two rims that run that way, and met by the two at their ends."""
    shade = ndimage.median_filter((along[0] + along[1]) / 2, (9, 1), mode="nearest").astype(np.float32)
    near = np.concatenate([distance(rim, shade) <= FLAT for rim in along])
    met = np.concatenate([distance(rim, shade[at]) <= 1.4 * FLAT for rim, at in zip(ends, (0, -1), strict=True)])
    return shade if min(near.mean(), met.mean()) >= _FOLDED else None


def ruled_lines(away: FloatArray, allowed: float) -> NDArray[np.bool_] | None:
    """Where thin lines ruled along a page lie, (h, w) bool, a little widened; None where there are none.

    away: how far each pixel is from the ground.
    """
    ink = away > allowed
    found = np.zeros(ink.shape, dtype=bool)
    for axis in (0, 1):
        thin = ink & ~_opened(ink, 7, axis)
        # A line that is a little askew steps from one row of pixels to the next.
        joined = extreme(thin, 1, np.logical_or, (axis,))
        found |= joined & _opened(joined, max(15, ink.shape[1 - axis] // 4), 1 - axis)
    return steps_away(found, 3, np.logical_or) if found.any() else None


def _opened(shape: NDArray[np.bool_], length: int, axis: int) -> NDArray[np.bool_]:
    """What holds runs of so many pixels along an axis, or of one more where they are an even number."""
    return extreme(all_along(shape, length // 2, axis), length // 2, np.logical_or, (axis,))
