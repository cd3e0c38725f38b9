"""How alike a study and the part of a work behind it are, as one number from 0 to 1.

Tones are told by half as they are and by half by their value, light, middle or dark, each passing softly into the next
at the thresholds of its own picture, so that a pale study in three flat values is not thrown by the curve of tone of
its master. Their rank was tried beside or in place of either: where a value is flat, mere grain decides the order, and
the best works changed places.

What speaks for likeness is how such tones agree at the same places (correlation), and how their slopes do: whether
light turns to dark at the same places the same way. What had to be bent, stretched and left out is taken off.

The close look (`archive.close_look`) seeks the register in which exactly this number is greatest. Were something else
sought, the number would hang on where the search happened to end, and works would change places by a hair.

What counts how much was searched on hand-like studies of paintings and plates, so that the right work stands out from
the best wrong ones (see docs/matching.md). A work held against itself gives 1.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

TONES, SLOPES = 0.5, 0.5
"""Weights of the agreement of tones and of their slopes; they sum to 1."""

BENDING = 200.0
"""Taken off for bending: times its mean square, in shares of the frame."""

_AS_THEY_ARE, _BY_VALUE = 0.5, 0.5

_STRETCHING, _PARTNESS = 0.2, 0.4
"""Taken off for another format (octaves of width to height), and for the share of the work that is left out: a small
part of some work is like nearly anything."""

_EASY_STRETCH, _EASY_PART = 0.3, 0.1
"""Octaves and share up to which stretching and leaving out take off less than half of that: a hand, and a photo at a
slant, are out by so much, and works must not change places for it."""

_SOFT = 6.0
"""L* to either side of a threshold over which one value passes into the next."""

_LEAST_SPREAD, _LEAST_SPREAD_OF_VALUES = 3.0, 0.1
"""L*, and steps of value, below which a spread is none."""

_FAINT = 0.05
"""Total below which all that can be said is which of two speaks less for likeness."""


def told(tones: Floats, thresholds: Floats) -> Floats:
    """What is compared of pictures: tones (k, g, g) L* 0..100, and thresholds (k, 2) where their dark ends and their
    light begins; (k, g, g), about 0 and with a standard deviation near 1."""
    flat = tones.reshape(len(tones), -1)
    values = np.tanh((flat[:, :, None] - thresholds[:, None, :]) / np.float32(2 * _SOFT)).sum(axis=2)
    mixed = _AS_THEY_ARE * _spread(flat, _LEAST_SPREAD) + _BY_VALUE * _spread(values, _LEAST_SPREAD_OF_VALUES)
    return np.asarray(mixed.reshape(tones.shape), dtype=np.float32)


def taken_off(parts: Floats, strain: Floats) -> Floats:
    """(k,) what leaving out and stretching take off: parts (k, 4) viewfinders in 0..1 of the work, strain (k,) how far
    the format was stretched, in octaves of width to height."""
    x0, y0, x1, y1 = np.clip(parts, 0, 1).T
    left_out = 1 - (x1 - x0) * (y1 - y0)
    return np.asarray(_STRETCHING * _gently(strain, _EASY_STRETCH) + _PARTNESS * _gently(left_out, _EASY_PART))


def faded(total: Floats) -> Floats:
    """Totals, up to 1, brought to 0..1 in the same order; what speaks against likeness fades towards 0."""
    lower = np.exp(np.minimum(total - _FAINT, 0.0) / _FAINT)
    return np.asarray(np.minimum(np.maximum(total, _FAINT) * lower, 1.0), dtype=np.float32)


def _gently(amount: Floats, easy: float) -> Floats:
    """Amounts from 0 up, little at first, half at `easy`, and far beyond it nearly as they are."""
    return np.asarray(amount * amount / (amount + np.float32(easy)), dtype=np.float32)


def _spread(flat: Floats, least: float) -> Floats:
    """About their mean, by their standard deviation, or by the least that counts."""
    centred = flat - flat.mean(axis=1, keepdims=True)
    return np.asarray(centred / np.maximum(centred.std(axis=1, keepdims=True), np.float32(least)), dtype=np.float32)
