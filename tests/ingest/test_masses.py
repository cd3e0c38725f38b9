"""Masses: the connected shapes of a value map, measured on maps drawn pixel by pixel."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from numpy.typing import NDArray

from ingest.masses import find_masses
from ingest.value_map import OUTSIDE


def plan() -> NDArray[np.uint8]:
    """40 by 80: middle, a dark block in the lower left corner, a light square within, a light strip on top."""
    labels = np.ones((40, 80), dtype=np.uint8)
    labels[20:, :20] = 0
    labels[10:20, 40:50] = 2
    labels[:4, 60:] = 2
    return labels


def test_each_shape_is_measured() -> None:
    found = find_masses(plan())
    assert [mass.value for mass in found] == ["light", "light", "mid", "dark"]
    square, strip, middle, dark = found
    assert square.area == pytest.approx(100 / 3200)
    assert (square.x, square.y) == pytest.approx((45 / 80, 15 / 40))
    assert (square.x0, square.y0, square.x1, square.y1) == pytest.approx((0.5, 0.25, 0.625, 0.5))
    assert square.touches == ""
    assert strip.area == pytest.approx(80 / 3200)
    assert strip.touches == "top,right"
    assert middle.area == pytest.approx((3200 - 400 - 180) / 3200)
    assert middle.touches == "left,top,right,bottom"
    assert dark.touches == "left,bottom"
    assert (dark.x, dark.y) == pytest.approx((0.125, 0.75))


def test_what_a_mass_stands_against_is_told() -> None:
    labels = np.ones((60, 60), dtype=np.uint8)
    labels[:, 30:] = 0
    labels[20:40, 20:40] = 2
    light = find_masses(labels)[0]
    assert light.value == "light"
    assert light.against_dark == pytest.approx(0.5, abs=0.02)
    assert light.against_mid == pytest.approx(0.5, abs=0.02)
    assert light.against_light == 0
    assert light.against_dark + light.against_mid + light.against_light == pytest.approx(1)


def test_larger_masses_come_first_within_their_value() -> None:
    labels = np.zeros((30, 90), dtype=np.uint8)
    for at, size in enumerate((4, 12, 8)):
        labels[2 : 2 + size, 5 + 30 * at : 5 + 30 * at + size] = 2
    areas = [mass.area for mass in find_masses(labels) if mass.value == "light"]
    assert areas == sorted(areas, reverse=True)
    assert len(areas) == 3


def test_a_single_value_is_one_mass_against_nothing() -> None:
    (mass,) = find_masses(np.full((20, 30), 2, dtype=np.uint8))
    assert mass.area == 1
    assert mass.touches == "left,top,right,bottom"
    assert mass.against_light == mass.against_mid == mass.against_dark == 0


def test_what_lies_outside_the_picture_is_neither_area_nor_neighbour() -> None:
    labels = plan()
    labels[:, :20] = OUTSIDE
    found = find_masses(labels)
    assert sum(mass.area for mass in found) == pytest.approx(1)
    assert all(mass.value != "dark" for mass in found)
    middle = next(mass for mass in found if mass.value == "mid")
    assert middle.against_light == pytest.approx(1)


@settings(max_examples=40, deadline=None)
@given(arrays.arrays(np.uint8, (9, 13), elements=st.sampled_from([0, 1, 2, OUTSIDE])))
def test_masses_share_out_the_whole_picture(labels: NDArray[np.uint8]) -> None:
    if (labels == OUTSIDE).all():
        return
    found = find_masses(labels)
    assert sum(mass.area for mass in found) == pytest.approx(1)
    for value, name in enumerate(("dark", "mid", "light")):
        share = float((labels == value).sum() / (labels != OUTSIDE).sum())
        assert sum(mass.area for mass in found if mass.value == name) == pytest.approx(share)
    for mass in found:
        assert 0 <= mass.x0 < mass.x1 <= 1
        assert 0 <= mass.y0 < mass.y1 <= 1
        assert mass.x0 <= mass.x <= mass.x1
        assert mass.y0 <= mass.y <= mass.y1
        assert mass.against_light + mass.against_mid + mass.against_dark <= 1.0001


@settings(max_examples=40, deadline=None)
@given(arrays.arrays(np.uint8, (9, 13), elements=st.integers(0, 2)))
def test_a_mirrored_map_has_the_mirrored_masses(labels: NDArray[np.uint8]) -> None:
    own = sorted((m.value, round(m.area, 6), round(m.x, 6), round(m.y, 6)) for m in find_masses(labels))
    mirrored = find_masses(np.ascontiguousarray(labels[:, ::-1]))
    back = sorted((m.value, round(m.area, 6), round(1 - m.x, 6), round(m.y, 6)) for m in mirrored)
    assert own == back
