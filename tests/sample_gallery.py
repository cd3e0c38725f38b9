"""The samples as they hang in an archive, and studies of them, for the tests of matching."""

from __future__ import annotations

import csv
import dataclasses
import functools
import io
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from paper_archive import PaperArchive
from PIL import Image
from study_maker import part_of, study_of

from archive.match import Gallery
from ingest.lightness import lightness_CIE1976
from ingest.masses import find_masses
from ingest.measures import Measures, measure
from ingest.picture import read_picture
from ingest.reading import Reading, read
from ingest.signature import Signature, aspects, signature
from ingest.squint import DEFAULT_SHARE, squint
from ingest.value_map import value_map
from public_domain_samples import FOLDER, RECORDS

LONG_SIDE = 400
"""Pixels on the long side of what the study maker is given; a study has 320."""

Part = tuple[float, float, float, float]


@dataclass(frozen=True)
class Samples:
    """All samples: works by id, in order; signatures (n, L); measures, lightness and masks of each; the gallery of
    them."""

    works: list[str]
    signatures: NDArray[np.uint8]
    measures: list[Measures]
    lightness: list[NDArray[np.float32]]
    masks: list[NDArray[np.bool_] | None]
    gallery: Gallery
    _drawn: dict[tuple[int, str], Reading] = dataclasses.field(default_factory=dict)

    def some(self, count: int) -> list[int]:
        """`count` rows, spread evenly over all."""
        return [at * len(self.works) // count for at in range(count)]

    def study(self, row: int, kind: str) -> Reading:
        """What is read of the study of a work; it is drawn once."""
        if (row, kind) not in self._drawn:
            drawing = study_of(self.lightness[row], kind, row, self.masks[row])
            self._drawn[row, kind] = read(as_png(drawing))
        return self._drawn[row, kind]

    def studies(self, kind: str, count: int = 20) -> list[tuple[int, Reading]]:
        """Rows of works and the studies of them."""
        return [(row, self.study(row, kind)) for row in self.some(count)]

    def itself(self, row: int) -> Reading:
        """The work held up as a study."""
        return with_signature(self.signatures[row])

    @staticmethod
    def part(row: int, kind: str) -> Part:
        """The part of the work that the study of it shows."""
        return part_of(kind, row)


@functools.cache
def hang_samples() -> Samples:
    """The samples, read as far as matching and grouping need it: the whole street would take half as long again."""
    with RECORDS.open(encoding="utf-8", newline="") as stream:
        rows = sorted(csv.DictReader(stream), key=lambda row: row["id"])
    works, signatures, measures, lightness, masks = [], [], [], [], []
    for row in rows:
        picture = read_picture(FOLDER / row["file"])
        squinted = squint(picture.luminance, DEFAULT_SHARE, picture.mask)
        works.append(row["id"])
        laid = value_map(squinted, 3, picture.mask)
        signatures.append(signature(squinted, laid))
        measures.append(measure(squinted, laid, find_masses(laid.labels), picture.mask))
        tone = Image.fromarray(lightness_CIE1976(picture.luminance))
        tone.thumbnail((LONG_SIDE, LONG_SIDE), Image.Resampling.BOX)
        lightness.append(np.asarray(tone))
        mask = picture.mask
        masks.append(None if mask is None else np.asarray(Image.fromarray(mask).resize(tone.size)))
    kept = np.stack(signatures)
    return Samples(works, kept, measures, lightness, masks, Gallery(PaperArchive(works, kept)))


def signature_of(tones: NDArray[np.floating]) -> Signature:
    """The signature of a field (h, w) of L* that needs no squinting."""
    field = np.asarray(tones, dtype=np.float32)
    return signature(field, value_map(field, 3))


def with_signature(wanted: Signature) -> Reading:
    """A reading of some picture with a pattern, its signature and its format replaced by another's."""
    squinted = np.zeros((600, round(600 * float(aspects(wanted[None])[0]))), dtype=np.float32)
    return dataclasses.replace(_some_reading(), signature=wanted, squinted=squinted)


@functools.cache
def _some_reading() -> Reading:
    grade = np.linspace(20, 230, 96)[None].repeat(64, axis=0)
    return read(as_png(grade.astype(np.uint8)), trim=False)


def as_png(grey: NDArray[np.uint8]) -> bytes:
    """The file of a grey picture (h, w)."""
    held = io.BytesIO()
    Image.fromarray(grey).save(held, "PNG", compress_level=1)
    return held.getvalue()
