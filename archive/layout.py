"""The layout: how a study and what lies behind a viewfinder agree as they hang, the large shapes first.

What gives way to be brought into register (`archive.close_look`) can be made to fit a little by nearly any work, and by
which work a little better hangs on less than a photo shows. As pictures hang nothing gives way.

Pictures are told as waves across the frame (discrete cosine transform, Ahmed, Natarajan & Rao 1974, IEEE Transactions on
Computers C-23:90-93), the longer the more they count. Waves across viewfinders are two small products of matrices, of
rows and of columns, for all viewfinders at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from archive.viewfinders import COARSE, VIEWFINDERS, ViewfinderSet

Floats = NDArray[np.float32]

_WAVES = 8
"""Half waves across the frame that are told, from none up."""

_HALF = 2.0
"""Half waves at which a shape counts half as much as the largest."""

_LEFT_OUT = 0.6
"""Taken off for the share of the work that is left out: of some work a part is like nearly anything."""

_LEAST_SPREAD = 0.2
"""Standard deviation, of one near 1 for whole pictures, below which a part is as good as flat."""

_COUNTS = (1 / (1 + np.hypot(*np.mgrid[:_WAVES, :_WAVES]) / _HALF)).astype(np.float32)
_COUNTS[0, 0] = 0


@dataclass(frozen=True)
class Laid:
    """One per work: agreement (k,), up to 1; parts (k, 4) the viewfinders; mirrored (k,) whether the study was turned."""

    agreement: Floats
    parts: Floats
    mirrored: NDArray[np.bool_]


def _behind(start: float, end: float) -> Floats:
    """(COARSE, COARSE) weights that average what lies from start to end of a line into as many cells."""
    edges, cells = np.linspace(start, end, COARSE + 1), np.arange(COARSE + 1) / COARSE
    overlap = np.minimum(edges[1:, None], cells[1:]) - np.maximum(edges[:-1, None], cells[:-1])
    overlap = np.clip(overlap, 0, None)
    return np.asarray(overlap / overlap.sum(axis=1, keepdims=True), dtype=np.float32)


class _Lines:
    """Waves along the lines behind the intervals that viewfinders are made of."""

    def __init__(self, finders: ViewfinderSet) -> None:
        self.finders = finders
        waves = fft.dct(np.eye(COARSE), axis=0, norm="ortho")[:_WAVES]
        self.of = np.concatenate([waves @ _behind(*each) for each in finders.intervals]).astype(np.float32)

    def shapes(self, tones: Floats) -> Floats:
        """(k, v, w) shapes of tones (k, COARSE, COARSE) behind each viewfinder, as vectors of length 1."""
        many = len(self.finders.intervals)
        found = (self.of @ tones @ self.of.T).reshape(len(tones), many, _WAVES, many, _WAVES)
        found = (found.transpose(0, 1, 3, 2, 4) * _COUNTS).reshape(len(tones), many * many, -1)
        least = np.float32(_LEAST_SPREAD * COARSE / 4)
        length = np.sqrt(np.einsum("kvw,kvw->kv", found, found))
        found /= np.maximum(length, least)[..., None]
        return found


_ALL, _WHOLE = _Lines(VIEWFINDERS), _Lines(ViewfinderSet(((1.0, (0.0,)),)))


def lay(faces: Floats, works: Floats, *, whole: bool = False) -> Laid:
    """A study, faces (f, COARSE, COARSE) as it is and turned over, as `likeness.told`, laid over works (k, COARSE,
    COARSE). whole: only over wholes."""
    lines = _WHOLE if whole else _ALL
    held = _WHOLE.shapes(faces)[:, 0]
    agreement = lines.shapes(works) @ held.T
    agreement -= np.float32(_LEFT_OUT) * (1 - lines.finders.areas)[:, None]
    flat = agreement.reshape(len(works), -1)
    best = flat.argmax(axis=1)
    finder, turned = np.divmod(best, len(faces))
    return Laid(flat[np.arange(len(works)), best], lines.finders.rectangles[finder], turned == 1)
