"""What lies in windows about pixels, held to scipy.ndimage."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from ingest.value_map import MAP_LIGHTNESS, value_map, value_maps
from ingest.windows import (
    all_along,
    change_along,
    extreme,
    gaussian,
    mean_around,
    share_around,
    steps_away,
    sums_along,
)


@pytest.mark.parametrize("reach", [1, 2, 3, 4, 11])
@pytest.mark.parametrize("shape", [(40, 61), (9, 9), (7, 30)])
def test_extremes_are_those_of_a_filter_that_looks_at_each_pixel(reach: int, shape: tuple[int, int]) -> None:
    field = np.random.default_rng(reach).random(shape).astype(np.float32)
    window = 2 * reach + 1
    np.testing.assert_array_equal(extreme(field, reach, np.minimum), ndimage.minimum_filter(field, window))
    np.testing.assert_array_equal(extreme(field, reach, np.maximum), ndimage.maximum_filter(field, window))
    here = field > 0.5
    grown = ndimage.binary_dilation(here, np.ones((window, window)))
    np.testing.assert_array_equal(extreme(here, reach, np.logical_or), grown)


@pytest.mark.parametrize("shape", [(40, 61), (500, 400)])
@pytest.mark.parametrize("axis", [0, 1])
def test_windows_along_one_axis_are_those_of_a_filter(shape: tuple[int, int], axis: int) -> None:
    """Small fields are turned and large ones worked at in bands; both must come out alike."""
    field = np.random.default_rng(5).random(shape).astype(np.float32)
    window = ndimage.maximum_filter1d(field, 13, axis=axis)
    np.testing.assert_array_equal(extreme(field, 6, np.maximum, (axis,)), window)
    here = field > 0.2
    line = np.ones((9, 1) if axis == 0 else (1, 9))
    np.testing.assert_array_equal(all_along(here, 4, axis), ndimage.binary_erosion(here, line))
    for size, total in zip((5, 11), sums_along(field, (5, 11), axis), strict=True):
        np.testing.assert_allclose(total / size, ndimage.uniform_filter1d(field, size, axis, mode="nearest"), atol=1e-5)
    change = ndimage.correlate1d(field, [-0.5, 0, 0.5], axis, mode="nearest")
    np.testing.assert_allclose(change_along(field, axis), change, atol=1e-6)


def test_a_mean_around_is_that_of_a_filter() -> None:
    field = np.random.default_rng(7).random((40, 61)).astype(np.float32)
    np.testing.assert_allclose(mean_around(field, 2), ndimage.uniform_filter(field, 5, mode="nearest"), atol=1e-5)


@pytest.mark.parametrize("shape", [(40, 61), (500, 400)])
def test_a_gaussian_is_that_of_a_filter(shape: tuple[int, int]) -> None:
    field = np.random.default_rng(6).random(shape).astype(np.float32)
    wanted = ndimage.gaussian_filter(field.astype(np.float64), 1.3, mode="nearest", radius=4)
    np.testing.assert_allclose(gaussian(field, 1.3, 4), wanted, atol=1e-5)


@pytest.mark.parametrize("shape", [(40, 61), (500, 400), (20, 31, 3), (300, 200, 3), (3, 30)])
def test_a_gaussian_of_a_field_in_a_mirror_is_that_of_a_filter(shape: tuple[int, ...]) -> None:
    field = np.random.default_rng(8).random(shape).astype(np.float32)
    wanted = ndimage.gaussian_filter(field.astype(np.float64), 1.3, mode="reflect", radius=3, axes=(0, 1))
    np.testing.assert_allclose(gaussian(field, 1.3, 3, mirrored=True), wanted, atol=1e-5)


@pytest.mark.parametrize("steps", [1, 2, 5])
@pytest.mark.parametrize("shape", [(40, 61), (1, 7), (3, 3)])
def test_what_is_some_steps_away_is_what_a_cross_reaches_as_often(steps: int, shape: tuple[int, int]) -> None:
    here = np.random.default_rng(steps).random(shape) > 0.3
    wanted = ndimage.binary_dilation(here, iterations=steps)
    np.testing.assert_array_equal(steps_away(here, steps, np.logical_or), wanted)
    wanted = ndimage.binary_erosion(here, iterations=steps)
    np.testing.assert_array_equal(steps_away(here, steps, np.logical_and), wanted)


@pytest.mark.parametrize("radius", [0.7, 1.0, 1.64, 3.2])
def test_shares_around_a_pixel_are_a_gaussian_cut_at_twice_its_deviation(radius: float) -> None:
    here = np.random.default_rng(1).random((50, 70)) > 0.6
    wanted = ndimage.gaussian_filter(here.astype(np.float64), radius, mode="nearest", truncate=2.0)
    np.testing.assert_allclose(share_around(here, radius), wanted, atol=1e-6)


def test_maps_made_together_are_those_made_alone() -> None:
    field = ndimage.gaussian_filter(np.random.default_rng(2).random((120, 150)), 8.0)
    field = ((field - field.min()) / np.ptp(field) * 90 + 5).astype(np.float32)
    mask = np.hypot(*np.ogrid[-60:60, -75:75]) < 70
    together = value_maps(field, MAP_LIGHTNESS, mask)
    for values, laid in together.items():
        alone = value_map(field, values, mask)
        np.testing.assert_array_equal(laid.labels, alone.labels)
        assert (laid.thresholds, laid.means, laid.unsure) == (alone.thresholds, alone.means, alone.unsure)
