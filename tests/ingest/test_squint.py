"""The squint: detail falls away, light averages as light, edges of the large shapes stay."""

from __future__ import annotations

import numpy as np
import pytest
from drawn_tone import HEIGHT, WIDTH, box, disc, frame, grained, ground, light_of
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from scipy import ndimage

from ingest.lightness import lightness_CIE1976
from ingest.squint import DEFAULT_SHARE, SHARE_RANGE, squint

DIAGONAL = float(np.hypot(WIDTH, HEIGHT))


def test_half_black_and_half_white_keep_their_edge() -> None:
    """A plain blur would lay a rim of grey some 8 % of the picture wide between them."""
    for black_first in (True, False):
        field = ground(0.0 if black_first else 100.0)
        field[:, WIDTH // 2 :] = 100.0 if black_first else 0.0
        seen = squint(light_of(field))
        assert float(((seen > 5) & (seen < 95)).mean()) < 0.01
        plain = lightness_CIE1976(ndimage.gaussian_filter(light_of(field), DEFAULT_SHARE * DIAGONAL))
        assert float(((plain > 5) & (plain < 95)).mean()) > 0.05


@pytest.mark.parametrize("tone", [0.0, 12.0, 50.0, 88.0, 100.0])
def test_an_even_tone_stays_as_it_is(tone: float) -> None:
    np.testing.assert_allclose(squint(light_of(ground(tone))), tone, atol=0.05)


def test_hatching_becomes_the_mean_of_its_light() -> None:
    """Black and white in equal parts reflect half the light: L* 76.07 (ISO/CIE 11664-4), not 50."""
    lines = ground(0.0)
    lines[::4] = lines[1::4] = 100.0
    seen = squint(light_of(lines))
    inner = seen[HEIGHT // 4 : -HEIGHT // 4, WIDTH // 4 : -WIDTH // 4]
    np.testing.assert_allclose(inner, 76.0693, atol=0.6)


def test_texture_dissolves_into_the_tone_below_it() -> None:
    rng = np.random.default_rng(4)
    strokes = ndimage.gaussian_filter(rng.standard_normal((HEIGHT, WIDTH)), (1, 4), mode="wrap")
    for tone in (25.0, 50.0, 80.0):
        field = tone + 6 * strokes / strokes.std()
        seen = squint(light_of(field))
        assert float(np.std(seen)) < 1.5
        # The mean light of the strokes, a little above their mean L*.
        expected = float(lightness_CIE1976(light_of(field).mean()))
        assert float(seen.mean()) == pytest.approx(expected, abs=0.5)


def test_a_speck_goes_and_a_mass_stays() -> None:
    field = disc(ground(20.0), 0.25, 0.5, 0.006, 0.008, 90.0)
    field = disc(field, 0.7, 0.5, 0.15, 0.2, 90.0)
    seen = squint(light_of(field))
    u, v = frame(field)
    speck = np.hypot((u - 0.25) * 4, (v - 0.5) * 3) < 0.15
    assert seen[speck].max() < 30
    assert seen[HEIGHT // 2, int(0.7 * WIDTH)] > 88
    assert seen[HEIGHT // 2, int(0.45 * WIDTH)] < 22


@pytest.mark.parametrize(("dark", "light"), [(10.0, 90.0), (30.0, 60.0), (60.0, 92.0), (5.0, 35.0)])
def test_a_square_keeps_its_edges_and_most_of_its_corners(dark: float, light: float) -> None:
    for inside, outside in ((dark, light), (light, dark)):
        field = box(ground(outside), 0.3, 0.3, 0.7, 0.7, inside)
        seen = squint(light_of(field))
        middle = (dark + light) / 2
        assert float(((seen > middle) == (field > middle)).mean()) > 0.98
        assert abs(float(np.median(seen[field == inside])) - inside) < 1.0
        assert abs(float(np.median(seen[field == outside])) - outside) < 1.0


def test_the_squint_is_a_share_of_the_picture_whatever_its_size() -> None:
    small = disc(box(ground(40.0, (160, 120)), 0.0, 0.6, 1.0, 1.0, 15.0), 0.6, 0.4, 0.2, 0.25, 85.0)
    large = disc(box(ground(40.0, (320, 240)), 0.0, 0.6, 1.0, 1.0, 15.0), 0.6, 0.4, 0.2, 0.25, 85.0)
    seen = squint(light_of(large)).reshape(120, 2, 160, 2).mean(axis=(1, 3))
    assert float(np.abs(seen - squint(light_of(small))).mean()) < 1.0


@pytest.mark.parametrize(
    ("share", "cycles"), [(0.005, 30.0), (0.01, 15.0), (0.015, 10.0), (0.02, 7.5), (0.03, 5.0), (0.04, 3.7)]
)
def test_a_squint_halves_the_pattern_that_its_gaussian_halves(share: float, cycles: float) -> None:
    """A Gaussian passes exp(-2 pi^2 s^2 f^2) of a wave, half of it at f = 0.18739 / s: in a picture of 4 to 3, whose
    width is 0.8 of the diagonal, so many cycles across it. Waves that lie within what counts as alike are treated as by
    the Gaussian alone; reading them back from a grid costs a little more of the finer ones."""
    assert 0.18739 * 0.8 / share == pytest.approx(cycles, rel=0.015)
    at = (np.arange(288) + 0.5) / 288
    inner = slice(58, -58)
    for finer, passed in ((0.5, 0.841), (1.0, 0.5), (2.0, 0.0625)):
        wave = np.cos(2 * np.pi * finer * cycles * at)
        seen = squint(light_of(50 + 3 * np.broadcast_to(wave, (216, 288))), share)[108, inner]
        left = 2 * float(((seen - seen.mean()) * wave[inner]).mean()) / 3
        assert left == pytest.approx(passed, abs=0.05)


def test_a_stronger_squint_leaves_less() -> None:
    field = light_of(grained(ground(50.0), sd=12.0))
    spread = [float(np.std(squint(field, share))) for share in (0.003, 0.01, 0.02, 0.04)]
    assert spread == sorted(spread, reverse=True)
    assert spread[0] > 2 * spread[-1]


@pytest.mark.parametrize("share", [0.0, SHARE_RANGE[0] / 2, SHARE_RANGE[1] * 2, -0.02])
def test_a_squint_outside_its_range_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="squint"):
        squint(light_of(ground(50.0)), share)


def test_the_answer_is_single_precision_and_of_the_same_shape() -> None:
    seen = squint(light_of(ground(50.0, (97, 61))))
    assert seen.shape == (61, 97)
    assert seen.dtype == np.float32


@settings(max_examples=25, deadline=None)
@given(arrays.arrays(np.float32, (24, 32), elements=st.floats(0, 1, width=32)))
def test_no_tone_is_invented(luminance: np.ndarray) -> None:
    """Averages of light lie between the least and the most light there is."""
    seen = squint(luminance)
    tone = lightness_CIE1976(luminance)
    assert np.isfinite(seen).all()
    assert seen.min() >= tone.min() - 0.1
    assert seen.max() <= tone.max() + 0.1


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_more_light_everywhere_is_never_seen_as_less(seed: int) -> None:
    rng = np.random.default_rng(seed)
    coarse = ndimage.gaussian_filter(rng.standard_normal((60, 80)), 6)
    field = 50 + 20 * coarse / coarse.std()
    darker, lighter = (squint(light_of(np.clip(field + shift, 0, 100))) for shift in (-6, 6))
    assert float((lighter - darker).min()) > -1.0


def test_what_lies_outside_a_mask_is_not_seen() -> None:
    field = disc(ground(30.0), 0.5, 0.5, 0.2, 0.3, 80.0)
    u, v = frame(field)
    mask = ((u - 0.5) / 0.5) ** 2 + ((v - 0.5) / 0.5) ** 2 <= 1
    black, white = (squint(light_of(np.where(mask, field, tone)), mask=mask) for tone in (0.0, 100.0))
    np.testing.assert_allclose(black[mask], white[mask], atol=0.05)
    assert float(np.abs(black[mask] - field[mask]).mean()) < 1.5


@pytest.mark.parametrize(("shape", "share"), [((60, 90), 0.02), ((16, 200), 0.08), ((200, 16), 0.08)])
def test_flat_tones_stay_and_faint_ones_are_only_blurred(shape: tuple[int, int], share: float) -> None:
    """Where all tones are alike a squint is the mean over neighbours, seen on in a mirror, however long the blur."""
    assert np.ptp(squint(np.full(shape, 0.2, dtype=np.float32), share)) < 1e-3
    faint = 0.2 + 1e-3 * np.random.default_rng(3).random(shape).astype(np.float32)
    seen = squint(faint, share)
    assert np.ptp(seen) < 0.3 * np.ptp(lightness_CIE1976(faint))
    np.testing.assert_allclose(squint(faint[::-1, ::-1], share)[::-1, ::-1], seen, atol=1e-3)
