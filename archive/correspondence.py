"""What a study and the part of a work it resembles have in common, value by value and mass by mass, in words."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.masses import VALUE_NAMES
from ingest.words import capital, fraction, place

_REMEMBERED = 16
"""Studies whose masses are kept: the same study is held against every work that is named."""

_SMALLEST = 0.025
_SHIFTED = 0.12
"""Share of the frame from which a difference in the quantity of a value is worth saying."""

_JOINED, _APART = 0.6, 0.4
"""Share of a mass that must fall on the same value for both to be said to correspond, and below which they do not."""


@dataclass(frozen=True)
class Voice:
    """How a match is spoken of: to the person who made the study, or about a work that was asked for others like it."""

    own: str
    than: str


TO_STUDENT = Voice("your", "yours")
OF_WORK = Voice("this work's", "this one")


@dataclass(frozen=True)
class Fellow:
    """A mass of the study, held against the work: its value and place in words, whether it has a fellow there (most of
    it falls on the same value), and its shape, (g, g) bool, facing as the work does."""

    value: str
    where: str
    alike: bool
    shape: NDArray[np.bool_]

    @property
    def words(self) -> str:
        """'the light upper left'."""
        return f"the {self.value} {self.where}"


@dataclass(frozen=True)
class Correspondence:
    """agreement: share of the study's light, mid and dark that falls on that value of the work; values that the study
    lacks are left out. masses: at most two masses of the study that have a fellow in the work, then the largest that
    has none, if one has none. shift: share of the frame by which the work has more (negative: less) light and dark than
    the study.
    """

    agreement: dict[str, float]
    masses: tuple[Fellow, ...]
    shift: dict[str, float]

    def sentence(self, part: tuple[float, ...], *, mirrored: bool, voice: Voice = TO_STUDENT) -> str:
        """Why the two are alike, in a few plain sentences."""
        falls = [
            f"{fraction(self.agreement[value])} of {voice.own} {value} falls on its {value}"
            for value in ("light", "dark")
            if value in self.agreement
        ]
        where = f"{_part_in_words(part)}{', mirrored' if mirrored else ''}"
        said = [f"{where}: {' and '.join(falls)}." if falls else f"{where}."]
        alike = [mass for mass in self.masses if mass.alike]
        unlike = "".join(mass.words for mass in self.masses if not mass.alike)
        if alike:
            corresponds = "correspond" if len(alike) > 1 else "corresponds"
            lone = f"; {unlike} does not" if unlike else ""
            said.append(capital(f"{_together(alike)} {corresponds}{lone}."))
        elif unlike:
            said.append(capital(f"{unlike} has no fellow there."))
        value, by = max(self.shift.items(), key=lambda item: abs(item[1]))
        if abs(by) >= _SHIFTED:
            far = "far " if abs(by) > 2 * _SHIFTED else ""
            said.append(f"It keeps {far}{'more' if by > 0 else 'less'} {value} than {voice.than}.")
        return " ".join(said)


def compare(
    study: NDArray[np.float32],
    study_thresholds: NDArray[np.float32],
    seen: NDArray[np.float32],
    work_thresholds: NDArray[np.float32],
) -> Correspondence:
    """Compare a study, (g, g) L* with its two thresholds, with a work as it lies behind it, (g, g) L*, and its two.

    The study must face the way the work does.
    """
    laid = np.digitize(study, study_thresholds).astype(np.uint8)
    own = np.digitize(seen, work_thresholds)
    agreement = {
        VALUE_NAMES[value]: round(float((own[laid == value] == value).mean()), 4)
        for value in (2, 1, 0)
        if (laid == value).any()
    }
    alike: list[Fellow] = []
    unlike: list[Fellow] = []
    for value, where, shape in _masses(laid.tobytes(), len(laid)):
        kept = float((own[shape] == VALUE_NAMES.index(value)).mean())
        if kept >= _JOINED:
            alike.append(Fellow(value, where, True, shape))
        elif kept < _APART:
            unlike.append(Fellow(value, where, False, shape))
    shift = {VALUE_NAMES[value]: round(float((own == value).mean() - (laid == value).mean()), 4) for value in (2, 0)}
    return Correspondence(agreement, (*alike[:2], *unlike[:1]), shift)


@lru_cache(maxsize=_REMEMBERED)
def _masses(values: bytes, side: int) -> tuple[tuple[str, str, NDArray[np.bool_]], ...]:
    """(value, place in words, shape) of the study's light and dark masses, largest first; values: one byte a cell, of
    `side` cells a side."""
    laid = np.frombuffer(values, np.uint8).reshape(side, -1)
    found = []
    for value in (2, 0):
        shapes, count = ndimage.label(laid == value)
        for number in range(1, count + 1):
            shape = shapes == number
            shape.flags.writeable = False
            area = float(shape.mean())
            if area >= _SMALLEST:
                y, x = ndimage.center_of_mass(shape)
                where = place((x + 0.5) / laid.shape[1], (y + 0.5) / laid.shape[0])
                found.append((area, VALUE_NAMES[value], where, shape))
    found.sort(key=lambda item: -item[0])
    return tuple((value, where, shape) for _, value, where, shape in found)


def _together(masses: list[Fellow]) -> str:
    """Masses in words; what they share is said once."""
    if len(masses) == 2 and masses[0].where == masses[1].where:
        one, other = masses
        if one.value == other.value:
            return f"two {one.value}s {one.where}"
        return f"the {one.value} and the {other.value} {one.where}"
    return " and ".join(mass.words for mass in masses)


def _part_in_words(part: tuple[float, ...]) -> str:
    x0, y0, x1, y1 = part
    area = (x1 - x0) * (y1 - y0)
    if area > 0.9:
        return "The whole picture"
    if area > 0.75:
        return "Nearly the whole picture"
    where = place((x0 + x1) / 2, (y0 + y1) / 2)
    return f"The part {where}" if where != "in the middle" else "The middle part"
