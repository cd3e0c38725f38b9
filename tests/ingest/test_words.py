"""The sentence says what is there: against drawings, and against the numbers of real paintings."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from drawn_tone import box, disc, grained, ground, png_of
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

import public_domain_samples
from ingest.masses import SMALLEST_MASS
from ingest.reading import Reading, read
from ingest.words import describe, fraction, number, place

DARK, MID, LIGHT = 18.0, 52.0, 90.0
PICTURES = sorted((Path(public_domain_samples.__file__).parent / "pictures").iterdir())
SAMPLES = PICTURES[:: len(PICTURES) // 12][:12]

FRACTIONS = {
    "a twentieth": 1 / 20, "a tenth": 1 / 10, "an eighth": 1 / 8, "a sixth": 1 / 6, "a fifth": 1 / 5,
    "a quarter": 1 / 4, "a third": 1 / 3, "two fifths": 2 / 5, "half": 1 / 2, "three fifths": 3 / 5,
    "two thirds": 2 / 3, "three quarters": 3 / 4, "four fifths": 4 / 5, "nine tenths": 9 / 10,
}  # fmt: skip
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


@cache
def reading_of(file: Path) -> Reading:
    return read(file)


def said(field: NDArray[np.float64]) -> str:
    return read(png_of(grained(field, 2.0)), trim=False).sentence


@pytest.mark.parametrize(("words", "share"), FRACTIONS.items())
def test_a_fraction_is_called_by_its_name(words: str, share: float) -> None:
    assert fraction(share) == words


@given(st.floats(0, 1))
def test_a_share_is_called_by_a_fraction_near_it(share: float) -> None:
    words = fraction(share)
    nearest = {"none": 0.0, "hardly any": 0.015, "nearly all": 0.98, **FRACTIONS}[words]
    assert abs(nearest - share) < 0.06


@pytest.mark.parametrize("count", range(13))
def test_small_counts_are_words(count: int) -> None:
    assert number(count) == NUMBERS[count]
    assert number(count + 13) == str(count + 13)


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        (0.5, 0.5, "in the middle"),
        (0.2, 0.2, "upper left"),
        (0.8, 0.8, "lower right"),
        (0.1, 0.5, "at the left"),
        (0.9, 0.5, "at the right"),
        (0.5, 0.1, "at the top"),
        (0.5, 0.9, "at the bottom"),
        (0.6, 0.5, "right of centre"),
        (0.4, 0.5, "left of centre"),
        (0.5, 0.6, "below the middle"),
    ],
)
def test_places_have_plain_names(x: float, y: float, words: str) -> None:
    assert place(x, y) == words


def test_a_ringed_light_is_said() -> None:
    sentence = said(disc(box(ground(DARK), 0.0, 0.85, 1.0, 1.0, MID), 0.5, 0.45, 0.18, 0.24, LIGHT))
    assert sentence.startswith("One light mass in the middle, ringed by dark")


def test_lights_are_counted_and_the_principal_one_placed() -> None:
    field = disc(disc(ground(MID), 0.2, 0.25, 0.14, 0.18, LIGHT), 0.8, 0.4, 0.06, 0.08, LIGHT)
    sentence = said(box(field, 0.0, 0.8, 1.0, 1.0, DARK))
    assert "wo light masses, the principal one upper left, set in middle grey" in sentence
    assert "the dark in one mass along the bottom" in sentence
    assert "a fifth dark" in sentence
    assert "the rest middle" in sentence


def test_scattered_darks_are_said() -> None:
    field = box(ground(LIGHT), 0.0, 0.88, 1.0, 1.0, MID)
    for x in (0.1, 0.3, 0.5, 0.7, 0.9):
        field = disc(field, x, 0.25 + 0.3 * (x in (0.3, 0.7)), 0.07, 0.1, DARK)
    assert "five scattered darks" in said(field).lower()


def test_an_even_sheet_has_no_pattern() -> None:
    assert "no pattern" in said(ground(60.0))


def test_the_register_and_the_scale_are_said() -> None:
    sentence = said(box(box(ground(80.0), 0.0, 0.7, 1.0, 1.0, 70.0), 0.2, 0.1, 0.6, 0.4, 94.0))
    assert "upper register" in sentence
    assert "limited scale" in sentence


def test_what_is_not_there_is_called_no() -> None:
    reading = read(png_of(grained(box(ground(DARK), 0.0, 0.0, 1.0, 0.4, LIGHT), 2.0)), trim=False)
    three = replace(reading.measures, values_present=3, light=0.4, mid=0.001, dark=0.599)
    assert ". Two fifths light, no middle, the rest dark;" in describe(three, reading.masses)
    empty = replace(reading.measures, values_present=3, light=0.001, mid=0.6, dark=0.399)
    assert ". No light, two fifths dark, the rest middle;" in describe(empty, reading.masses)


def test_sentences_are_plain_english() -> None:
    for file in SAMPLES:
        sentence = reading_of(file).sentence
        assert sentence[0].isupper()
        assert sentence.endswith(".")
        assert 1 <= sentence.count(".") <= 2
        assert "  " not in sentence
        assert "_" not in sentence
        assert len(sentence) < 260


def counted(sentence: str, reading: Reading) -> None:
    """The counts, shares and words of quantity in a sentence are those of the reading."""
    by_value = {
        name: [m for m in reading.masses if m.value == name and m.area >= SMALLEST_MASS] for name in ("light", "dark")
    }
    for words, name in (("light mass(?:es)?|scattered lights", "light"), ("dark mass(?:es)?|scattered darks", "dark")):
        for count in re.findall(rf"(\w+) (?:{words})", sentence.lower()):
            assert count == number(len(by_value[name])), sentence
    shares = {"light": reading.measures.light, "middle": reading.measures.mid, "dark": reading.measures.dark}
    names = [*FRACTIONS, "none", "hardly any", "nearly all"]
    told = re.findall(rf"({'|'.join(names)}) (light|middle|dark)\b(?! mass)", sentence.lower())
    assert told or reading.measures.values_present == 1
    for words, name in told:
        assert words == fraction(shares[name]), sentence
    rest = re.search(r"the rest (light|middle|dark)", sentence)
    assert rest is None or shares[rest[1]] == max(shares.values())
    if "register" in sentence:
        assert f"{reading.measures.register} register, {reading.measures.scale} scale" in sentence


@pytest.mark.parametrize("file", SAMPLES, ids=lambda file: file.stem)
def test_the_sentence_agrees_with_the_numbers(file: Path) -> None:
    reading = reading_of(file)
    counted(reading.sentence, reading)
    if "ringed by dark" in reading.sentence:
        main = next(mass for mass in reading.masses if mass.value == "light")
        assert not main.touches
        assert main.against_dark > 0.5
    if "reaching every edge" in reading.sentence:
        assert any(mass.touches == "left,top,right,bottom" for mass in reading.masses)
