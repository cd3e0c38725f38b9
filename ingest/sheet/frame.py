"""The photo seen square on: the sheet's plane as a flat picture whose sides run along the sheet's own.

In this frame sides of panels are rows and columns, and an edge too faint to be seen at one point is plain along its
length: gradients are averaged along the frame's own directions before they are judged.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ingest.lightness import FloatArray
from ingest.sheet.geometry import Points, transform
from ingest.sheet.lines import EDGE_WEIGHTS, lab
from ingest.windows import BAND, all_along, change_along, extreme, gaussian, sums_along

_LONGEST = 1100
_ALONG = 11
"""Pixels along which a gradient is averaged."""

_CLOSE = 5
"""Pixels along which it is looked whether an edge is there."""

_AGREEING = 0.35
"""Share of the averaged change that must be there close by."""

_PLACES, _FARTHEST = 13, 10.0
"""Places, across and down a photo, at which it is told how far away the plane is, and how much more of it a pixel may
show than the nearest one does."""

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
    """to_photo (3, 3) takes the frame's pixels to the photo's. rgb (h, w, 3) uint8, sRGB, colour (h, w, 3) Lab: what is
    seen. inside (h, w) bool: where there is photo. upright, level (h, w) bool: edges that run down and across.
    strength_x, strength_y (h, w): averaged change across them in Lab units a pixel. scale: units of the plane a pixel.
    """

    to_photo: Points
    rgb: NDArray[np.uint8]
    colour: FloatArray
    inside: NDArray[np.bool_]
    upright: NDArray[np.bool_]
    level: NDArray[np.bool_]
    strength_x: FloatArray
    strength_y: FloatArray
    scale: float


@dataclass(frozen=True)
class View:
    """A photo, or a part of it seen closer. rgb (h, w, 3) uint8, sRGB. size: width and height of the whole photo in its
    own pixels. origin: where the part begins in them. finer: pixels of `rgb` to one of them."""

    rgb: NDArray[np.uint8]
    size: tuple[int, int]
    origin: tuple[float, float] = (0.0, 0.0)
    finer: float = 1.0

    @cached_property
    def bordered(self) -> Image.Image:
        """The part with a little of its border repeated, so that smoothing near it meets nothing black."""
        return Image.fromarray(np.pad(self.rgb, ((_BORDER, _BORDER), (_BORDER, _BORDER), (0, 0)), mode="edge"))


def square_on(view: View, plane: Points, roi: Points | None = None) -> Frame:
    """A photo seen square on. plane (3, 3): takes the sheet's plane to the photo, at about one pixel a unit. roi:
    (n, 2) points of the photo that the frame must hold."""
    to_plane = np.linalg.inv(plane)
    on = transform(to_plane, _not_too_far(to_plane, view.size) if roi is None else roi)
    low, high = on.min(axis=0), on.max(axis=0)
    scale = min(1.25 * view.finer, _LONGEST / float((high - low).max()))
    size = np.maximum(np.ceil((high - low) * scale).astype(int), 8)
    # Pixels lie evenly about the middle, so that a turned photo has the same.
    first = (low + high) / 2 - size / (2 * scale)
    place = np.array([[1 / scale, 0, first[0]], [0, 1 / scale, first[1]], [0, 0, 1]])
    to_photo = plane @ place
    inside = _within(to_photo, (int(size[0]), int(size[1])), view.size)
    to_view = np.array([[1, 0, -view.origin[0]], [0, 1, -view.origin[1]], [0, 0, 1 / view.finer]]) @ to_photo
    rgb = _sampled(view, to_view, (int(size[0]), int(size[1])))
    seen = lab(rgb)
    smooth = np.empty((3, *inside.shape), dtype=np.float32)
    for channel in range(3):
        smooth[channel] = gaussian(seen[..., channel], 0.8, 2)
        smooth[channel] *= np.float32(EDGE_WEIGHTS[channel])
    valid = all_along(all_along(inside, 2, 0), 2, 1)
    upright, strength_x = _runs(smooth, valid, axis=1)
    level, strength_y = _runs(smooth, valid, axis=0)
    return Frame(to_photo, rgb, seen, inside, upright, level, strength_x, strength_y, float(1 / scale))


def _not_too_far(to_plane: NDArray[np.floating], size: tuple[int, int]) -> Points:
    """Points (n, 2) of a photo of `size` (width, height), but for what lies so far away that it would take up the frame
    and leave little of it to what is near."""
    across, down = (np.linspace(0, side, _PLACES) for side in size)
    points = np.stack(np.meshgrid(across, down), axis=-1).reshape(-1, 2)
    # The area of the plane that a pixel shows goes by the third power of how far away it is, the inverse of this.
    near = np.abs(points @ to_plane[2, :2] + to_plane[2, 2])
    return np.asarray(points[near.max() ** 3 <= _FARTHEST * near**3])


def _sampled(view: View, matrix: Points, size: tuple[int, int]) -> NDArray[np.uint8]:
    """A picture (h, w, 3) of `size` (width, height) whose pixels `matrix` (3, 3) takes to those of a view, between
    which it is linear; black beyond them."""
    to_padded = np.array([[1, 0, _BORDER], [0, 1, _BORDER], [0, 0, 1]]) @ matrix
    weights = tuple((to_padded / to_padded[2, 2]).ravel()[:8])
    # All channels at once, in whole codes: a camera's noise is more than what they are rounded by.
    return np.asarray(view.bordered.transform(size, Image.Transform.PERSPECTIVE, weights, Image.Resampling.BILINEAR))


def _within(matrix: Points, size: tuple[int, int], photo: tuple[int, int]) -> NDArray[np.bool_]:
    """Which pixels (h, w) of a frame of `size` (width, height) lie in the photo, its outermost pixels left off."""
    x, y = (np.arange(side) + 0.5 for side in size)
    across, down, depth = matrix
    within = np.ones(size[::-1], dtype=bool)
    for row in (across - 2 * depth, (photo[0] - 2) * depth - across, down - 2 * depth, (photo[1] - 2) * depth - down):
        within &= (row[0] * x).astype(np.float32) > -(row[1] * y + row[2]).astype(np.float32)[:, None]
    return within


def _runs(smooth: FloatArray, valid: NDArray[np.bool_], axis: int) -> tuple[NDArray[np.bool_], FloatArray]:
    """Edges that part the picture along `axis`, in runs straight across it, and their strength. smooth: (3, h, w), each
    channel weighed by what a change in it counts for."""
    along = 1 - axis
    strength = np.empty(valid.shape, dtype=np.float32)
    present = np.empty(valid.shape, dtype=bool)
    height = len(valid)
    # In bands that stay in the processor's cache, each with as many rows around it as the averages reach.
    reach = _ALONG if along == 0 else 2
    for first in range(0, height, BAND):
        last = min(first + BAND, height)
        low, high = max(0, first - reach), min(height, last + reach)
        own = slice(first - low, last - low)
        power, energy, agreeing = (np.zeros((high - low, valid.shape[1]), dtype=np.float32) for _ in range(3))
        for channel in smooth:
            change = change_along(channel[low:high], axis)
            near, total = sums_along(change, (_CLOSE, _ALONG), along)
            near *= total
            agreeing += near
            total *= total
            power += total
            change *= change
            energy += change
        # Sums are held against sums, each by how many pixels it is of.
        (energy,) = sums_along(energy, (_ALONG,), along)
        # An average runs on beyond the end of an edge; what is seen close by ends where the edge does.
        present[first:last] = (agreeing > np.float32(_AGREEING * _CLOSE / _ALONG) * power)[own]
        energy *= np.float32(_COHERENT * _ALONG)
        seen = valid[low:high] & (power > energy)
        np.sqrt(power, out=power)
        power *= np.float32(1 / _ALONG)
        power *= seen
        strength[first:last] = power[own]
    ridge = np.zeros(valid.shape, dtype=bool)
    here, before, after = (
        (slice(1, -1), slice(None, -2), slice(2, None)) if axis == 0
        else tuple((slice(None), part) for part in (slice(1, -1), slice(None, -2), slice(2, None)))
    )  # fmt: skip
    ridge[here] = (strength[here] >= strength[before]) & (strength[here] > strength[after])
    # A coder leaves faint ripples beside a strong edge.
    ridge &= strength > np.maximum(_FAINT, np.float32(_RIPPLE) * extreme(strength, _RIPPLES_REACH, np.maximum, (axis,)))
    # An opening along the edge: what is shorter than a run goes.
    short = all_along(extreme(ridge, 1, np.logical_or, (axis,)), _RUN // 2, along)
    return extreme(short, _RUN // 2, np.logical_or, (along,)) & ridge & present, strength
