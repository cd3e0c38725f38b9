"""A value map at a larger size, its outlines smooth: shapes may be enlarged, and paint may not."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Labels = NDArray[np.uint8]

_BELL = (5, 4, 1)
"""Weights of a pixel and of those one and two away, about a Gaussian of one pixel: with both neighbours they make 15,
so that going over rows and columns makes 225, and a byte holds it."""

_FULL = 225
_SHARES = 256
"""Parts of the way from one pixel to the next; with `_FULL` they stay within sixteen bits."""


def enlarged(labels: Labels, values: int, side: int, outside: int) -> Labels:
    """Labels (h, w) uint8, 0 = darkest … values - 1 = lightest, at a larger size, ``side`` px on the longest side.

    Each border between a value and the next is enlarged as that of a soft shape, where it is half there.  ``outside``,
    above all values, is the label of what is no picture.
    """
    height, width = labels.shape
    scale = side / max(labels.shape)
    rows, columns = _Steps(height, round(height * scale)), _Steps(width, round(width * scale))
    # What lies outside counts as lightest first, so that no border but its own runs along it.
    shapes = [labels >= value for value in range(1, values)]
    away = labels == outside
    bare = not away.any()
    softened = _softened(np.stack(shapes if bare else [*shapes, away])).astype(np.uint16)
    large = [_shape(soft, rows, columns) for soft in softened]
    chosen = large[0].view(np.uint8).copy()
    for shape in large[1 : values - 1]:
        chosen += shape.view(np.uint8)
    if not bare:
        np.copyto(chosen, outside, where=large[-1])
    return np.ascontiguousarray(chosen.T)


def _softened(shapes: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """How far each pixel of some shapes (n, h, w) and its neighbours belong to them, (n, h, w), 0 to `_FULL`."""
    soft = shapes.view(np.uint8)
    reach = len(_BELL) - 1
    for _ in range(2):
        length = soft.shape[1]
        wide = np.concatenate([*[soft[:, :1]] * reach, soft, *[soft[:, -1:]] * reach], axis=1)
        soft = wide[:, reach : reach + length] * np.uint8(_BELL[0])
        for away, weight in enumerate(_BELL[1:], 1):
            pair = wide[:, reach - away :][:, :length] + wide[:, reach + away :][:, :length]
            pair *= np.uint8(weight)
            soft += pair
        soft = np.ascontiguousarray(soft.swapaxes(1, 2))
    return soft


class _Steps:
    """How a line of pixels is read at more places: before, after (n,) the pixels on either side of each place, and the
    weight of both (n, 1), which make `_SHARES` together. Beyond its ends the line goes on as it ends there."""

    def __init__(self, fine: int, places: int) -> None:
        at = (np.arange(places) + 0.5) * (fine / places) - 0.5
        before = np.floor(at)
        share = np.rint((at - before) * _SHARES).astype(np.uint16)[:, None]
        self.before = before.clip(0, fine - 1).astype(np.intp)
        self.after = (before + 1).clip(0, fine - 1).astype(np.intp)
        self.of_before, self.of_after = np.uint16(_SHARES) - share, share

    def read(self, lines: NDArray[np.uint16]) -> NDArray[np.uint16]:
        """`lines` (fine, m) at all places, (places, m), times `_SHARES`."""
        found: NDArray[np.uint16] = lines[self.before]
        after = lines[self.after]
        found *= self.of_before
        after *= self.of_after
        found += after
        return found


def _shape(soft: NDArray[np.uint16], rows: _Steps, columns: _Steps) -> NDArray[np.bool_]:
    """Where a softened shape (h, w) is half there or more, (w, h) at the larger size."""
    tall = rows.read(soft)
    tall += np.uint16(_SHARES // 2)
    tall //= np.uint16(_SHARES)
    return columns.read(np.ascontiguousarray(tall.T)) >= np.uint16(_SHARES * _FULL // 2)
