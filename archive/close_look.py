"""The close look: a study and works are brought into the register in which they are most alike.

A hand shifts, scales and bends shapes a little. The viewfinder is therefore slid and sized, and a coarse net of points
over it is let give way a little, until the likeness itself (`archive.likeness`) is greatest, bending and all else that
is taken off included. Two patterns of length 1 differ in square by 2 less twice their correlation, so the greatest
likeness is a problem of least squares: Gauss-Newton steps (Lucas & Kanade 1981), held back where one did not help
(Levenberg 1944, Marquardt 1963), for all candidates together.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from archive.alignment import CELLS, Pairs, bounded, centres, samples
from archive.likeness import BENDING, SLOPES, TONES, taken_off
from ingest.signature import GRID

Floats = NDArray[np.float32]
Strain = Callable[[Floats], Floats]
"""(k,) how far the study's format is from that of parts (k, 4), in octaves of width to height."""

_NET = 4
"""Points a side of the net that bends."""

_FARTHEST_BEND = 0.06
_FARTHEST_SLIDE = 0.1
_LONGEST_STEP = 0.05
_ROUNDS = 5
_SOFTNESS = 1.0
"""Cells over which patterns are softened: finer than that no hand is sure."""

_LEAST_TONE, _LEAST_SLOPE = 0.15, 0.012
"""Root mean square of a pattern, and of its slope from cell to cell, below which a part is as good as flat."""

_HELD, _LOOSER, _TIGHTER = 0.02, 0.4, 6.0
_PART_HELD = 0.05
_HAIR = 2e-3


@dataclass(frozen=True)
class Alignments:
    """One per candidate: part (k, 4) viewfinder in 0..1 of the work; total (k,) likeness, up to 1, below 0 where more
    speaks against it than for it; bend (k,) root mean square of the bending, in shares of the frame; x, y (k, GRID,
    GRID) where in the work, in 0..1 of it, each cell of the study looks."""

    part: Floats
    total: Floats
    bend: Floats
    x: Floats
    y: Floats

    def __getitem__(self, chosen: NDArray[np.int64]) -> Alignments:
        return Alignments(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))

    def seen(self, works: Floats, of: NDArray[np.int64]) -> Floats:
        """(k, GRID, GRID) works (m, GRID, GRID), of (k,) saying which, as they lie behind each cell of the study."""
        (flat,) = samples((works,), of, self.x.reshape(len(of), -1), self.y.reshape(len(of), -1))
        return flat.reshape(self.x.shape)


def unbent(studies: Patterns, works: Patterns, pairs: Pairs, parts: Floats, strain: Strain) -> Floats:
    """(k,) likeness of the studies of the pairs and what of their works lies behind parts (k, 4), as they are."""
    of_study, of_work = pairs.T
    target = studies.all_of(CELLS)
    places = _frame(CELLS).places(_frame(CELLS).started(parts))
    return works.met(of_work, *places).agreement(target[of_study]) - taken_off(parts, strain(parts))


def align(
    studies: Patterns, works: Patterns, pairs: Pairs, parts: Floats, strain: Strain, *, fixed: bool = False
) -> Alignments:
    """Bring the studies of the pairs into register with their works, sliding, sizing and bending, from parts (k, 4)
    that are nearly right.

    fixed: the part stays as it is, only the bending is found.
    """
    start = parts.astype(np.float32)
    frame = _frame(CELLS)
    of_study, of_work = pairs.T
    target = studies.all_of(CELLS)[of_study]
    behind = works.behind
    give = frame.started(start)
    best, total = give, np.full(len(parts), -np.inf, dtype=np.float32)
    pull, curve = np.zeros_like(give), np.zeros((*give.shape, give.shape[1]), dtype=np.float32)
    held = np.full(len(parts), _HELD, dtype=np.float32)
    for round_ in range(_ROUNDS + 1):
        seen = behind(of_work, *frame.places(give))
        part, bend = give[:, frame.part], give[:, frame.bend]
        tried = seen.agreement(target) - BENDING * (bend**2).mean(axis=1) - taken_off(part, strain(part))
        better = tried > total
        best = np.where(better[:, None], give, best)
        total = np.where(better, tried, total)
        if round_ == _ROUNDS:
            break
        held *= np.where(better, np.float32(_LOOSER), np.float32(_TIGHTER))
        new_pull, new_curve = _step_of(seen, target, frame, give, strain, fixed=fixed)
        pull = np.where(better[:, None], new_pull, pull)
        curve = np.where(better[:, None, None], new_curve, curve)
        firm = curve + held[:, None, None] * np.eye(give.shape[1], dtype=np.float32)
        step = np.linalg.solve(firm, pull[..., None])[..., 0]
        give = best + np.clip(step, -_LONGEST_STEP, _LONGEST_STEP)
        give[:, frame.part] = start if fixed else bounded(give[:, frame.part], start, _FARTHEST_SLIDE)
        give[:, frame.bend] = np.clip(give[:, frame.bend], -_FARTHEST_BEND, _FARTHEST_BEND)
    x, y = _frame(GRID).places(best)
    size = (-1, GRID, GRID)
    bent = np.sqrt((best[:, frame.bend] ** 2).mean(axis=1))
    return Alignments(best[:, frame.part], total, bent, x.reshape(size), y.reshape(size))


class _Frame:
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


@dataclass(frozen=True)
class _Met:
    """Patterns at places, (k, p) each: tones as vectors of length 1; their slopes to the right and down, together of
    length 1."""

    tone: Floats
    right: Floats
    down: Floats

    def __getitem__(self, chosen: NDArray[np.int64]) -> _Met:
        return _Met(self.tone[chosen], self.right[chosen], self.down[chosen])

    def of_tones(self, target: _Met) -> Floats:
        return np.asarray((self.tone * target.tone).sum(axis=1, keepdims=True))

    def of_slopes(self, target: _Met) -> Floats:
        return np.asarray((self.right * target.right + self.down * target.down).sum(axis=1, keepdims=True))

    def agreement(self, target: _Met) -> Floats:
        """(k,) how the tones and slopes agree with the target's, -1..1."""
        return np.asarray((TONES * self.of_tones(target) + SLOPES * self.of_slopes(target))[:, 0], dtype=np.float32)


@dataclass(frozen=True)
class _Seen(_Met):
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

    def all_of(self, cells: int) -> _Met:
        """Each whole pattern, cells a side."""
        frame, every = _frame(cells), np.arange(len(self))
        return self.met(every, frame.u[None].repeat(len(self), axis=0), frame.v[None].repeat(len(self), axis=0))

    def met(self, of: NDArray[np.int64], x: Floats, y: Floats) -> _Met:
        """What lies at x, y (k, p) in 0..1, of (k,) saying in which pattern."""
        tone, right, down = samples(self._fields, of, x, y)
        tone, long, steep = _lengths(tone, right, down)
        return _Met(tone / long, right / steep, down / steep)

    def behind(self, of: NDArray[np.int64], x: Floats, y: Floats) -> _Seen:
        """The same, and how it changes."""
        tone, right, down, xx, xy, yy = samples((*self._fields, *self._changes), of, x, y)
        tone, long, steep = _lengths(tone, right, down)
        to_tone, to_slope = np.float32(GRID) / long, np.float32(GRID) / steep
        return _Seen(
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


def _step_of(
    seen: _Seen, target: _Met, frame: _Frame, give: Floats, strain: Strain, *, fixed: bool
) -> tuple[Floats, Floats]:
    """Slope (k, f) and curvature (k, f, f) of the likeness in what gives way."""
    tones, slopes = np.float32(TONES), np.float32(SLOPES)
    # What makes a vector longer alone does not turn it towards the target, and what shifts all tones alike is nothing.
    off = target.tone - seen.of_tones(target) * seen.tone
    like = seen.of_slopes(target)
    off_right, off_down = target.right - like * seen.right, target.down - like * seen.down
    pull = frame.gathered(
        tones * seen.tone_x * off + slopes * (seen.xx * off_right + seen.xy * off_down),
        tones * seen.tone_y * off + slopes * (seen.xy * off_right + seen.yy * off_down),
    )
    curve = frame.curved(
        tones * seen.tone_x**2 + slopes * (seen.xx**2 + seen.xy**2),
        tones * seen.tone_x * seen.tone_y + slopes * seen.xy * (seen.xx + seen.yy),
        tones * seen.tone_y**2 + slopes * (seen.xy**2 + seen.yy**2),
    )
    for weight, along in (
        (tones / np.float32(seen.tone.shape[1]), frame.gathered(seen.tone_x, seen.tone_y)),
        (tones, frame.gathered(seen.tone_x * seen.tone, seen.tone_y * seen.tone)),
        (slopes, frame.gathered(
            seen.xx * seen.right + seen.xy * seen.down, seen.xy * seen.right + seen.yy * seen.down
        )),
    ):  # fmt: skip
        curve -= weight * along[:, :, None] * along[:, None, :]
    bend, part = frame.bend, frame.part
    stiff = np.float32(2 * BENDING / len(bend))
    pull[:, bend] -= stiff * give[:, bend]
    curve[:, bend, bend] += stiff
    if fixed:
        pull[:, part] = 0
        curve[:, part, :] = 0
        curve[:, :, part] = 0
        curve[:, part, part] = 1
        return pull, curve
    hair = np.float32(_HAIR) * np.eye(4, dtype=np.float32)
    for at, less_and_more in zip(part, np.stack([-hair, hair], axis=1), strict=True):
        less, more = (give[:, part] + off for off in less_and_more)
        pull[:, at] -= (taken_off(more, strain(more)) - taken_off(less, strain(less))) / np.float32(2 * _HAIR)
    curve[:, part, part] += np.float32(_PART_HELD)
    return pull, curve


@cache
def _frame(cells: int) -> _Frame:
    return _Frame(cells)


def _net_weights(u: Floats, v: Floats) -> Floats:
    """(p, _NET²) weights of the net's points at each place of the frame, smooth and summing to 1."""

    def line(at: Floats) -> Floats:
        gap = np.abs(at[:, None] * (_NET - 1) - np.arange(_NET)[None, :])
        return np.asarray(np.where(gap < 1, 1 - gap**2 * (3 - 2 * gap), 0.0), dtype=np.float32)

    return np.asarray((line(v)[:, :, None] * line(u)[:, None, :]).reshape(len(u), -1), dtype=np.float32)
