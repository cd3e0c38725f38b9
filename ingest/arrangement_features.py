"""What works are grouped by: how each picture lays out its tone, without telling left from right.

Features are the pattern on a small frame and measures of shape and proportion. The named types take no part.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ingest.measures import Measures
from ingest.signature import GRID, fields

Floats = NDArray[np.float64]

VERSION = 2
"""Stored with a model; a change of the features or of their scale makes stored models stale."""

_COARSE = 8
_CHUNK = 4096
_LEAST_SPREAD = 4.0
"""L*; flatter pictures are not stretched any further when patterns are compared."""


def features(signatures: NDArray[np.uint8], measures: Sequence[Measures]) -> Floats:
    """(n, f) features of (n, L) uint8 signatures with their measures; each block carries about the same weight.

    A picture and its mirror image have the same features, as far as their measures agree.
    """
    told = np.array([_told(item) for item in measures])
    blocks = [_patterns(signatures[at : at + _CHUNK]) for at in range(0, len(signatures), _CHUNK)]
    return np.concatenate([np.concatenate(blocks), told / np.sqrt(told.shape[1])], axis=1)


def _patterns(signatures: NDArray[np.uint8]) -> Floats:
    patterns = fields(signatures)
    patterns = patterns - patterns.mean(axis=(1, 2), keepdims=True)
    patterns /= np.maximum(patterns.std(axis=(1, 2), keepdims=True), _LEAST_SPREAD)
    step = GRID // _COARSE
    coarse = patterns.reshape(-1, _COARSE, step, _COARSE, step).mean(axis=(2, 4)).astype(np.float64)
    even = (coarse + coarse[:, :, ::-1])[:, :, : _COARSE // 2] / 2
    odd = np.abs(coarse - coarse[:, :, ::-1])[:, :, : _COARSE // 2].mean(axis=2) / 2
    even = even.reshape(len(even), -1) / np.sqrt(even[0].size)
    return np.concatenate([even, odd / np.sqrt(odd.shape[1]) / 2], axis=1)


def _told(m: Measures) -> tuple[float, ...]:
    """Measures as numbers of about equal spread, without left or right."""
    return (
        4 * m.light,
        4 * m.mid,
        4 * m.dark,
        float(np.log2(1 + m.light_masses)),
        float(np.log2(1 + m.dark_masses)),
        3 * m.breadth_light,
        3 * m.breadth_dark,
        2 * m.crispness,
        4 * m.rows_explained,
        4 * m.columns_explained,
        4 * m.slant_explained,
        4 * m.radial_explained * m.radial_sign,
        2 * m.edge_light,
        2 * m.edge_dark,
        3 * abs(m.steelyard),
        2 * max(m.dark_left, m.dark_right),
        2 * min(m.dark_left, m.dark_right),
    )
