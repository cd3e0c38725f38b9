"""A viewfinder slid and sized over a work until what lies behind it agrees best with a study.

Gauss-Newton steps on the difference of standardised tones (Lucas & Kanade 1981), for all candidates together. How far a
viewfinder may stray is bounded.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ingest.signature import GRID

Floats = NDArray[np.float32]

CELLS = 16
"""Cells a side at which a study is held against a work."""

_STIFF = 3.0
_LEAST_SPREAD = 3.0
_LEAST_SIDE = 0.5
_PAST_EDGE = 0.08
_FARTHEST = 0.1
_ROUNDS = 3

_AT_ONCE = 80
"""Viewfinders slid together, so that what is worked at stays in the processor's cache."""

Pairs = NDArray[np.int64]
"""(k, 2) which of several studies, and which of several works, belong to each of k viewfinders."""


def slide(studies: Floats, works: Floats, pairs: Pairs, parts: Floats) -> Floats:
    """Slide and size viewfinders, parts (k, 4), until the studies of the pairs agree best with their works.

    studies: (n, GRID, GRID) L*, which must already face the way the works do. works: (m, GRID, GRID) L*.
    """
    step = GRID // CELLS
    target = _standard(studies.reshape(-1, CELLS, step, CELLS, step).mean(axis=(2, 4)).reshape(len(studies), -1))
    fields = (works, np.asarray(np.gradient(works, axis=2)), np.asarray(np.gradient(works, axis=1)))
    start = parts.astype(np.float32)
    return np.concatenate([
        _slide(target[pairs[some, 0]], fields, pairs[some, 1], start[some])
        for some in (slice(first, first + _AT_ONCE) for first in range(0, len(start), _AT_ONCE))
    ])  # fmt: skip


def _slide(target: Floats, fields: tuple[Floats, Floats, Floats], of_work: NDArray[np.int64], start: Floats) -> Floats:
    """Slide viewfinders (k, 4) towards targets (k, CELLS²) over works, given with how they change right and down."""
    u, v = centres(CELLS)
    part = start
    for _ in range(_ROUNDS):
        x, y = part[:, :1] * (1 - u) + part[:, 2:3] * u, part[:, 1:2] * (1 - v) + part[:, 3:4] * v
        tone, right, down = samples(fields, of_work, x, y)
        spread = np.maximum(tone.std(axis=1, keepdims=True), _LEAST_SPREAD)
        off = target - (tone - tone.mean(axis=1, keepdims=True)) / spread
        along_x, along_y = right * (GRID / spread), down * (GRID / spread)
        jacobian = np.stack([along_x * (1 - u), along_y * (1 - v), along_x * u, along_y * v], axis=1)
        jacobian -= jacobian.mean(axis=2, keepdims=True)
        normal = jacobian @ jacobian.transpose(0, 2, 1) + np.eye(4, dtype=np.float32) * np.float32(_STIFF)
        move = np.linalg.solve(normal, jacobian @ off[..., None])[..., 0]
        part = bounded(part + np.clip(move, -0.06, 0.06), start, _FARTHEST)
    return part


def centres(cells: int) -> tuple[Floats, Floats]:
    """(p,) each: where the middles of cells a side lie, right and down in 0..1 of the frame, row by row."""
    at = (np.arange(cells, dtype=np.float32) + np.float32(0.5)) / np.float32(cells)
    u, v = np.meshgrid(at, at)
    return u.ravel(), v.ravel()


def bounded(part: Floats, start: Floats, reach: float) -> Floats:
    """Slid and sized by at most `reach` of the frame, no smaller than `_LEAST_SIDE`, and hardly out of the work: a hand
    may run on past the edge."""
    near = np.clip(np.clip(part, start - reach, start + reach), -_PAST_EDGE, 1 + _PAST_EDGE)
    middle = (near[:, :2] + near[:, 2:]) / 2
    half = np.maximum(near[:, 2:] - near[:, :2], _LEAST_SIDE) / 2
    return np.concatenate([middle - half, middle + half], axis=1).astype(np.float32)


def samples(several: tuple[Floats, ...], of: NDArray[np.int64], x: Floats, y: Floats) -> list[Floats]:
    """Bilinear look-up in several sets of images (n, GRID, GRID), of (k,) saying in which of them, at x, y (k, p) in
    0..1; beyond the frame its edge goes on."""
    column = np.clip(x * GRID - 0.5, 0, GRID - 1.001)
    row = np.clip(y * GRID - 0.5, 0, GRID - 1.001)
    left, top = column.astype(np.int32), row.astype(np.int32)
    across, down = (column - left).astype(np.float32), (row - top).astype(np.float32)
    at = top * GRID + left + (of.astype(np.int32) * GRID * GRID)[:, None]
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
