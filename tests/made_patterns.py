"""Patterns of tone made by chance, on the frame that signatures have: many, or exactly known ones."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.signature import GRID

Fields = NDArray[np.float32]


def soft_patterns(count: int, seed: int, *, softness: float = 3.0) -> Fields:
    """(count, GRID, GRID) L*: blots as wide as masses are, of full range, no two alike."""
    noise = np.random.default_rng(seed).standard_normal((count, GRID, GRID))
    soft = ndimage.gaussian_filter(noise, (0, softness, softness), mode="reflect")
    soft -= soft.mean(axis=(1, 2), keepdims=True)
    soft *= 18 / soft.std(axis=(1, 2), keepdims=True)
    return np.clip(50 + soft, 0, 100).astype(np.float32)


def behind(pattern: Fields, part: tuple[float, float, float, float], bend: Fields | None = None) -> Fields:
    """(GRID, GRID) what of a pattern lies behind a viewfinder, x0, y0, x1, y1 in 0..1 of it, stretched to the frame.

    bend: (2, GRID, GRID), how far right and down of its place each cell looks, in shares of the pattern.
    """
    centres = (np.arange(GRID) + 0.5) / GRID
    v, u = np.meshgrid(centres, centres, indexing="ij")
    x = part[0] + u * (part[2] - part[0]) + (0 if bend is None else bend[0])
    y = part[1] + v * (part[3] - part[1]) + (0 if bend is None else bend[1])
    at = np.stack([y * GRID - 0.5, x * GRID - 0.5])
    return ndimage.map_coordinates(pattern, at, order=1, mode="nearest").astype(np.float32)


def as_signatures(patterns: Fields, *, low: float = 40.0, high: float = 60.0, aspect: float = 1.0) -> NDArray[np.uint8]:
    """(n, SIGNATURE_LENGTH) signatures of patterns (n, GRID, GRID) that all part their values at low and high L*."""
    tail = np.array([2.55 * low, 2.55 * high, 128 + 24 * np.log2(aspect)])
    flat = 2.55 * patterns.reshape(len(patterns), -1)
    return np.rint(np.concatenate([flat, np.tile(tail, (len(flat), 1))], axis=1)).clip(0, 255).astype(np.uint8)


def in_pairs(studies: Fields, works: Fields) -> NDArray[np.int64]:
    """(k, 2) each work with the one study, or with a study of its own."""
    every = np.arange(len(works))
    return np.stack([every if len(studies) == len(works) else np.zeros_like(every), every], axis=1)
