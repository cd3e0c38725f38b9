"""To which arrangements of an archive a study belongs, and how clearly; by the model that its works are placed with."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from archive.store import Archive

if TYPE_CHECKING:
    from ingest.arrangements import Model
    from ingest.reading import Reading

MODEL = "arrangement_model"


@dataclass(frozen=True)
class Belonging:
    """An arrangement by its slug and name, and how clearly something belongs to it, 0..1."""

    slug: str
    name: str
    degree: float

    @property
    def clear(self) -> bool:
        """Whether it belongs there clearly enough for a work to be named there."""
        from ingest.arrangements import CLEAR

        return self.degree >= CLEAR


class Placer:
    """Places readings among the arrangements of one archive; an archive without arrangements places nothing."""

    def __init__(self, model: Model | None, groups: Sequence[tuple[str, str]]) -> None:
        self._model = model
        self._groups = tuple(groups)

    @classmethod
    def of(cls, archive: Archive) -> Placer:
        """The placer of an archive."""
        from ingest.arrangement_features import VERSION
        from ingest.arrangements import Model

        named = {row["arrangement"]: (row["slug"], row["name"]) for row in archive.arrangements()}
        try:
            stored = json.loads(archive.setting(MODEL))
            model = Model.from_json(stored)
            groups = [named[int(number)] for number in stored["numbers"]]
        except (KeyError, TypeError, ValueError):
            return cls(None, ())
        return cls(model, groups) if model.version == VERSION else cls(None, ())

    def place(self, readings: Sequence[Reading]) -> list[tuple[Belonging, ...]]:
        """For each reading its arrangements, strongest first; degrees of one reading sum to 1."""
        import numpy as np

        if self._model is None or not readings:
            return [() for _ in readings]
        signatures = np.stack([reading.signature for reading in readings])
        points = self._model.points(signatures, [reading.measures for reading in readings])
        return [
            tuple(
                Belonging(self._groups[group][0], self._groups[group][1], round(float(row[group]), 4))
                for group in np.argsort(-row, kind="stable")
            )
            for row in self._model.degrees(points)
        ]

    def nearest(self, reading: Reading) -> Belonging | None:
        """The arrangement that one reading is nearest to; None when there are none or it shows one even tone."""
        (found,) = self.place([reading])
        return found[0] if found and reading.measures.values_present > 1 else None
