"""The works built like a study, the part of them that is, and why."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from archive.correspondence import OF_WORK, TO_STUDENT, Voice, compare
from archive.looking import Found, Held, Looking
from archive.outlines import Outline, outline
from archive.store import Archive, ArchiveError
from ingest.reading import Reading
from ingest.signature import thresholds

_LEAST_SPAN = 8.0
"""L* between the lightest and darkest twentieth of a study below which it shows no pattern."""

_UNEVEN_LIGHT = 32.0
"""L* by which uneven light on a sheet may differ from side to side (common practice: a third of the light)."""

_ONLY_LIGHT = (
    "Only light that falls off evenly is seen here, as on a blank sheet by a window; there are no shapes to match."
)
_MEANINGLESS = "There is no pattern of values in this picture to match: it is one even tone, or nearly."
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
        self._looking = Looking(self._signatures)

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
        return self._match(
            Held(study.signature, width / height),
            count,
            whole=whole,
            mirrored=mirrored,
            heed_register=heed_register,
            among=among,
        )

    def like(self, work: str, *, count: int = 12, mirrored: bool = True) -> Matches:
        """The works built most like one of the archive's own; KeyError when it has no such work."""
        found = self._match(
            self._looking.work(self._rows[work]),
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
        return round(self._looking.likeness(self._rows[work], self._rows[other]), 4)

    def _match(
        self,
        held: Held,
        count: int,
        *,
        whole: bool,
        mirrored: bool,
        heed_register: bool,
        among: Collection[str] | None,
        voice: Voice = TO_STUDENT,
    ) -> Matches:
        if not self._works:
            return Matches((), _EMPTY)
        rows = None if among is None else np.array([self._rows[work] for work in among if work in self._rows], np.int64)
        found = self._looking.find(held, count, whole=whole, mirrored=mirrored, heed_register=heed_register, among=rows)
        if not found:
            return Matches((), _NONE_ASKED)
        found.sort(key=lambda item: (-item.score, self._works[item.row]))
        return Matches(tuple(self._named(item, voice) for item in found[:count]), "")

    def _named(self, found: Found, voice: Voice) -> Match:
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
