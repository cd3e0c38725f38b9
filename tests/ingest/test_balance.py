"""Balance measures against a table worked out for plain shapes.

APB (Wilson & Chatterjee 2005, Empirical Studies of the Arts 23:165-180) and DCM (Hübner & Fillinger 2016, Frontiers in
Psychology 7:335), restated on a mass of 1 inside a shape in a square frame. Where a value follows from the formula by
hand (left half: |1| + 0 + 1/2 + 1/2 + 0 + 0 + 0 + 0 over eight), the table gives it to its last place.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from numpy.typing import NDArray

from ingest.balance import balance_APB, centre_of_mass, deviation_DCM, mirror_symmetry, steelyard

SIDE = 800
Mass = NDArray[np.float32]
Shape = Callable[[Mass, Mass], NDArray[np.bool_] | NDArray[np.float64]]

# shape -> APB, DCM, centre's offset right and down in shares of the frame.
TABLE: dict[str, tuple[Shape, float, float, tuple[float, float]]] = {
    "uniform": (lambda x, y: x + y >= 0, 0.0, 0.0, (0, 0)),
    "left half": (lambda x, y: x < 0.5 + 0 * y, 25.0, 50.0, (-0.25, 0)),
    "top half": (lambda x, y: y < 0.5 + 0 * x, 25.0, 50.0, (0, -0.25)),
    "upper left quarter": (lambda x, y: (x < 0.5) & (y < 0.5), 53.92, 70.71, (-0.25, -0.25)),
    "centred square": (lambda x, y: (abs(x - 0.5) < 0.25) & (abs(y - 0.5) < 0.25), 41.42, 0.0, (0, 0)),
    "frame": (lambda x, y: (abs(x - 0.5) >= 0.25) | (abs(y - 0.5) >= 0.25), 13.81, 0.0, (0, 0)),
    "centred upright band": (lambda x, y: abs(x - 0.5) < 0.25 + 0 * y, 16.60, 0.0, (0, 0)),
    "triangle under the diagonal": (lambda x, y: y > x, 25.0, 47.14, (-1 / 6, 1 / 6)),
    "bottom third": (lambda x, y: y > 2 / 3 + 0 * x, 37.6, 66.67, (0, 1 / 3)),
    "right angle": (lambda x, y: (x < 1 / 3) | (y > 2 / 3), 27.4, 37.71, (-0.1333, 0.1333)),
    "ramp": (lambda x, y: 1 - x + 0 * y, 14.58, 33.33, (-1 / 6, 0)),
}


def laid(shape: Shape, side: int = SIDE) -> Mass:
    at = (np.arange(side, dtype=np.float64) + 0.5) / side
    return np.asarray(shape(at[None, :], at[:, None]), dtype=np.float32)


@pytest.mark.parametrize("name", TABLE)
def test_shapes_measure_as_worked_out(name: str) -> None:
    shape, apb, dcm, offset = TABLE[name]
    mass = laid(shape)
    x, y = centre_of_mass(mass)
    assert (x - 0.5, y - 0.5) == pytest.approx(offset, abs=0.001)
    assert deviation_DCM(mass) == pytest.approx(dcm, abs=0.15)
    assert balance_APB(mass) == pytest.approx(apb, abs=0.3)


def test_one_pixel_in_a_corner_is_the_worst() -> None:
    mass = np.zeros((SIDE, SIDE), dtype=np.float32)
    mass[0, 0] = 1
    assert balance_APB(mass) == pytest.approx(87.5, abs=0.1)
    assert deviation_DCM(mass) == pytest.approx(141.42, abs=0.4)
    assert steelyard(mass) == pytest.approx(-1, abs=0.01)


def test_a_small_weight_far_out_answers_a_large_one_near() -> None:
    """Distances inversely proportional to weights (Poore 1903, ch. III; Ross 1907): 4 parts at 0.1, 1 part at 0.4. The
    larger disc holds 0.12 of the frame; balance about one axis is not evenness in eight ways, so that APB is 38.2."""
    radius = float(np.sqrt(0.12 / np.pi))

    def discs(x: Mass, y: Mass) -> NDArray[np.bool_]:
        return (np.hypot(x - 0.4, y - 0.5) < radius) | (np.hypot(x - 0.9, y - 0.5) < radius / 2)

    mass = laid(discs)
    assert steelyard(mass) == pytest.approx(0, abs=0.002)
    assert deviation_DCM(mass) == pytest.approx(0, abs=0.2)
    assert balance_APB(mass) == pytest.approx(38.2, abs=0.3)


def test_the_frame_may_have_any_shape() -> None:
    wide = np.zeros((300, 900), dtype=np.float32)
    wide[:, :450] = 1
    assert balance_APB(wide) == pytest.approx(25.0, abs=0.1)
    assert deviation_DCM(wide) == pytest.approx(50.0, abs=0.1)


def test_nothing_weighs_nothing() -> None:
    empty = np.zeros((30, 40), dtype=np.float32)
    assert centre_of_mass(empty) == (0.5, 0.5)
    assert (balance_APB(empty), deviation_DCM(empty), steelyard(empty)) == (0, 0, 0)


def test_mirror_symmetry_by_hand() -> None:
    """All dark is 100, light upon light counts nothing (Hübner & Fillinger 2016). The left half pairs with nothing
    across, and all of it with itself level: (0 + 50) / 2."""
    dark = np.ones((40, 60), dtype=bool)
    assert mirror_symmetry(dark) == pytest.approx(100)
    assert mirror_symmetry(~dark) == 0
    left = dark.copy()
    left[:, 30:] = False
    assert mirror_symmetry(left) == pytest.approx(25)


def test_symmetry_grows_with_the_amount_of_dark() -> None:
    """Two pixels of a pair are dark together with chance d^2 where a share d is dark at random."""
    rng = np.random.default_rng(5)
    for share in (0.2, 0.5, 0.8):
        scattered = rng.random((300, 400)) < share
        assert mirror_symmetry(scattered) == pytest.approx(100 * share**2, abs=1.0)


def test_symmetry_counts_double_at_the_axis() -> None:
    """Weights run from 1 at the edge to 2 at the axis (Wagemans 1995), so pairs near the axis count for more."""
    near, far = np.zeros((2, 40, 60), dtype=bool)
    near[:, 25:35] = True
    far[:, :5] = far[:, -5:] = True
    assert mirror_symmetry(near) > mirror_symmetry(far)


masses = arrays.arrays(np.float32, (12, 16), elements=st.floats(0, 1, width=16))


@settings(max_examples=50, deadline=None)
@given(masses, st.sampled_from([0.25, 3.0]))
def test_only_where_mass_lies_counts_not_how_heavy_it_is(mass: Mass, factor: float) -> None:
    if mass.sum() < 0.5:
        return
    heavier = mass * np.float32(factor)
    assert balance_APB(heavier) == pytest.approx(balance_APB(mass), abs=0.01)
    assert deviation_DCM(heavier) == pytest.approx(deviation_DCM(mass), abs=0.01)


@settings(max_examples=50, deadline=None)
@given(masses)
def test_a_mirror_image_leans_the_other_way(mass: Mass) -> None:
    mirrored = np.ascontiguousarray(mass[:, ::-1])
    assert steelyard(mirrored) == pytest.approx(-steelyard(mass), abs=1e-4)
    assert deviation_DCM(mirrored) == pytest.approx(deviation_DCM(mass), abs=1e-2)
    assert balance_APB(mirrored) == pytest.approx(balance_APB(mass), abs=1e-2)
    assert mirror_symmetry(mirrored > 0.5) == pytest.approx(mirror_symmetry(mass > 0.5))


@settings(max_examples=50, deadline=None)
@given(masses)
def test_measures_keep_to_their_ranges(mass: Mass) -> None:
    assert 0 <= balance_APB(mass) <= 100
    assert 0 <= deviation_DCM(mass) <= 141.43
    assert -1 <= steelyard(mass) <= 1
    assert 0 <= mirror_symmetry(mass > 0.5) <= 100
