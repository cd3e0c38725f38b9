"""Tone as the eye ranks it: CIE L* from linear light.

Image libraries offer quicker greys (a weighted sum of the *coded* values). They are wrong for judging
value: pure red is L* 53, and such a sum reads it as 32 or less. Everything in Blotbook goes
coded value -> linear light -> luminance Y -> L*.

Sources: IEC 61966-2-1:1999 (sRGB transfer function and luminance row); ISO/CIE 11664-4:2019 (L*), with the
exact fractions 216/24389 and 24389/27 in place of the rounded 0.008856 and 903.3, which leave a step.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float32]

LUMINANCE_ROW = (0.2126, 0.7152, 0.0722)
"""Y of the linear sRGB primaries under D65 (IEC 61966-2-1)."""

_EPSILON = 216 / 24389
_KAPPA = 24389 / 27


def linear_from_srgb(coded: ArrayLike) -> FloatArray:
    """Linear light, 0..1, of coded sRGB values 0..1, of any shape."""
    c = np.asarray(coded, dtype=np.float64)
    return np.where(c <= 0.04045, c / 12.92, ((np.maximum(c, 0.04045) + 0.055) / 1.055) ** 2.4).astype(np.float32)


LIGHT_OF_CODE = linear_from_srgb(np.arange(256) / 255.0)
"""(256,) linear light, 0..1, of each 8-bit sRGB code: to look it up is far quicker than to work it out."""


def srgb_from_linear(linear: ArrayLike) -> FloatArray:
    """Coded sRGB values, 0..1, of linear light 0..1, of any shape."""
    y = np.clip(np.asarray(linear, dtype=np.float64), 0.0, 1.0)
    return np.where(y <= 0.0031308, y * 12.92, 1.055 * np.maximum(y, 0.0031308) ** (1 / 2.4) - 0.055).astype(np.float32)


def lightness_CIE1976(luminance: ArrayLike) -> FloatArray:
    """L*, 0..100, of relative luminance Y/Yn, 0..1, of any shape."""
    y = np.maximum(np.asarray(luminance, dtype=np.float32), np.float32(0.0))
    star = _cube_root(y)
    star *= np.float32(116.0)
    star -= np.float32(16.0)
    return np.multiply(y, np.float32(_KAPPA), out=star, where=y <= np.float32(_EPSILON))


def _cube_root(y: FloatArray) -> FloatArray:
    """Cube roots of numbers from 0 on, of any shape, to the last digit or the one before; that of 0 is nearly 0.

    A third of the bits of a number is near the bits of its root, since they begin with its exponent (Kahan 1991); two
    of Halley's steps do the rest. Libraries take every number by itself, several times as long, and not all of them to
    the same last digit.
    """
    root = np.asarray(y.view(np.int32) // 3 + np.int32(0x2A5137A0)).view(np.float32)
    for _ in range(2):
        cube = root * root
        cube *= root
        step = y - cube
        cube += cube
        cube += y
        step /= cube
        step *= root
        root += step
    return root


def luminance_CIE1976(lightness: ArrayLike) -> FloatArray:
    """Relative luminance Y/Yn, 0..1, of L* 0..100, of any shape: the inverse of `lightness_CIE1976`."""
    star = np.asarray(lightness, dtype=np.float32)
    return np.where(star > 8.0, ((star + 16.0) / 116.0) ** 3, star / _KAPPA).astype(np.float32)


def grey_code(lightness: float) -> int:
    """The 8-bit sRGB grey, 0..255, that shows an L* of 0..100."""
    return int(np.rint(255.0 * float(srgb_from_linear(luminance_CIE1976(lightness)))))


def srgb_lightness(rgb: ArrayLike) -> FloatArray:
    """L*, 0..100, shape (...,), of 8-bit sRGB colours, shape (..., 3)."""
    codes = np.asarray(rgb)
    linear = LIGHT_OF_CODE[codes] if codes.dtype == np.uint8 else linear_from_srgb(codes.astype(np.float64) / 255.0)
    return lightness_CIE1976(linear @ np.asarray(LUMINANCE_ROW, dtype=np.float32))
