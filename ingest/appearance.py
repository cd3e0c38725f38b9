"""How a file looks, for finding the picture in it: its lightness and, more faintly, its hue.

A gilt frame before a grey wall, or old paper round a pale sky, may have one lightness and yet be told apart at a
glance. Hue serves for that alone; tone is read from luminance.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ingest.lightness import FloatArray, lightness_CIE1976

FLAT = 5.0
"""Distance within which a ground stays round its median."""

STEP = 8.0
"""Distance by which a picture must leave the look of its ground where it begins."""

_HUE = 0.4 * 100 / 255
"""Weight of a difference between coded channels: 12 between gilt and a grey of its lightness, 3 between two papers."""


def appearance(luminance: FloatArray, rgb: NDArray[np.uint8] | None = None) -> FloatArray:
    """Lightness, redness and yellowness, (h, w, 3) float32, of luminance (h, w) 0..1 and sRGB codes (h, w, 3).

    The first is L*, 0..100; the others are plain differences of codes, weighted to stand beside it. Without rgb, and
    in grey pictures, they are 0.
    """
    field = np.zeros((*luminance.shape, 3), dtype=np.float32)
    field[..., 0] = lightness_CIE1976(luminance)
    if rgb is not None:
        # Codes are whole numbers, and small ones are soonest added.
        red, green, blue = (np.asarray(rgb[..., at], dtype=np.int16) for at in range(3))
        np.multiply(red - green, np.float32(_HUE), out=field[..., 1])
        np.multiply(red + green - 2 * blue, np.float32(_HUE / 2), out=field[..., 2])
    return field


def distance(field: FloatArray, look: ArrayLike) -> FloatArray:
    """How far each pixel of a field (..., 3) is from a look (3,) or from another field, (...) float32."""
    look = np.asarray(look, dtype=np.float32)
    # Channel by channel, no field of three is made.
    apart = [field[..., channel] - look[..., channel] for channel in range(3)]
    lightness, redness, yellowness = (each * each for each in apart)
    return np.asarray(np.sqrt(lightness + redness + yellowness))


def in_words(lightness: float) -> str:
    """A ground's lightness in a word."""
    return "dark" if lightness < 25 else "pale" if lightness > 75 else "grey"
