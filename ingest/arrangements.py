"""Groups of works built alike, found from the pictures themselves and named afterwards.

The groups are found by k-means on how each picture lays out its tone: the pattern on a small frame, and measures of
shape and proportion. They are found without being told the named types of `arrangement_types`; the types then give a
group its name, by what sets its members apart. How many groups there are is decided by how well the grouping of one
half of the works predicts the grouping of the other half (Tibshirani & Walther 2005, prediction strength).

A picture and its mirror image are laid out alike, so features do not tell left from right.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ingest.arrangement_types import TYPES
from ingest.measures import Measures
from ingest.signature import GRID, fields

Floats = NDArray[np.float64]

_COARSE = 8
_SEED = 1783
_FEWEST, _MOST = 5, 12
_CLEAR = 0.45
"""Below this degree a work is of no clear arrangement."""

_LEAST_SPREAD = 4.0
"""L*; flatter pictures are not stretched any further when patterns are compared."""


@dataclass(frozen=True)
class Group:
    """mean, spread: (GRID, GRID) float32 L*, members turned to face as the medoid does. medoid: row of the most central
    member. members: (row, degree), strongest first. telling: what sets the group apart, strongest first, as
    (measure, group mean, mean of all, difference in standard deviations)."""

    slug: str
    name: str
    sentence: str
    mean: NDArray[np.float32]
    spread: NDArray[np.float32]
    medoid: int
    members: tuple[tuple[int, float], ...]
    telling: tuple[tuple[str, float, float, float], ...]


@dataclass(frozen=True)
class Model:
    """What assigns a new work to the groups that were found: centres (k, f) in standardised features."""

    slugs: tuple[str, ...]
    middle: Floats
    scale: Floats
    centres: Floats
    softness: float

    def degrees(self, signatures: NDArray[np.uint8], measures: Sequence[Measures]) -> Floats:
        """(n, k) memberships, each row summing to 1."""
        return _memberships((features(signatures, measures) - self.middle) / self.scale, self.centres, self.softness)

    def to_json(self) -> dict[str, Any]:
        return {
            "slugs": list(self.slugs),
            "middle": self.middle.tolist(),
            "scale": self.scale.tolist(),
            "centres": self.centres.tolist(),
            "softness": self.softness,
        }

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Model:
        return cls(
            tuple(stored["slugs"]),
            np.array(stored["middle"]),
            np.array(stored["scale"]),
            np.array(stored["centres"]),
            float(stored["softness"]),
        )


@dataclass(frozen=True)
class Arrangements:
    """groups: found groups, largest first. labels: (n,) group of each work, -1 when none is clear. degrees: (n,)
    membership in the nearest group. strength: prediction strength for each number of groups that was tried."""

    groups: tuple[Group, ...]
    labels: NDArray[np.int64]
    degrees: Floats
    model: Model
    strength: dict[int, float]


def features(signatures: NDArray[np.uint8], measures: Sequence[Measures]) -> Floats:
    """(n, f) features that do not tell left from right; each block of columns carries about the same weight."""
    patterns = fields(signatures)
    patterns = patterns - patterns.mean(axis=(1, 2), keepdims=True)
    patterns /= np.maximum(patterns.std(axis=(1, 2), keepdims=True), _LEAST_SPREAD)
    step = GRID // _COARSE
    coarse = patterns.reshape(-1, _COARSE, step, _COARSE, step).mean(axis=(2, 4))
    even = (coarse + coarse[:, :, ::-1])[:, :, : _COARSE // 2] / 2
    odd = np.abs(coarse - coarse[:, :, ::-1])[:, :, : _COARSE // 2].mean(axis=2) / 2
    told = np.array([_told(item) for item in measures])
    return np.concatenate(
        [
            even.reshape(len(even), -1) / np.sqrt(even[0].size),
            odd / np.sqrt(odd.shape[1]) / 2,
            told / np.sqrt(told.shape[1]),
        ],
        axis=1,
    )


def _told(m: Measures) -> tuple[float, ...]:
    """Measures as numbers of about equal spread, without left or right."""
    return (
        4 * m.light,
        4 * m.mid,
        4 * m.dark,
        np.log2(1 + m.light_masses),
        np.log2(1 + m.dark_masses),
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


def fit(
    signatures: NDArray[np.uint8],
    types: NDArray[np.float64],
    measures: Sequence[Measures],
    count: int | None = None,
) -> Arrangements:
    """Find and name the groups among n works.

    signatures: (n, L) uint8. types: (n, T) degrees in the order of `TYPES`. measures: n of them.
    count: number of groups; by default chosen by prediction strength. ValueError with fewer than four works.
    """
    if len(measures) < 4:
        message = "Arrangements need at least four works."
        raise ValueError(message)
    raw = features(signatures, measures)
    middle, scale = raw.mean(axis=0), np.full(raw.shape[1], max(1e-9, float(raw.std(axis=0).mean())))
    points = (raw - middle) / scale
    strength: dict[int, float] = {}
    if count is None:
        strength = prediction_strengths(points)
        count = choose_count(strength, len(points))
    centres, nearest = _cluster(points, min(count, len(points) // 2))
    softness = _softness(points, centres)
    shares = _memberships(points, centres, softness)
    order = np.argsort([-np.sum(nearest == group) for group in range(len(centres))], kind="stable")
    centres, shares = centres[order], shares[:, order]
    nearest = np.argmax(shares, axis=1)
    degrees = shares[np.arange(len(shares)), nearest]
    names = _names(nearest, types, measures, len(centres))
    groups = tuple(
        _describe_group(number, names[number], points, shares, nearest, signatures, measures, centres)
        for number in range(len(centres))
    )
    model = Model(tuple(group.slug for group in groups), middle, scale, centres, softness)
    labels = np.where(degrees >= _CLEAR, nearest, -1).astype(np.int64)
    return Arrangements(groups, labels, degrees, model, strength)


def prediction_strengths(points: Floats, splits: int = 6) -> dict[int, float]:
    """Mean prediction strength for each number of groups worth trying, from seeded halvings of the works."""
    rng = np.random.default_rng(_SEED)
    most = min(_MOST, len(points) // 8)
    counts = range(2, _FEWEST) if most < _FEWEST else range(_FEWEST, most + 1)
    halves = [rng.permutation(len(points)) for _ in range(splits)]
    found = {}
    for count in counts:
        if count * 2 > len(points) // 2:
            break
        found[count] = float(np.mean([_strength(points, half, count) for half in halves]))
    return found or {2: 0.0}


def choose_count(strength: dict[int, float], works: int) -> int:
    """The number of groups with the best prediction strength; with few works, as few groups."""
    return max(strength, key=lambda count: (strength[count], count)) if works >= 16 else 2


def _strength(points: Floats, order: NDArray[np.int64], count: int) -> float:
    """Share of pairs, averaged over groups of one half, that the other half's centres also put together."""
    first, second = points[order[: len(order) // 2]], points[order[len(order) // 2 :]]
    centres, _ = _cluster(first, count, starts=2)
    _, own = _cluster(second, count, starts=2)
    told = np.argmin(((second[:, None] - centres[None]) ** 2).sum(axis=2), axis=1)
    kept = []
    for group in range(count):
        members = told[own == group]
        if len(members) > 1:
            pairs = len(members) * (len(members) - 1)
            sizes = np.bincount(members)
            kept.append(float((sizes * (sizes - 1)).sum()) / pairs)
    return float(np.mean(kept)) if kept else 0.0


def _cluster(points: Floats, count: int, starts: int = 8) -> tuple[Floats, NDArray[np.int64]]:
    from sklearn.cluster import KMeans  # slow to import, and only fitting needs it

    fitted = KMeans(count, n_init=starts, random_state=_SEED).fit(points)
    return np.asarray(fitted.cluster_centers_), np.asarray(fitted.labels_, dtype=np.int64)


def _distances(points: Floats, centres: Floats) -> Floats:
    squares = (points**2).sum(axis=1)[:, None] - 2 * points @ centres.T + (centres**2).sum(axis=1)[None, :]
    return np.asarray(np.maximum(squares, 0.0))


def _softness(points: Floats, centres: Floats) -> float:
    """Scale of the memberships: the median step from a work's nearest centre to its second nearest."""
    two = np.partition(_distances(points, centres), 1, axis=1)[:, :2]
    return max(1e-9, float(np.median(two[:, 1] - two[:, 0])) / 2)


def _memberships(points: Floats, centres: Floats, softness: float) -> Floats:
    weights = -_distances(points, centres) / (2 * softness)
    weights = np.exp(weights - weights.max(axis=1, keepdims=True))
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))


def _names(
    nearest: NDArray[np.int64], types: NDArray[np.float64], measures: Sequence[Measures], count: int
) -> list[tuple[str, str, str]]:
    """(slug, name, sentence) of each group: the type by which it stands out most, each type used once.

    A group that no type sets apart is named by its quantities.
    """
    spread = np.maximum(types.std(axis=0), 0.05)
    lift = np.array(
        [
            (types[nearest == group].mean(axis=0) - types.mean(axis=0)) / spread
            if (nearest == group).any()
            else np.zeros(types.shape[1])
            for group in range(count)
        ]
    )
    names: dict[int, tuple[str, str, str]] = {}
    for flat in np.argsort(-lift, axis=None, kind="stable"):
        group, number = divmod(int(flat), types.shape[1])
        if lift[group, number] < 0.2 or group in names:
            continue
        kind = TYPES[number]
        if all(kind.slug != taken[0] for taken in names.values()):
            names[group] = (kind.slug, kind.name, kind.sentence)
    for group in range(count):
        if group not in names:
            names[group] = _plain_name(group, [m for m, at in zip(measures, nearest, strict=True) if at == group])
    return [names[group] for group in range(count)]


def _plain_name(group: int, members: Sequence[Measures]) -> tuple[str, str, str]:
    light = float(np.mean([m.light for m in members])) if members else 1 / 3
    dark = float(np.mean([m.dark for m in members])) if members else 1 / 3
    name = "mostly light" if light > max(dark, 0.4) else "mostly dark" if dark > max(light, 0.4) else "evenly shared"
    sentence = f"On average {light:.0%} light and {dark:.0%} dark, without a layout that sets them apart."
    return f"{name.replace(' ', '-')}-{group + 1}", name, sentence


def _describe_group(
    number: int,
    named: tuple[str, str, str],
    points: Floats,
    shares: Floats,
    nearest: NDArray[np.int64],
    signatures: NDArray[np.uint8],
    measures: Sequence[Measures],
    centres: Floats,
) -> Group:
    rows = np.flatnonzero(nearest == number)
    near = _distances(points[rows], centres[number : number + 1])[:, 0]
    medoid = int(rows[np.argmin(near)])
    strongest = rows[np.argsort(-shares[rows, number], kind="stable")]
    patterns = fields(signatures[rows])
    model = fields(signatures[medoid : medoid + 1])[0]
    mirrored = patterns[:, :, ::-1]
    facing = np.where((_likeness(patterns, model) >= _likeness(mirrored, model))[:, None, None], patterns, mirrored)
    slug, name, sentence = named
    return Group(
        slug=slug,
        name=name,
        sentence=sentence,
        mean=facing.mean(axis=0).astype(np.float32),
        spread=facing.std(axis=0).astype(np.float32),
        medoid=medoid,
        members=tuple((int(row), float(shares[row, number])) for row in strongest),
        telling=_telling(rows, measures),
    )


def _likeness(patterns: NDArray[np.float32], model: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.asarray(
        ((patterns - patterns.mean(axis=(1, 2), keepdims=True)) * (model - model.mean())).sum(axis=(1, 2))
    )


_TOLD = (
    "light", "mid", "dark", "light_masses", "dark_masses", "breadth_light", "breadth_dark", "crispness",
    "rows_explained", "columns_explained", "slant_explained", "radial_explained", "edge_light", "edge_dark",
    "gradation", "interchange", "median_lightness", "lightness_span",
)  # fmt: skip


def _telling(rows: NDArray[np.int64], measures: Sequence[Measures]) -> tuple[tuple[str, float, float, float], ...]:
    table = np.array([[float(getattr(m, name)) for name in _TOLD] for m in measures])
    mean, spread = table.mean(axis=0), np.maximum(table.std(axis=0), 1e-6)
    here = table[rows].mean(axis=0)
    apart = (here - mean) / spread
    order = np.argsort(-np.abs(apart), kind="stable")[:5]
    return tuple((_TOLD[at], float(here[at]), float(mean[at]), float(apart[at])) for at in order)
