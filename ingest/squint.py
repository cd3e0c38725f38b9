"""Squinting: detail falls away, shapes stay crisp.

A painter half closes her eyes until brushwork, hatching and small incident melt into their mean tone while the
edges of the large shapes stand. A plain blur does the first and ruins the second: it lays a grey rim wherever
light touches dark, and a value map made from it shows a middle tone that nobody painted.

Method: rolling guidance (Zhang, Shen, Xu & Jia 2014, 'Rolling Guidance Filter', ECCV). A Gaussian blur first
removes everything smaller than the squint; then the picture is averaged again and again over neighbours that
are *alike in the previous result*, which grows the large edges back at full strength while the small
structures, absent from the guide, never return. The averages are taken of linear light, as the eye and a lens
take them (black and white hatching in equal parts becomes L* 76, not 50); likeness is judged in L*, as the eye
judges it. The averaging over likes is done on a bilateral grid (Paris & Durand 2006, ECCV; Chen, Paris & Durand
2007, SIGGRAPH), whose cost does not grow with the radius.

How much: the radius is the standard deviation of the blur as a share of the picture's diagonal. 0.02, the
default, leaves about 15 marks across the picture: below the 15 to 18 samples at which a face stops being a
person (Bachmann 1991, Eur. J. Cogn. Psychol. 3:87) and near the marks that a stick of charcoal can make across a
thumbnail. 0.005 only takes off the brushwork; 0.04 is a blot. It is a drawing convention, not the optics of
anybody's eyelids.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import FloatArray, lightness_CIE1976

DEFAULT_SHARE = 0.02
"""Blur radius (standard deviation) as a share of the diagonal."""

SHARE_RANGE = (0.002, 0.08)

_LIKENESS = (4.0, 8.0)
"""L* by which two tones may differ and still be averaged together: an eighth of the picture's span of tones, at most
under one Munsell step; a misty picture's values lie closer."""

_BAND = 48
"""Rows of pixels that are read back from the grid at once."""

_ROUNDS = 3
"""Rounds of guided averaging; after three a black and white edge is back within a pixel."""


def squint(luminance: FloatArray, share: float = DEFAULT_SHARE, mask: NDArray[np.bool_] | None = None) -> FloatArray:
    """The picture seen with half-closed eyes.

    luminance: (h, w) float32, relative luminance Y/Yn in linear light, 0..1.
    share: blur radius as a share of the diagonal, within `SHARE_RANGE`; ValueError outside it.
    mask: (h, w) bool, True where there is picture; nothing outside it is seen, and the result is continued there from
    the nearest picture so that no false edge stands at its border.
    Returns (h, w) float32, L* 0..100.
    """
    least, most = SHARE_RANGE
    if not least <= share <= most:
        message = f"The squint must lie between {least} and {most} of the diagonal, not {share}."
        raise ValueError(message)
    radius = share * float(np.hypot(*luminance.shape))
    weights = None if mask is None else mask.astype(np.float32)
    # The guide is made in L*, where a blurred edge has its middle at the edge; in linear light it would lie on the dark
    # side, and every light would grow a little. Only the last averages, those that are shown, are of linear light.
    original = lightness_CIE1976(luminance)
    seen = original if weights is None else original * weights
    down, across = (_bell(length, radius, mirrored=True) for length in luminance.shape)
    guide = np.asarray(down @ seen @ across, dtype=np.float32)
    if weights is not None:
        guide /= np.maximum(down @ weights @ across, np.float32(1e-6))
    low, high = np.percentile(guide if mask is None else guide[mask], [2, 98])
    likeness = float(np.clip((high - low) / 8, *_LIKENESS))
    likes = _Likes(luminance.shape, radius, likeness, weights)
    for _ in range(_ROUNDS - 1):
        guide = likes.average(original, guide)
    lightness = lightness_CIE1976(likes.average(luminance, guide))
    if mask is None:
        return lightness
    nearest = ndimage.distance_transform_edt(~mask, return_distances=False, return_indices=True)
    return np.asarray(lightness[nearest[0], nearest[1]])


class _Likes:
    """Averages over neighbours that are alike, for fields (h, w) of one size; weights (h, w) 0..1, None for 1 all over,
    radius in pixels, likeness in the unit of the guides."""

    def __init__(self, size: tuple[int, ...], radius: float, likeness: float, weights: FloatArray | None) -> None:
        height, width = size
        cell = max(radius, 1.0)
        self._likeness, self._weights = likeness, weights
        rows, columns = self._rows, self._columns = _Knots(height, cell), _Knots(width, cell)
        # From row to row the grid is blurred and read back by one product.
        self._blur, self._read = _bell(columns.count, radius / cell), rows.weights @ _bell(rows.count, radius / cell)
        self._nearest = columns.nearest[None, :] * rows.count + rows.nearest[:, None]
        self._before = np.arange(height)[:, None] * columns.count + columns.before[None, :]
        self._part = np.repeat(columns.part, 2)
        # Rows of pixels that lie together read few of the knots.
        bands = [slice(top, top + _BAND) for top in range(0, height, _BAND)]
        used = [np.flatnonzero(self._read[band].any(axis=0)) for band in bands]
        self._bands = [(band, slice(knots[0], knots[-1] + 1)) for band, knots in zip(bands, used, strict=True)]

    def average(self, tone: FloatArray, guide: FloatArray) -> FloatArray:
        """Mean tone, at each pixel, of the neighbours whose guide is like its own; (h, w) in, (h, w) out."""
        rows, columns = self._rows.count, self._columns.count
        floor = float(guide.min())
        tones = int((float(guide.max()) - floor) / self._likeness) + 2
        depth = (guide - np.float32(floor)) / np.float32(self._likeness)
        below = np.minimum(depth.astype(np.int32), tones - 2)
        part = depth - below.astype(np.float32)

        place = self._nearest * tones
        place += below
        held = (tone, None) if self._weights is None else (tone * self._weights, self._weights)
        # Light and count go through the grid together, as the two parts of one number.
        grid, blur = np.empty((columns * rows, tones, 2), dtype=np.float32), _bell_of_tones(tones)
        for at, each in enumerate(held):
            grid[..., at] = _gathered(place, part, each, grid[..., at].size).reshape(-1, tones) @ blur
        blurred = (self._blur @ grid.reshape(columns, -1)).reshape(columns, rows, -1)

        # Reading the grid back: linear in rows by small products, then in columns and in tone by looking up four
        # corners.
        knots = blurred.swapaxes(0, 1).reshape(rows, -1)
        read_rows = np.empty((len(tone), knots.shape[1]), dtype=np.float32)
        for band, near in self._bands:
            np.matmul(self._read[band, near], knots[near], out=read_rows[band])
        lines = read_rows.view(np.complex64).ravel()
        corner = self._before * tones
        corner += below
        read = []
        for up in (0, 1):
            one, other = (lines[aside + up :].take(corner).view(np.float32) for aside in (0, tones))
            read.append(_between(one, other, self._part))
        lower, upper = read
        mixed = _between(lower, upper, np.repeat(part, 2, axis=1))
        return np.asarray(mixed[:, ::2] / np.maximum(mixed[:, 1::2], np.float32(1e-9)))


def _gathered(place: NDArray[np.int64], part: FloatArray, held: FloatArray | None, size: int) -> FloatArray:
    """(size,) what pixels hold, (h, w), or their number, gathered where their places (h, w) are, and a part of it,
    (h, w) 0..1, at the next place.

    A pixel counts for the tone below and the tone above its own, by nearness, or fine hatching would be sorted into its
    light and its dark lines wherever their common guide lies on the border of two steps.
    """
    places = place.ravel()
    every = np.bincount(places, None if held is None else held.ravel(), size).astype(np.float64)
    above = np.bincount(places, (part if held is None else part * held).ravel(), size)
    every -= above
    every[1:] += above[:-1]
    return every.astype(np.float32)


def _between(one: FloatArray, other: FloatArray, share: FloatArray) -> FloatArray:
    other -= one
    other *= share
    other += one
    return other


def _bell(count: int, deviation: float, *, mirrored: bool = False) -> FloatArray:
    """(count, count) weights by which each of some places in a row counts for each: a Gaussian, cut off at three times
    its standard deviation in places. Beyond the ends is nothing, or the row in a mirror."""
    reach = int(3 * deviation + 0.5)
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / max(deviation, 1e-6)) ** 2)
    # Between two mirrors a row comes again after twice its length, so that its places lie on a circle.
    around = 2 * (count if mirrored else max(count, reach + 1))
    circle = np.bincount(np.arange(-reach, reach + 1) % around, bell / bell.sum(), around)
    turned = sliding_window_view(np.concatenate([circle, circle]), count)
    weights = turned[around : around - count : -1]
    return np.asarray(weights + turned[1 : count + 1] if mirrored else weights, dtype=np.float32)


@lru_cache(maxsize=64)
def _bell_of_tones(count: int) -> FloatArray:
    return _bell(count, 1.0)


class _Knots:
    """Knots of the grid along a line of pixels, `cell` pixels apart and the same from either end, so that a mirrored
    picture squints to the mirrored result. nearest (n,): knot of each pixel; before (n,), part (n,): the knot before it
    and how far it is on to the next, 0..1; weights (n, count): linear reading."""

    def __init__(self, length: int, cell: float) -> None:
        at = (np.arange(length) - (length - 1) / 2) / cell
        half = int(np.ceil(at[-1])) + 1
        self.count = 2 * half + 1
        self.nearest = half + (np.sign(at) * np.floor(np.abs(at) + 0.5)).astype(np.int64)
        self.before = half + np.floor(at).astype(np.int64)
        self.part = (at + half - self.before).astype(np.float32)
        gap = np.abs(at[:, None] + half - np.arange(self.count)[None, :])
        self.weights = np.maximum(0.0, 1.0 - gap).astype(np.float32)
