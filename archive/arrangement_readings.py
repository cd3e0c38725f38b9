"""What is read of the works of an archive, as the arrangements are made from it."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING

from archive.edition import Edition

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from ingest.measures import Measures


def readings_of(folder: Path) -> Readings:
    """The readings of the archive in ``folder``, which stays as it is.  Raises `ArchiveError`."""
    with Edition.begin(folder) as edition:
        return Readings.of(edition)


@dataclasses.dataclass(frozen=True)
class Readings:
    """What the arrangements are made from, in the order of the works' names.

    signatures: (n, L) uint8. types: (n, T) degrees in the order of `ingest.arrangement_types.TYPES`.
    """

    works: list[str]
    signatures: NDArray[np.uint8]
    types: NDArray[np.float64]
    measures: list[Measures]

    @property
    def place(self) -> dict[str, int]:
        return {work: row for row, work in enumerate(self.works)}

    @classmethod
    def of(cls, edition: Edition) -> Readings:
        import numpy as np

        from ingest.arrangement_types import TYPES
        from ingest.measures import Measures
        from ingest.signature import SIGNATURE_LENGTH

        names = [field.name for field in dataclasses.fields(Measures)]
        read = " AND ".join(f'"{name}" IS NOT NULL' for name in names)
        rows = edition.connection.execute(
            f"SELECT work, signature, {', '.join(names)} FROM signatures JOIN measures USING (work) "
            f"WHERE length(signature) = ? AND {read} ORDER BY work",
            (SIGNATURE_LENGTH,),
        ).fetchall()
        works = [row[0] for row in rows]
        signatures = np.frombuffer(b"".join(row[1] for row in rows), dtype=np.uint8).reshape(-1, SIGNATURE_LENGTH)
        measures = [Measures(**dict(zip(names, row[2:], strict=True))) for row in rows]
        at = {work: row for row, work in enumerate(works)}
        place = {kind.slug: number for number, kind in enumerate(TYPES)}
        degrees = np.zeros((len(works), len(TYPES)))
        for work, slug, degree in edition.connection.execute("SELECT work, type, degree FROM work_types"):
            if work in at and slug in place:
                degrees[at[work], place[slug]] = degree
        return cls(works, signatures, degrees, measures)
