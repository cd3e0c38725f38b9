"""What gives way when a study is brought into register with a work: a viewfinder, and a net of points that bends it.

Where the places of a study look in a work is linear in both.
"""

from __future__ import annotations

from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from archive.alignment import centres

Floats = NDArray[np.float32]

_NET = 4
"""Points a side of the net that bends."""


class Net:
    """The places of a study, cells a side, at which it is compared. Where they look in a work is linear in what can
    give way: for x the viewfinder's left and right and the net's shifts to the right, then the same for y."""

    def __init__(self, cells: int) -> None:
        self.u, self.v = centres(cells)
        net = _net_weights(self.u, self.v)
        self.across = np.column_stack([1 - self.u, self.u, net])
        self.down = np.column_stack([1 - self.v, self.v, net])
        self._half = self.across.shape[1]
        self.part = np.array([0, self._half, 1, self._half + 1])
        self.bend = np.setdiff1d(np.arange(2 * self._half), self.part)

    @cached_property
    def _pairs(self) -> list[Floats]:
        """(p, f·f) products of each two of what gives way, at each place: x with x, x with y, y with y."""
        blocks = ((self.across, self.across), (self.across, self.down), (self.down, self.down))
        return [(one[:, :, None] * other[:, None, :]).reshape(len(one), -1) for one, other in blocks]

    def started(self, parts: Floats) -> Floats:
        """What gives way, (k, f), with the viewfinder at parts (k, 4) and nothing bent."""
        give = np.zeros((len(parts), 2 * self._half), dtype=np.float32)
        give[:, self.part] = parts
        return give

    def places(self, give: Floats) -> tuple[Floats, Floats]:
        """Where in the work, x and y in 0..1, each place looks; (k, p) each."""
        return give[:, : self._half] @ self.across.T, give[:, self._half :] @ self.down.T

    def gathered(self, along_x: Floats, along_y: Floats) -> Floats:
        """(k, f) sums over the places, (k, p) each, of what changes with x and with y there."""
        return np.concatenate([along_x @ self.across, along_y @ self.down], axis=1)

    def curved(self, xx: Floats, xy: Floats, yy: Floats) -> Floats:
        """(k, f, f) the same for products of changes."""
        half = self._half
        curve = np.empty((len(xx), 2 * half, 2 * half), dtype=np.float32)
        first, mixed, second = (
            (each @ pairs).reshape(-1, half, half) for each, pairs in zip((xx, xy, yy), self._pairs, strict=True)
        )
        curve[:, :half, :half], curve[:, half:, half:] = first, second
        curve[:, :half, half:], curve[:, half:, :half] = mixed, mixed.transpose(0, 2, 1)
        return curve


@cache
def net_of(cells: int) -> Net:
    """Of a study that is compared at cells a side."""
    return Net(cells)


def _net_weights(u: Floats, v: Floats) -> Floats:
    """(p, _NET²) weights of the net's points at each place of the frame, smooth and summing to 1."""

    def line(at: Floats) -> Floats:
        gap = np.abs(at[:, None] * (_NET - 1) - np.arange(_NET)[None, :])
        return np.asarray(np.where(gap < 1, 1 - gap**2 * (3 - 2 * gap), 0.0), dtype=np.float32)

    return np.asarray((line(v)[:, :, None] * line(u)[:, None, :]).reshape(len(u), -1), dtype=np.float32)
