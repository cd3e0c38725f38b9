"""The connected shapes of a map of labels, told by its runs.

A run is what follows one another in a row of pixels under one label. A map of large shapes has some thousands of them
for some ten thousands of pixels, so that what is asked of the shapes is soonest answered by their runs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.integer[Any]]
_Kind = TypeVar("_Kind", bound=np.generic)


@dataclass(frozen=True)
class Runs:
    """Runs of pixels in the rows of a map, each (runs,): row, and the columns from start and up to stop."""

    row: Ints
    start: Ints
    stop: Ints

    @property
    def length(self) -> Ints:
        """(runs,) pixels."""
        return self.stop - self.start

    def chosen(self, which: NDArray[np.bool_]) -> Runs:
        """Some of them, (runs,)."""
        return Runs(self.row[which], self.start[which], self.stop[which])

    def boxes(self, number: Ints) -> list[tuple[slice, slice]]:
        """The rows and columns that the runs of each number, (runs,) from 0 without a gap, take together."""
        count = int(number.max(initial=-1)) + 1
        boxes = []
        for begin, end in ((self.row, self.row + 1), (self.start, self.stop)):
            first, last = np.full(count, np.iinfo(np.int64).max), np.zeros(count, dtype=np.int64)
            np.minimum.at(first, number, begin)
            np.maximum.at(last, number, end)
            boxes.append(map(slice, first.tolist(), last.tolist()))
        return list(zip(*boxes, strict=True))


@dataclass(frozen=True)
class Shapes:
    """All shapes of a map (h, w), where pixels under one label that share a side belong together.

    They are numbered from 0 as they are met row by row. label, area: (shapes,) what they lie under and their pixels.
    runs: all runs of the map, row by row. number: (runs,) of which shape each of them is.
    """

    label: NDArray[Any]
    area: Ints
    runs: Runs
    number: Ints

    @classmethod
    def of(cls, labels: NDArray[Any]) -> Shapes:
        """The shapes of a map (h, w) of labels of any kind."""
        width = labels.shape[1]
        begins = np.ones(labels.shape, dtype=bool)
        np.not_equal(labels[:, 1:], labels[:, :-1], out=begins[:, 1:])
        first = np.flatnonzero(begins)
        length = np.diff(first, append=labels.size)
        # Two runs touch along some columns, and in the first of these one of them begins.
        touch = begins[1:] | begins[:-1]
        touch &= labels[1:] == labels[:-1]
        meet = np.flatnonzero(touch)
        run = np.cumsum(begins.ravel(), dtype=np.int32)
        above, below = run[meet] - 1, run[meet + width] - 1
        root = _roots(len(first), above, below)
        own = root == np.arange(len(first))
        number = (np.cumsum(own) - 1)[root]
        count = int(number.max()) + 1
        label = np.empty(count, dtype=labels.dtype)
        label[number] = labels.ravel()[first]
        area = np.bincount(number, length, count).astype(np.int64)
        row, start = np.divmod(first, width)
        return cls(label, area, Runs(row, start, start + length), number)

    def over_pixels(self, told: NDArray[_Kind]) -> NDArray[_Kind]:
        """(h, w) what is told of the shape that each pixel is of, from what is told of each, (shapes,)."""
        runs = self.runs
        return np.repeat(told[self.number], runs.length).reshape(int(runs.row[-1]) + 1, -1)


def _roots(count: int, one: Ints, other: Ints) -> Ints:
    """(count,) the first of all that hang together, for each of some, where each of one hangs on that of other."""
    root = np.arange(count)
    while len(one):
        # The later of two hangs on the earlier, and all that hang on it move along, until each hangs on a first one.
        root[np.maximum(one, other)[::-1]] = np.minimum(one, other)[::-1]
        while True:
            before = root
            root = root[root]
            if (root == before).all():
                break
        one, other = root[one], root[other]
        apart = one != other
        one, other = one[apart], other[apart]
    return root
