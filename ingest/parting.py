"""Where the tones of a picture part into values: every way of parting them, each by how well it parts.

The thresholds make the values differ as much as they can from one another and as little as they can within
themselves (Otsu 1979; for several values Liao, Chen & Chung 2001, J. Inf. Sci. Eng. 17:713).
"""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import NDArray

from ingest.lightness import FloatArray

Floats = NDArray[np.float64]

_BINS = 200

_FINE = 2000
"""Bins in which the tones are counted before they are smoothed into the others. Much narrower, since an even sky may
lie on the border of two bins: it must not step from the one to the other for a hair."""

_SMOOTH = 1.0
"""L* (standard deviation) by which the counts are smoothed."""

_DOUBT = 0.004
"""Share of the variance by which one parting must be the better to count nearly alone. Less lets thresholds slip when
the file is stored anew; more draws them from where a small light or dark ends, until it is lost."""


def _middles(bins: int) -> Floats:
    return np.linspace(0.0, 100.0, 2 * bins + 1)[1::2]


@functools.cache
def _smoothing() -> Floats:
    """(bins, fine bins) how much what lies in each fine bin counts for each bin."""
    apart = _middles(_BINS)[:, None] - _middles(_FINE)[None, :]
    return np.exp(-((apart / _SMOOTH) ** 2) / 2)


class Parting:
    """Tones, L* 0..100 of any shape, counted once, to be parted into any number of values.

    centres, weights: (bins,) L* of each bin and the share of the tones in it, slightly smoothed. low, high: the 2nd and
    the 98th hundredth of the tones, L*.
    """

    def __init__(self, tones: FloatArray) -> None:
        places = (tones.ravel() * np.float32(_FINE / 100)).astype(np.int32)
        counts = np.bincount(places.clip(0, _FINE - 1), minlength=_FINE)
        self.centres: Floats = _middles(_BINS)
        weights = _smoothing() @ counts
        self.weights: Floats = weights / weights.sum()
        self.low, self.high = (float(tone) for tone in np.percentile(tones, [2, 98]))

    def thresholds(self, values: int) -> Floats:
        """L* at which each value but the lightest ends, (values - 1,).

        Every way of parting the tones counts by how much between-class variance it explains, the best ones nearly
        alone: the mean under a Gibbs distribution whose temperature is `_DOUBT` of the variance. The single best
        parting jumps when two are nearly as good; this mean passes smoothly between them, and lies in the middle of an
        empty valley.
        """
        chance = self._chances
        from_start, to_end = [chance[0]], [chance[:, -1]]
        for _ in range(values - 2):
            from_start.append(from_start[-1] @ chance)
            to_end.append(chance @ to_end[-1])
        edges = np.concatenate([[0.0], (self.centres[:-1] + self.centres[1:]) / 2, [100.0]])
        found = []
        for number in range(values - 1):
            here = from_start[number] * to_end[values - 2 - number]
            found.append(float(here @ edges / here.sum()))
        return np.array(found)

    @functools.cached_property
    def _chances(self) -> Floats:
        """(bins + 1, bins + 1) how strongly the bins from one edge to another speak for being one value.

        What all values of a parting explain together is the variance at most, so that no product of these numbers comes
        above exp(1 / _DOUBT), which float64 holds.
        """
        mass = np.concatenate([[0.0], np.cumsum(self.weights)])
        moment = np.concatenate([[0.0], np.cumsum(self.weights * self.centres)])
        mean = moment[-1]
        inside = mass[None, :] - mass[:, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            explained = np.where(inside > 1e-12, (moment[None, :] - moment[:, None] - mean * inside) ** 2 / inside, 0.0)
        return np.triu(np.exp(explained / (self.variance * _DOUBT)), 1)

    @functools.cached_property
    def variance(self) -> float:
        """Of the tones, in L* squared."""
        return float(self.weights @ (self.centres - self.weights @ self.centres) ** 2)

    def means(self, thresholds: Floats) -> Floats:
        """Mean L* of each value; of one that holds nothing, the middle between its thresholds."""
        value = np.digitize(self.centres, thresholds)
        count = len(thresholds) + 1
        held = np.bincount(value, self.weights, minlength=count)
        middles = np.convolve(np.concatenate([[0.0], thresholds, [100.0]]), [0.5, 0.5], mode="valid")
        mean = np.bincount(value, self.weights * self.centres, minlength=count) / np.maximum(held, 1e-12)
        return np.where(held > 1e-9, mean, middles)
