"""A practice log looked back on: which arrangements were tried, and how proportions and masses changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median

from archive.practice import Kept
from ingest.words import fraction, number

FEWEST = 4
"""Studies before anything is said about change: two to set out from, two to arrive at."""


@dataclass(frozen=True)
class Looked:
    """tried: (slug, name, how many studies came nearest to it), the most first. untried: (slug, name) of arrangements
    that none did. changes: sentences on how the later studies differ from the earlier ones."""

    tried: tuple[tuple[str, str, int], ...]
    untried: tuple[tuple[str, str], ...]
    changes: tuple[str, ...]


def look_back(studies: Sequence[Kept], arrangements: Sequence[tuple[str, str]] = ()) -> Looked:
    """Look back on studies, the earliest first, among all arrangements (slug, name) that there are."""
    counts = Counter((one.arrangement, one.arrangement_name) for one in studies if one.arrangement)
    tried = sorted(((slug, name, count) for (slug, name), count in counts.items()), key=lambda each: -each[2])
    known = {slug for slug, _, _ in tried}
    untried = tuple((slug, name) for slug, name in arrangements if slug not in known)
    return Looked(tuple(tried), untried, _changes(studies))


@dataclass(frozen=True)
class _Change:
    """A measure whose change is told: by how much it must differ, and the words from one median to the other."""

    measure: str
    least: float
    say: Callable[[float, float], str]


def _shares(value: str) -> Callable[[float, float], str]:
    return lambda before, after: f"Your {value} went from {fraction(before)} of the picture to {fraction(after)}."


def _masses(value: str) -> Callable[[float, float], str]:
    def said(before: float, after: float) -> str:
        return f"Your {value}s went from {_count(before)} to {_count(after)}."

    return said


def _step(first: str, second: str) -> Callable[[float, float], str]:
    def said(before: float, after: float) -> str:
        return f"The step from {first} to {second} went from {before:.0f} to {after:.0f} L*."

    return said


_TOLD = (
    _Change("light", 0.08, _shares("light")),
    _Change("mid", 0.08, _shares("middle")),
    _Change("dark", 0.08, _shares("dark")),
    _Change("light_masses", 1.0, _masses("light")),
    _Change("dark_masses", 1.0, _masses("dark")),
    _Change("gap_mid_dark", 5.0, _step("dark", "middle")),
    _Change("gap_light_mid", 5.0, _step("middle", "light")),
)


def _changes(studies: Sequence[Kept]) -> tuple[str, ...]:
    if len(studies) < FEWEST:
        return ()
    half = len(studies) // 2
    earlier, later = studies[:half], studies[-half:]
    found = []
    for told in _TOLD:
        before, after = (median(float(one.measures[told.measure]) for one in part) for part in (earlier, later))
        if abs(after - before) >= told.least and (said := told.say(before, after)):
            found.append(said)
    return tuple(found)


def _count(masses: float) -> str:
    whole = round(masses)
    return f"{number(whole)} mass{'' if whole == 1 else 'es'}"
