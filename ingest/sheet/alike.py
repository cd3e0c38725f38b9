"""Panels of one size: one whose end is hardly seen, drawn out to the size of the others.

A bare light that runs to the end of a panel leaves nothing to tell it from the gutter. Panels of one sheet are measured
or taped alike, as a rule (common practice), so the others tell where it ends; it stays a guess, and is said to be one.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ingest.sheet.frame import Frame
from ingest.sheet.order import drawn_out
from ingest.sheet.rectangles import Rectangle

_FAINT = 0.75
"""Share seen of a side below which it may be none, as the border of a light may run along most of an end; and its panel
tells no other's size."""

_ALIKE = 0.05
"""Difference in size, as a share, up to which panels are alike."""

_SHORT = 0.1
"""Share by which a panel must be shorter than the others to be drawn out."""

_ROOM = 7.0
"""Pixels of the frame that must be left to the next panel."""

_GUESSED = 0.6
"""Confidence, at most, of a panel drawn out."""


def as_large_as_others(frame: Frame, chosen: list[Rectangle]) -> list[Rectangle]:
    """Panels, with those drawn out to the others' size that are as large as these in one direction only and have, in
    the other, an end that is seen in part only."""
    result = list(chosen)
    sizes = np.array([(each.box[2] - each.box[0], each.box[3] - each.box[1]) for each in chosen])
    for at, each in enumerate(chosen):
        for axis in (0, 1):
            first, last = axis, axis + 2
            faint = [side for side in (first, last) if each.support[side] < _FAINT]
            size = _size_of_others(chosen, sizes, at, axis)
            if len(faint) != 1 or size is None or sizes[at, axis] > (1 - _SHORT) * size:
                continue
            moved = drawn_out(each.box, faint[0], float(size - sizes[at, axis]))
            if _free(frame, moved, [other.box for n, other in enumerate(result) if n != at]):
                # What is seen of its sides where it was seen to end speaks for the panel as before.
                result[at] = replace(each, box=moved, trust=min(each.trust, _GUESSED))
    return result


def _size_of_others(chosen: list[Rectangle], sizes: NDArray[np.floating], at: int, axis: int) -> float | None:
    """The size in one direction on which at least two surely seen panels agree that are as large in the other."""
    told = [
        float(size[axis])
        for n, (each, size) in enumerate(zip(chosen, sizes, strict=True))
        if n != at
        and min(each.support[axis], each.support[axis + 2]) >= _FAINT
        and abs(size[1 - axis] - sizes[at, 1 - axis]) <= _ALIKE * size[1 - axis]
    ]
    if len(told) < 2 or max(told) - min(told) > _ALIKE * max(told):
        return None
    return float(np.median(told))


def _free(frame: Frame, box: tuple[float, ...], others: list[tuple[float, float, float, float]]) -> bool:
    """Whether a box lies within the frame and clear of all others."""
    height, width = frame.inside.shape
    if min(box[0], box[1]) < _ROOM or box[2] > width - _ROOM or box[3] > height - _ROOM:
        return False
    return all(
        max(box[0] - other[2], other[0] - box[2], box[1] - other[3], other[1] - box[3]) >= _ROOM for other in others
    )
