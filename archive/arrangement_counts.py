"""What the works of an arrangement are, as far as their records say: by century, culture, painter."""

from __future__ import annotations

from dataclasses import dataclass

from archive.store import Archive

COLUMNS = ("century", "culture", "artist")


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
        rows = archive.connection.execute(
            f"SELECT works.{column}, count(*) AS here, (SELECT count(*) FROM works AS every "
            f"WHERE every.{column} = works.{column}) FROM works JOIN arrangements USING (arrangement) "
            f"WHERE slug = ? AND works.{column} IS NOT NULL GROUP BY works.{column} "
            f"HAVING here > 1 OR '{column}' = 'century' "
            f"ORDER BY here DESC, works.{column} LIMIT ?",
            (slug, most),
        ).fetchall()
        if rows:
            found[column] = [Count(str(value), here, everywhere) for value, here, everywhere in rows]
    return found
