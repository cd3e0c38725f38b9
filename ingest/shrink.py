"""A field of tone at a small size, by area, the same from either end."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ingest.lightness import FloatArray


def shrunk(field: FloatArray, mask: NDArray[np.bool_] | None, side: int) -> tuple[FloatArray, NDArray[np.bool_] | None]:
    """A field, (h, w) float32, with its mask, (h, w) bool, as means over areas; the longer side has `side` pixels.

    A mirrored field is shrunk to the mirrored result, which the box filters of image libraries do not keep to.
    """
    height, width = field.shape
    scale = side / max(height, width)
    down, across = _areas(height, max(4, round(height * scale))), _areas(width, max(4, round(width * scale)))
    small = np.asarray(down @ field @ across.T, dtype=np.float32)
    return small, None if mask is None else down @ mask.astype(np.float32) @ across.T > 0.5


def _areas(fine: int, coarse: int) -> FloatArray:
    """(coarse, fine) share of each fine pixel in each coarse one."""
    edges = np.linspace(0.0, fine, coarse + 1)[:, None]
    pixels = np.arange(fine)[None, :]
    shared = np.maximum(0.0, np.minimum(edges[1:], pixels + 1) - np.maximum(edges[:-1], pixels))
    return np.asarray(shared / shared.sum(axis=1, keepdims=True), dtype=np.float32)
