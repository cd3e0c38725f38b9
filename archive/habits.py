"""What the works of an arrangement do: how far each measure reaches among them, and which works show it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from statistics import quantiles
from typing import Any

from archive.store import Archive

FEWEST = 4
"""Works below which nothing is said about what they do."""


@dataclass(frozen=True)
class Habit:
    """The middle half of a measure among works: low and high are its quartiles, middle its median. works: those that
    lie in that half, the clearest of the arrangement first."""

    measure: str
    low: float
    middle: float
    high: float
    works: tuple[str, ...]

    def outside(self, value: float, tolerance: float = 0.0) -> float:
        """How far a value lies above (positive) or below the middle half, beyond a tolerance; 0 within it."""
        if value > self.high + tolerance:
            return value - self.high
        return value - self.low if value < self.low - tolerance else 0.0

    def examples(self, most: int, avoid: Collection[str] = ()) -> tuple[str, ...]:
        """Works that show it; those to avoid come only when there are too few others."""
        fresh = [work for work in self.works if work not in avoid]
        return tuple([*fresh, *(work for work in self.works if work in avoid)][:most])


@dataclass(frozen=True)
class Habits:
    """Habits by measure of the works of one arrangement; slug and name are '' when they are those of all works."""

    slug: str
    name: str
    works: int
    by_measure: Mapping[str, Habit]


def habits(archive: Archive, measures: Sequence[str], slug: str = "") -> Habits:
    """What the works of the arrangement `slug` do; of all works when it has too few or is ''."""
    found = archive.arrangement(slug) if slug else None
    known = [name for name in measures if name in archive.measure_names()]
    rows = _rows(archive, known, slug if found else "")
    if found and len(rows) < FEWEST:
        return habits(archive, measures)
    by_measure = {}
    for place, name in enumerate(known, 1):
        values = [(row[place], row[0]) for row in rows if row[place] is not None]
        if len(values) < FEWEST:
            continue
        low, middle, high = quantiles([value for value, _ in values], n=4, method="inclusive")
        by_measure[name] = Habit(name, low, middle, high, tuple(work for value, work in values if low <= value <= high))
    return Habits(found["slug"] if found else "", found["name"] if found else "", len(rows), by_measure)


def _rows(archive: Archive, measures: Sequence[str], slug: str) -> list[tuple[Any, ...]]:
    columns = ", ".join(f'measures."{name}"' for name in measures)
    chosen = "JOIN arrangements USING (arrangement) WHERE slug = ?" if slug else ""
    sql = (
        f"SELECT works.work, {columns} FROM works JOIN measures USING (work) {chosen} "
        "ORDER BY works.degree DESC NULLS LAST, works.work"
    )
    return [tuple(row) for row in archive.connection.execute(sql, (slug,) if slug else ())] if measures else []
