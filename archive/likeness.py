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

_VALUES, _BORDERS, _ORDER = 0.20, 0.45, 0.35
"""Weights of agreement in value, in where the borders run, and in the order of tones; they sum to 1."""

_BENDING, _STRETCHING, _PARTNESS = 8.0, 0.15, 0.30
"""Taken off for bending (root mean square, shares of the frame), for another format (octaves of width to height), and
for the share of the work that is left out: a small part of some work is like nearly anything."""

_EASY_STRETCH, _EASY_PART = 0.3, 0.1
"""Octaves and share up to which stretching and leaving out take off less than half of that: a hand, and a photo at a
slant, are out by so much, and works must not change places for it."""

_STEP, _STEPS = 2.0, 51
"""Steps of L* within which tones share a rank, and how many there are."""

_FAINT = 0.05

_SPREAD_OUT = 0.44
"""Power that spreads the low end of the sum, where all but the closest works lie, over half the scale."""


def similarity(studies: Floats, thresholds: Floats, aligned: Alignments, strain: Floats) -> Floats:
    """(k,) similarity 0..1 of studies to the works they are aligned with.

    studies: (1 or k, GRID, GRID) L*, one for all or one for each. thresholds: (1 or k, 2) where their dark ends and
    light begins. strain: (k,) how far the format was stretched, in octaves of width to height.
    """
    seen = aligned.seen
    x0, y0, x1, y1 = np.clip(aligned.part, 0, 1).T
    liked = (
        _VALUES * agreement_in_value(studies, thresholds, seen)
        + _BORDERS * agreement_of_borders(studies, seen)
        + _ORDER * agreement_in_order(studies, seen)
    )
    left_out = 1 - (x1 - x0) * (y1 - y0)
    taken = (
        _BENDING * aligned.bend
        + _STRETCHING * _gently(strain, _EASY_STRETCH)
        + _PARTNESS * _gently(left_out, _EASY_PART)
    )
    return _spread_out(liked - taken)


def _gently(amount: Floats, easy: float) -> Floats:
    """Amounts from 0 up, little at first, half at `easy`, and far beyond it nearly as they are."""
    return np.asarray(amount * amount / (amount + np.float32(easy)), dtype=np.float32)


def _spread_out(total: Floats) -> Floats:
    """Totals, up to 1, brought to 0..1 in the same order; what speaks against likeness fades towards 0."""
    upper = np.maximum(total, _FAINT) ** _SPREAD_OUT
    lower = np.exp(np.minimum(total - _FAINT, 0.0) * (_SPREAD_OUT / _FAINT))
    return np.asarray(np.minimum(upper * lower, 1.0), dtype=np.float32)


def agreement_in_value(studies: Floats, thresholds: Floats, seen: Floats) -> Floats:
    """(k,) agreement of values beyond chance, up to 1, with the works laid in the studies' shares of light and dark.

    Equal shares make a pale study and a deep painting comparable: only the layout counts.
    """
    own = studies.reshape(len(studies), -1)
    laid = (own >= thresholds[:, :1]).astype(np.int64) + (own >= thresholds[:, 1:])
    shares = np.stack([(laid == value).mean(axis=1) for value in range(3)], axis=1)
    flat = seen.reshape(len(seen), -1)
    ranks = _ranks(flat)
    cuts = np.round(np.cumsum(shares, axis=1)[:, :2] * flat.shape[1])
    even = (ranks >= cuts[:, :1]).astype(np.int64) + (ranks >= cuts[:, 1:])
    chance = (shares**2).sum(axis=1)
    return np.asarray(((even == laid).mean(axis=1) - chance) / np.maximum(1e-6, 1 - chance), dtype=np.float32)


def agreement_of_borders(studies: Floats, seen: Floats) -> Floats:
    """(k,) correlation, -1..1, of the slopes of tone: whether light turns to dark at the same places the same way."""
    return _correlation(_slopes(studies), _slopes(seen))


def agreement_in_order(studies: Floats, seen: Floats) -> Floats:
    """(k,) rank correlation, -1..1, of tones (Spearman 1904): whether the same places are lighter or darker."""
    return _correlation(_shared_ranks(studies), _shared_ranks(seen))


def _correlation(first: Floats, second: Floats) -> Floats:
    size = np.linalg.norm(first, axis=1) * np.linalg.norm(second, axis=1)
    return np.asarray((first * second).sum(axis=1) / np.maximum(size, 1e-6), dtype=np.float32)


def _slopes(tones: Floats) -> Floats:
    soft = ndimage.gaussian_filter(tones, (0, 1, 1))
    both = np.stack(np.gradient(soft, axis=(1, 2)), axis=1)
    return np.asarray(both.reshape(len(tones), -1), dtype=np.float32)


def _shared_ranks(tones: Floats) -> Floats:
    """(k, GRID²) ranks about their mean, shared by tones within the same step of L*: a flat value has one rank."""
    steps = np.clip(np.rint(tones.reshape(len(tones), -1) / _STEP), 0, _STEPS - 1).astype(np.int64)
    steps += np.arange(len(tones))[:, None] * _STEPS
    counts = np.bincount(steps.ravel(), minlength=len(tones) * _STEPS).reshape(-1, _STEPS)
    ranks = np.cumsum(counts, axis=1) - counts / 2
    return np.asarray(ranks.ravel()[steps] - steps.shape[1] / 2, dtype=np.float32)


def _ranks(tones: Floats) -> Floats:
    order = np.argsort(tones, axis=1, kind="stable")
    ranks = np.empty_like(order)
    np.put_along_axis(ranks, order, np.arange(GRID * GRID)[None, :], axis=1)
    return ranks.astype(np.float32)
