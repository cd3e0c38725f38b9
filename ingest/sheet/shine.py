"""Shine and clipped light: where a wet spot mirrors the window, the drawing cannot be read."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import LUMINANCE_ROW, FloatArray
from ingest.windows import mean_around

CLIPPED = 0.965
"""Linear light from which a channel counts as clipped: code 251 of 255 in sRGB."""

_BRIGHTER = 1.13
"""Times the sheet's white, in linear light, from which a spot shines."""

_SMALLEST = 0.0006
_HALO = 0.018
"""How far the mask reaches beyond what surely shines, as a share of the shorter side."""

_FADES, _BEYOND = 1.3, 0.4
"""How far glare may fade out beyond what surely shines, and how far apart it is seen to fade, in radii of the spot."""

_FADING = 0.02
"""Linear light by which what lies near a spot is brighter than what lies farther out, from which
glare still lies on it: on a dark passage it would be read as another value."""

_RIM = 3.0
"""Pixels over which the rim of a spot is averaged."""


def shining(flat: FloatArray, raw: FloatArray, white: float) -> NDArray[np.bool_]:
    """Where a panel shines (h, w): flat and raw are (h, w, 3) linear light, flattened with its paper at `white` and as
    photographed. Patches too small to matter are let go."""
    # One channel after the other, as each may be a plane of its own in memory.
    red, green, blue = (np.float32(part) * flat[..., n] for n, part in enumerate(LUMINANCE_ROW))
    tone = red + green + blue
    brightest = mean_around(tone, 2)
    spots = brightest > _BRIGHTER * white
    burnt = _burnt(raw)
    if burnt.any():
        spots |= (mean_around(burnt.astype(np.float32), 1) > 0.5) & (brightest > 1.03 * white)
    if not spots.any():
        return spots
    labels, count = ndimage.label(spots)
    size = np.bincount(labels.ravel(), minlength=count + 1)
    size[0] = 0
    kept = (size >= max(9, _SMALLEST * tone.size))[labels]
    if not kept.any():
        return np.asarray(kept, dtype=np.bool_)
    away, nearest = ndimage.distance_transform_edt(~kept, return_indices=True)
    mark = labels[tuple(nearest)]
    radius = np.sqrt(size / np.pi)
    least = max(2, round(_HALO * min(tone.shape)))
    reach = np.full(len(size), float(least))
    for spot in np.unique(mark):
        own = (mark == spot) & (away > 0)
        reach[spot] = max(least, _fades_until(brightest, own, away, nearest, float(radius[spot])))
    return np.asarray(away <= reach[mark], dtype=np.bool_)


def _fades_until(
    tone: FloatArray, own: NDArray[np.bool_], away: FloatArray, nearest: NDArray[np.intp], radius: float
) -> float:
    """How far beyond a spot of a radius in pixels its glare is seen: as long as, all the way round, most of what lies
    there is brighter than what lies a little farther out. own (h, w): what is nearer to this spot than to others."""
    rows, columns = np.nonzero(own & (away <= _FADES * radius))
    if not len(rows):
        return 0.0
    far = away[rows, columns]
    behind = [
        np.clip(np.rint(start + (1 + _BEYOND * radius / far) * (at - start)), 0, side - 1).astype(np.intp)
        for start, at, side in (
            (nearest[0][rows, columns], rows, tone.shape[0]),
            (nearest[1][rows, columns], columns, tone.shape[1]),
        )
    ]
    brighter = tone[rows, columns] > tone[tuple(behind)] + _FADING
    ring = (far / 2).astype(np.intp)
    share = np.bincount(ring, brighter) / np.maximum(np.bincount(ring), 1)
    ended = np.flatnonzero(share < 0.5)
    return 2.0 * float(ended[0] if len(ended) else len(share))


def filled(field: FloatArray, hidden: NDArray[np.bool_]) -> FloatArray:
    """A field (h, w) of light that goes on, where it is hidden, as it is at the nearest place where it is seen."""
    if not hidden.any() or hidden.all():
        return field
    seen = (~hidden).astype(np.float32)
    rim = ndimage.gaussian_filter(field * seen, _RIM) / np.maximum(ndimage.gaussian_filter(seen, _RIM), 1e-6)
    nearest = ndimage.distance_transform_edt(hidden, return_distances=False, return_indices=True)
    return np.where(hidden, rim[tuple(nearest)], field).astype(np.float32)


def clipped_share(raw: FloatArray) -> float:
    """Share of a photo's part (h, w, 3), in linear light, that is burnt out in every channel."""
    return float(_burnt(raw).mean())


def _burnt(raw: FloatArray) -> NDArray[np.bool_]:
    red, green, blue = (raw[..., channel] for channel in range(3))
    return np.asarray(np.minimum(np.minimum(red, green), blue) > CLIPPED, dtype=np.bool_)
