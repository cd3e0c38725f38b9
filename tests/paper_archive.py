"""An archive that is only arrays: what matching asks of an archive, without a folder or a database."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray


class PaperArchive:
    """Works and their signatures (n, SIGNATURE_LENGTH); stands in for `archive.store.Archive` in a `Gallery`."""

    def __init__(self, works: Sequence[str], signatures: NDArray[np.uint8]) -> None:
        self._works = list(works)
        self._numbers = {work: number for number, work in enumerate(self._works)}
        self._signatures = signatures

    def signatures(self) -> NDArray[np.uint8]:
        return self._signatures

    def work_ids(self) -> list[str]:
        return self._works

    def caption(self, work: str) -> dict[str, str]:
        return {"accession_number": f"no. {self._numbers[work]}", "title": work, "artist": ""}
