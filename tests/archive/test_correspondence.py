"""What a match is said to have in common with a study: the numbers and the sentences."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_patterns import soft_patterns

from archive.correspondence import OF_WORK, TO_STUDENT, compare
from ingest.signature import GRID

LIMITS = np.array([40, 60], dtype=np.float32)
LIGHT, MID, DARK = 85.0, 50.0, 15.0
WHOLE, UPPER_LEFT = (0.0, 0.0, 1.0, 1.0), (0.0, 0.0, 0.6, 0.6)


def _field(ground: float, *shapes: tuple[float, float, float, float, float]) -> np.ndarray:
    """A ground with rectangles x0, y0, x1, y1 in 0..1 of a tone."""
    field = np.full((GRID, GRID), ground, dtype=np.float32)
    for x0, y0, x1, y1, tone in shapes:
        field[round(y0 * GRID) : round(y1 * GRID), round(x0 * GRID) : round(x1 * GRID)] = tone
    return field


LAMP = _field(DARK, (0.0, 0.0, 0.5, 0.5, LIGHT))


def test_the_same_agrees_in_every_value() -> None:
    study = _field(DARK, (0.0, 0.0, 0.5, 0.5, LIGHT), (0.5, 0.5, 1.0, 1.0, MID))
    found = compare(study, LIMITS, study, LIMITS)
    assert found.agreement == {"light": 1.0, "mid": 1.0, "dark": 1.0}
    assert found.shift == {"light": 0.0, "dark": 0.0}
    assert [mass.words for mass in found.masses if not mass.alike] == []


def test_agreement_counts_the_study_own_values() -> None:
    """A quarter of the frame is light in the study; half of that is light in the work, the other half dark."""
    work = _field(DARK, (0.0, 0.0, 0.25, 0.5, LIGHT))
    found = compare(LAMP, LIMITS, work, LIMITS)
    assert found.agreement == {"light": 0.5, "dark": 1.0}
    assert found.shift == {"light": -0.125, "dark": 0.125}


def test_the_work_own_thresholds_say_what_is_light_in_it() -> None:
    deep = LAMP / 3
    assert compare(LAMP, LIMITS, deep, LIMITS / 3).agreement == {"light": 1.0, "dark": 1.0}
    assert compare(LAMP, LIMITS, deep, LIMITS).agreement["light"] == 0.0


def test_the_mass_with_a_fellow_and_the_one_without_are_named() -> None:
    study = _field(MID, (0.0, 0.0, 0.4, 0.4, LIGHT), (0.7, 0.7, 1.0, 1.0, DARK), (0.7, 0.0, 1.0, 0.2, LIGHT))
    work = _field(MID, (0.0, 0.0, 0.4, 0.4, LIGHT), (0.7, 0.7, 1.0, 1.0, LIGHT))
    found = compare(study, LIMITS, work, LIMITS)
    assert [(mass.words, mass.alike) for mass in found.masses] == [
        ("the light upper left", True),
        ("the dark lower right", False),
    ]
    assert np.array_equal(found.masses[0].shape, (study == LIGHT) & (np.arange(GRID) < GRID / 2))
    assert np.array_equal(found.masses[1].shape, study == DARK)


def test_two_masses_at_one_place_are_named_together() -> None:
    study = _field(MID, (0.0, 0.0, 1.0, 0.12, LIGHT), (0.0, 0.12, 1.0, 0.3, DARK))
    said = compare(study, LIMITS, study, LIMITS).sentence(WHOLE, mirrored=False)
    assert "The dark and the light at the top correspond." in said


def test_sentence_says_part_mirroring_and_whose_study() -> None:
    found = compare(LAMP, LIMITS, LAMP, LIMITS)
    plain = found.sentence(WHOLE, mirrored=False)
    turned = found.sentence(UPPER_LEFT, mirrored=True)
    assert plain.startswith("The whole picture: nearly all of your light falls on its light")
    assert "mirrored" not in plain
    assert "upper left, mirrored:" in turned
    other = found.sentence(WHOLE, mirrored=False, voice=OF_WORK)
    assert "your" not in other
    assert "this work's light" in other


def test_a_work_with_much_more_light_is_said_to_have_it() -> None:
    brighter = _field(DARK, (0.0, 0.0, 1.0, 0.5, LIGHT))
    assert "more light than yours" in compare(LAMP, LIMITS, brighter, LIMITS).sentence(WHOLE, mirrored=False)
    assert "less light than yours" in compare(brighter, LIMITS, LAMP, LIMITS).sentence(WHOLE, mirrored=False)


@pytest.mark.parametrize("ground", [LIGHT, MID, DARK])
def test_a_study_of_one_value_still_gives_a_sentence(ground: float) -> None:
    _check_grammar(compare(_field(ground), LIMITS, LAMP, LIMITS).sentence(WHOLE, mirrored=False))


@given(
    seed=st.integers(0, 10_000),
    edges=st.tuples(*[st.floats(0, 0.4)] * 4),
    mirrored=st.booleans(),
    voice=st.sampled_from([TO_STUDENT, OF_WORK]),
    tones=st.lists(st.sampled_from([LIGHT, MID, DARK]), min_size=1, max_size=5),
)
def test_sentences_are_sentences(seed: int, edges: tuple, mirrored: bool, voice: object, tones: list[float]) -> None:
    """Any study, soft or of flat shapes, against any work, through any viewfinder."""
    study, work = soft_patterns(2, seed=seed)
    chance = np.random.default_rng(seed)
    for tone in tones:
        x, y = chance.integers(0, GRID - 6, 2)
        study[y : y + 12, x : x + 12] = tone
    part = (edges[0], edges[1], 1 - edges[2], 1 - edges[3])
    found = compare(study, LIMITS, work, LIMITS)
    assert all(0 <= share <= 1 for share in found.agreement.values())
    _check_grammar(found.sentence(part, mirrored=mirrored, voice=voice))


def _check_grammar(text: str) -> None:
    assert text.endswith(".")
    for sentence in re.split(r"(?<=\.) ", text):
        assert re.fullmatch(r"[A-Z][^.]+[a-z]\.", sentence), text
    assert not re.search(r"  |\b(\w+) \1\b|: \.|and \.|[,;:]\.|\{|\}|, and|None", text), text
    for subject, verb in re.findall(r"([^.;]*?) (corresponds?)\b", text):
        assert (verb == "correspond") == (" and " in subject), text
    assert len(text) < 320
