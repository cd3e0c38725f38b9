"""Groups of points, and how many of them the points support.

Groups are found by k-means. A number of groups is trusted as far as the grouping comes back when it is made anew from
four fifths of the points (Ben-Hur, Elisseeff & Guyon 2002, Pac. Symp. Biocomput. 7:6), measured by the adjusted Rand
index (Hubert & Arabie 1985, J. Classif. 2:193), beside the same for points with the same spread along every axis but
nothing that holds the axes together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Labels = NDArray[np.int64]

SEED = 1783
COUNTS = tuple(range(3, 11))
"""Numbers of groups that are tried: what a page can show."""

STABLE = 0.8
_REFITS = 12
_NULLS = 6
_NULL_REFITS = 3
_KEPT = 0.8
_MOST_TRIED = 1500
"""Points that the trials use at most; with more, a seeded choice of them."""


@dataclass(frozen=True)
class Stability:
    """found: mean adjusted Rand index of refits on four fifths with the whole fit; spread: its standard deviation over
    the refits. null: the same mean for points whose axes were shuffled; null_spread: its standard deviation over
    several shufflings."""

    found: float
    spread: float
    null: float
    null_spread: float = 0.0

    @property
    def lead(self) -> float:
        return self.found - self.null


def cluster(points: Floats, count: int, starts: int = 12, seed: int = SEED) -> tuple[Floats, Labels]:
    """Centres (count, f) and the group of each of (n, f) points, 0 … count-1, by k-means."""
    from sklearn.cluster import KMeans  # slow to import, and only fitting needs it

    fitted = KMeans(count, n_init=starts, random_state=seed).fit(points)
    return np.asarray(fitted.cluster_centers_), np.asarray(fitted.labels_, dtype=np.int64)


def stabilities(points: Floats, counts: tuple[int, ...] = COUNTS) -> dict[int, Stability]:
    """How well each number of groups comes back; numbers that leave fewer than four points a group are left out."""
    rng = np.random.default_rng(SEED)
    if len(points) > _MOST_TRIED:
        points = points[np.sort(rng.choice(len(points), _MOST_TRIED, replace=False))]
    loose = [shuffled(points, rng) for _ in range(_NULLS)]
    found = {}
    for count in counts:
        if 4 * count > len(points):
            break
        scores = refits(points, count)
        null = np.array([refits(one, count, _NULL_REFITS).mean() for one in loose])
        found[count] = Stability(float(scores.mean()), float(scores.std()), float(null.mean()), float(null.std()))
    return found


def refits(points: Floats, count: int, refits: int = _REFITS) -> Floats:
    """Adjusted Rand index of each of some refits on four fifths of the points with the fit of all, (refits,)."""
    from sklearn.metrics import adjusted_rand_score

    _, whole = cluster(points, count)
    scores = []
    for seed in range(refits):
        kept = np.random.default_rng(seed).permutation(len(points))[: round(_KEPT * len(points))]
        _, again = cluster(points[kept], count, seed=SEED + 1 + seed)
        scores.append(float(adjusted_rand_score(whole[kept], again)))
    return np.array(scores)


def shuffled(points: Floats, rng: np.random.Generator) -> Floats:
    """The points with the values of every axis exchanged among them: the null that a grouping has to beat."""
    return np.stack([rng.permutation(column) for column in points.T], axis=1)


def choose_count(found: dict[int, Stability]) -> int:
    """The number of groups that leads its null most, among those that come back at `STABLE` or, failing that, all."""
    if not found:
        return 2
    stable = {count: one for count, one in found.items() if one.found >= STABLE} or found
    return max(stable, key=lambda count: (stable[count].lead, count))


def distances(points: Floats, centres: Floats) -> Floats:
    """(n, k) squared distances."""
    squares = (points**2).sum(axis=1)[:, None] - 2 * points @ centres.T + (centres**2).sum(axis=1)[None, :]
    return np.asarray(np.maximum(squares, 0.0))


def softness_of(points: Floats, centres: Floats) -> float:
    """Scale of the memberships: half the median step from a point's nearest centre to its second nearest."""
    two = np.partition(distances(points, centres), 1, axis=1)[:, :2]
    return max(1e-9, float(np.median(two[:, 1] - two[:, 0])) / 2)


def memberships(points: Floats, centres: Floats, softness: float) -> Floats:
    """(n, k) shares of each point in the groups, each row summing to 1."""
    weights = -distances(points, centres) / (2 * softness)
    weights = np.exp(weights - weights.max(axis=1, keepdims=True))
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))
