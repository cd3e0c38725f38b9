"""The photo seen square on: the sheet's plane as a flat picture whose sides run along the sheet's own.

In this frame sides of panels are rows and columns, and an edge too faint to be seen at one point is plain along its
length: gradients are averaged along the frame's own directions before they are judged.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import FloatArray
from ingest.sheet.geometry import Points, transform
from ingest.sheet.lines import EDGE_WEIGHTS

_LONGEST = 1100
_ALONG = 11
"""Pixels along which a gradient is averaged."""

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
    at = transform(to_photo, _pixels(size[0], size[1]))
    inside = (at[..., 0] > 2) & (at[..., 0] < width - 2) & (at[..., 1] > 2) & (at[..., 1] < height - 2)
    at = (at - np.array(view.origin)) * view.finer
    where = [at[..., 1] - 0.5, at[..., 0] - 0.5]
    seen, smooth = (np.empty((size[1], size[0], 3), dtype=np.float32) for _ in range(2))
    for channel in range(3):
        ndimage.map_coordinates(view.colour[..., channel], where, order=1, mode="nearest", output=seen[..., channel])
        ndimage.gaussian_filter(seen[..., channel], 0.8, output=smooth[..., channel], truncate=3)
    valid = ndimage.minimum_filter(inside.astype(np.uint8), 5).astype(bool)
    upright, strength_x = _runs(smooth, valid, axis=1)
    level, strength_y = _runs(smooth, valid, axis=0)
    return Frame(to_photo, seen, inside, upright, level, strength_x, strength_y, float(1 / scale))


def _pixels(width: int, height: int) -> Points:
    """Middles (h, w, 2) of all pixels of a frame."""
    return np.stack(np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5), axis=-1)


def seen_in(frame: Frame, field: FloatArray) -> FloatArray:
    """A field (h, w, 3) of the photo as seen in the frame."""
    height, width = frame.inside.shape
    at = transform(frame.to_photo, _pixels(width, height))
    where = [at[..., 1] - 0.5, at[..., 0] - 0.5]
    seen = np.empty((height, width, 3), dtype=np.float32)
    for channel in range(3):
        ndimage.map_coordinates(field[..., channel], where, order=1, mode="nearest", output=seen[..., channel])
    return seen


def _runs(smooth: FloatArray, valid: NDArray[np.bool_], axis: int) -> tuple[NDArray[np.bool_], FloatArray]:
    """Edges that part the picture along `axis`, in runs straight across it, and their strength."""
    along = 1 - axis
    power, energy, agreeing = (np.zeros(valid.shape, dtype=np.float32) for _ in range(3))
    for channel, weight in enumerate(EDGE_WEIGHTS):
        change = weight * ndimage.correlate1d(smooth[..., channel], [-0.5, 0, 0.5], axis=axis, mode="nearest")
        mean = ndimage.uniform_filter1d(change, _ALONG, axis=along, mode="nearest")
        here = ndimage.uniform_filter1d(change, 5, axis=along, mode="nearest")
        power += mean * mean
        energy += change * change
        agreeing += here * mean
    energy = ndimage.uniform_filter1d(energy, _ALONG, axis=along, mode="nearest")
    # An average runs on beyond the end of an edge; what is seen close by ends where the edge does.
    present = agreeing > 0.35 * power
    strength = np.sqrt(power) * (valid & (power > _COHERENT * energy))
    before = np.roll(strength, 1, axis=axis)
    after = np.roll(strength, -1, axis=axis)
    ridge = (strength >= before) & (strength > after) & (strength > _FAINT)
    # A coder leaves faint ripples beside a strong edge.
    ridge &= strength > _RIPPLE * ndimage.maximum_filter1d(strength, 2 * _RIPPLES_REACH + 1, axis=axis)
    thick = ndimage.maximum_filter1d(ridge.astype(np.uint8), 3, axis=axis)
    # An opening along the edge: what is shorter than a run goes.
    short = ndimage.minimum_filter1d(thick, _RUN, axis=along, mode="constant")
    long = ndimage.maximum_filter1d(short, _RUN, axis=along, mode="constant").astype(bool)
    return long & ridge & present, strength.astype(np.float32)
