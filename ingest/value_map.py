"""The picture laid in two, three or five values, as clean shapes.

The three-value map follows the way a study is drawn: the lights are left as paper, everything else is laid in one
middle grey, and the darks are developed within it. Where light ends and dark begins is found from the picture:
the thresholds make the values differ as much as they can from one another and as little as they can within
themselves (Otsu 1979; for several values Liao, Chen & Chung 2001, J. Inf. Sci. Eng. 17:713), never from fixed
shares of the area. A picture that has only two values gets no invented middle.

Shapes are then cleaned by threshold dynamics (Merriman, Bence & Osher 1992; Esedoglu & Otto 2015): each pixel takes
the value that its own tone and its neighbourhood together speak for, which shortens ragged borders, and what is
too small to be drawn joins the value that surrounds it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage
from skimage import measure

from ingest.lightness import FloatArray, grey_code

Labels = NDArray[np.uint8]

OUTSIDE = 255
"""Label of a pixel that is not picture."""

MAP_LIGHTNESS: dict[int, tuple[float, ...]] = {
    2: (20.0, 94.0),
    3: (20.0, 56.0, 94.0),
    5: (20.0, 38.5, 57.0, 75.5, 94.0),
}
"""L* in which the values are shown, darkest first: charcoal on good paper, and even steps between (common practice)."""

_BINS = 200
_SMALLEST = 0.0025
"""Shapes under this share of the picture are specks."""

_LEAST_GAP = 5.0
_LEAST_GAP_SHARE = 0.18
"""Least step between neighbouring values, as a share of the step from dark to light; below it there are two values."""

_GAP_DOUBT = 0.06

_LEAST_MIDDLE = 0.02
"""Least share of the tones between light and dark; less is the border between them, not a value."""

_LEAST_LEFT_OVER = 0.02
"""Least share of the variance of tone that two values leave unexplained when there are three."""

_LEAST_ACCENT = 0.002
"""Least share of the tones that makes a light or a dark; a small one may be the point of the picture."""
_FIRM = 12.0
"""L* past a threshold at which a tone no longer listens to its neighbours."""

_ROUNDS = 2

_NEIGHBOURHOOD = 0.0045
"""Radius of the neighbourhood that speaks for a border, as a share of the diagonal."""


@dataclass(frozen=True)
class ValueMap:
    """labels: (h, w) uint8, 0 = darkest … n-1 = lightest, OUTSIDE where there is no picture.
    thresholds: n-1 L* values, rising.
    means: mean L* of each value, darkest first (the shown grey where a value is absent).
    unsure: per threshold, the share of the picture that lies within 3 L* of it.
    distinct: how many values the picture really has (1 when flat, 2 when the middle is empty, else n).
    """

    labels: Labels
    thresholds: tuple[float, ...]
    means: tuple[float, ...]
    unsure: tuple[float, ...]
    distinct: int

    def shares(self) -> tuple[float, ...]:
        """Share of the picture in each value, darkest first; they sum to 1."""
        inside = self.labels[self.labels != OUTSIDE]
        counts = np.bincount(inside, minlength=len(self.means))[: len(self.means)]
        return tuple(float(count) for count in counts / max(1, inside.size))


def value_map(squinted: FloatArray, values: int = 3, mask: NDArray[np.bool_] | None = None) -> ValueMap:
    """Lay a squinted picture, (h, w) float32 L* 0..100, in 2, 3 or 5 values; ValueError for another number."""
    if values not in MAP_LIGHTNESS:
        message = f"A value map has 2, 3 or 5 values, not {values}."
        raise ValueError(message)
    tones = squinted if mask is None else squinted[mask]
    thresholds, distinct = find_thresholds(tones, values)
    labels = lay(squinted, thresholds, mask)
    means = tuple(
        float(squinted[labels == value].mean()) if (labels == value).any() else shown
        for value, shown in enumerate(MAP_LIGHTNESS[values])
    )
    unsure = tuple(float((np.abs(tones - edge) < 3.0).mean()) for edge in thresholds)
    return ValueMap(labels, thresholds, means, unsure, distinct)


def find_thresholds(tones: FloatArray, values: int) -> tuple[tuple[float, ...], int]:
    """Thresholds in L* that part the tones (any shape) into values, and how many values are really there."""
    counts, edges = _histogram(tones)
    centres = (edges[:-1] + edges[1:]) / 2
    weights = ndimage.gaussian_filter1d(counts.astype(np.float64), 2.0, mode="constant")
    weights /= weights.sum()
    low, high = np.percentile(tones, [2, 98])
    if high - low < _LEAST_GAP:
        # One tone: everything is middle, so that a blank sheet shows no shapes at all.
        middle = (low + high) / 2
        spread = np.linspace(-1, 1, values - 1) * 25 if values > 2 else np.array([-25.0])
        return tuple(float(middle + step) for step in spread), 1
    thresholds = _part(centres, weights, values)
    if values != 3:
        return tuple(float(edge) for edge in thresholds), values
    means = _class_means(centres, weights, thresholds)
    gap = float(np.diff(means).min()) / max(1e-6, float(means[-1] - means[0]))
    dark_share, middle, light_share = np.bincount(np.digitize(centres, thresholds), weights, minlength=3)
    cut = _part(centres, weights, 2)
    dark, light = _class_means(centres, weights, cut)
    within = float(weights @ (centres - np.where(centres < cut[0], dark, light)) ** 2)
    left_over = within / float(weights @ (centres - weights @ centres) ** 2)
    three = min(
        _ramp(gap, _LEAST_GAP_SHARE, _GAP_DOUBT),
        _ramp(float(middle), _LEAST_MIDDLE, _LEAST_MIDDLE),
        _ramp(float(min(dark_share, light_share)), _LEAST_ACCENT, _LEAST_ACCENT),
        _ramp(left_over, _LEAST_LEFT_OVER, _LEAST_LEFT_OVER),
    )
    if three < 1.0:
        # Two values: the middle is what lies between them, and hardly anything does. Where it is doubtful whether there
        # are two or three, the thresholds pass evenly from the one reading to the other.
        apart = np.array([dark + (light - dark) / 3, dark + (light - dark) * 2 / 3])
        thresholds = three * thresholds + (1 - three) * apart
    return tuple(float(edge) for edge in thresholds), 3 if three >= 0.5 else 2


def _histogram(tones: FloatArray) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Counts of L* in `_BINS` bins over 0..100 and their edges, in a third of the time of the general one."""
    places = (tones.ravel() * np.float32(_BINS / 100)).astype(np.int32)
    return np.bincount(places.clip(0, _BINS - 1), minlength=_BINS), np.linspace(0.0, 100.0, _BINS + 1)


def _ramp(found: float, least: float, doubt: float) -> float:
    """0 to 1 as what is found passes from below to above the least, over a width of doubt."""
    return float(np.clip((found - least) / doubt + 0.5, 0.0, 1.0))


def _part(
    centres: NDArray[np.float64], weights: NDArray[np.float64], values: int, doubt: float = 0.002
) -> NDArray[np.float64]:
    """L* at which each value but the lightest ends, (values - 1,).

    Every way of parting the tones counts by how much between-class variance it explains, the best ones nearly alone:
    the mean under a Gibbs distribution whose temperature is `doubt` of the variance. The single best parting jumps when
    two are nearly as good; this mean passes smoothly between them, and lies in the middle of an empty valley.
    """
    mass = np.concatenate([[0.0], np.cumsum(weights)])
    moment = np.concatenate([[0.0], np.cumsum(weights * centres)])
    mean = moment[-1]
    variance = float(weights @ (centres - mean) ** 2)
    inside = mass[None, :] - mass[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        explained = np.where(inside > 1e-12, (moment[None, :] - moment[:, None] - mean * inside) ** 2 / inside, 0.0)
    part = np.where(np.triu(np.ones_like(explained), 1) > 0, explained / (variance * doubt), -np.inf)
    from_start = [part[0]]
    to_end = [part[:, -1]]
    for _ in range(values - 2):
        from_start.append(_log_sum(from_start[-1][:, None] + part, axis=0))
        to_end.append(_log_sum(part + to_end[-1][None, :], axis=1))
    edges = np.concatenate([[0.0], (centres[:-1] + centres[1:]) / 2, [100.0]])
    found = []
    for number in range(values - 1):
        chance = from_start[number] + to_end[values - 2 - number]
        chance = np.exp(chance - chance.max())
        found.append(float(chance @ edges / chance.sum()))
    return np.array(found)


def _log_sum(terms: NDArray[np.float64], axis: int) -> NDArray[np.float64]:
    top = terms.max(axis=axis, keepdims=True)
    top = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.exp(terms - top).sum(axis=axis)) + np.squeeze(top, axis=axis))


def _class_means(
    centres: NDArray[np.float64], weights: NDArray[np.float64], thresholds: NDArray[np.float64]
) -> NDArray[np.float64]:
    value = np.digitize(centres, thresholds)
    count = len(thresholds) + 1
    held = np.bincount(value, weights, minlength=count)
    middles = np.convolve(np.concatenate([[0.0], thresholds, [100.0]]), [0.5, 0.5], mode="valid")
    return np.where(
        held > 1e-9, np.bincount(value, weights * centres, minlength=count) / np.maximum(held, 1e-12), middles
    )


def lay(squinted: FloatArray, thresholds: tuple[float, ...], mask: NDArray[np.bool_] | None = None) -> Labels:
    """Clean shapes, (h, w) uint8, of a squinted picture, (h, w) float32 L*, parted at rising thresholds in L*."""
    values = len(thresholds) + 1
    bounds = np.array([-np.inf, *thresholds, np.inf], dtype=np.float32)
    far = np.stack(
        [np.clip(np.maximum(bounds[k] - squinted, squinted - bounds[k + 1]), 0.0, _FIRM) / _FIRM for k in range(values)]
    )
    radius = max(1.0, _NEIGHBOURHOOD * float(np.hypot(*squinted.shape)))
    labels = np.zeros(squinted.shape, dtype=np.uint8)
    for threshold in thresholds:
        labels += squinted >= np.float32(threshold)
    labels = _without_rims(labels, squinted, thresholds, round(radius) + 1)
    for _ in range(_ROUNDS):
        labels = _heard(labels, far, radius)
    labels = _without_specks(labels, mask)
    if mask is not None:
        labels[~mask] = OUTSIDE
    return labels


def _heard(labels: Labels, far: FloatArray, radius: float) -> Labels:
    """Each pixel given the value that its own tone, far (n, h, w), and its neighbourhood together speak for."""
    heard = np.zeros(labels.shape, dtype=np.uint8)
    left = np.ones(labels.shape, dtype=np.float32)
    least = np.full(labels.shape, np.inf, dtype=np.float32)
    for value in range(len(far)):
        if value < len(far) - 1:
            voice = ndimage.gaussian_filter((labels == value).astype(np.float32), radius, mode="nearest", truncate=2.0)
            left -= voice
        else:
            voice = left  # the voices sum to one
        cost = far[value] - voice
        better = cost < least
        heard[better] = value
        np.minimum(least, cost, out=least)
    return heard


def _without_rims(labels: Labels, squinted: FloatArray, thresholds: tuple[float, ...], reach: int) -> Labels:
    """Thin seams of a between-value where a lighter and a darker value touch go to whichever they are nearer."""
    window = 2 * reach + 1
    darkest = ndimage.minimum_filter(labels, window)
    lightest = ndimage.maximum_filter(labels, window)
    result = labels.copy()
    for value in range(1, len(thresholds)):
        here = labels == value
        between = here & (darkest < value) & (lightest > value)
        if not between.any():
            continue
        thick = ndimage.maximum_filter(ndimage.minimum_filter(here.view(np.uint8), window), window)
        thin = between & (thick == 0)
        middle = (thresholds[value - 1] + thresholds[value]) / 2
        result[thin] = np.where(squinted[thin] < middle, darkest[thin], lightest[thin])
    return result


def _without_specks(labels: Labels, mask: NDArray[np.bool_] | None) -> Labels:
    """Shapes too small to be drawn join the value nearest to them."""
    inside = labels.size if mask is None else int(mask.sum())
    least = _SMALLEST * inside
    for _ in range(3):
        shapes = measure.label(labels, background=OUTSIDE, connectivity=1)
        small = np.bincount(shapes.ravel()) < least
        small[0] = False
        specks = small[shapes]
        if not specks.any() or specks.all():
            break
        nearest = ndimage.distance_transform_edt(specks, return_distances=False, return_indices=True)
        labels = labels[nearest[0], nearest[1]]
    return labels


def map_picture(labels: Labels, values: int, side: int | None = None) -> Image.Image:
    """The map in its plain greys, mode L; with `side`, enlarged so that its longest side has as many pixels.

    What lies outside the picture is shown as paper white (code 255), which no value uses.
    """
    greys = np.full(256, 255, dtype=np.uint8)
    greys[:values] = [grey_code(tone) for tone in MAP_LIGHTNESS[values]]
    if side is not None and side > max(labels.shape):
        labels = _enlarge(labels, values, side)
    return Image.fromarray(greys[labels])


def _enlarge(labels: Labels, values: int, side: int) -> Labels:
    """Labels at a larger size with smooth contours: each value is enlarged as a soft shape and the strongest wins."""
    scale = side / max(labels.shape)
    size = (round(labels.shape[1] * scale), round(labels.shape[0] * scale))
    chosen: Labels = np.zeros(size[::-1], dtype=np.uint8)
    strongest = np.full(size[::-1], -np.inf, dtype=np.float32)
    for name in (*range(values), OUTSIDE):
        here = labels == name
        if not here.any():
            continue
        soft = Image.fromarray(ndimage.gaussian_filter(here.astype(np.float32), 1.0))
        layer = np.asarray(soft.resize(size, Image.Resampling.BICUBIC))
        chosen[layer > strongest] = name
        np.maximum(strongest, layer, out=strongest)
    return chosen
