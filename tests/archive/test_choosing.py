"""What tells studies apart, told by hand."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from painting import paint

from archive.choosing import MOST, shared, tell_apart
from ingest.measures import Measures
from ingest.reading import read


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Measures:
    file = tmp_path_factory.mktemp("plain") / "plain.png"
    paint("bands", 1).save(file)
    return read(file).measures


def but(plain: Measures, **changed: Any) -> Measures:
    return dataclasses.replace(plain, **changed)


def test_the_one_that_stands_clear_of_the_others_is_named(plain: Measures) -> None:
    told = tell_apart([but(plain, light=share) for share in (0.5, 0.25, 0.2, 0.22)])
    assert told == [("The most light: one half, the others a fifth to a quarter.",), (), (), ()]


def test_of_two_it_is_more_and_less(plain: Measures) -> None:
    told = tell_apart([but(plain, dark_masses=1), but(plain, dark_masses=4)])
    assert told[0] == ("The darks more joined: one mass, the other four.",)
    assert told[1] == ("The darks more parted: four masses, the other one.",)


def test_of_two_one_lies_further_and_not_furthest(plain: Measures) -> None:
    told = tell_apart([but(plain, light_x=0.2), but(plain, light_x=0.7)])
    assert told == [("Its light lies further left.",), ("Its light lies further right.",)]


def test_shares_with_one_fraction_for_a_name_are_told_in_hundredths(plain: Measures) -> None:
    told = tell_apart([but(plain, light=0.54), but(plain, light=0.455), but(plain, light=0.3)])
    assert told[0] == ("The most light: 54 %, the others 30 to 46.",)


def test_steps_and_places(plain: Measures) -> None:
    told = tell_apart(
        [but(plain, gap_mid_dark=9, light_x=0.2), but(plain, gap_mid_dark=30), but(plain, gap_mid_dark=33)]
    )
    assert "The closest step from dark to middle: 9 L*, the others 30 to 33." in told[0]
    assert "Its light lies furthest left." in told[0]
    assert told[2] == ()


def test_steps_between_values_are_told_only_where_there_are_three(plain: Measures) -> None:
    assert tell_apart([but(plain, gap_mid_dark=-4, values_present=2), but(plain, gap_mid_dark=30)]) == [(), ()]


def test_an_even_tone_is_compared_with_nothing(plain: Measures) -> None:
    told = tell_apart([but(plain, light=0.5), but(plain, light=0.0, values_present=1), but(plain, light=0.2)])
    assert told[0] == ("The more light: one half, the other a fifth.",)
    assert told[1] == ()


def test_alike_studies_are_not_told_apart_and_one_alone_is_not_compared(plain: Measures) -> None:
    assert tell_apart([plain, plain, plain]) == [(), (), ()]
    assert tell_apart([plain]) == [()]
    assert tell_apart([]) == []
    assert shared([plain]) == ()


def test_never_more_than_a_few(plain: Measures) -> None:
    odd = but(plain, light=0.9, dark=0.0, light_masses=9, gap_mid_dark=60, crispness=1.0, edge_light=1.0, light_x=0.9)
    assert all(len(told) <= MOST for told in tell_apart([odd, plain, plain]))


def test_what_they_share(plain: Measures) -> None:
    both = shared([but(plain, register="lower", light=0.24), but(plain, register="lower", light=0.27, scale="odd")])
    assert "Both lie in the lower register." in both
    assert "Both keep about a quarter light." in both
    assert not any("scale" in sentence for sentence in both)
