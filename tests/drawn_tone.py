"""Tone drawn by code, as the bytes of a grey picture, for tests that walk the real street.

Nothing here uses ``ingest``: L* becomes light and code by the formulas of ISO/CIE 11664-4 and IEC 61966-2-1.
"""

from __future__ import annotations

import io
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

Field = NDArray[np.floating[Any]]

WIDTH, HEIGHT = 320, 240


def light_of(lightness: Field) -> NDArray[np.float32]:
    """Relative luminance 0..1 of L* 0..100."""
    star = np.asarray(lightness, dtype=np.float64)
    return np.where(star > 8, ((star + 16) / 116) ** 3, star * 27 / 24389).astype(np.float32)


def code_of(lightness: Field) -> NDArray[np.uint8]:
    """8-bit sRGB grey of L* 0..100."""
    y = light_of(lightness).astype(np.float64)
    coded = np.where(y <= 0.0031308, 12.92 * y, 1.055 * y ** (1 / 2.4) - 0.055)
    return np.rint(255 * coded).clip(0, 255).astype(np.uint8)


def png_of(lightness: Field) -> bytes:
    """A grey PNG of an L* field (h, w)."""
    buffer = io.BytesIO()
    Image.fromarray(code_of(lightness)).save(buffer, "PNG")
    return buffer.getvalue()


def ground(tone: float, size: tuple[int, int] = (WIDTH, HEIGHT)) -> NDArray[np.float64]:
    """One even tone over (width, height)."""
    return np.full(size[::-1], tone, dtype=np.float64)


def frame(field: Field) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """x and y of every pixel in 0..1 of the frame."""
    height, width = field.shape
    y, x = np.mgrid[:height, :width]
    return (x + 0.5) / width, (y + 0.5) / height


def disc(field: Field, x: float, y: float, across: float, down: float, tone: float) -> NDArray[np.float64]:
    """The field with an ellipse laid on it; centre and half axes in 0..1 of the frame."""
    u, v = frame(field)
    return np.where(((u - x) / across) ** 2 + ((v - y) / down) ** 2 <= 1, tone, field)


def box(field: Field, x0: float, y0: float, x1: float, y1: float, tone: float) -> NDArray[np.float64]:
    """The field with a rectangle laid on it, in 0..1 of the frame."""
    u, v = frame(field)
    return np.where((u > x0) & (u < x1) & (v > y0) & (v < y1), tone, field)


def grained(field: Field, sd: float = 5.0, seed: int = 1) -> NDArray[np.float64]:
    """The field with the grain of charcoal on paper, of so many L* standard deviation."""
    rng = np.random.default_rng(seed)
    noise = ndimage.gaussian_filter(rng.standard_normal(field.shape), 0.8)
    return np.clip(field + sd * noise / noise.std(), 0, 100)
