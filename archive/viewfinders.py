"""The fast look: a study held against every work through many viewfinders at once.

A viewfinder is a rectangle in 0..1 of a work. How well a study agrees with the work behind a viewfinder is their
correlation, tone against tone, which does not ask how light or dark either is as a whole. Stretching the study over
the viewfinder instead of cutting the work out turns the look into one matrix product: works by tones times tones by
viewfinders; only each work's spread of tone behind each viewfinder has to be known beforehand.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ingest.signature import GRID

Floats = NDArray[np.float32]

COARSE = 16
"""Cells a side in the fast look; half the signature's, so that a wobble of a hand stays inside a cell."""

_EXTENTS: tuple[tuple[float, tuple[float, ...]], ...] = (
    (1.0, (0.0,)),
    (0.86, (0.0, 0.07, 0.14)),
    (0.72, (0.0, 0.14, 0.28)),
    (0.6, (0.0, 0.133, 0.267, 0.4)),
)
_INTERVALS = tuple((start, start + extent) for extent, starts in _EXTENTS for start in starts)
WHOLE = (0.0, 0.0, 1.0, 1.0)
VIEWFINDERS: tuple[tuple[float, float, float, float], ...] = tuple(
    (x0, y0, x1, y1) for y0, y1 in _INTERVALS for x0, x1 in _INTERVALS
)
"""Every viewfinder that is looked through; the first is the whole work."""

_LEAST_SPREAD = 3.0
"""L*; a part of a work flatter than this shows no pattern, and noise must not be stretched into one."""


@dataclass(frozen=True)
class Looks:
    """The best look at each work: agreement (n,) -1..1, viewfinder (n,) index, mirrored (n,) bool."""

    agreement: Floats
    viewfinder: NDArray[np.int64]
    mirrored: NDArray[np.bool_]


class Wall:
    """All works of an archive side by side, ready to be looked at.

    patterns: (n, GRID, GRID) float32 L*; aspects: (n,) width / height.
    """

    def __init__(self, patterns: Floats, aspects: Floats) -> None:
        step = GRID // COARSE
        coarse = patterns.reshape(-1, COARSE, step, COARSE, step).mean(axis=(2, 4))
        self._tones = np.ascontiguousarray(coarse - 50.0, dtype=np.float32)
        self._aspects = np.log2(aspects)
        self._spread = self._spread_behind(self._tones)

    def __len__(self) -> int:
        return len(self._tones)

    @cached_property
    def _flat_tones(self) -> Floats:
        return self._tones.reshape(len(self._tones), -1)

    def look(self, study: Floats, aspect: float, *, whole: bool = False, mirrored: bool = True) -> Looks:
        """Hold a study, (GRID, GRID) L* of a picture `aspect` wide for its height, against every work."""
        chosen = np.arange(1 if whole else len(VIEWFINDERS))
        templates = np.stack([_template(study, VIEWFINDERS[number]) for number in chosen])
        strain = self._strain(aspect, chosen)
        best = self._agree(templates, chosen) - strain
        viewfinder = np.argmax(best, axis=1)
        agreement = best[np.arange(len(best)), viewfinder]
        turned = np.zeros(len(best), dtype=bool)
        if mirrored:
            flipped = np.stack([_template(study[:, ::-1], VIEWFINDERS[number]) for number in chosen])
            other = self._agree(flipped, chosen) - strain
            at = np.argmax(other, axis=1)
            found = other[np.arange(len(other)), at]
            turned = found > agreement
            agreement = np.where(turned, found, agreement)
            viewfinder = np.where(turned, at, viewfinder)
        return Looks(agreement, chosen[viewfinder], turned)

    def _agree(self, templates: Floats, chosen: NDArray[np.int64]) -> Floats:
        return np.asarray((self._flat_tones @ templates.reshape(len(templates), -1).T) / self._spread[:, chosen])

    def _strain(self, aspect: float, chosen: NDArray[np.int64]) -> Floats:
        """What is taken off for stretching the study: a hand changes formats freely, but not wildly."""
        shapes = np.array([np.log2((x1 - x0) / (y1 - y0)) for x0, y0, x1, y1 in VIEWFINDERS], dtype=np.float32)
        off = np.abs(self._aspects[:, None] + shapes[chosen][None, :] - np.float32(np.log2(aspect)))
        return np.asarray(0.12 * np.maximum(0.0, off - 0.15), dtype=np.float32)

    @staticmethod
    def _spread_behind(tones: Floats) -> Floats:
        """(n, viewfinders) spread of each work's tones behind each viewfinder, L*."""
        weights = np.stack([_coverage(start, end) for start, end in _INTERVALS])
        weights /= weights.sum(axis=1, keepdims=True)
        mean = np.einsum("jy,nyx,ix->nji", weights, tones, weights, optimize=True)
        square = np.einsum("jy,nyx,ix->nji", weights, tones**2, weights, optimize=True)
        spread = np.sqrt(np.maximum(square - mean**2, _LEAST_SPREAD**2))
        return np.asarray(spread.reshape(len(tones), len(VIEWFINDERS)), dtype=np.float32)


def _coverage(start: float, end: float) -> Floats:
    """(COARSE,) how much of each cell of a line lies between start and end, 0..1."""
    edges = np.arange(COARSE + 1) / COARSE
    return np.asarray(
        np.clip(np.minimum(edges[1:], end) - np.maximum(edges[:-1], start), 0, None) * COARSE,
        dtype=np.float32,
    )


def _template(study: Floats, viewfinder: tuple[float, float, float, float]) -> Floats:
    """(COARSE, COARSE) weights that correlate a work's tones with the study stretched over the viewfinder."""
    x0, y0, x1, y1 = viewfinder
    rows, columns = _reading(y0, y1), _reading(x0, x1)
    laid = rows @ study @ columns.T
    cover = np.outer(_coverage(y0, y1), _coverage(x0, x1))
    total = cover.sum()
    centred = laid - (laid * cover).sum() / total
    spread = np.sqrt(max(float((centred**2 * cover).sum() / total), _LEAST_SPREAD**2))
    return np.asarray(cover * centred / (spread * total), dtype=np.float32)


def _reading(start: float, end: float) -> Floats:
    """(COARSE, GRID) weights that average a line of study cells, stretched from start to end, over a work's cells."""
    cells = np.arange(COARSE + 1) / COARSE
    low = (np.clip(cells[:-1], start, end) - start) / (end - start) * GRID
    high = (np.clip(cells[1:], start, end) - start) / (end - start) * GRID
    at = np.arange(GRID)
    overlap = np.clip(np.minimum(high[:, None], at + 1) - np.maximum(low[:, None], at), 0, None)
    return np.asarray(overlap / np.maximum(overlap.sum(axis=1, keepdims=True), 1e-6), dtype=np.float32)
