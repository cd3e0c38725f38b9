"""What the works of an arrangement are, as far as their records say: by century, country, subject, painter."""

from __future__ import annotations

from dataclasses import dataclass

from archive.store import Archive

COLUMNS = ("century", "country", "culture", "subject", "artist")


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
        table = "work_subjects" if column == "subject" else "works"
        joined = "" if table == "works" else "JOIN work_subjects USING (work) "
        rows = archive.connection.execute(
            f"SELECT {table}.{column}, count(*) AS here, (SELECT count(*) FROM {table} AS every "
            f"WHERE every.{column} = {table}.{column}) FROM works {joined}JOIN arrangements USING (arrangement) "
            f"WHERE slug = ? AND {table}.{column} IS NOT NULL GROUP BY {table}.{column} "
            f"HAVING here > 1 OR '{column}' = 'century' "
            f"ORDER BY here DESC, {table}.{column} LIMIT ?",
            (slug, most),
        ).fetchall()
        if rows:
            found[column] = [Count(str(value), here, everywhere) for value, here, everywhere in rows]
    return found
