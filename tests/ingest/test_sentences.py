"""Each clause of the sentence of each sample is held against the shapes of its value map, found here anew."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

import public_domain_samples
from ingest.masses import find_masses
from ingest.measures import Measures, measure
from ingest.picture import read_picture
from ingest.squint import squint
from ingest.value_map import OUTSIDE, value_map
from ingest.words import describe, number

PICTURES = sorted((Path(public_domain_samples.__file__).parent / "pictures").iterdir())
PARTS = 6
FRACTIONS = {
    "no": 0, "hardly any": 0.015, "a twentieth": 1 / 20, "a tenth": 1 / 10, "an eighth": 1 / 8, "a sixth": 1 / 6,
    "a fifth": 1 / 5, "a quarter": 1 / 4, "a third": 1 / 3, "two fifths": 2 / 5, "half": 1 / 2,
    "three fifths": 3 / 5, "two thirds": 2 / 3, "three quarters": 3 / 4, "four fifths": 4 / 5, "nine tenths": 9 / 10,
}  # fmt: skip
MASS = 0.01


@dataclass(frozen=True)
class Shape:
    """One connected shape: share of the picture, edges it touches, centre and extent 0..1, what its outline borders."""

    area: float
    sides: frozenset[str]
    x: float
    y: float
    wide: float
    tall: float
    borders: NDArray[np.float64]


def shapes_of(labels: NDArray[np.uint8], value: int) -> list[Shape]:
    """Shapes of a value of at least a hundredth of the picture, the largest first."""
    height, width = labels.shape
    named, count = ndimage.label(labels == value)
    found = []
    for name in range(1, count + 1):
        here = named == name
        area = float(here.sum() / (labels != OUTSIDE).sum())
        if area < MASS:
            continue
        rows, columns = np.flatnonzero(here.any(axis=1)), np.flatnonzero(here.any(axis=0))
        reached = {
            "left": here[:, 0].any(), "top": here[0].any(), "right": here[:, -1].any(), "bottom": here[-1].any(),
        }  # fmt: skip
        y, x = ndimage.center_of_mass(here)
        rim = labels[ndimage.binary_dilation(here) & ~here & (labels != OUTSIDE)]
        found.append(
            Shape(
                area=area,
                sides=frozenset(side for side, touched in reached.items() if touched),
                x=(x + 0.5) / width,
                y=(y + 0.5) / height,
                wide=(columns[-1] + 1 - columns[0]) / width,
                tall=(rows[-1] + 1 - rows[0]) / height,
                borders=np.bincount(rim, minlength=3)[:3] / max(1, rim.size),
            )
        )
    return sorted(found, key=lambda shape: -shape.area)


def check_place(clause: str, main: Shape) -> None:
    """Every word of place in a clause is true of the shape it speaks of."""
    told = {side for side in ("left", "top", "right", "bottom") if re.search(rf"\b{side}\b", clause)}
    if "over most of the picture" in clause:
        assert main.area > 0.5
    if "every edge" in clause or "all round the edge" in clause:
        assert len(main.sides) == 4
    if re.search(r"(reaching|along|down) the (?!left part|right part)", clause):
        assert told <= main.sides
    if "reaching the" in clause:
        assert told == main.sides
    if "at the" in clause:
        assert told <= main.sides
    if "towards the" in clause:
        assert not told & main.sides
    if re.search(r"along the (top|bottom)$|across the", clause):
        assert main.wide > 0.9 or len(main.sides) >= 2
    if re.search(r"down the|from top to bottom", clause):
        assert main.tall > 0.9
    if "from left to right" in clause:
        assert main.sides == {"left", "right"}
    for words, holds in (
        ("upper left", main.x < 0.36 and main.y < 0.36), ("upper right", main.x > 0.64 and main.y < 0.36),
        ("lower left", main.x < 0.36 and main.y > 0.64), ("lower right", main.x > 0.64 and main.y > 0.64),
        ("in the middle", abs(main.x - 0.5) < 0.08 and abs(main.y - 0.5) < 0.08),
        ("left of centre", 0.35 < main.x < 0.44), ("right of centre", 0.56 < main.x < 0.65),
        ("above the middle", 0.35 < main.y < 0.44), ("below the middle", 0.56 < main.y < 0.65),
        ("upper part", main.y < 0.4), ("lower part", main.y > 0.6),
    ):  # fmt: skip
        if words in clause:
            assert holds


def check_lights(clause: str, lights: list[Shape]) -> None:
    if not lights:
        assert clause == "no light mass, only accents"
        return
    count = re.match(r"(\w+) (?:light mass|scattered lights)", clause)
    assert count is not None
    assert count[1] == number(len(lights))
    main = lights[0]
    check_place(clause.split(", set in")[0].split(", ringed")[0].split(", against")[0].split(", meeting")[0], main)
    if "principal" in clause:
        assert main.area > 2.5 * lights[1].area
    if "scattered" in clause:
        assert main.area < 0.45 * sum(light.area for light in lights)
    if "ringed by dark" in clause:
        assert not main.sides
    if "ringed by dark" in clause or "against dark" in clause:
        assert main.borders[0] > 0.65
    if "set in middle grey" in clause:
        assert main.borders[1] > 0.75
    if "meeting the dark" in clause:
        assert main.borders[0] > 0.25


def check_darks(clause: str, darks: list[Shape]) -> None:
    if not darks:
        assert clause == "no dark mass, only accents"
        return
    main, total = darks[0], sum(dark.area for dark in darks)
    count = re.match(r"(\w+) (?:dark mass|scattered darks)", clause)
    if count is not None:
        assert count[1] == number(len(darks))
        assert len(darks) > 1
    else:
        assert ("nearly all the dark" in clause) == (len(darks) > 1)
        assert main.area >= 0.85 * total
    check_place(clause, main)


def check_quantities(sentence: str, measures: Measures) -> None:
    shares = {"light": measures.light, "middle": measures.mid, "dark": measures.dark}
    told = re.findall(rf"({'|'.join(FRACTIONS)}) (light|middle|dark)\b(?! mass)", sentence.lower())
    assert len(told) == 2
    for words, name in told:
        assert abs(FRACTIONS[words] - shares[name]) < 0.05
    rest = re.search(r"the rest (light|middle|dark)", sentence)
    if rest is None:
        assert "hardly a middle" in sentence
        assert measures.mid < 0.15
    else:
        assert shares[rest[1]] == max(shares.values())
        assert abs(1 - sum(FRACTIONS[words] for words, _ in told) - shares[rest[1]]) < 0.085


@pytest.mark.parametrize("part", range(PARTS))
def test_every_clause_is_true_of_the_map(part: int) -> None:
    for file in PICTURES[part::PARTS]:
        picture = read_picture(file)
        squinted = squint(picture.luminance, mask=picture.mask)
        laid = value_map(squinted, 3, picture.mask)
        masses = find_masses(laid.labels)
        measures = measure(squinted, laid, masses, picture.mask)
        sentence = describe(measures, masses)
        first, rest = sentence.split(". ", 1)
        lights, darks = first.lower().split("; ")
        try:
            check_lights(lights, shapes_of(laid.labels, 2))
            check_darks(darks, shapes_of(laid.labels, 0))
            check_quantities(rest, measures)
        except AssertionError as error:
            message = f"{file.stem}: {sentence} ({error})"
            raise AssertionError(message) from error
