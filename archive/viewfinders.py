"""The fast look: a study held against every work through many viewfinders at once.

A viewfinder is a rectangle in 0..1 of a work. How well a study agrees with the work behind a viewfinder is their
correlation, tone against tone, which does not ask how light or dark either is as a whole. Stretching the study over
the viewfinder instead of cutting the work out turns the look into one matrix product: works by tones times tones by
viewfinders; only each work's spread of tone behind each viewfinder has to be known beside it.

Tones are told by half as they are and by half by their order in their own picture (Spearman 1904): a study in three
values has another curve of tone than its master, and where a few cells of a picture are far lighter or darker than all
others they would else decide alone.

In a large archive a first glance goes before: fewer viewfinders, and tones shortened to the few ways in which pictures
differ most (principal components), only to leave the works that cannot be alike out of the full look.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.products import one_thread_a_product
from ingest.signature import GRID, aspects, coarse_fields

Floats = NDArray[np.float32]

COARSE = GRID // 2
"""Cells a side in the fast look: half the signature's, so that a wobble of a hand stays inside a cell."""

_HUNG_AT_ONCE = 4096
_GLANCED_AT_ONCE = 1024
"""Works; what a glance at so many needs stays within a core's own cache."""

_GLANCED, _GLANCED_SHARE = 1000, 1 / 250
"""Works that the first glance passes on, and the share of them in a large archive; an archive with no more of them is
looked at in full at once."""

_STRETCHED, _PARTNESS = 0.12, 0.1
"""Taken off the agreement for an octave of format, and for all that is left out."""

_COMPONENTS = 48
_SAMPLED = 8000

_LEAST_SPREAD = 3.0
"""L*; a part of a work flatter than this shows no pattern, and noise must not be stretched into one."""

_STEPS = 256
"""Steps of L* that are told apart when tones are put in order."""


class ViewfinderSet:
    """All rectangles with sides from a list of intervals of 0..1, the whole frame first.

    rectangles: (v, 4) x0, y0, x1, y1. areas: (v,) shares of the frame. shapes: (v,) octaves of width to height that
    each adds to its work's.
    """

    def __init__(self, extents: tuple[tuple[float, tuple[float, ...]], ...]) -> None:
        intervals = [(start, start + extent) for extent, starts in extents for start in starts]
        self.rectangles = np.array([(x0, y0, x1, y1) for y0, y1 in intervals for x0, x1 in intervals], dtype=np.float32)
        x0, y0, x1, y1 = self.rectangles.T
        self.areas = (x1 - x0) * (y1 - y0)
        self.shapes = np.log2((x1 - x0) / (y1 - y0)).astype(np.float32)
        cover = np.stack([_coverage(start, end) for start, end in intervals])
        self._reading = np.stack([_reading(start, end) for start, end in intervals])
        lines = cover / cover.sum(axis=1, keepdims=True)
        self._weights = np.einsum("jy,ix->jiyx", lines, lines)
        self._shares = np.ascontiguousarray(self._weights.reshape(len(self), -1).T)

    def __len__(self) -> int:
        return len(self.rectangles)

    def templates(self, study: Floats) -> Floats:
        """(v, COARSE²) weights that correlate tones with the study, (GRID, GRID), laid over each viewfinder."""
        lines = self._reading.reshape(-1, GRID)
        # Two products over all lines at once, and only then the viewfinders: a sum over three tables is far slower.
        laid = (lines @ study @ lines.T).reshape(*self._reading.shape[:2], *self._reading.shape[:2]).swapaxes(1, 2)
        cover = self._weights
        centred = laid - (laid * cover).sum(axis=(2, 3), keepdims=True)
        spread = np.sqrt(np.maximum((centred**2 * cover).sum(axis=(2, 3), keepdims=True), _LEAST_SPREAD**2))
        return np.asarray((cover * centred / spread).reshape(len(self), -1), dtype=np.float32)

    def spread_behind(self, tones: Floats) -> Floats:
        """(n, v) spread of tones (n, COARSE, COARSE) behind each viewfinder, L*."""
        flat = tones.reshape(len(tones), -1)
        mean, square = flat @ self._shares, flat**2 @ self._shares
        return np.asarray(np.sqrt(np.maximum(square - mean**2, _LEAST_SPREAD**2)), dtype=np.float32)


def _coverage(start: float, end: float) -> Floats:
    """(COARSE,) how much of each cell of a line lies between start and end, 0..1."""
    edges = np.arange(COARSE + 1) / COARSE
    overlap = np.minimum(edges[1:], end) - np.maximum(edges[:-1], start)
    return np.asarray(np.clip(overlap, 0, None) * COARSE, dtype=np.float32)


def _reading(start: float, end: float) -> Floats:
    """(COARSE, GRID) weights that average a line of study cells, stretched from start to end, over a work's cells."""
    cells = np.arange(COARSE + 1) / COARSE
    low = (np.clip(cells[:-1], start, end) - start) / (end - start) * GRID
    high = (np.clip(cells[1:], start, end) - start) / (end - start) * GRID
    at = np.arange(GRID)
    overlap = np.clip(np.minimum(high[:, None], at + 1) - np.maximum(low[:, None], at), 0, None)
    return np.asarray(overlap / np.maximum(overlap.sum(axis=1, keepdims=True), 1e-6), dtype=np.float32)


VIEWFINDERS = ViewfinderSet(
    ((1.0, (0.0,)), (0.86, (0, 0.07, 0.14)), (0.72, (0, 0.09, 0.19, 0.28)), (0.62, (0, 0.1, 0.19, 0.29, 0.38)))
)
_FEW = ViewfinderSet(((1.0, (0.0,)), (0.84, (0, 0.08, 0.16)), (0.66, (0, 0.11, 0.22, 0.34))))
_WHOLE = ViewfinderSet(((1.0, (0.0,)),))


@dataclass(frozen=True)
class Looks:
    """Works that may be built like a study, the most promising first, each looked at through some viewfinders, the best
    first: rows (k,); agreement (k, s) -1..1 with a little taken off for stretching and leaving out; parts (k, s, 4) the
    viewfinders; mirrored (k, s) whether the study was turned over."""

    rows: NDArray[np.int64]
    agreement: Floats
    parts: Floats
    mirrored: NDArray[np.bool_]


class Wall:
    """All works of an archive side by side, ready to be looked at.

    signatures: (n, L) uint8, may be memory-mapped; about a kilobyte a work is held in memory.
    mean, spread: (n,) L*, of each work.
    """

    def __init__(self, signatures: NDArray[np.uint8]) -> None:
        self._signatures = signatures
        self.aspects = aspects(signatures)
        count = len(signatures)
        self.mean, self.spread = np.empty(count, np.float32), np.empty(count, np.float32)
        # Telling tones takes longer than all else that is done with them in a look, so it is done once.
        self._tones = np.empty((count, COARSE * COARSE), np.float16)
        self._basis: Floats | None = None
        if count > _GLANCED:
            chosen = np.sort(np.random.default_rng(0).permutation(count)[:_SAMPLED])
            self._basis = _principal(_told(coarse_fields(np.asarray(signatures[chosen]))))
            self._short = np.empty((self._basis.shape[1], count), np.float32)
            self._inverse = np.empty((len(_FEW), count), np.float32)
        with one_thread_a_product(), ThreadPoolExecutor(os.cpu_count()) as pool:
            list(pool.map(self._hang, _chunks(count, _HUNG_AT_ONCE)))

    def _hang(self, at: slice) -> None:
        plain = coarse_fields(np.asarray(self._signatures[at]))
        self.mean[at] = plain.mean(axis=(1, 2))
        self.spread[at] = plain.std(axis=(1, 2))
        tones = _told(plain)
        self._tones[at] = tones.reshape(len(tones), -1)
        if self._basis is not None:
            self._short[:, at] = (tones.reshape(len(tones), -1) @ self._basis).T
            self._inverse[:, at] = 1.0 / _FEW.spread_behind(tones).T

    def __len__(self) -> int:
        return len(self._signatures)

    def look(
        self,
        study: Floats,
        aspect: float,
        *,
        works: int,
        each: int = 1,
        whole: bool = False,
        mirrored: bool = True,
        taken: Floats | None = None,
    ) -> Looks:
        """The most promising works for a study, (GRID, GRID) L* of a picture `aspect` wide for its height, and the
        `each` best looks at each of them; with more than one, one is at the whole.

        whole: only at wholes. mirrored: the study may be turned over. taken: (n,) what is taken off each work's promise
        beforehand; infinite for works that are out of question.
        """
        told = _told(study[None])[0]
        faces = (told, told[:, ::-1]) if mirrored else (told,)
        rows = self._glance(faces, aspect, whole, taken)
        finders = _WHOLE if whole else VIEWFINDERS
        tones = self._tones[rows].astype(np.float32)
        spread = finders.spread_behind(tones)
        against = self._against(rows, finders, aspect).T
        found = np.concatenate([tones @ finders.templates(face).T / spread - against for face in faces], axis=1)
        if taken is not None:
            found -= taken[rows][:, None]
        promise = found.max(axis=1)
        order = np.argsort(-promise, kind="stable")[:works]
        order = order[np.isfinite(promise[order])]
        found = found[order]
        wanted = found
        if each > 1:
            # A part and the whole are weighed against each other closely.
            of_wholes = len(finders) * np.argmax(found[:, :: len(finders)], axis=1)
            wanted = found.copy()
            wanted[np.arange(len(found)), of_wholes] = np.inf
        each = min(each, found.shape[1])
        looks = np.argpartition(-wanted, each - 1, axis=1)[:, :each]
        agreement = np.take_along_axis(found, looks, axis=1)
        best_first = np.argsort(-agreement, axis=1, kind="stable")
        turned, finder = np.divmod(np.take_along_axis(looks, best_first, axis=1), len(finders))
        return Looks(
            rows[order], np.take_along_axis(agreement, best_first, axis=1), finders.rectangles[finder], turned == 1
        )

    def _against(
        self, rows: slice | NDArray[np.int64], finders: ViewfinderSet, aspect: float, out: Floats | None = None
    ) -> Floats:
        """(v, k) what is taken off the agreement of rows behind each viewfinder: a hand changes formats freely, but not
        wildly; and a small part of some work is like nearly anything."""
        octaves = np.log2(self.aspects[rows]) - np.float32(np.log2(aspect))
        off: Floats = np.add(finders.shapes[:, None], octaves, out=out)
        np.abs(off, out=off)
        off -= np.float32(0.15)
        np.maximum(off, np.float32(0), out=off)
        off *= np.float32(_STRETCHED)
        off += np.float32(_PARTNESS) * (1 - finders.areas)[:, None]
        return off

    def _glance(self, faces: tuple[Floats, ...], aspect: float, whole: bool, taken: Floats | None) -> NDArray[np.int64]:
        """Rows worth a full look."""
        if self._basis is None:
            return np.arange(len(self))
        finders = _WHOLE if whole else _FEW
        templates = np.concatenate([finders.templates(face) for face in faces]) @ self._basis
        promise = np.empty(len(self), np.float32)

        def glance(chunks: Iterable[slice]) -> None:
            # Room is made once: fresh room for every step of every chunk costs more than all the sums.
            room = np.empty((len(templates), _GLANCED_AT_ONCE), np.float32)
            against = np.empty((len(finders), _GLANCED_AT_ONCE), np.float32)
            for at in chunks:
                many = at.stop - at.start
                agreement = np.matmul(templates, self._short[:, at], out=room[:, :many])
                best = agreement[: len(finders)]
                if len(faces) > 1:
                    np.maximum(best, agreement[len(finders) :], out=best)
                best *= self._inverse[: len(finders), at]
                best -= self._against(at, finders, aspect, out=against[:, :many])
                best.max(axis=0, out=promise[at])

        hands = os.cpu_count() or 1
        chunks = list(_chunks(len(self), _GLANCED_AT_ONCE))
        with one_thread_a_product(), ThreadPoolExecutor(hands) as pool:
            list(pool.map(glance, (chunks[hand::hands] for hand in range(hands))))
        if taken is not None:
            promise -= taken
        passed_on = max(_GLANCED, round(_GLANCED_SHARE * len(self)))
        return np.sort(np.argpartition(-promise, passed_on)[:passed_on])


def _told(tones: Floats) -> Floats:
    """Tones (k, g, g) L*, 0..100, of each picture about their mean: by half as they are, by half their order, spread
    as widely."""
    flat = tones.reshape(len(tones), -1)
    centred = flat - flat.mean(axis=1, keepdims=True)
    step = np.clip(flat * ((_STEPS - 1) / 100), 0, _STEPS - 1).astype(np.int32)
    step += _STEPS * np.arange(len(flat), dtype=np.int32)[:, None]
    many = np.bincount(step.ravel(), minlength=_STEPS * len(flat)).reshape(len(flat), _STEPS)
    order = ((np.cumsum(many, axis=1) - 0.5 * many) / flat.shape[1] - 0.5).astype(np.float32).ravel()[step]
    # Evenly spread from -1/2 to 1/2, order has a standard deviation of 1 / sqrt(12).
    order *= np.float32(np.sqrt(12)) * centred.std(axis=1, keepdims=True)
    return np.asarray((centred + order).reshape(tones.shape) / 2, dtype=np.float32)


def _chunks(count: int, at_once: int) -> Iterator[slice]:
    return (slice(start, min(count, start + at_once)) for start in range(0, count, at_once))


def _principal(tones: Floats) -> Floats:
    """(COARSE², components) directions in which tones differ most; correlations do not ask for their mean."""
    flat = tones.reshape(len(tones), -1)
    flat = flat - flat.mean(axis=1, keepdims=True)
    _, directions = np.linalg.eigh(flat.T @ flat)
    return np.ascontiguousarray(directions[:, ::-1][:, :_COMPONENTS], dtype=np.float32)
