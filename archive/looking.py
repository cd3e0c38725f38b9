"""Looking: which works a study is like, and which part of each, from afar, then closely.

From afar every work is seen through many viewfinders (`archive.viewfinders`). Over the most promising works the best of
these are slid (`archive.alignment`), and what then is most like the study, as it is, is brought fully into register
(`archive.close_look`); likeness (`archive.likeness`) is told of that.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from archive.alignment import Pairs, slide
from archive.close_look import Alignments, align, unbent
from archive.likeness import faded, told
from archive.patterns import Patterns
from archive.viewfinders import Wall
from ingest.products import one_thread_a_product
from ingest.signature import fields, thresholds

_SLID, _BENT = 160, 60
"""How many works, at least, have their viewfinders slid, and how many of these looks are brought fully into register;
twice and four times as many as are asked for, where that is more."""

_SLID_SHARE, _BENT_SHARE = 1 / 2000, 1 / 12_500
"""The more works there are, the more of them look alike from afar: of a large archive these shares are."""

_LOOKS, _KEPT = 6, 3
"""Viewfinders that are slid over each work, and how many of these, at most, are brought fully into register: from
one that seemed the best by a little the search may end where the work is far less like the study than it could be."""

_SAME_PART = 0.02
"""Sides of viewfinders, in 0..1 of the work, up to which these show the same part."""


class Held:
    """What is held against works: faces (2, g, g) L*, as it is and turned over, and the patterns in them; limits
    (1, 2) L* where its dark ends and its light begins; aspect its width over height, which a study knows better than
    its signature."""

    def __init__(self, signature: NDArray[np.uint8], aspect: float) -> None:
        self.pattern = fields(signature[None])[0]
        self.faces = np.stack([self.pattern, self.pattern[:, ::-1]])
        self.limits = thresholds(signature[None])
        self.patterns = Patterns(told(self.faces, self.limits.repeat(2, axis=0)))
        self.aspect = aspect


@dataclass(frozen=True)
class Found:
    """A work looked at closely: score 0..1, row among the works, whether the study is mirrored, facing (g, g) L* of the
    study as it was held, limits (2,) of its values, seen (g, g) L* of the work behind each cell of it, and aligned, of
    this one alone, where that lies."""

    score: float
    row: int
    mirrored: bool
    facing: NDArray[np.float32]
    limits: NDArray[np.float32]
    seen: NDArray[np.float32]
    aligned: Alignments


class Looking:
    """Looks at the works whose signatures (n, L) uint8 these are; read only, and safe to use from several threads."""

    def __init__(self, signatures: NDArray[np.uint8]) -> None:
        self._signatures = signatures
        self._wall = Wall(signatures)

    def __len__(self) -> int:
        return len(self._wall)

    def work(self, row: int) -> Held:
        """One of the works, held against the others."""
        return Held(self._signatures[row], float(self._wall.aspects[row]))

    def find(
        self,
        held: Held,
        count: int,
        *,
        whole: bool,
        mirrored: bool,
        heed_register: bool,
        among: NDArray[np.int64] | None,
    ) -> list[Found]:
        """The works, each once, that are most like what is held, the best first and `count` of them at least, if there
        are as many. among: rows, only of these works."""
        with one_thread_a_product():
            looks = self._wall.look(
                held.pattern,
                held.aspect,
                works=max(_SLID, 2 * count, round(_SLID_SHARE * len(self._wall))),
                each=_LOOKS,
                whole=whole,
                mirrored=mirrored,
                taken=self._taken(held.pattern, heed_register, among),
            )
            if not len(looks.rows):
                return []
            works, each = looks.agreement.shape
            parts, turned = looks.parts.reshape(-1, 4), looks.mirrored.ravel()
            pairs = _pairs(turned, np.repeat(np.arange(works), each))
            hung = self._hang(looks.rows)
            if not whole:
                parts = slide(held.faces, hung.fields, pairs, parts)
            strain = functools.partial(self._strain, held.aspect, looks.rows[pairs[:, 1]])
            nearness = unbent(held.patterns, hung.patterns, pairs, parts, strain)
            near = _apart(nearness.reshape(works, each), parts, turned)
            near = near[np.argsort(-nearness[near], kind="stable")]
            near = near[: max(_BENT, 4 * count, round(_BENT_SHARE * len(self._wall)))]
            found = self._closely(held, hung, pairs[near], parts[near], whole, heed_register)
        best: dict[int, Found] = {}
        for item in sorted(found, key=lambda item: -item.score):
            best.setdefault(item.row, item)
        return list(best.values())

    def likeness(self, row: int, other: int) -> float:
        """How alike two works are as wholes, 0..1, one of them mirrored or not; the same either way round."""
        whole = np.array([[0.0, 0.0, 1.0, 1.0]] * 2, dtype=np.float32)
        with one_thread_a_product():
            hung = self._hang(np.array([other]))
            either_way = self._closely(self.work(row), hung, np.array([[0, 0], [1, 0]]), whole, True, False)
        return max(found.score for found in either_way)

    def _closely(
        self,
        held: Held,
        hung: _Hung,
        pairs: Pairs,
        parts: NDArray[np.float32],
        whole: bool,
        heed_register: bool,
    ) -> list[Found]:
        looked_at, of_work = np.unique(pairs[:, 1], return_inverse=True)
        rows, works, patterns = hung.rows[looked_at], hung.fields[looked_at], hung.patterns[looked_at]
        pairs = np.stack([pairs[:, 0], of_work], axis=1)
        strain = functools.partial(self._strain, held.aspect, rows[of_work])
        aligned = align(held.patterns, patterns, pairs, parts, strain, fixed=whole)
        alike = faded(aligned.total)
        if whole:
            # As much as the study is like the work, the work is like the study.
            back = align(patterns, held.patterns, pairs[:, ::-1], parts, strain, fixed=True)
            alike = (alike + faded(back.total)) * np.float32(0.5)
        seen = aligned.seen(works, of_work)
        if heed_register:
            pattern = held.pattern
            off = _off_register(pattern.mean(), pattern.std(), seen.mean(axis=(1, 2)), seen.std(axis=(1, 2)))
            alike *= 1 - np.minimum(1.0, off)
        return [
            Found(
                float(alike[at]),
                int(rows[work]),
                bool(face),
                held.faces[face],
                held.limits[0],
                seen[at],
                aligned[np.array([at])],
            )
            for at, (face, work) in enumerate(pairs)
        ]

    def _hang(self, rows: NDArray[np.int64]) -> _Hung:
        signatures = np.asarray(self._signatures[rows])
        tones = fields(signatures)
        return _Hung(rows, tones, Patterns(told(tones, thresholds(signatures))))

    def _strain(self, aspect: float, rows: NDArray[np.int64], parts: NDArray[np.float32]) -> NDArray[np.float32]:
        """(k,) how far the study's format, width over height, is from the parts', in octaves of width to height."""
        x0, y0, x1, y1 = np.clip(parts, 0, 1).T
        format_of_part = self._wall.aspects[rows] * (x1 - x0) / (y1 - y0)
        return np.asarray(np.abs(np.log2(format_of_part / np.float32(aspect))), dtype=np.float32)

    def _taken(
        self, pattern: NDArray[np.float32], heed_register: bool, among: NDArray[np.int64] | None
    ) -> NDArray[np.float32] | None:
        """(n,) what is taken off each work's promise before it is looked at; None when nothing is."""
        if not heed_register and among is None:
            return None
        taken = np.zeros(len(self), dtype=np.float32)
        if heed_register:
            taken += _off_register(pattern.mean(), pattern.std(), self._wall.mean, self._wall.spread)
        if among is not None:
            out = np.ones(len(taken), dtype=bool)
            out[among] = False
            taken[out] = np.inf
        return taken


@dataclass(frozen=True)
class _Hung:
    """Works taken down to be held against a study: rows (m,), fields (m, g, g) L*, and the patterns in them."""

    rows: NDArray[np.int64]
    fields: NDArray[np.float32]
    patterns: Patterns


def _pairs(turned: NDArray[np.bool_], of_work: NDArray[np.int64]) -> Pairs:
    """(k, 2) which face of the study, and which work."""
    return np.stack([turned.astype(np.int64), of_work], axis=1)


def _off_register(
    mean: np.floating[Any], spread: np.floating[Any], means: NDArray[np.float32], spreads: NDArray[np.float32]
) -> NDArray[np.float32]:
    """(n,) how far other registers and scales are off: 0 the same, 1 fifty L* off."""
    return np.asarray((np.abs(means - mean) + np.abs(spreads - spread)) / 50.0, dtype=np.float32)


def _apart(nearness: NDArray[np.float32], parts: NDArray[np.float32], turned: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Of looks at works, nearness (k, s), the best of each work that show other parts of it or the other way round;
    parts and turned, and what is returned, number looks work by work."""
    works, each = nearness.shape
    part, over = parts.reshape(works, each, 4), turned.reshape(works, each)
    left, row = nearness.copy(), np.arange(works)
    kept = []
    for _ in range(min(_KEPT, each)):
        best = left.argmax(axis=1)
        kept.append((row * each + best)[left[row, best] > -np.inf])
        off = np.abs(part - part[row, best][:, None]).max(axis=2)
        left[(off < _SAME_PART) & (over == over[row, best][:, None])] = -np.inf
    return np.concatenate(kept)
