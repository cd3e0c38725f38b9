"""The named types: Poore's six diagrams of light and dark, and drawings of the others."""

from __future__ import annotations

import functools
from collections.abc import Callable

import numpy as np
import pytest
from drawn_tone import box, disc, frame, grained, ground, png_of
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from ingest.arrangement_facts import FACTS, Facts, facts_of
from ingest.arrangement_rules import RULES, derived
from ingest.arrangement_types import CLEAR, NEAR, TYPES, named, strongest
from ingest.masses import find_masses
from ingest.measures import measure
from ingest.reading import read
from ingest.value_map import value_map

DARK, MID, LIGHT = 20.0, 52.0, 88.0
Field = NDArray[np.float64]


def wedge() -> Field:
    """'Light and Dark': dark fills the lower left, light the upper right."""
    u, v = frame(ground(0))
    return np.where(v > u * 0.98 + 0.04, 32.0, LIGHT)


def light_in_dark() -> Field:
    """'Light with Dark Complement': a soft light that sinks into dark all round."""
    u, v = frame(ground(0))
    return 18 + 74 * np.exp(-(((u - 0.5) / 0.33) ** 2 + ((v - 0.5) / 0.36) ** 2))


def dark_in_light() -> Field:
    """'Dark with Light Complement': the same turned round."""
    u, v = frame(ground(0))
    return 88 - 64 * np.exp(-(((u - 0.5) / 0.27) ** 2 + ((v - 0.5) / 0.3) ** 2))


def gradation() -> Field:
    """'Dark to Light, Gradation': one even grade across."""
    u, _ = frame(ground(0))
    return 22 + 60 * u


def bands() -> Field:
    """'Grey with Black and White Complement': light above, grey, dark below."""
    return box(box(ground(LIGHT), 0.0, 0.36, 1.0, 0.7, 45.0), 0.0, 0.7, 1.0, 1.0, 14.0)


def accents_in_grey() -> Field:
    """'Black and White with Grey Complement': a small light and a small dark meet within grey."""
    field = box(ground(MID), 0.0, 0.7, 1.0, 1.0, 60.0)
    u, v = frame(field)
    field = np.where((u < 0.36) & (v > 0.34 + 0.5 * abs(u - 0.1)) & (v < 0.62 + 0.2 * u), 16.0, field)
    return np.where((u > 0.36) & (u < 0.62) & (v > 0.38 + 0.3 * (u - 0.36)) & (v < 0.68), LIGHT, field)


POORE: dict[str, Callable[[], Field]] = {
    "slant": wedge,
    "ringed-light": light_in_dark,
    "ringed-dark": dark_in_light,
    "grade": gradation,
    "bands": bands,
    "broad-middle": accents_in_grey,
}
"""H. R. Poore 1903, Pictorial Composition: 'Fundamental Forms of Chiaroscuro', drawn anew, by the type each shows."""


def light_mass() -> Field:
    return disc(box(ground(DARK), 0.0, 0.8, 1.0, 1.0, 40.0), 0.45, 0.45, 0.14, 0.22, LIGHT)


def dark_mass() -> Field:
    return box(box(ground(LIGHT), 0.0, 0.85, 1.0, 1.0, 60.0), 0.35, 0.3, 0.6, 0.8, DARK)


def uprights() -> Field:
    field = ground(LIGHT)
    for at, tone in ((0.2, DARK), (0.45, MID), (0.65, DARK)):
        field = box(field, at, 0.0, at + 0.15, 1.0, tone)
    return field


def wings() -> Field:
    field = box(ground(LIGHT), 0.0, 0.65, 1.0, 1.0, MID)
    u, v = frame(field)
    return np.where((u < 0.26 - 0.08 * v) | (u > 0.74 + 0.08 * v), DARK, field)


def right_angle() -> Field:
    field = box(ground(LIGHT), 0.45, 0.45, 1.0, 0.72, 60.0)
    return box(box(field, 0.0, 0.08, 0.3, 1.0, DARK), 0.0, 0.72, 1.0, 1.0, DARK)


def answered() -> Field:
    field = box(box(ground(MID), 0.0, 0.0, 1.0, 0.35, 80.0), 0.04, 0.2, 0.36, 0.9, DARK)
    return disc(field, 0.86, 0.55, 0.06, 0.1, DARK)


def lights_strewn() -> Field:
    field = box(ground(DARK), 0.0, 0.6, 1.0, 1.0, 42.0)
    for at in range(7):
        field = disc(field, 0.1 + 0.135 * at, 0.3 + 0.22 * (at % 3), 0.045, 0.06, LIGHT)
    return field


def darks_strewn() -> Field:
    field = box(ground(LIGHT), 0.0, 0.6, 1.0, 1.0, 66.0)
    for at in range(7):
        field = disc(field, 0.1 + 0.135 * at, 0.3 + 0.22 * (at % 3), 0.045, 0.06, DARK)
    return field


def lights_and_darks() -> Field:
    field = ground(DARK)
    for x, y in ((0.28, 0.3), (0.74, 0.68)):
        field = disc(field, x, y, 0.27, 0.3, LIGHT)
    return disc(disc(field, 0.25, 0.26, 0.07, 0.09, DARK), 0.78, 0.7, 0.08, 0.1, DARK)


def counterchange() -> Field:
    return disc(box(ground(LIGHT), 0.5, 0.0, 1.0, 1.0, DARK), 0.5, 0.5, 0.3, 0.36, MID)


OTHERS: dict[str, Callable[[], Field]] = {
    "light-on-dark": light_mass,
    "dark-on-light": dark_mass,
    "uprights": uprights,
    "wings": wings,
    "right-angle": right_angle,
    "answered-weight": answered,
    "scattered-lights": lights_strewn,
    "scattered-darks": darks_strewn,
    "two-tone": lights_and_darks,
    "interchange": counterchange,
}


CHANGES: dict[str, Callable[[Field], Field]] = {
    "": lambda field: field,
    "mirrored": lambda field: field[:, ::-1],
    "cut": lambda field: field[round(0.03 * len(field)) : round(0.97 * len(field)), 10:-10],
    "in another light": lambda field: 3 + 0.92 * field,
}


@functools.cache
def degrees(slug: str, change: str = "") -> dict[str, float]:
    """The degrees of a drawing that was made a picture and changed."""
    field = grained({**POORE, **OTHERS}[slug](), 4.0)
    return read(png_of(CHANGES[change](field)), trim=False).types


@pytest.mark.parametrize("slug", POORE)
def test_each_of_poores_diagrams_is_its_own_type(slug: str) -> None:
    found = degrees(slug)
    kind = strongest(found)
    assert kind is not None
    assert kind.slug == slug, {name: round(degree, 2) for name, degree in found.items() if degree > 0}


@pytest.mark.parametrize("slug", POORE)
def test_poores_diagrams_hold_their_own_type_fully(slug: str) -> None:
    assert degrees(slug)[slug] > 0.8


@pytest.mark.parametrize("slug", OTHERS)
def test_the_other_types_know_their_own(slug: str) -> None:
    assert degrees(slug)[slug] >= 0.6


@pytest.mark.parametrize("slug", [kind.slug for kind in TYPES if kind.slug in OTHERS and not kind.manner])
def test_the_other_layouts_are_told_from_one_another(slug: str) -> None:
    found = degrees(slug)
    kind = strongest(found)
    assert kind is not None
    assert kind.slug == slug or found[slug] == found[kind.slug], found


@pytest.mark.parametrize("slug", [*POORE, *OTHERS])
def test_a_mirrored_picture_is_of_the_same_types(slug: str) -> None:
    own, mirrored = degrees(slug), degrees(slug, "mirrored")
    assert strongest(mirrored) == strongest(own)
    for name, degree in own.items():
        assert mirrored[name] == pytest.approx(degree, abs=0.05), name


def test_an_even_sheet_is_of_no_type() -> None:
    found = read(png_of(ground(60.0)), trim=False).types
    named = {name for name, degree in found.items() if degree >= CLEAR}
    assert named <= {"broad-middle"}


def test_every_type_is_named_explained_and_sourced_once() -> None:
    slugs = [kind.slug for kind in TYPES]
    assert len(set(slugs)) == len(slugs) >= 14
    assert len({kind.name for kind in TYPES}) == len(slugs)
    for kind in TYPES:
        assert kind.slug == kind.slug.lower().replace(" ", "-")
        assert kind.sentence[0].isupper()
        assert kind.sentence.endswith(".")
        assert kind.source


@given(st.lists(st.floats(0, 1), min_size=len(TYPES), max_size=len(TYPES)))
def test_a_picture_is_named_by_the_layouts_that_are_clear_and_near_the_strongest(values: list[float]) -> None:
    held = {kind.slug: value for kind, value in zip(TYPES, values, strict=True)}
    layouts = {kind.slug: held[kind.slug] for kind in TYPES if not kind.manner}
    most = max(layouts.values())
    names = [kind.slug for kind in named(held)]
    assert set(names) == {slug for slug, value in layouts.items() if value >= CLEAR and value >= most - NEAR}
    assert [held[slug] for slug in names] == sorted((held[slug] for slug in names), reverse=True)
    kind = strongest(held)
    assert (kind.slug if kind else None) == (names[0] if names else None)


def test_a_manner_names_no_picture() -> None:
    held = {kind.slug: 0.0 for kind in TYPES} | {"two-tone": 1.0}
    assert named(held) == ()
    assert [kind.slug for kind in named(held | {"bands": 0.6})] == ["bands"]


@pytest.mark.parametrize("change", ["cut", "in another light"])
@pytest.mark.parametrize("slug", [*POORE, "light-on-dark", "wings", "scattered-lights"])
def test_a_type_is_not_lost_by_a_small_change(slug: str, change: str) -> None:
    assert degrees(slug, change)[slug] == pytest.approx(degrees(slug)[slug], abs=0.15)


def test_every_type_has_its_rules_and_they_tell_by_known_facts() -> None:
    assert list(RULES) == [kind.slug for kind in TYPES]
    facts = derived({name: np.zeros(1) for name in FACTS})
    for ways in RULES.values():
        for way in ways:
            for name, none, full in way:
                assert name in facts
                assert none != full


def facts_in(field: Field, mask: NDArray[np.bool_] | None = None) -> Facts:
    """The facts of a drawing that needs no squinting."""
    tones = np.ascontiguousarray(field, dtype=np.float32)
    laid = value_map(tones, 3, mask)
    return facts_of(tones, laid, measure(tones, laid, find_masses(laid.labels), mask), mask)


def test_facts_tell_what_was_drawn() -> None:
    """A light square of a quarter of the picture, in the middle of dark: known shares and places."""
    facts = facts_in(box(ground(DARK), 0.25, 0.25, 0.75, 0.75, LIGHT))
    whole = {name: float(values[0]) for name, values in facts.items()}
    assert whole["light"] == pytest.approx(0.25, abs=0.02)
    assert whole["dark"] == pytest.approx(0.75, abs=0.03)
    assert (whole["light_aside"], whole["light_y"]) == pytest.approx((0.0, 0.5), abs=0.01)
    # A square of side s spreads sqrt(s * s / 12 + s * s / 12) about its centre.
    assert whole["light_spread"] == pytest.approx(0.5 / np.sqrt(6), abs=0.01)
    # A square has as long a border as 4 / pi discs with its area in all (isoperimetric quotient: (4 s)^2 / (4 pi s^2)).
    assert whole["lights"] == pytest.approx(4 / np.pi, rel=0.1)
    assert whole["darks"] == pytest.approx(4 / np.pi / 3, rel=0.1)
    assert whole["edge_dark"] == pytest.approx(1.0)
    assert whole["median"] == pytest.approx(DARK, abs=1.0)


@pytest.mark.parametrize("number", [2, 3, 4])
def test_equal_discs_are_counted_against_one_of_them(number: int) -> None:
    """The isoperimetric quotient of n equal shapes is n times that of one, however coarse the grid."""
    field = ground(DARK)
    for at in range(number):
        field = disc(field, 0.14 + 0.24 * at, 0.5, 0.08, 0.1, LIGHT)
    one = facts_in(disc(ground(DARK), 0.14, 0.5, 0.08, 0.1, LIGHT))
    assert facts_in(field)["lights"][0] == pytest.approx(number * one["lights"][0], rel=0.1)


def test_mirrored_fields_have_the_same_facts_but_for_ties_between_pixels() -> None:
    own, mirrored = facts_in(answered()), facts_in(answered()[:, ::-1])
    for name in FACTS:
        assert mirrored[name].mean() == pytest.approx(own[name].mean(), abs=0.02), name


def test_the_facts_of_an_oval_leave_out_what_lies_round_it() -> None:
    u, v = frame(ground(0))
    inside = (u - 0.5) ** 2 + (v - 0.5) ** 2 < 0.2
    facts = facts_in(np.where(inside, np.where(v > 0.5, DARK, LIGHT), 100.0), inside)
    assert facts["light"].mean() == pytest.approx(0.5, abs=0.06)
    assert facts["dark_bottom"].mean() > 0.9
    assert facts["light_top"].mean() > 0.9
