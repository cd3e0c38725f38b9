"""What the works of an arrangement are, as far as their records say: by century, country, subject, painter."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from archive.store import Archive

COLUMNS = ("century", "country", "culture", "subject", "artist")


_MOST = 50


@dataclass(frozen=True)
class Count:
    """value: as in the records. works: how many of the arrangement have it. everywhere: how many of all works."""

    value: str
    works: int
    everywhere: int


def counts_of(archive: Archive, slug: str, most: int = 6) -> dict[str, list[Count]]:
    """By column, the most frequent values among the works of an arrangement; columns without any are left out."""
    found = {}
    for column in COLUMNS:
        rows = archive.remember(("counts of", column), functools.partial(_counted, archive, column)).get(slug, [])
        if rows:
            found[column] = rows[:most]
    return found


def _counted(archive: Archive, column: str) -> dict[str, list[Count]]:
    """For each arrangement the most frequent values of a column, at most `_MOST`."""
    table = "work_subjects" if column == "subject" else "works"
    joined = "" if table == "works" else "JOIN work_subjects USING (work) "
    everywhere = {row["value"]: row["works"] for row in archive.facet(column)}
    rows = archive.connection.execute(
        f"SELECT slug, {table}.{column} AS value, count(*) AS here FROM works {joined}"
        f"JOIN arrangements USING (arrangement) WHERE {table}.{column} IS NOT NULL GROUP BY slug, value "
        f"HAVING here > 1 OR '{column}' = 'century' ORDER BY slug, here DESC, value"
    )
    found: dict[str, list[Count]] = {}
    for slug, value, here in rows:
        counts = found.setdefault(slug, [])
        if len(counts) < _MOST:
            counts.append(Count(str(value), here, everywhere[value]))
    return found
