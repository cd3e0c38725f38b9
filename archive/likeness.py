"""How alike a study and the part of a work behind it are, as one number from 0 to 1.

The number adds what speaks for likeness once the two are in register and takes off what had to be stretched for it.
What counts how much was fitted on one half of a collection of paintings and plates with hand-like studies of them, so
that the right work stands out from the best wrong ones (logistic regression; see docs/matching.md for the other half).
A work held against itself gives 1.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from archive.alignment import Alignments
from ingest.signature import GRID

Floats = NDArray[np.float32]

_VALUES, _BORDERS, _ORDER = 0.34, 0.36, 0.30
"""Weights of agreement in value, in where the borders run, and in the order of tones; they sum to 1."""

_BENDING, _STRETCHING, _PARTNESS = 7.9, 0.19, 0.36
"""Taken off for bending (root mean square, shares of the frame), for another format (octaves of width to height), and
for the share of the work that is left out: a small part of some work is like nearly anything."""

_FAINT = 0.05

_SPREAD_OUT = 0.4
"""Power that spreads the low end of the sum, where all but the closest works lie, over half the scale."""


def similarity(study: Floats, study_thresholds: Floats, aligned: Alignments, strain: Floats) -> Floats:
    """(k,) similarity 0..1 of a study, (GRID, GRID) L* with its two thresholds, to aligned works.

    strain (k,): how far the study's format was stretched, in octaves of width to height.
    """
    seen = aligned.seen
    x0, y0, x1, y1 = np.clip(aligned.part, 0, 1).T
    liked = (
        _VALUES * agreement_in_value(study, study_thresholds, seen)
        + _BORDERS * agreement_of_borders(study, seen)
        + _ORDER * agreement_in_order(study, seen)
    )
    taken = _BENDING * aligned.bend + _STRETCHING * strain + _PARTNESS * (1 - (x1 - x0) * (y1 - y0))
    return _spread_out(liked - taken)


def _spread_out(total: Floats) -> Floats:
    """Totals, up to 1, brought to 0..1 in the same order; what speaks against likeness fades towards 0."""
    upper = np.maximum(total, _FAINT) ** _SPREAD_OUT
    lower = np.exp(np.minimum(total - _FAINT, 0.0) * (_SPREAD_OUT / _FAINT))
    return np.asarray(np.minimum(upper * lower, 1.0), dtype=np.float32)


def agreement_in_value(study: Floats, thresholds: Floats, seen: Floats) -> Floats:
    """(k,) agreement of values beyond chance, up to 1, with the works laid in the study's shares of light and dark.

    Equal shares make a pale study and a deep painting comparable: only the layout counts.
    """
    laid = np.digitize(study, thresholds)
    shares = np.bincount(laid.ravel(), minlength=3)[:3] / laid.size
    flat = seen.reshape(len(seen), -1)
    cuts = np.quantile(flat, np.clip(np.cumsum(shares)[:2], 0, 1), axis=1)[..., None]
    even = (flat >= cuts[0]).astype(np.int64) + (flat >= cuts[1])
    chance = float((shares**2).sum())
    return np.asarray(((even == laid.ravel()).mean(axis=1) - chance) / max(1e-6, 1 - chance), dtype=np.float32)


def agreement_of_borders(study: Floats, seen: Floats) -> Floats:
    """(k,) correlation, -1..1, of the slopes of tone: whether light turns to dark at the same places the same way."""
    own = _slopes(study[None])[0]
    theirs = _slopes(seen)
    size = np.linalg.norm(theirs, axis=1) * np.linalg.norm(own)
    return np.asarray((theirs @ own) / np.maximum(size, 1e-6), dtype=np.float32)


def agreement_in_order(study: Floats, seen: Floats) -> Floats:
    """(k,) rank correlation, -1..1, of tones (Spearman 1904): whether the same places are lighter or darker."""
    own = _ranks(study.reshape(1, -1))[0]
    return np.asarray((_ranks(seen.reshape(len(seen), -1)) @ own) / (own @ own), dtype=np.float32)


def _slopes(tones: Floats) -> Floats:
    soft = ndimage.gaussian_filter(tones, (0, 1, 1))
    both = np.stack(np.gradient(soft, axis=(1, 2)), axis=1)
    return np.asarray(both.reshape(len(tones), -1), dtype=np.float32)


def _ranks(tones: Floats) -> Floats:
    order = np.argsort(tones, axis=1, kind="stable")
    ranks = np.empty_like(order)
    np.put_along_axis(ranks, order, np.arange(GRID * GRID)[None, :], axis=1)
    return np.asarray(ranks - (GRID * GRID - 1) / 2, dtype=np.float32)
