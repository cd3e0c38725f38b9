"""Patterns of value made ready to be held against each other: tones, their slopes, and how both change, anywhere."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from archive.alignment import samples
from archive.likeness import SLOPES, TONES
from archive.net import net_of
from ingest.signature import GRID

Floats = NDArray[np.float32]

_SOFTNESS = 1.0
"""Cells over which patterns are softened: finer than that no hand is sure."""

_LEAST_TONE, _LEAST_SLOPE = 0.15, 0.012
"""Root mean square of a pattern, and of its slope from cell to cell, below which a part is as good as flat."""


@dataclass(frozen=True)
class Met:
    """Patterns at places, (k, p) each: tones as vectors of length 1; their slopes to the right and down, together of
    length 1."""

    tone: Floats
    right: Floats
    down: Floats

    def __getitem__(self, chosen: NDArray[np.int64]) -> Met:
        return Met(self.tone[chosen], self.right[chosen], self.down[chosen])

    def of_tones(self, target: Met) -> Floats:
        return np.asarray((self.tone * target.tone).sum(axis=1, keepdims=True))

    def of_slopes(self, target: Met) -> Floats:
        return np.asarray((self.right * target.right + self.down * target.down).sum(axis=1, keepdims=True))

    def agreement(self, target: Met) -> Floats:
        """(k,) how the tones and slopes agree with the target's, -1..1."""
        return np.asarray((TONES * self.of_tones(target) + SLOPES * self.of_slopes(target))[:, 0], dtype=np.float32)


@dataclass(frozen=True)
class Seen(Met):
    """The same, and how it changes: tones with x and y; the slope to the right with x (xx), either slope with the other
    (xy), the one down with y (yy)."""

    tone_x: Floats
    tone_y: Floats
    xx: Floats
    xy: Floats
    yy: Floats


class Patterns:
    """Patterns (m, GRID, GRID) as `likeness.told`, made ready to be held against each other."""

    def __init__(self, told: Floats) -> None:
        tone = ndimage.gaussian_filter(told, (0, _SOFTNESS, _SOFTNESS))
        down, right = (np.ascontiguousarray(slope) for slope in np.gradient(tone, axis=(1, 2)))
        self._fields: tuple[Floats, ...] = (tone, right, down)

    def __len__(self) -> int:
        return len(self._fields[0])

    def __getitem__(self, chosen: NDArray[np.int64]) -> Patterns:
        some = Patterns.__new__(Patterns)
        some._fields = tuple(field[chosen] for field in self._fields)
        return some

    @cached_property
    def _changes(self) -> tuple[Floats, ...]:
        _, right, down = self._fields
        xy, xx = np.gradient(right, axis=(1, 2))
        return tuple(np.ascontiguousarray(each) for each in (xx, xy, np.gradient(down, axis=1)))

    def all_of(self, cells: int) -> Met:
        """Each whole pattern, cells a side."""
        net, every = net_of(cells), np.arange(len(self))
        return self.met(every, net.u[None].repeat(len(self), axis=0), net.v[None].repeat(len(self), axis=0))

    def met(self, of: NDArray[np.int64], x: Floats, y: Floats) -> Met:
        """What lies at x, y (k, p) in 0..1, of (k,) saying in which pattern."""
        tone, right, down = samples(self._fields, of, x, y)
        tone, long, steep = _lengths(tone, right, down)
        return Met(tone / long, right / steep, down / steep)

    def behind(self, of: NDArray[np.int64], x: Floats, y: Floats) -> Seen:
        """The same, and how it changes."""
        tone, right, down, xx, xy, yy = samples((*self._fields, *self._changes), of, x, y)
        tone, long, steep = _lengths(tone, right, down)
        to_tone, to_slope = np.float32(GRID) / long, np.float32(GRID) / steep
        return Seen(
            tone / long, right / steep, down / steep,
            right * to_tone, down * to_tone, xx * to_slope, xy * to_slope, yy * to_slope,
        )  # fmt: skip


def _lengths(tone: Floats, right: Floats, down: Floats) -> tuple[Floats, Floats, Floats]:
    """Tones (k, p) about their mean; their length (k, 1) and that of the slopes, or the least that counts."""
    side = np.sqrt(np.float32(tone.shape[1]))
    tone = tone - tone.mean(axis=1, keepdims=True)
    long = np.linalg.norm(tone, axis=1, keepdims=True)
    steep = np.sqrt((right**2 + down**2).sum(axis=1, keepdims=True))
    return tone, np.maximum(long, np.float32(_LEAST_TONE) * side), np.maximum(steep, np.float32(_LEAST_SLOPE) * side)
