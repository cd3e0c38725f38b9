"""The works built like a study, the part of them that is, and why."""

from __future__ import annotations

import functools
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from archive.alignment import Pairs, slide
from archive.close_look import Alignments, Patterns, align, unbent
from archive.correspondence import OF_WORK, TO_STUDENT, Voice, compare
from archive.likeness import faded, told
from archive.outlines import Outline, outline
from archive.store import Archive, ArchiveError
from archive.viewfinders import Wall
from ingest.products import one_thread_a_product
from ingest.reading import Reading
from ingest.signature import fields, thresholds

_SLID, _BENT = 160, 60
"""How many works have their viewfinders slid, and how many of these are brought fully into register."""

_SLID_SHARE, _BENT_SHARE = 1 / 2000, 1 / 12_500
"""The more works there are, the more of them look alike from afar: of a large archive these shares are."""

_LOOKS, _KEPT = 6, 3
"""Viewfinders that are slid over each work, and how many of these, at most, are brought fully into register: from
one that seemed the best by a little the search may end where the work is far less like the study than it could be."""

_SAME_PART = 0.02
"""Sides of viewfinders, in 0..1 of the work, up to which these show the same part."""

_LEAST_SPAN = 8.0
"""L* between the lightest and darkest twentieth of a study below which it shows no pattern."""

_UNEVEN_LIGHT = 32.0
"""L* by which uneven light on a sheet may differ from side to side (common practice: a third of the light)."""

_ONLY_LIGHT = (
    "Only light that falls off evenly is seen here, as on a blank sheet by a window; there are no shapes to match."
)
_MEANINGLESS = "There is no pattern of values in this picture to match: it is one even tone."
_NONE_ASKED = "None of the works asked for is in the archive."
_EMPTY = "The archive holds no works to match with."


@dataclass(frozen=True)
class Match:
    """One work built like the study.

    similarity: 0..1. part: viewfinder (x0, y0, x1, y1) in 0..1 of the work as kept. mirrored: whether the study was
    turned over. agreement: share of the study's light, mid and dark that falls on the same value of the work.
    shift: how much more (negative: less) light and dark the work has than the study, in shares of the frame. masses:
    those that the sentence names, drawn on the work.
    """

    work: str
    accession_number: str
    title: str
    artist: str
    similarity: float
    part: tuple[float, float, float, float]
    mirrored: bool
    sentence: str
    agreement: dict[str, float]
    shift: dict[str, float]
    masses: tuple[Outline, ...]


@dataclass(frozen=True)
class Matches:
    """matches, best first; note: '' or one sentence that says why none can be named."""

    matches: tuple[Match, ...]
    note: str


class Gallery:
    """All works of an archive, ready to be matched with; read only, and safe to use from several threads."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._signatures: NDArray[np.uint8] = archive.signatures()
        self._works = archive.work_ids()
        if len(self._works) != len(self._signatures):
            message = "The archive's signatures do not belong to its works; 'blotbook verify' says more."
            raise ArchiveError(message)
        self._rows = {work: row for row, work in enumerate(self._works)}
        self._wall = Wall(self._signatures)

    @classmethod
    def open(cls, folder: Path) -> Gallery:
        """Load the archive in `folder`; ArchiveError when there is none."""
        return cls(Archive.open(folder))

    def match(
        self,
        study: Reading,
        *,
        count: int = 12,
        whole: bool = False,
        mirrored: bool = True,
        heed_register: bool = False,
        among: Collection[str] | None = None,
    ) -> Matches:
        """The `count` works built most like a study.

        whole: only whole works, no parts of them. mirrored: the study may be turned over. heed_register: how light or
        dark the tones are counts too, not only how they are laid out. among: only these works.
        """
        seen = study.measures
        if seen.values_present == 1 or seen.lightness_span < _LEAST_SPAN:
            return Matches((), _MEANINGLESS)
        # What an even grade explains of the spread of tone (its share of the variance) may be the light's alone.
        left = seen.lightness_span * np.sqrt(1 - seen.gradation)
        if left < _LEAST_SPAN and seen.crispness < 0.02 and seen.lightness_span < _UNEVEN_LIGHT:
            return Matches((), _ONLY_LIGHT)
        height, width = study.squinted.shape
        with one_thread_a_product():
            return self._match(
                _Held(study.signature, width / height),
                count,
                whole=whole,
                mirrored=mirrored,
                heed_register=heed_register,
                among=among,
            )

    def like(self, work: str, *, count: int = 12, mirrored: bool = True) -> Matches:
        """The works built most like one of the archive's own; KeyError when it has no such work."""
        row = self._rows[work]
        with one_thread_a_product():
            found = self._match(
                _Held(self._signatures[row], float(self._wall.aspects[row])),
                count + 1,
                whole=False,
                mirrored=mirrored,
                heed_register=False,
                among=None,
                voice=OF_WORK,
            )
        others = tuple(match for match in found.matches if match.work != work)
        return Matches(others[:count], found.note)

    def likeness(self, work: str, other: str) -> float:
        """How alike two of the archive's works are built, 0..1, as wholes, one of them mirrored or not; the same
        either way round. KeyError when it has no such work."""
        row, there = self._rows[work], self._rows[other]
        held = _Held(self._signatures[row], float(self._wall.aspects[row]))
        rows = np.array([there])
        whole = np.array([[0.0, 0.0, 1.0, 1.0]] * 2, dtype=np.float32)
        either_way = self._closely(held, self._hang(rows), np.array([[0, 0], [1, 0]]), whole, True, False)
        return round(max(found.score for found in either_way), 4)

    def _match(
        self,
        held: _Held,
        count: int,
        *,
        whole: bool,
        mirrored: bool,
        heed_register: bool,
        among: Collection[str] | None,
        voice: Voice = TO_STUDENT,
    ) -> Matches:
        if not len(self._wall):
            return Matches((), _EMPTY)
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
            return Matches((), _NONE_ASKED)
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
        found.sort(key=lambda item: (-item.score, self._works[item.row]))
        best: dict[int, _Found] = {}
        for item in found:
            best.setdefault(item.row, item)
        return Matches(tuple(self._named(item, voice) for item in list(best.values())[:count]), "")

    def _closely(
        self,
        held: _Held,
        hung: _Hung,
        pairs: Pairs,
        parts: NDArray[np.float32],
        whole: bool,
        heed_register: bool,
    ) -> list[_Found]:
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
            _Found(
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
        self, pattern: NDArray[np.float32], heed_register: bool, among: Collection[str] | None
    ) -> NDArray[np.float32] | None:
        """(n,) what is taken off each work's promise before it is looked at; None when nothing is."""
        if not heed_register and among is None:
            return None
        taken = np.zeros(len(self._works), dtype=np.float32)
        if heed_register:
            taken += _off_register(pattern.mean(), pattern.std(), self._wall.mean, self._wall.spread)
        if among is not None:
            out = np.ones(len(taken), dtype=bool)
            out[[self._rows[work] for work in among if work in self._rows]] = False
            taken[out] = np.inf
        return taken

    def _named(self, found: _Found, voice: Voice) -> Match:
        work = self._works[found.row]
        record = self._archive.caption(work)
        aligned = found.aligned
        x0, y0, x1, y1 = (round(float(edge), 4) for edge in np.clip(aligned.part[0], 0, 1))
        own = thresholds(self._signatures[found.row])[0]
        compared = compare(found.facing, found.limits, found.seen, own)
        return Match(
            work=work,
            accession_number=record["accession_number"],
            title=record["title"],
            artist=record["artist"],
            similarity=round(found.score, 4),
            part=(x0, y0, x1, y1),
            mirrored=found.mirrored,
            sentence=compared.sentence((x0, y0, x1, y1), mirrored=found.mirrored, voice=voice),
            agreement=compared.agreement,
            shift=compared.shift,
            masses=tuple(outline(mass, aligned.x[0], aligned.y[0]) for mass in compared.masses),
        )


class _Held:
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


@dataclass(frozen=True)
class _Found:
    """A work looked at closely, not yet put into words."""

    score: float
    row: int
    mirrored: bool
    facing: NDArray[np.float32]
    limits: NDArray[np.float32]
    seen: NDArray[np.float32]
    aligned: Alignments
