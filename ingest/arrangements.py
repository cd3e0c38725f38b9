"""Groups of works built alike, found from the pictures themselves and named afterwards.

The groups are found by k-means on the main directions in which pictures differ (`arrangement_features`), without being
told the named types of `arrangement_types`; types and measures then give a group its name. How many groups there are
is decided by how well a grouping comes back (`grouping`). Works belong to groups by degree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ingest import arrangement_features
from ingest.arrangement_features import Floats, features
from ingest.arrangement_names import difference, name_groups, table_of
from ingest.grouping import Stability, choose_count, cluster, distances, memberships, softness_of, stabilities
from ingest.layout import lay_out
from ingest.measures import Measures
from ingest.signature import GRID, fields

CLEAR = 0.45
"""Below this degree a work is of no clear arrangement."""

_GROUP_AXES = 6
"""Main directions that grouping looks at; further ones are mostly what single pictures have for themselves."""

_MAP_AXES = 12
_NEIGHBOURS = 2
_CHUNK = 4096


@dataclass(frozen=True)
class Neighbour:
    """Another group that lies near: its place among the groups, and what this one has that it has not, in words."""

    group: int
    but: str


@dataclass(frozen=True)
class Group:
    """mean, spread: (GRID, GRID) float32 L*, members turned to face as the medoid does. medoid: row of the most central
    member. members: (row, degree), strongest first. neighbours: nearest first."""

    slug: str
    name: str
    sentence: str
    mean: NDArray[np.float32]
    spread: NDArray[np.float32]
    medoid: int
    members: tuple[tuple[int, float], ...]
    neighbours: tuple[Neighbour, ...]


@dataclass(frozen=True)
class Model:
    """What assigns a new work to the groups that were found.

    middle (f,), axes (a, f): what features are turned into points by. centres: (k, GROUP_AXES). works: how many works
    it was made from. version: of the features.
    """

    middle: Floats
    axes: Floats
    centres: Floats
    softness: float
    works: int
    version: int = arrangement_features.VERSION

    def points(self, signatures: NDArray[np.uint8], measures: Sequence[Measures]) -> Floats:
        """(n, a) points: features along the main directions."""
        return np.asarray((features(signatures, measures) - self.middle) @ self.axes.T)

    def degrees(self, points: Floats) -> Floats:
        """(n, k) memberships of (n, a) points, each row summing to 1."""
        return memberships(points[:, : self.centres.shape[1]], self.centres, self.softness)

    def to_json(self) -> dict[str, Any]:
        return {
            "version": self.version,
            "works": self.works,
            "middle": self.middle.tolist(),
            "axes": self.axes.tolist(),
            "centres": self.centres.tolist(),
            "softness": self.softness,
        }

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Model:
        """KeyError or ValueError when it was stored by another Blotbook in another form."""
        return cls(
            np.array(stored["middle"]),
            np.array(stored["axes"]),
            np.array(stored["centres"]),
            float(stored["softness"]),
            int(stored["works"]),
            int(stored["version"]),
        )


@dataclass(frozen=True)
class Arrangements:
    """groups: found groups, largest first. labels: (n,) group of each work, -1 when none is clear. degrees: (n,)
    membership in the nearest group. places: (n, 2) in 0..1, a map of the works with likes near likes. stability: of
    each number of groups that was tried; empty when the number was given."""

    groups: tuple[Group, ...]
    labels: NDArray[np.int64]
    degrees: Floats
    places: Floats
    model: Model
    stability: dict[int, Stability]


def fit(
    signatures: NDArray[np.uint8],
    types: Floats,
    measures: Sequence[Measures],
    count: int | None = None,
) -> Arrangements:
    """Find and name the groups among n works, and lay the works out on a map.

    signatures: (n, L) uint8. types: (n, T) degrees in the order of `TYPES`. measures: n of them.
    count: number of groups; by default as many as come back best. ValueError with fewer than four works.
    """
    if len(measures) < 4:
        message = "Arrangements need at least four works."
        raise ValueError(message)
    raw = features(signatures, measures)
    middle = raw.mean(axis=0)
    axes = main_axes(raw - middle)
    points = (raw - middle) @ axes.T
    close = points[:, :_GROUP_AXES]
    stability: dict[int, Stability] = {}
    if count is None:
        stability = stabilities(close)
        count = choose_count(stability)
    centres, nearest = cluster(close, min(count, len(close) // 2))
    centres = centres[np.argsort([-np.sum(nearest == group) for group in range(len(centres))], kind="stable")]
    model = Model(middle, axes, centres, softness_of(close, centres), len(measures))
    shares = model.degrees(points)
    nearest = np.argmax(shares, axis=1)
    degrees = shares[np.arange(len(shares)), nearest]
    groups = _describe(signatures, types, measures, close, centres, nearest, shares)
    labels = np.where(degrees >= CLEAR, nearest, -1).astype(np.int64)
    return Arrangements(groups, labels, degrees, lay_out(points), model, stability)


def grouping_points(signatures: NDArray[np.uint8], measures: Sequence[Measures]) -> Floats:
    """(n, a) the points among which `fit` looks for groups: works along the main directions in which they differ."""
    raw = features(signatures, measures)
    centred = raw - raw.mean(axis=0)
    return np.asarray((centred @ main_axes(centred).T)[:, :_GROUP_AXES])


def main_axes(centred: Floats) -> Floats:
    """(a, f) main directions of (n, f) centred features, scaled so that the first has a variance of one; each points
    the way its largest part does, so that they are the same on every run."""
    covariance = centred.T @ centred / max(1, len(centred))
    values, vectors = np.linalg.eigh(covariance)
    kept = vectors[:, ::-1][:, :_MAP_AXES].T
    kept = kept * np.sign(kept[np.arange(len(kept)), np.argmax(np.abs(kept), axis=1)])[:, None]
    return np.asarray(kept / max(1e-9, float(np.sqrt(values[-1]))))


def _describe(
    signatures: NDArray[np.uint8],
    types: Floats,
    measures: Sequence[Measures],
    points: Floats,
    centres: Floats,
    nearest: NDArray[np.int64],
    shares: Floats,
) -> tuple[Group, ...]:
    table = table_of(measures)
    rows = [np.flatnonzero(nearest == group) for group in range(len(centres))]
    medoids = [
        int(here[np.argmin(distances(points[here], centres[group : group + 1])[:, 0])]) if len(here) else 0
        for group, here in enumerate(rows)
    ]
    patterns = [_mean_pattern(signatures, here, medoid) for here, medoid in zip(rows, medoids, strict=True)]
    names = name_groups(nearest, [stretched for *_, stretched in patterns], types, table)
    means = np.array([table[here].mean(axis=0) if len(here) else table.mean(axis=0) for here in rows])
    apart = distances(centres, centres)
    groups = []
    for group, here in enumerate(rows):
        near = [int(other) for other in np.argsort(apart[group], kind="stable") if other != group][:_NEIGHBOURS]
        order = here[np.argsort(-shares[here, group], kind="stable")]
        groups.append(
            Group(
                slug=names[group].slug,
                name=names[group].name,
                sentence=names[group].sentence,
                mean=patterns[group][0],
                spread=patterns[group][1],
                medoid=medoids[group],
                members=tuple((int(row), float(shares[row, group])) for row in order),
                neighbours=tuple(
                    Neighbour(other, difference(means[group], means[other], table.std(axis=0))) for other in near
                ),
            )
        )
    return tuple(groups)


def _mean_pattern(
    signatures: NDArray[np.uint8], rows: NDArray[np.int64], medoid: int
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Mean and spread of the works' patterns, L*, and the mean of the patterns stretched to one spread of tone.

    Each is turned to face as the medoid does; (GRID, GRID) float32.
    """
    model = fields(signatures[medoid : medoid + 1])[0]
    model = model - model.mean()
    sums, squares, stretched = (np.zeros((GRID, GRID)) for _ in range(3))
    for at in range(0, len(rows), _CHUNK):
        patterns = fields(signatures[rows[at : at + _CHUNK]])
        turned = (patterns * model).sum(axis=(1, 2)) < (patterns[:, :, ::-1] * model).sum(axis=(1, 2))
        patterns = np.where(turned[:, None, None], patterns[:, :, ::-1], patterns)
        sums += patterns.sum(axis=0)
        squares += (patterns.astype(np.float64) ** 2).sum(axis=0)
        tones = patterns - patterns.mean(axis=(1, 2), keepdims=True)
        stretched += (tones / np.maximum(patterns.std(axis=(1, 2), keepdims=True), 1.0)).sum(axis=0)
    count = max(1, len(rows))
    mean = sums / count
    spread = np.sqrt(np.maximum(squares / count - mean**2, 0.0))
    return mean.astype(np.float32), spread.astype(np.float32), (stretched / count).astype(np.float32)
