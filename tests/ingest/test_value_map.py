"""Value maps: thresholds found from the picture, shapes clean, two values where there are two."""

from __future__ import annotations

import numpy as np
import pytest
from drawn_tone import HEIGHT, WIDTH, box, disc, frame, grained, ground, light_of
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import srgb_lightness
from ingest.squint import squint
from ingest.value_map import MAP_LIGHTNESS, OUTSIDE, ValueMap, find_thresholds, map_picture, value_map


def lay(field: NDArray[np.float64], values: int = 3, mask: NDArray[np.bool_] | None = None) -> ValueMap:
    return value_map(squint(light_of(field)), values, mask)


def three_masses(dark: float, mid: float, light: float) -> tuple[NDArray[np.float64], NDArray[np.uint8]]:
    """A field in three tones and its true labels."""
    labels = box(ground(1), 0.0, 0.65, 1.0, 1.0, 0)
    labels = disc(labels, 0.35, 0.35, 0.2, 0.22, 2)
    labels = box(labels, 0.75, 0.3, 0.9, 0.75, 0)
    return np.array([dark, mid, light])[labels.astype(int)], labels.astype(np.uint8)


def test_thresholds_lie_between_three_heaps_of_tones() -> None:
    """Multi-level Otsu (Liao, Chen & Chung 2001) puts them at 32.9 and 65.9 for these heaps; halfway would be 35 and
    67.5. Any honest rule lands within 3 L* of halfway."""
    rng = np.random.default_rng(2001)
    heaps = [rng.normal(mean, 4, size) for mean, size in ((20, 10_000), (50, 20_000), (85, 10_000))]
    (low, high), distinct = find_thresholds(np.concatenate(heaps).astype(np.float32), 3)
    assert low == pytest.approx(35, abs=3)
    assert high == pytest.approx(67.5, abs=3)
    assert distinct == 3


@pytest.mark.parametrize("tones", [(46.0, 81.0, 94.0), (20.0, 33.0, 68.0)])
@pytest.mark.parametrize("accent", [0.06, 0.07])
def test_a_small_value_close_to_the_largest_is_one_of_three(tones: tuple[float, float, float], accent: float) -> None:
    """A little paper left in a light middle, or a little dark laid in a dark one: it may be the point of the study.
    Most of it has been softened into the middle by the squint."""
    small, large = (2, 0) if tones[2] - tones[1] < tones[1] - tones[0] else (0, 2)
    shares = {small: accent, large: 0.27, 1: 0.73 - accent}
    counts = {value: round(10_000 * share) for value, share in shares.items()}
    soft = round(0.6 * counts[small])
    counts[small] -= soft
    heaps = [np.full(count, tones[value]) for value, count in counts.items()]
    heaps.append(np.linspace(tones[1], tones[small], soft))
    (low, high), distinct = find_thresholds(np.concatenate(heaps).astype(np.float32), 3)
    assert distinct == 3
    assert tones[0] < low < tones[1] < high < tones[2]


def test_half_black_and_half_white_have_no_middle() -> None:
    field = ground(2.0)
    field[:, WIDTH // 2 :] = 98.0
    laid = lay(field)
    dark, mid, light = laid.shares()
    assert mid < 0.01
    assert dark == pytest.approx(0.5, abs=0.01)
    assert light == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize(("dark", "light"), [(10.0, 90.0), (30.0, 55.0), (50.0, 92.0)])
def test_a_picture_of_two_values_gets_no_rim(dark: float, light: float) -> None:
    field = disc(disc(ground(dark), 0.35, 0.5, 0.2, 0.3, light), 0.75, 0.5, 0.1, 0.2, light)
    laid = lay(grained(field, 3.0))
    assert laid.shares()[1] < 0.01
    truth = np.where(field == light, 2, 0)
    assert float((laid.labels == truth).mean()) > 0.98


@pytest.mark.parametrize("tone", [3.0, 50.0, 97.0])
def test_one_even_tone_is_one_value(tone: float) -> None:
    laid = lay(grained(ground(tone), 1.0))
    assert laid.distinct == 1
    assert laid.shares()[1] == pytest.approx(1.0)


@pytest.mark.parametrize(
    "tones", [(15, 50, 88), (8, 18, 32), (64, 78, 93), (20, 38, 90), (12, 66, 88)], ids="{0[0]}-{0[1]}-{0[2]}".format
)
@pytest.mark.parametrize("grain", [0.0, 5.0])
def test_three_masses_are_found_in_any_register(tones: tuple[float, float, float], grain: float) -> None:
    field, truth = three_masses(*tones)
    if grain:
        field = grained(field, min(grain, (min(tones[1] - tones[0], tones[2] - tones[1])) / 3))
    laid = lay(field)
    assert laid.distinct == 3
    assert float((laid.labels == truth).mean()) > 0.97
    shares = np.bincount(truth.ravel(), minlength=3) / truth.size
    np.testing.assert_allclose(laid.shares(), shares, atol=0.02)


def test_a_busy_picture_of_three_families_comes_out_as_those_three() -> None:
    """Common practice, no source: squinting closes the detail of each family up into one value."""
    field, truth = three_masses(20, 52, 86)
    rng = np.random.default_rng(7)
    busy = field + 9 * np.sign(ndimage.gaussian_filter(rng.standard_normal(field.shape), 1.0))
    laid = lay(np.clip(busy, 0, 100))
    assert float((laid.labels == truth).mean()) > 0.97


def test_an_uneven_hand_does_not_undo_a_pattern_of_three_values() -> None:
    """Common practice, no source: mottled by 6 L* either way, borders smeared over 1 % of the diagonal, 98 % stays."""
    field, _ = three_masses(22, 55, 92)
    even = lay(field).labels
    rng = np.random.default_rng(5)
    mottle = ndimage.gaussian_filter(rng.standard_normal(field.shape), 5)
    mottle = 6 * np.clip(mottle / (2 * mottle.std()), -1, 1)
    smeared = ndimage.gaussian_filter(field, 0.005 * np.hypot(WIDTH, HEIGHT))
    uneven = lay(np.clip(smeared + mottle, 0, 100)).labels
    assert float((even == uneven).mean()) >= 0.98


@pytest.mark.parametrize("values", [2, 3, 5])
def test_labels_shares_and_means_agree(values: int) -> None:
    u, _ = frame(ground(0))
    laid = lay(grained(10 + 80 * u, 4.0), values)
    assert set(np.unique(laid.labels)) == set(range(values))
    assert len(laid.thresholds) == len(laid.unsure) == values - 1
    assert list(laid.thresholds) == sorted(laid.thresholds)
    assert list(laid.means) == sorted(laid.means)
    assert sum(laid.shares()) == pytest.approx(1)
    for value, share in enumerate(laid.shares()):
        assert share == pytest.approx(float((laid.labels == value).mean()))


@pytest.mark.parametrize("values", [1, 4, 6, 0])
def test_other_numbers_of_values_are_refused(values: int) -> None:
    with pytest.raises(ValueError, match="2, 3 or 5"):
        value_map(squint(light_of(ground(50))), values)


def test_shapes_are_clean() -> None:
    """No shape under a quarter of a hundredth of the picture, however rough the picture is."""
    field, _ = three_masses(20, 50, 85)
    for seed, values in ((1, 2), (2, 3), (3, 5)):
        laid = lay(grained(field, 14.0, seed), values)
        for value in range(values):
            shapes, count = ndimage.label(laid.labels == value)
            sizes = np.bincount(shapes.ravel())[1:]
            assert count == 0 or sizes.min() >= 0.0025 * field.size


def test_a_thin_shape_that_matters_is_kept() -> None:
    """A mast: as wide as a fiftieth of the diagonal, half as tall as the picture."""
    wide = 0.02 * np.hypot(WIDTH, HEIGHT) / WIDTH
    field = box(ground(20.0), 0.6, 0.2, 0.6 + wide, 0.75, 88.0)
    field = box(field, 0.0, 0.8, 1.0, 1.0, 52.0)
    mast = box(ground(0.0), 0.6, 0.2, 0.6 + wide, 0.75, 1.0) == 1
    laid = lay(grained(field, 3.0))
    assert float((laid.labels[mast] == 2).mean()) > 0.75


def test_only_the_inside_of_a_mask_counts() -> None:
    field, _ = three_masses(20, 50, 85)
    u, v = frame(field)
    mask = ((u - 0.5) / 0.5) ** 2 + ((v - 0.5) / 0.5) ** 2 <= 1
    laid = lay(np.where(mask, field, 97.0), mask=mask)
    assert (laid.labels[~mask] == OUTSIDE).all()
    assert (laid.labels[mask] != OUTSIDE).all()
    assert sum(laid.shares()) == pytest.approx(1)
    assert laid.shares()[0] == pytest.approx(float((laid.labels == 0).sum() / mask.sum()))


def test_tones_near_a_threshold_are_reported() -> None:
    stepped, _ = three_masses(20, 50, 85)
    u, _ = frame(stepped)
    assert max(lay(stepped).unsure) < 0.02
    # A ramp of 90 L* has a fifteenth of its tones within 3 L* of any threshold.
    assert min(lay(5 + 90 * u).unsure) == pytest.approx(6 / 90, abs=0.02)


@pytest.mark.parametrize("values", [2, 3, 5])
def test_maps_are_shown_in_plain_greys_of_stated_lightness(values: int) -> None:
    labels = np.arange(values, dtype=np.uint8).repeat(20)[None].repeat(30, axis=0)
    picture = map_picture(labels, values)
    assert picture.mode == "L"
    greys = np.asarray(picture)[0, ::20]
    shown = srgb_lightness(greys[:, None].repeat(3, axis=1))
    np.testing.assert_allclose(shown, MAP_LIGHTNESS[values], atol=0.3)


def test_an_enlarged_map_has_the_same_greys_and_shapes() -> None:
    _, labels = three_masses(20, 50, 85)
    labels = labels.copy()
    labels[:, :20] = OUTSIDE
    small, large = map_picture(labels, 3), map_picture(labels, 3, side=3 * WIDTH)
    assert large.size == (3 * WIDTH, 3 * HEIGHT)
    assert set(np.unique(np.asarray(large))) == set(np.unique(np.asarray(small)))
    back = np.asarray(large)[1::3, 1::3]
    assert float((back == np.asarray(small)).mean()) > 0.99
    assert np.asarray(large)[5, 5] == 255


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([2, 3, 5]), st.floats(2, 30), st.floats(25, 75))
def test_every_pixel_gets_a_value_and_lighter_values_are_lighter(
    seed: int, values: int, spread: float, middle: float
) -> None:
    rng = np.random.default_rng(seed)
    blots = ndimage.gaussian_filter(rng.standard_normal((60, 80)), 5)
    field = np.clip(middle + spread * blots / blots.std(), 0, 100).astype(np.float32)
    laid = value_map(field, values)
    assert laid.labels.max() < values
    assert 1 <= laid.distinct <= values
    means = [float(field[laid.labels == value].mean()) for value in np.unique(laid.labels)]
    assert means == sorted(means)


@pytest.mark.parametrize(("dark", "light"), [(2.0, 98.0), (10.0, 90.0), (30.0, 55.0), (50.0, 92.0)])
def test_a_picture_of_two_values_says_so(dark: float, light: float) -> None:
    field = disc(disc(ground(dark), 0.35, 0.5, 0.2, 0.3, light), 0.75, 0.5, 0.1, 0.2, light)
    assert lay(grained(field, 3.0)).distinct == 2
    half = ground(dark)
    half[:, WIDTH // 2 :] = light
    assert lay(half).distinct == 2
