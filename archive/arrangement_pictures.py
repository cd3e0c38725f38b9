"""Pictures of an arrangement: patterns of lightness as grey squares."""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ingest.lightness import luminance_CIE1976, srgb_from_linear

MAP_SIDE = 256


def grey_png(lightness: NDArray[np.float32]) -> bytes:
    """A field of L*, (n, n), as a square grey PNG of `MAP_SIDE` px."""
    field = Image.fromarray(np.clip(lightness, 0.0, 100.0).astype(np.float32))
    large = np.asarray(field.resize((MAP_SIDE, MAP_SIDE), Image.Resampling.BICUBIC))
    greys = np.rint(255 * srgb_from_linear(luminance_CIE1976(np.clip(large, 0.0, 100.0)))).astype(np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(greys).save(buffer, "PNG")
    return buffer.getvalue()
