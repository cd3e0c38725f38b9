"""Where the tones of a picture part into values: every way of parting them, each by how well it parts.

The thresholds make the values differ as much as they can from one another and as little as they can within
themselves (Otsu 1979; for several values Liao, Chen & Chung 2001, J. Inf. Sci. Eng. 17:713), and lie rather where few
tones are (Ng 2006, Pattern Recognit. Lett. 27:1644): a hair moves over whatever lies at a threshold.
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
"""Share of the variance by which one parting must be the better to count nearly alone, among all there are. More would
mix partings that have nothing in common, and draw a threshold from where a small light or dark ends, until it is lost.
"""

_DOUBT_NEARBY = 0.05
"""The same among partings that are much alike. Less lets thresholds slip when the file is stored anew."""

_CROWDING = 0.5
"""How strongly crowded tones speak against a threshold among partings that are much alike: by this power of e for as
many as there would be if the picture's span were evenly filled. More lets the threshold leap from one side of a crowd
to the other."""

_NEARBY = 0.9
"""How far a threshold may lie from another and be much like it (standard deviation), as a share of the step between the
values on its two sides. Of the picture's span it would be too far for a small light just above a large middle, and draw
the threshold down until that light is lost."""


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

        Every way of parting the tones counts by how much between-class variance it explains, the best ones most: the
        mean under a Gibbs distribution whose temperature is a share of the variance. The single best parting jumps when
        two are nearly as good; this mean passes smoothly between them, and lies in the middle of an empty valley. It is
        taken twice: nearly alone the best among all say which parting it is, then those near it say, more evenly, just
        where its thresholds lie, and the less the more tones lie there. One threshold alone gains nothing from that.
        """
        found = self._mean(self._chances, np.ones((values - 1, len(self._edges))))
        if values == 2:
            return found
        steps = np.maximum(np.diff(self.means(found)), 1e-6)
        away = (self._edges - found[:, None]) / (_NEARBY * steps[:, None])
        return self._mean(self._chances_nearby, np.exp(-(away**2) / 2 - _CROWDING * self._crowded))

    def between(self, one: Floats, other: Floats, share: float) -> Floats:
        """Thresholds, L*, that lie a share of the way, 0..1, from some to as many others.

        The way is counted by the tones that are passed as well as by L*, so that a crowd of them is passed slowly and
        what is empty is passed fast.
        """
        passed = np.concatenate([[0.0], np.cumsum(self.weights)]) + self._edges / self._span
        start, end = np.interp(one, self._edges, passed), np.interp(other, self._edges, passed)
        return np.asarray(np.interp((1 - share) * start + share * end, passed, self._edges))

    def _mean(self, chances: Floats, allowed: Floats) -> Floats:
        """Mean of each threshold, (values - 1,) L*, over all partings: chances (edges, edges) say how strongly what
        lies between two edges speaks for being one value, allowed (values - 1, edges) how much each threshold may lie
        at each edge."""
        from_start, to_end = [chances[0]], [chances[:, -1]]
        for before, after in zip(allowed[:-1], allowed[:0:-1], strict=True):
            from_start.append((from_start[-1] * before) @ chances)
            to_end.append(chances @ (to_end[-1] * after))
        here = np.array(from_start) * np.array(to_end[::-1]) * allowed
        return np.asarray(here @ self._edges / here.sum(axis=1))

    @functools.cached_property
    def _edges(self) -> Floats:
        """(bins + 1,) L* at which the bins begin and the last one ends."""
        return np.concatenate([[0.0], (self.centres[:-1] + self.centres[1:]) / 2, [100.0]])

    @property
    def _span(self) -> float:
        return max(self.high - self.low, 1e-6)

    @functools.cached_property
    def _crowded(self) -> Floats:
        """(edges,) how densely tones lie about each edge; 1 where the picture's span is evenly filled."""
        around = np.convolve(self.weights, [0.5, 0.5])
        return np.asarray(around * self._span * _BINS / 100)

    @functools.cached_property
    def _chances(self) -> Floats:
        """(edges, edges) how strongly the bins from one edge to another speak for being one value.

        What all values of a parting explain together is the variance at most, so that no product of these numbers comes
        above exp(1 / _DOUBT), which float64 holds.
        """
        return np.triu(np.exp(self._explained / _DOUBT), 1)

    @functools.cached_property
    def _chances_nearby(self) -> Floats:
        """The same among partings that are much alike."""
        return np.triu(np.exp(self._explained / _DOUBT_NEARBY), 1)

    @functools.cached_property
    def _explained(self) -> Floats:
        """(edges, edges) share of the variance that the bins from one edge to another explain as one value."""
        mass = np.concatenate([[0.0], np.cumsum(self.weights)])
        moment = np.concatenate([[0.0], np.cumsum(self.weights * self.centres)])
        mean = moment[-1]
        inside = mass[None, :] - mass[:, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            explained = np.where(inside > 1e-12, (moment[None, :] - moment[:, None] - mean * inside) ** 2 / inside, 0.0)
        return np.asarray(explained / self.variance)

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
