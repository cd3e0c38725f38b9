"""Where light meets dark most strongly, and how sharp the edge is there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import FloatArray
from ingest.value_map import OUTSIDE, Labels
from ingest.windows import extreme

_CRISP = 20.0
"""L* over 2 % of the diagonal from which a border between values is crisp."""

_REACH = 0.01
"""Half of the distance over which a step is taken, as a share of the diagonal."""

_EDGE = 0.005
"""Width within which a sharp edge has all of its step, as a share of the diagonal: two pixels at the working size."""

_FAINT = 10.0
"""L* under which a step is measured against this much, so that brushwork in a slow passage is no sharp edge."""

_FINE = 4
"""Samples to a pixel along the line across an edge."""


@dataclass(frozen=True)
class Contrast:
    """step: the strongest step in L*. x, y: where it lies, 0..1. sharpness: 0..1, see `edge_sharpness`. crisp: share
    of the borders between values that step by more than 20 L*."""

    step: float
    x: float
    y: float
    sharpness: float
    crisp: float


def find_contrast(squinted: FloatArray, lightness: FloatArray, labels: Labels) -> Contrast:
    """The strongest step of a squinted picture over 2 % of the diagonal, on the borders of its value map.

    squinted, lightness: (h, w) float32 L*, with half-closed and with open eyes; labels: (h, w) uint8.
    """
    height, width = labels.shape
    reach = max(1, round(_REACH * float(np.hypot(height, width))))
    window = 2 * reach + 1
    span = extreme(squinted, reach, np.maximum) - extreme(squinted, reach, np.minimum)
    border = np.zeros(labels.shape, dtype=bool)
    border[:, 1:] |= labels[:, 1:] != labels[:, :-1]
    border[1:] |= labels[1:] != labels[:-1]
    border &= (labels != OUTSIDE) & (extreme(labels, 1, np.maximum) != OUTSIDE)
    if not border.any():
        return Contrast(0.0, 0.5, 0.5, 0.0, 0.0)
    # The strongest step is where a stretch of border is strong, not where a single pixel is.
    total = ndimage.uniform_filter(np.where(border, span, np.float32(0.0)), window)[border]
    stretch = total / np.maximum(ndimage.uniform_filter(border.astype(np.float32), window)[border], np.float32(1e-6))
    best = int(np.argmax(stretch))
    y, x = divmod(int(np.flatnonzero(border)[best]), width)
    seen = np.where(labels == OUTSIDE, squinted, lightness)
    return Contrast(
        step=float(stretch[best]),
        x=float((x + 0.5) / width),
        y=float((y + 0.5) / height),
        sharpness=edge_sharpness(seen, y, x),
        crisp=float((span[border] > _CRISP).mean()),
    )


def edge_sharpness(lightness: FloatArray, y: int, x: int) -> float:
    """How much of the step across an edge is taken within half a hundredth of the diagonal, 0 (soft) to 1 (sharp).

    lightness: (h, w) float32 L* before squinting. A line 4 % of the diagonal long is laid across the edge at (y, x),
    and what lies along it is averaged alongside the edge over 1.5 % of the diagonal, so that brushwork is not taken
    for an edge; a step under 10 L* is measured as if it were of 10. A Gaussian edge of standard deviation s (share of
    the diagonal) has erf(0.0025 / (s * sqrt(2))): 0.99 at 0.001, 0.38 at 0.005, 0.2 at 0.01. After the widths of edges
    in Marziliano, Dufaux, Winkler & Ebrahimi 2002, A No-Reference Perceptual Blur Metric, ICIP.
    """
    diagonal = float(np.hypot(*lightness.shape))
    near = ndimage.gaussian_filter(_around(lightness, y, x, max(1, round(0.04 * diagonal))), 0.01 * diagonal)
    middle = near.shape[0] // 2, near.shape[1] // 2
    down, across = (float(slope[middle]) for slope in np.gradient(near))
    steep = float(np.hypot(down, across))
    if steep < 1e-6:
        return 0.0
    down, across = down / steep, across / steep
    half = 0.02 * diagonal
    along = np.linspace(-half, half, 2 * max(2, round(half * _FINE)) + 1)
    beside = np.linspace(-0.0075, 0.0075, 7) * diagonal
    rows = y + down * along[None, :] + across * beside[:, None]
    columns = x + across * along[None, :] - down * beside[:, None]
    profile = ndimage.map_coordinates(lightness, [rows, columns], order=1, mode="nearest").mean(axis=0)
    quarter = len(along) // 4
    step = float(profile[-quarter:].mean() - profile[:quarter].mean())
    apart = max(1, round(_EDGE * diagonal * (len(along) - 1) / (2 * half)))
    return float(np.clip((profile[apart:] - profile[:-apart]).max() / max(step, _FAINT), 0.0, 1.0))


def _around(field: FloatArray, y: int, x: int, reach: int) -> NDArray[np.float32]:
    """A square of 2 * reach + 1 pixels about (y, x), continued beyond the picture from its nearest pixels."""
    height, width = field.shape
    rows = np.arange(y - reach, y + reach + 1).clip(0, height - 1)
    columns = np.arange(x - reach, x + reach + 1).clip(0, width - 1)
    return np.asarray(field[np.ix_(rows, columns)], dtype=np.float32)
