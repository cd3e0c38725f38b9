"""What an archive keeps of its arrangements: written and read back as a whole."""

from __future__ import annotations

import dataclasses
from typing import Any

from archive.edition import Edition

MODEL = "arrangement_model"
"""The setting that holds what assigns a new work to the groups: the model, and the numbers of its groups."""

STABILITY = "arrangement_stability"
"""The setting that holds how well the grouping comes back when it is made anew; see docs/arrangements.md."""

Belongs = dict[str, tuple[int, float]]
"""The number of a work's arrangement, and its degree."""

Places = dict[str, tuple[float, float]]
"""Where a work lies on the map, 0 to 1 each way."""


@dataclasses.dataclass(frozen=True)
class Kept:
    """All that the archive keeps of its arrangements: rows of both tables, what works belong to and where they lie,
    and two settings."""

    rows: list[dict[str, Any]]
    neighbours: list[dict[str, Any]]
    belongs: Belongs
    places: Places
    model: str
    stability: str

    @classmethod
    def of(cls, edition: Edition) -> Kept:
        here = edition.connection
        columns = ("arrangement", "slug", "name", "sentence", "mean", "spread", "medoid", "members")
        near = ("arrangement", "place", "neighbour", "but")
        return cls(
            [
                dict(zip(columns, row, strict=True))
                for row in here.execute(f"SELECT {', '.join(columns)} FROM arrangements ORDER BY arrangement")
            ],
            [
                dict(zip(near, row, strict=True))
                for row in here.execute(
                    f"SELECT {', '.join(near)} FROM arrangement_neighbours ORDER BY arrangement, place"
                )
            ],
            {
                work: (arrangement, degree)
                for work, arrangement, degree in here.execute(
                    "SELECT work, arrangement, degree FROM works WHERE arrangement IS NOT NULL"
                )
            },
            {
                work: (x, y)
                for work, x, y in here.execute("SELECT work, map_x, map_y FROM works WHERE map_x IS NOT NULL")
            },
            edition.setting(MODEL),
            edition.setting(STABILITY),
        )

    def write(self, edition: Edition) -> None:
        with edition.batch() as here:
            here.execute("UPDATE works SET arrangement = NULL, degree = NULL, map_x = NULL, map_y = NULL")
            here.execute("DELETE FROM arrangement_neighbours")
            here.execute("DELETE FROM arrangements")
            here.executemany(
                "INSERT INTO arrangements (arrangement, slug, name, sentence, mean, spread, medoid, members) "
                "VALUES (:arrangement, :slug, :name, :sentence, :mean, :spread, :medoid, :members)",
                self.rows,
            )
            here.executemany(
                "INSERT INTO arrangement_neighbours (arrangement, place, neighbour, but) "
                "VALUES (:arrangement, :place, :neighbour, :but)",
                self.neighbours,
            )
            here.executemany(
                "UPDATE works SET arrangement = ?, degree = ? WHERE work = ?",
                [(*belongs, work) for work, belongs in self.belongs.items()],
            )
            here.executemany(
                "UPDATE works SET map_x = ?, map_y = ? WHERE work = ?",
                [(*place, work) for work, place in self.places.items()],
            )
            for name, value in ((MODEL, self.model), (STABILITY, self.stability)):
                here.execute("DELETE FROM settings WHERE name = ?", (name,))
                if value:
                    here.execute("INSERT INTO settings (name, value) VALUES (?, ?)", (name, value))
