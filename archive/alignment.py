"""The close look: a study and the part of a work it resembles are brought into register and compared.

A hand shifts, scales and bends shapes a little. Before the two are compared, the viewfinder is therefore slid and
sized, and then a coarse net of points over it is let give way a little, so that the tones agree as well as they can:
Gauss-Newton steps on the difference of standardised tones (Lucas & Kanade 1981), for all candidates together. How far
it may give way is bounded, and giving way costs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.signature import GRID

Floats = NDArray[np.float32]

_NET = 4
"""Points a side of the net that bends."""

_STIFF_PART = 3.0
_STIFF_BEND = 60.0
_FARTHEST_BEND = 0.06
_LEAST_SPREAD = 3.0
_LEAST_SIDE = 0.5
_PAST_EDGE = 0.08
_SLIDE_CELLS = 16
_ROUNDS = 4


@dataclass(frozen=True)
class Alignments:
    """One per candidate: part (k, 4) viewfinder in 0..1 of the work; agreement (k,) correlation of tones after bending;
    plain (k,) the same before bending; bend (k,) root mean square of the bending, in shares of the frame;
    seen (k, GRID, GRID) the work's L* as it lies behind each cell of the study; x, y (k, GRID, GRID) where in the work,
    in 0..1 of it, each cell looks."""

    part: Floats
    agreement: Floats
    plain: Floats
    bend: Floats
    seen: Floats
    x: Floats
    y: Floats

    def __getitem__(self, chosen: NDArray[np.int64]) -> Alignments:
        return Alignments(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))


def slide(studies: Floats, works: Floats, parts: Floats) -> tuple[Floats, Floats]:
    """Slide and size viewfinders, parts (k, 4), until a study agrees best with works (k, GRID, GRID).

    studies: (1 or k, GRID, GRID) L*, one for all works or one for each.

    Returns the parts and their agreement (k,). Studies must already face the way the works do.
    """
    frame = _Frame(_SLIDE_CELLS)
    part = parts.astype(np.float32)
    target, slopes = frame.read(studies), _slopes(works)
    for _ in range(3):
        off, along_x, along_y = _difference(target, works, slopes, frame.places(part))
        u, v = frame.u, frame.v
        columns = [along_x * (1 - u), along_y * (1 - v), along_x * u, along_y * v]
        part = _bounded(part + np.clip(_solve(columns, off, _STIFF_PART), -0.06, 0.06), parts, 0.1)
    tone = _sample(works, *frame.places(part))
    return part, _agreement(target, tone)


def align(studies: Floats, works: Floats, parts: Floats, *, fixed: bool = False) -> Alignments:
    """Bring studies (1 or k, GRID, GRID) into register with works, sliding, sizing and bending, from parts (k, 4) that
    are nearly right.

    fixed: the part stays as it is, only the bending is found.
    """
    frame = _Frame(_SLIDE_CELLS)
    bend = np.zeros((len(works), 2, _NET * _NET), dtype=np.float32)
    part = parts.astype(np.float32)
    target, slopes = frame.read(studies), _slopes(works)
    free = 0 if fixed else 4
    stiff = np.array([_STIFF_PART] * free + [_STIFF_BEND] * (2 * _NET * _NET), dtype=np.float32)
    for _ in range(_ROUNDS):
        off, along_x, along_y = _difference(target, works, slopes, frame.places(part, bend))
        u, v = frame.u, frame.v
        columns = [] if fixed else [along_x * (1 - u), along_y * (1 - v), along_x * u, along_y * v]
        columns += [along_x * weight for weight in frame.net.T] + [along_y * weight for weight in frame.net.T]
        held = np.concatenate([np.zeros((len(works), free)), bend.reshape(len(works), -1)], axis=1)
        step = _solve(columns, off, stiff, held)
        if not fixed:
            part = _bounded(part + np.clip(step[:, :4], -0.06, 0.06), parts, 0.05)
        bend = np.clip(bend + np.clip(step[:, free:], -0.03, 0.03).reshape(bend.shape), -_FARTHEST_BEND, _FARTHEST_BEND)
    full = _Frame(GRID)
    target = full.read(studies)
    plain = _agreement(target, _sample(works, *full.places(part)))
    x, y = full.places(part, bend)
    seen = _sample(works, x, y)
    return Alignments(
        part=part,
        agreement=_agreement(target, seen),
        plain=plain,
        bend=np.sqrt((bend**2).mean(axis=(1, 2))).astype(np.float32),
        seen=seen.reshape(-1, GRID, GRID),
        x=x.reshape(-1, GRID, GRID),
        y=y.reshape(-1, GRID, GRID),
    )


class _Frame:
    """The places of a study, cells a side, at which it is compared: u, v (p,) in 0..1 and the net's weights there."""

    def __init__(self, cells: int) -> None:
        self.cells = cells
        centres = (np.arange(cells, dtype=np.float32) + np.float32(0.5)) / np.float32(cells)
        u, v = np.meshgrid(centres, centres)
        self.u, self.v = u.ravel(), v.ravel()
        self.net = _net_weights(self.u, self.v)

    def read(self, studies: Floats) -> Floats:
        """(m, p) the studies (m, GRID, GRID) at these places, standardised."""
        step = GRID // self.cells
        coarse = studies.reshape(-1, self.cells, step, self.cells, step).mean(axis=(2, 4))
        return _standard(coarse.reshape(len(studies), -1))

    def places(self, part: Floats, bend: Floats | None = None) -> tuple[Floats, Floats]:
        """Where in the work, x and y in 0..1, each place looks; (k, p) each."""
        x = part[:, :1] + (part[:, 2:3] - part[:, :1]) * self.u
        y = part[:, 1:2] + (part[:, 3:4] - part[:, 1:2]) * self.v
        if bend is None:
            return x, y
        moved = (bend.reshape(-1, _NET * _NET) @ self.net.T).reshape(len(part), 2, -1)
        return x + moved[:, 0], y + moved[:, 1]


def _difference(
    target: Floats, works: Floats, slopes: tuple[Floats, Floats], places: tuple[Floats, Floats]
) -> tuple[Floats, Floats, Floats]:
    """How far standardised tones are off the target, and how they change with a step right or down; (k, p) each."""
    tone, down, right = _samples((works, *slopes), *places)
    spread = np.maximum(tone.std(axis=1, keepdims=True), _LEAST_SPREAD)
    off = target - (tone - tone.mean(axis=1, keepdims=True)) / spread
    return off, right * (GRID / spread), down * (GRID / spread)


def _slopes(works: Floats) -> tuple[Floats, Floats]:
    """How L* changes with one cell down and one cell right, (k, GRID, GRID) each."""
    return np.asarray(np.gradient(works, axis=1)), np.asarray(np.gradient(works, axis=2))


def _solve(columns: list[Floats], off: Floats, stiff: float | Floats, held: Floats | None = None) -> Floats:
    """The Gauss-Newton step (k, f); `held` is what the stiffness pulls back towards nothing."""
    jacobian = np.stack(columns, axis=1)
    jacobian -= jacobian.mean(axis=2, keepdims=True)
    pull = (jacobian @ off[..., None])[..., 0]
    if held is not None:
        pull -= stiff * held
    normal = jacobian @ jacobian.transpose(0, 2, 1)
    normal += np.diag(np.broadcast_to(stiff, normal.shape[1:2])).astype(np.float32)
    return np.asarray(np.linalg.solve(normal, pull[..., None].astype(np.float32))[..., 0], dtype=np.float32)


def _bounded(part: Floats, start: Floats, reach: float) -> Floats:
    """Slid and sized by at most `reach` of the frame, no smaller than `_LEAST_SIDE`, and hardly out of the work: a hand
    may run on past the edge."""
    near = np.clip(np.clip(part, start - reach, start + reach), -_PAST_EDGE, 1 + _PAST_EDGE)
    middle = (near[:, :2] + near[:, 2:]) / 2
    half = np.maximum(near[:, 2:] - near[:, :2], _LEAST_SIDE) / 2
    return np.concatenate([middle - half, middle + half], axis=1).astype(np.float32)


def _net_weights(u: Floats, v: Floats) -> Floats:
    """(p, _NET²) weights of the net's points at each place of the frame, smooth and summing to 1."""

    def line(at: Floats) -> Floats:
        gap = np.abs(at[:, None] * (_NET - 1) - np.arange(_NET)[None, :])
        return np.asarray(np.where(gap < 1, 1 - gap**2 * (3 - 2 * gap), 0.0), dtype=np.float32)

    return np.asarray((line(v)[:, :, None] * line(u)[:, None, :]).reshape(len(u), -1), dtype=np.float32)


def _sample(images: Floats, x: Floats, y: Floats) -> Floats:
    """Bilinear look-up of (k, GRID, GRID) at x, y (k, p) in 0..1; beyond the frame its edge goes on."""
    return _samples((images,), x, y)[0]


def _samples(several: tuple[Floats, ...], x: Floats, y: Floats) -> list[Floats]:
    """The same look-up in several sets of images at once."""
    column = np.clip(x * GRID - 0.5, 0, GRID - 1.001)
    row = np.clip(y * GRID - 0.5, 0, GRID - 1.001)
    left, top = column.astype(np.int32), row.astype(np.int32)
    across, down = (column - left).astype(np.float32), (row - top).astype(np.float32)
    at = top * GRID + left + (np.arange(len(x), dtype=np.int32) * GRID * GRID)[:, None]
    found = []
    for images in several:
        flat = images.ravel()
        upper, lower = flat.take(at), flat[GRID:].take(at)
        upper += (flat[1:].take(at) - upper) * across
        lower += (flat[GRID + 1 :].take(at) - lower) * across
        upper += (lower - upper) * down
        found.append(upper)
    return found


def _standard(tones: Floats) -> Floats:
    centred = tones - tones.mean(axis=1, keepdims=True)
    return np.asarray(centred / np.maximum(centred.std(axis=1, keepdims=True), _LEAST_SPREAD), dtype=np.float32)


def _agreement(target: Floats, tone: Floats) -> Floats:
    return np.asarray((target * _standard(tone)).mean(axis=1), dtype=np.float32)
