"""What the desk saw on a photographed sheet, and through a viewfinder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from archive.proposals import Part, Proposal
    from ingest.reading import Reading
    from ingest.sheet import Sheet


@dataclass(frozen=True)
class SeenSheet:
    """photo: (h, w, 3) uint8 sRGB, upright and reduced. sheet: None when panels were not looked for, or, with the
    ``problem`` in one sentence, could not be looked for as asked. readings: of its panels, in order."""

    photo: NDArray[np.uint8]
    sheet: Sheet | None
    readings: tuple[Reading, ...]
    problem: str


@dataclass(frozen=True)
class SeenPlace:
    """photo: (h, w, 3) uint8 sRGB, upright and reduced. part: what the viewfinder frames, in 0..1 of the photo.
    reading: of that part. proposals: crops that were looked for; None when none were asked for."""

    photo: NDArray[np.uint8]
    part: Part
    reading: Reading
    proposals: tuple[Proposal, ...] | None
