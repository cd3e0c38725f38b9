"""A study laid beside a work of an archive: which part of it answers, how far the two agree, what to try next."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from archive.advice import MEASURES, Advice, advise
from archive.compare import Comparison, Gap, compare, read_master
from archive.errors import ArchiveError
from archive.habits import Habits, habits
from archive.match import Gallery
from archive.store import PICTURES, Archive, Work
from archive.suggesting import Suggestion
from ingest.reading import Reading

Part = tuple[float, float, float, float]

_WHOLE = 0.92
"""Share of a work from which on a part of it is spoken of as the whole."""


@dataclass(frozen=True)
class Beside:
    """work: its row. part: what of it the study was laid beside, None for the whole. turned: whether the work was
    turned over to face as the study does. habits: of the works of its arrangement. examples: the works that the advice
    names, by id."""

    work: Work
    part: Part | None
    turned: bool
    master: Reading
    comparison: Comparison
    habits: Habits
    advice: Advice
    examples: dict[str, Work]

    def facts(self) -> dict[str, Any]:
        """All of it as plain JSON values."""
        compared = self.comparison
        return {
            "work": self.work["work"],
            "part": list(self.part or (0.0, 0.0, 1.0, 1.0)),
            "turned": self.turned,
            "same": compared.same,
            "agreement": compared.agreement,
            "answered": compared.answered,
            "shift": compared.shift,
            "parted": [_gap(gap) for gap in compared.parted],
            "closed": [_gap(gap) for gap in compared.closed],
            "arrangement": self.habits.slug or None,
            "holds": list(self.advice.holds),
            "values": _said(self.advice.values),
            "next": [_said(said) for said in self.advice.next],
        }


def _gap(gap: Gap) -> dict[str, Any]:
    return {**asdict(gap), "pieces": list(gap.pieces), "where": gap.where}


def _said(said: Suggestion) -> dict[str, Any]:
    return {
        "measure": said.measure,
        "yours": said.yours,
        "works_low": said.low,
        "works_high": said.high,
        "seen": said.seen,
        "ask": said.ask,
        "works": list(said.works),
    }


def lay_beside(
    archive: Archive,
    gallery: Gallery,
    study: Reading,
    work: str,
    *,
    part: Part | None = None,
    turned: bool = False,
    told: bool = False,
    whole: bool = False,
    mirrored: bool = True,
) -> Beside:
    """Lay a study beside a work. Raises `ArchiveError` for an unknown work, UnreadablePicture when its picture is gone.

    told: part and turned are what was asked for; otherwise they are found as matching finds them, with `whole` and
    `mirrored` as there.
    """
    found = archive.work(work)
    if found is None:
        message = f"The archive has no work “{work[:80]}”."
        raise ArchiveError(message)
    if not told:
        matches = gallery.match(study, count=1, whole=whole, mirrored=mirrored, among=[work]).matches
        if matches:
            x0, y0, x1, y1 = matches[0].part
            part = None if (x1 - x0) * (y1 - y0) > _WHOLE else matches[0].part
            turned = matches[0].mirrored
    master = read_master(archive.folder / PICTURES / found["painting"], part, mirrored=turned)
    comparison = compare(study, master)
    custom = habits(archive, MEASURES, found["arrangement_slug"] or "")
    advice = advise(study, custom, comparison, work)
    named = {name for said in (advice.values, *advice.next) for name in said.works}
    examples = {name: row for name in sorted(named) if (row := archive.work(name)) is not None}
    return Beside(found, part, turned, master, comparison, custom, advice, examples)
