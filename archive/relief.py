"""The mean pattern of an arrangement with its tones drawn apart, so that it is seen from across a room.

A mean of many works is pale: where they differ, light and dark cancel to middle grey. For the wall of
arrangements its tones are drawn apart about their middle, at most threefold, so that a weak pattern is not
shown as a strong one. The mean as it was measured stands on the arrangement's own page.
"""

from __future__ import annotations

import base64
import functools
import io
from pathlib import Path

import numpy as np
from PIL import Image

from ingest.lightness import FloatArray, luminance_CIE1976, srgb_from_linear, srgb_lightness

MOST = 3.0
"""Largest factor by which tones are drawn apart."""

_RANGE = (12.0, 94.0)
"""L* between which the drawn-apart tones lie: within what the value maps show."""

_SIDE = 160


@functools.lru_cache(maxsize=256)
def relief_url(picture: Path) -> str:
    """The relief of a grey picture as a data: address; the file is named by its content, so it is made once."""
    with Image.open(picture) as opened:
        small = opened.convert("L").resize((_SIDE, _SIDE), Image.Resampling.BICUBIC)
    tones = srgb_lightness(np.repeat(np.asarray(small)[..., None], 3, axis=-1))
    light = srgb_from_linear(luminance_CIE1976(draw_apart(tones)))
    held = io.BytesIO()
    Image.fromarray(np.rint(light * 255).astype(np.uint8)).save(held, "WEBP", quality=82)
    return "data:image/webp;base64," + base64.b64encode(held.getvalue()).decode("ascii")


def draw_apart(tones: FloatArray) -> FloatArray:
    """L* of any shape, drawn apart about their middle to fill `_RANGE`, at most `MOST` times, in L*."""
    low, high = (float(tone) for tone in np.percentile(tones, [1, 99]))
    bottom, top = _RANGE
    factor = min(MOST, (top - bottom) / max(high - low, 1e-3))
    middle = (low + high) / 2
    half = (high - low) / 2 * factor
    # The middle moves only as far as it must for both ends to stay within range.
    centre = min(max(middle, bottom + half), top - half)
    return np.asarray(np.clip((tones - middle) * factor + centre, bottom, top), dtype=np.float32)
