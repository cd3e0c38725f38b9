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

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from ingest.enlarging import enlarged
from ingest.lightness import FloatArray, grey_code
from ingest.parting import Parting
from ingest.shapes import Shapes
from ingest.windows import extreme, share_around

Labels = NDArray[np.uint8]

OUTSIDE = 255
"""Label of a pixel that is not picture."""

MAP_LIGHTNESS: dict[int, tuple[float, ...]] = {
    2: (20.0, 94.0),
    3: (20.0, 56.0, 94.0),
    5: (20.0, 38.5, 57.0, 75.5, 94.0),
}
"""L* in which the values are shown, darkest first: charcoal on good paper, and even steps between (common practice)."""

_SMALLEST = 0.0025
"""Shapes under this share of the picture are specks."""

_LEAST_GAP = 5.0
_LEAST_GAP_SHARE = 0.165
"""Least step between neighbouring values, as a share of the step from dark to light; below it there are two values."""

_GAP_DOUBT = 0.12
"""Width over which the thresholds pass from those of two values to those of three. In between they cross the tones of
the largest value: the narrower this is, the further a hair moves them."""

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
        counts = np.bincount(self.labels.ravel(), minlength=OUTSIDE + 1)[: len(self.means)]
        return tuple(float(count) for count in counts / max(1, counts.sum()))


def value_map(squinted: FloatArray, values: int = 3, mask: NDArray[np.bool_] | None = None) -> ValueMap:
    """Lay a squinted picture, (h, w) float32 L* 0..100, in 2, 3 or 5 values; ValueError for another number."""
    return value_maps(squinted, (values,), mask)[values]


def value_maps(
    squinted: FloatArray, wanted: Iterable[int], mask: NDArray[np.bool_] | None = None
) -> dict[int, ValueMap]:
    """The same for several numbers of values, by number; the tones are counted once for all of them."""
    tones = squinted if mask is None else squinted[mask]
    parting = Parting(tones)
    return {values: _laid(squinted, values, mask, tones, parting) for values in wanted}


def _laid(
    squinted: FloatArray, values: int, mask: NDArray[np.bool_] | None, tones: FloatArray, parting: Parting
) -> ValueMap:
    if values not in MAP_LIGHTNESS:
        message = f"A value map has 2, 3 or 5 values, not {values}."
        raise ValueError(message)
    thresholds, distinct = _thresholds(parting, values)
    labels = lay(squinted, thresholds, mask)
    places = labels.ravel().astype(np.intp)
    counts = np.bincount(places, minlength=values)
    sums = np.bincount(places, squinted.ravel(), minlength=values)
    means = tuple(
        float(sums[value] / counts[value]) if counts[value] else shown
        for value, shown in enumerate(MAP_LIGHTNESS[values])
    )
    unsure = tuple(np.count_nonzero(np.abs(tones - np.float32(edge)) < 3.0) / tones.size for edge in thresholds)
    return ValueMap(labels, thresholds, means, unsure, distinct)


def find_thresholds(tones: FloatArray, values: int) -> tuple[tuple[float, ...], int]:
    """Thresholds in L* that part the tones (any shape) into values, and how many values are really there."""
    return _thresholds(Parting(tones), values)


def _thresholds(parting: Parting, values: int) -> tuple[tuple[float, ...], int]:
    low, high = parting.low, parting.high
    if high - low < _LEAST_GAP:
        # One tone: everything is middle, so that a blank sheet shows no shapes at all.
        middle = (low + high) / 2
        spread = np.linspace(-1, 1, values - 1) * 25 if values > 2 else np.array([-25.0])
        return tuple(float(middle + step) for step in spread), 1
    thresholds = parting.thresholds(values)
    if values != 3:
        return tuple(float(edge) for edge in thresholds), values
    centres, weights = parting.centres, parting.weights
    means = parting.means(thresholds)
    gap = float(np.diff(means).min()) / max(1e-6, float(means[-1] - means[0]))
    dark_share, middle, light_share = np.bincount(np.digitize(centres, thresholds), weights, minlength=3)
    cut = parting.thresholds(2)
    dark, light = parting.means(cut)
    within = float(weights @ (centres - np.where(centres < cut[0], dark, light)) ** 2)
    left_over = within / parting.variance
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
        thresholds = parting.between(apart, thresholds, three)
    return tuple(float(edge) for edge in thresholds), 3 if three >= 0.5 else 2


def _ramp(found: float, least: float, doubt: float) -> float:
    """0 to 1 as what is found passes from below to above the least, over a width of doubt."""
    return float(np.clip((found - least) / doubt + 0.5, 0.0, 1.0))


def lay(squinted: FloatArray, thresholds: tuple[float, ...], mask: NDArray[np.bool_] | None = None) -> Labels:
    """Clean shapes, (h, w) uint8, of a squinted picture, (h, w) float32 L*, parted at rising thresholds in L*."""
    labels = np.zeros(squinted.shape, dtype=np.uint8)
    for threshold in thresholds:
        labels += squinted >= np.float32(threshold)
    radius = max(1.0, _NEIGHBOURHOOD * float(np.hypot(*squinted.shape)))
    labels = _without_rims(labels, squinted, thresholds, round(radius) + 1)
    far = _far(squinted, thresholds)
    for _ in range(_ROUNDS):
        labels = _heard(labels, far, radius)
    labels = _without_specks(labels, mask)
    if mask is not None:
        labels[~mask] = OUTSIDE
    return labels


def _far(squinted: FloatArray, thresholds: tuple[float, ...]) -> list[FloatArray]:
    """How far the tone of each pixel is from each value, (h, w) by value: 0 within it, 1 where it is firmly another."""
    past = [np.clip((squinted - np.float32(threshold)) / np.float32(_FIRM), -1.0, 1.0) for threshold in thresholds]
    above = [np.maximum(way, 0.0) for way in past]
    below = [np.subtract(beyond, way, out=way) for beyond, way in zip(above, past, strict=True)]
    between = [np.add(one, other) for one, other in zip(below, above[1:], strict=False)]
    return [above[0], *between, below[-1]]


def _heard(labels: Labels, far: list[FloatArray], radius: float) -> Labels:
    """Each pixel given the value that its own tone, far (h, w) by value, and its neighbourhood together speak for."""
    heard = np.zeros(labels.shape, dtype=np.uint8)
    voice = share_around(labels == 0, radius)
    left = 1 - voice
    least = far[0] - voice
    for value in range(1, len(far)):
        if value < len(far) - 1:
            voice = share_around(labels == value, radius)
            left -= voice
        else:
            voice = left  # the voices sum to one
        cost = np.subtract(far[value], voice, out=voice)
        lower = cost < least
        np.maximum(heard, lower.view(np.uint8) * np.uint8(value), out=heard)
        np.minimum(least, cost, out=least)
    return heard


def _without_rims(labels: Labels, squinted: FloatArray, thresholds: tuple[float, ...], reach: int) -> Labels:
    """Thin seams of a between-value where a lighter and a darker value touch go to whichever they are nearer."""
    if len(thresholds) == 1:
        return labels
    darkest = extreme(labels, reach, np.minimum)
    lightest = extreme(labels, reach, np.maximum)
    seam = (darkest < labels) & (lightest > labels)
    # What is thick enough to hold a window of one value: every value is a bit, so that all are widened at once.
    core = np.where(darkest == lightest, np.uint8(1) << labels, np.uint8(0))
    seam &= (extreme(core, reach, np.bitwise_or) >> labels) & 1 == 0
    middles = np.array([(one + other) / 2 for one, other in pairwise(thresholds)], dtype=np.float32)
    lighter = squinted[seam] >= middles[labels[seam] - 1]
    result = labels.copy()
    result[seam] = np.where(lighter, lightest[seam], darkest[seam])
    return result


def _without_specks(labels: Labels, mask: NDArray[np.bool_] | None) -> Labels:
    """Shapes too small to be drawn join the value nearest to them."""
    inside = labels.size if mask is None else int(mask.sum())
    for _ in range(3):
        shapes = Shapes.of(labels)
        small = shapes.area < _SMALLEST * inside
        if not small.any() or small.all():
            break
        specks = shapes.over_pixels(small)
        runs = shapes.runs.chosen(small[shapes.number])
        # What is nearest to a pixel of a speck lies in the box of the specks that touch one another, or just beside it.
        clusters, _ = ndimage.label(specks, np.ones((3, 3)))
        labels = labels.copy()
        for rows, columns in runs.boxes(clusters[runs.row, runs.start] - 1):
            box = slice(max(0, rows.start - 1), rows.stop + 1), slice(max(0, columns.start - 1), columns.stop + 1)
            near = ndimage.distance_transform_edt(specks[box], return_distances=False, return_indices=True)
            labels[box] = labels[box][near[0], near[1]]
    return labels


def map_picture(labels: Labels, values: int, side: int | None = None) -> Image.Image:
    """The map in its plain greys, mode L; with `side`, enlarged so that its longest side has as many pixels.

    What lies outside the picture is shown as paper white (code 255), which no value uses.
    """
    greys = np.full(256, 255, dtype=np.uint8)
    greys[:values] = [grey_code(tone) for tone in MAP_LIGHTNESS[values]]
    if side is not None and side > max(labels.shape):
        labels = enlarged(labels, values, side, OUTSIDE)
    return Image.fromarray(greys[labels])
