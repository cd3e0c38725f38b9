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
"""How far the mask reaches beyond what surely shines, as a share of the shorter side: glare fades out gently."""


def shining(flat: FloatArray, raw: FloatArray, white: float) -> NDArray[np.bool_]:
    """Where a panel shines (h, w): flat and raw are (h, w, 3) linear light, flattened with its paper at `white` and as
    photographed. Patches too small to matter are let go."""
    tone = flat @ np.asarray(LUMINANCE_ROW, dtype=np.float32)
    brightest = mean_around(tone, 2)
    clipped = mean_around((raw.min(axis=-1) > CLIPPED).astype(np.float32), 1) > 0.5
    spots = (brightest > _BRIGHTER * white) | (clipped & (brightest > 1.03 * white))
    if not spots.any():
        return spots
    labels, count = ndimage.label(spots)
    size = np.bincount(labels.ravel(), minlength=count + 1)
    size[0] = 0
    kept = (size >= max(9, _SMALLEST * tone.size))[labels]
    reach = max(2, round(_HALO * min(tone.shape)))
    return np.asarray(ndimage.distance_transform_edt(~kept) <= reach) if kept.any() else kept


def clipped_share(raw: FloatArray) -> float:
    """Share of a photo's part (h, w, 3), in linear light, that is burnt out in every channel."""
    return float((raw.min(axis=-1) > CLIPPED).mean())
