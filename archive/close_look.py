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

import numpy as np
from numpy.typing import NDArray

from archive.alignment import CELLS, Pairs, bounded, samples
from archive.likeness import BENDING, SLOPES, TONES, taken_off
from archive.net import Net, net_of
from archive.patterns import Met, Patterns, Seen
from ingest.signature import GRID

Floats = NDArray[np.float32]
Strain = Callable[[Floats], Floats]
"""(k,) how far the study's format is from that of parts (k, 4), in octaves of width to height."""

_FARTHEST_BEND = 0.06
_FARTHEST_SLIDE = 0.1
_LONGEST_STEP = 0.05
_ROUNDS = 5
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
    places = net_of(CELLS).places(net_of(CELLS).started(parts))
    return works.met(of_work, *places).agreement(target[of_study]) - taken_off(parts, strain(parts))


def align(
    studies: Patterns, works: Patterns, pairs: Pairs, parts: Floats, strain: Strain, *, fixed: bool = False
) -> Alignments:
    """Bring the studies of the pairs into register with their works, sliding, sizing and bending, from parts (k, 4)
    that are nearly right.

    fixed: the part stays as it is, only the bending is found.
    """
    start = parts.astype(np.float32)
    net = net_of(CELLS)
    of_study, of_work = pairs.T
    target = studies.all_of(CELLS)[of_study]
    behind = works.behind
    give = net.started(start)
    best, total = give, np.full(len(parts), -np.inf, dtype=np.float32)
    pull, curve = np.zeros_like(give), np.zeros((*give.shape, give.shape[1]), dtype=np.float32)
    held = np.full(len(parts), _HELD, dtype=np.float32)
    for round_ in range(_ROUNDS + 1):
        seen = behind(of_work, *net.places(give))
        part, bend = give[:, net.part], give[:, net.bend]
        tried = seen.agreement(target) - BENDING * (bend**2).mean(axis=1) - taken_off(part, strain(part))
        better = tried > total
        best = np.where(better[:, None], give, best)
        total = np.where(better, tried, total)
        if round_ == _ROUNDS:
            break
        held *= np.where(better, np.float32(_LOOSER), np.float32(_TIGHTER))
        new_pull, new_curve = _step_of(seen, target, net, give, strain, fixed=fixed)
        pull = np.where(better[:, None], new_pull, pull)
        curve = np.where(better[:, None, None], new_curve, curve)
        firm = curve + held[:, None, None] * np.eye(give.shape[1], dtype=np.float32)
        step = np.linalg.solve(firm, pull[..., None])[..., 0]
        give = best + np.clip(step, -_LONGEST_STEP, _LONGEST_STEP)
        give[:, net.part] = start if fixed else bounded(give[:, net.part], start, _FARTHEST_SLIDE)
        give[:, net.bend] = np.clip(give[:, net.bend], -_FARTHEST_BEND, _FARTHEST_BEND)
    x, y = net_of(GRID).places(best)
    size = (-1, GRID, GRID)
    bent = np.sqrt((best[:, net.bend] ** 2).mean(axis=1))
    return Alignments(best[:, net.part], total, bent, x.reshape(size), y.reshape(size))


def _step_of(seen: Seen, target: Met, net: Net, give: Floats, strain: Strain, *, fixed: bool) -> tuple[Floats, Floats]:
    """Slope (k, f) and curvature (k, f, f) of the likeness in what gives way."""
    tones, slopes = np.float32(TONES), np.float32(SLOPES)
    # What makes a vector longer alone does not turn it towards the target, and what shifts all tones alike is nothing.
    off = target.tone - seen.of_tones(target) * seen.tone
    like = seen.of_slopes(target)
    off_right, off_down = target.right - like * seen.right, target.down - like * seen.down
    pull = net.gathered(
        tones * seen.tone_x * off + slopes * (seen.xx * off_right + seen.xy * off_down),
        tones * seen.tone_y * off + slopes * (seen.xy * off_right + seen.yy * off_down),
    )
    curve = net.curved(
        tones * seen.tone_x**2 + slopes * (seen.xx**2 + seen.xy**2),
        tones * seen.tone_x * seen.tone_y + slopes * seen.xy * (seen.xx + seen.yy),
        tones * seen.tone_y**2 + slopes * (seen.xy**2 + seen.yy**2),
    )
    for weight, along in (
        (tones / np.float32(seen.tone.shape[1]), net.gathered(seen.tone_x, seen.tone_y)),
        (tones, net.gathered(seen.tone_x * seen.tone, seen.tone_y * seen.tone)),
        (slopes, net.gathered(
            seen.xx * seen.right + seen.xy * seen.down, seen.xy * seen.right + seen.yy * seen.down
        )),
    ):  # fmt: skip
        curve -= weight * along[:, :, None] * along[:, None, :]
    bend, part = net.bend, net.part
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
