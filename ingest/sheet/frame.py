"""The photo seen square on: the sheet's plane as a flat picture whose sides run along the sheet's own.

In this frame sides of panels are rows and columns, and an edge too faint to be seen at one point is plain along its
length: gradients are averaged along the frame's own directions before they are judged.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ingest.lightness import FloatArray
from ingest.sheet.geometry import Points, transform
from ingest.sheet.lines import EDGE_WEIGHTS
from ingest.sheet.running import BAND, change_of, least_of, mean_of, most_of, smoothed

_LONGEST = 1100
_ALONG = 11
"""Pixels along which a gradient is averaged."""

_BORDER = 16
"""Pixels by which a photo is continued beyond its border."""

_RUN = 17
"""Pixels along which an edge must run on to be one."""

_FAINT = 0.42
"""Smallest averaged gradient, in Lab units a pixel, of an edge."""

_RIPPLE, _RIPPLES_REACH = 0.16, 6
_COHERENT = 0.45
"""Share of the gradient's energy that must be left after averaging along an edge: grass and grain lose nearly all."""


@dataclass(frozen=True)
class Frame:
    """to_photo (3, 3) takes the frame's pixels to the photo's; colour (h, w, 3) Lab; inside (h, w) bool, where there is
    photo. upright, level (h, w) bool: edges that run down and across. strength_x, strength_y (h, w): averaged change
    across them in Lab units a pixel. scale: units of the plane a pixel."""

    to_photo: Points
    colour: FloatArray
    inside: NDArray[np.bool_]
    upright: NDArray[np.bool_]
    level: NDArray[np.bool_]
    strength_x: FloatArray
    strength_y: FloatArray
    scale: float


@dataclass(frozen=True)
class View:
    """A photo, or a part of it seen closer. colour (h, w, 3) Lab. size: width and height of the whole photo in its own
    pixels. origin: where the part begins in them. finer: pixels of `colour` to one of them."""

    colour: FloatArray
    size: tuple[int, int]
    origin: tuple[float, float] = (0.0, 0.0)
    finer: float = 1.0


def square_on(view: View, plane: Points, roi: Points | None = None) -> Frame:
    """A photo seen square on. plane (3, 3): takes the sheet's plane to the photo, at about one pixel a unit. roi:
    (n, 2) points of the photo that the frame must hold."""
    width, height = view.size
    if roi is None:
        roi = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=float)
    on = transform(np.linalg.inv(plane), roi)
    low, high = on.min(axis=0), on.max(axis=0)
    scale = min(1.25 * view.finer, _LONGEST / float((high - low).max()))
    size = np.maximum(np.ceil((high - low) * scale).astype(int), 8)
    place = np.array([[1 / scale, 0, low[0]], [0, 1 / scale, low[1]], [0, 0, 1]])
    to_photo = plane @ place
    inside = _within(to_photo, (int(size[0]), int(size[1])), view.size)
    to_view = np.array([[1, 0, -view.origin[0]], [0, 1, -view.origin[1]], [0, 0, 1 / view.finer]]) @ to_photo
    seen = _sampled(view.colour, to_view, (int(size[0]), int(size[1])))
    smooth = np.empty((3, *inside.shape), dtype=np.float32)
    for channel in range(3):
        smooth[channel] = smoothed(seen[..., channel], 0.8, 2)
    valid = least_of(least_of(inside, 5, 0), 5, 1)
    upright, strength_x = _runs(smooth, valid, axis=1)
    level, strength_y = _runs(smooth, valid, axis=0)
    return Frame(to_photo, seen, inside, upright, level, strength_x, strength_y, float(1 / scale))


def seen_in(frame: Frame, field: FloatArray) -> FloatArray:
    """A field (h, w, 3) of the photo as seen in the frame."""
    height, width = frame.inside.shape
    return _sampled(field, frame.to_photo, (width, height))


def _sampled(field: FloatArray, matrix: Points, size: tuple[int, int]) -> FloatArray:
    """A picture (h, w, 3) of `size` (width, height) whose pixels `matrix` (3, 3) takes to those of `field`, between
    which it is linear; black beyond them."""
    to_padded = np.array([[1, 0, _BORDER], [0, 1, _BORDER], [0, 0, 1]]) @ matrix
    weights = tuple((to_padded / to_padded[2, 2]).ravel()[:8])
    seen = np.empty((size[1], size[0], 3), dtype=np.float32)
    for channel in range(3):
        # A little of the border is repeated, so that smoothing near it meets nothing black.
        around = np.pad(field[..., channel].astype(np.float32, copy=False), _BORDER, mode="edge")
        band = Image.fromarray(around)
        moved = band.transform(size, Image.Transform.PERSPECTIVE, weights, Image.Resampling.BILINEAR)
        seen[..., channel] = np.asarray(moved)
    return seen


def _within(matrix: Points, size: tuple[int, int], photo: tuple[int, int]) -> NDArray[np.bool_]:
    """Which pixels (h, w) of a frame of `size` (width, height) lie in the photo, its outermost pixels left off."""
    x, y = (np.arange(side) + 0.5 for side in size)
    across, down, depth = (row[0] * x + (row[1] * y + row[2])[:, None] for row in matrix)
    return np.asarray(
        (across > 2 * depth) & (across < (photo[0] - 2) * depth) & (down > 2 * depth) & (down < (photo[1] - 2) * depth)
    )


def _runs(smooth: FloatArray, valid: NDArray[np.bool_], axis: int) -> tuple[NDArray[np.bool_], FloatArray]:
    """Edges that part the picture along `axis`, in runs straight across it, and their strength. smooth: (3, h, w)."""
    along = 1 - axis
    strength = np.empty(valid.shape, dtype=np.float32)
    present = np.empty(valid.shape, dtype=bool)
    height = len(valid)
    # In bands that stay in the processor's cache, each with as many rows around it as the averages reach.
    for first in range(0, height, BAND):
        last = min(first + BAND, height)
        low, high = max(0, first - _ALONG), min(height, last + _ALONG)
        own = slice(first - low, last - low)
        power, energy, agreeing = (np.zeros((high - low, valid.shape[1]), dtype=np.float32) for _ in range(3))
        for channel, weight in enumerate(EDGE_WEIGHTS):
            change = change_of(smooth[channel, low:high], axis)
            change *= np.float32(weight)
            mean = mean_of(change, _ALONG, along)
            agreeing += mean * mean_of(change, 5, along)
            mean *= mean
            power += mean
            change *= change
            energy += change
        energy = mean_of(energy, _ALONG, along)
        # An average runs on beyond the end of an edge; what is seen close by ends where the edge does.
        present[first:last] = (agreeing > 0.35 * power)[own]
        seen = valid[low:high] & (power > _COHERENT * energy)
        strength[first:last] = (np.sqrt(power) * seen)[own]
    ridge = np.zeros(valid.shape, dtype=bool)
    here, before, after = (
        (slice(1, -1), slice(None, -2), slice(2, None)) if axis == 0
        else tuple((slice(None), part) for part in (slice(1, -1), slice(None, -2), slice(2, None)))
    )  # fmt: skip
    ridge[here] = (strength[here] >= strength[before]) & (strength[here] > strength[after])
    # A coder leaves faint ripples beside a strong edge.
    ridge &= strength > np.maximum(_FAINT, np.float32(_RIPPLE) * most_of(strength, 2 * _RIPPLES_REACH + 1, axis))
    # An opening along the edge: what is shorter than a run goes.
    short = least_of(most_of(ridge, 3, axis), _RUN, along)
    return most_of(short, _RUN, along) & ridge & present, strength
