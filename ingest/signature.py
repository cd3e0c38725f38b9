"""The compact record of a picture's tone that matching and arranging compare."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ingest.lightness import FloatArray
from ingest.value_map import ValueMap

GRID = 32
"""Cells a side; a cell is far smaller than any mass that survives the squint."""

SIGNATURE_LENGTH = GRID * GRID + 3
_PER_TONE = 2.55
_ASPECT_STEPS = 24.0

Signature = NDArray[np.uint8]


def signature(squinted: FloatArray, laid: ValueMap) -> Signature:
    """(SIGNATURE_LENGTH,) uint8: the squinted L* on a GRID x GRID frame, row by row, then where dark and light begin,
    then the shape of the frame.
    """
    grid = np.asarray(Image.fromarray(squinted).resize((GRID, GRID), Image.Resampling.BOX))
    height, width = squinted.shape
    aspect = 128.0 + _ASPECT_STEPS * float(np.log2(width / height))
    tail = [laid.thresholds[0] * _PER_TONE, laid.thresholds[-1] * _PER_TONE, aspect]
    record = np.concatenate([grid.ravel() * _PER_TONE, tail])
    return np.asarray(np.rint(np.clip(record, 0, 255)), dtype=np.uint8)


def fields(signatures: NDArray[np.uint8]) -> FloatArray:
    """(n, GRID, GRID) float32 L* of (n, SIGNATURE_LENGTH) signatures."""
    tones = signatures[..., : GRID * GRID].astype(np.float32) / np.float32(_PER_TONE)
    return np.asarray(tones.reshape(-1, GRID, GRID))


def coarse_fields(signatures: NDArray[np.uint8]) -> FloatArray:
    """(n, GRID/2, GRID/2) float32 L* of (n, SIGNATURE_LENGTH) signatures: means of two by two cells, without first
    unpacking the whole."""
    cells = signatures[..., : GRID * GRID].reshape(-1, GRID // 2, 2, GRID // 2, 2)
    total = cells[:, :, 0, :, 0].astype(np.uint16)
    for row, column in ((0, 1), (1, 0), (1, 1)):
        total += cells[:, :, row, :, column]
    return total.astype(np.float32) * np.float32(0.25 / _PER_TONE)


def thresholds(signatures: NDArray[np.uint8]) -> FloatArray:
    """(n, 2) float32 L* at which dark ends and light begins."""
    return np.asarray(signatures.reshape(-1, SIGNATURE_LENGTH)[:, -3:-1].astype(np.float32) / np.float32(_PER_TONE))


def aspects(signatures: NDArray[np.uint8]) -> FloatArray:
    """(n,) float32 width / height of the pictures."""
    steps = signatures.reshape(-1, SIGNATURE_LENGTH)[:, -1].astype(np.float32) - 128.0
    return np.asarray(np.exp2(steps / np.float32(_ASPECT_STEPS)), dtype=np.float32)
