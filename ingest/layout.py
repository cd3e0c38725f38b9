"""A map of many works: a place on a square for each, with likes near likes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_LANDMARKS = 1500
_NEAREST = 3
_SEED = 1783
_PERPLEXITY = 30.0


def lay_out(points: Floats) -> Floats:
    """(n, 2) places in 0..1 for (n, f) points, by t-SNE (van der Maaten & Hinton 2008, JMLR 9:2579).

    With more than some thousand points a seeded choice of them is laid out and the others are placed between those
    that they are most like, so the time grows about as n log n.
    """
    count = len(points)
    if count < 3:
        return np.linspace([0.0, 0.5], [1.0, 0.5], count) if count > 1 else np.full((count, 2), 0.5)
    rng = np.random.default_rng(_SEED)
    chosen = np.arange(count) if count <= _LANDMARKS else np.sort(rng.choice(count, _LANDMARKS, replace=False))
    from sklearn.manifold import TSNE  # slow to import, and only fitting needs it

    perplexity = min(_PERPLEXITY, (len(chosen) - 1) / 3)
    laid = TSNE(init="pca", perplexity=perplexity, random_state=_SEED).fit_transform(points[chosen].astype(np.float64))
    low, high = laid.min(axis=0), laid.max(axis=0)
    places = np.asarray((laid - low) / np.maximum(high - low, 1e-9), dtype=np.float64)
    if len(chosen) == count:
        return places
    everywhere = place_among(points, points[chosen], places)
    everywhere[chosen] = places
    return everywhere


def place_among(points: Floats, known: Floats, places: Floats) -> Floats:
    """(n, 2) places for points between the (m, 2) places of the known points that each is most like."""
    from scipy.spatial import cKDTree

    far, nearest = cKDTree(known).query(points, k=min(_NEAREST, len(known)))
    far, nearest = far.reshape(len(points), -1), nearest.reshape(len(points), -1)
    weights = 1.0 / np.maximum(far, 1e-6)
    weights /= weights.sum(axis=1, keepdims=True)
    return np.asarray((places[nearest] * weights[:, :, None]).sum(axis=1))
