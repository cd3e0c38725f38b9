"""What a study and the part of a work it resembles have in common, value by value and mass by mass, in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from archive.alignment import Alignments
from ingest.masses import VALUE_NAMES
from ingest.words import fraction, place

Labels = NDArray[np.uint8]

_SMALLEST = 0.025
_JOINED = 0.6
"""Share of a mass that must fall on the same value for the two to be said to correspond."""


@dataclass(frozen=True)
class Correspondence:
    """likeness: agreement of values beyond chance, up to 1, with the work laid in the study's own shares.
    agreement: share of the study's light, mid and dark that falls on that value of the work; values that the study
    lacks are left out. alike, unlike: masses of the study, in words, that have a fellow in the work, and the largest
    that has none.
    """

    likeness: float
    agreement: dict[str, float]
    alike: tuple[str, ...]
    unlike: str

    def sentence(self, part: tuple[float, float, float, float], *, mirrored: bool) -> str:
        """Why the two are alike, as one or two sentences."""
        said = [
            f"{fraction(self.agreement[value])} of your {value} falls on its {value}"
            for value in ("light", "dark")
            if value in self.agreement
        ]
        text = f"{_part_in_words(part)}{', mirrored' if mirrored else ''}: {' and '.join(said)}."
        if self.alike:
            text += f" {' and '.join(self.alike)} {'correspond' if len(self.alike) > 1 else 'corresponds'}".replace(
                " the", " The", 1
            )
            text += f"; {self.unlike} does not." if self.unlike else "."
        elif self.unlike:
            text += f" {self.unlike[0].upper()}{self.unlike[1:]} has no fellow there."
        return text


def compare(
    study: NDArray[np.float32],
    study_thresholds: NDArray[np.float32],
    aligned: Alignments,
    work_thresholds: NDArray[np.float32],
) -> list[Correspondence]:
    """Compare a study, (g, g) L* with its two thresholds, with aligned works and theirs (k, 2); one result per work.

    The study must face the way the works do.
    """
    laid = np.digitize(study, study_thresholds).astype(np.uint8)
    shares = np.bincount(laid.ravel(), minlength=3)[:3] / laid.size
    masses = _masses(laid)
    return [
        _compare_one(laid, shares, masses, seen, limits)
        for seen, limits in zip(aligned.seen, work_thresholds, strict=True)
    ]


def _compare_one(
    laid: Labels,
    shares: NDArray[np.float64],
    masses: list[tuple[str, str, NDArray[np.bool_]]],
    seen: NDArray[np.float32],
    limits: NDArray[np.float32],
) -> Correspondence:
    cuts = np.quantile(seen, np.clip(np.cumsum(shares)[:2], 0, 1))
    even = np.digitize(seen, cuts)
    chance = float((shares**2).sum())
    likeness = (float((even == laid).mean()) - chance) / max(1e-6, 1 - chance)
    own = np.digitize(seen, limits)
    agreement = {
        VALUE_NAMES[value]: round(float((own[laid == value] == value).mean()), 4)
        for value in (2, 1, 0)
        if (laid == value).any()
    }
    alike: list[str] = []
    unlike = ""
    for value, words, shape in masses:
        kept = float((own[shape] == VALUE_NAMES.index(value)).mean())
        if kept >= _JOINED and len(alike) < 2:
            alike.append(words)
        elif kept < 0.4 and not unlike:
            unlike = words
    return Correspondence(likeness, agreement, tuple(alike), unlike)


def _masses(laid: Labels) -> list[tuple[str, str, NDArray[np.bool_]]]:
    """(value, words, shape) of the study's light and dark masses, largest first."""
    found = []
    for value in (2, 0):
        shapes, count = ndimage.label(laid == value)
        for number in range(1, count + 1):
            shape = shapes == number
            area = float(shape.mean())
            if area >= _SMALLEST:
                y, x = ndimage.center_of_mass(shape)
                where = place((x + 0.5) / laid.shape[1], (y + 0.5) / laid.shape[0])
                found.append((area, VALUE_NAMES[value], f"the {VALUE_NAMES[value]} {where}", shape))
    found.sort(key=lambda item: -item[0])
    return [(value, words, shape) for _, value, words, shape in found]


def _part_in_words(part: tuple[float, float, float, float]) -> str:
    x0, y0, x1, y1 = part
    if (x1 - x0) * (y1 - y0) > 0.9:
        return "The whole picture"
    where = place((x0 + x1) / 2, (y0 + y1) / 2)
    return f"The part {where}" if where != "in the middle" else "The middle part"
