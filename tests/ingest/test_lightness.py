"""Lightness against published constants and against two other libraries, all within 0.02 L*."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from skimage.color import rgb2gray, rgb2lab

from ingest.lightness import (
    LUMINANCE_ROW,
    grey_code,
    lightness_CIE1976,
    linear_from_srgb,
    luminance_CIE1976,
    srgb_from_linear,
    srgb_lightness,
)

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it misses its drawing library, which nothing here needs
    import colour

TOLERANCE = 0.02

# sRGB code of a grey -> L*: IEC 61966-2-1:1999 decoding, then ISO/CIE 11664-4:2019.
GREYS = {
    0: 0.0, 10: 2.7417, 11: 3.0229, 32: 12.2500, 64: 27.0934, 96: 40.7305, 118: 49.6370, 119: 50.0344,
    127: 53.1928, 128: 53.5850, 188: 76.2461, 192: 77.7044, 224: 89.1773, 255: 100.0,
}  # fmt: skip

# Reflectance in % -> L*: ISO/CIE 11664-4:2019. 8.856 % is where the straight part meets the cube root.
REFLECTANCES = {
    0.0: 0.0, 0.8856451679: 8.0, 1: 8.9914, 2: 15.4872, 3: 20.0439, 5: 26.7348, 9: 35.9843, 10: 37.8424,
    12: 41.2161, 18: 49.4961, 20: 51.8372, 25: 57.0754, 40: 69.4695, 50: 76.0693, 75: 89.3930, 90: 95.9968,
    100: 100.0,
}  # fmt: skip

# L* -> reflectance in %: the inverse, ISO/CIE 11664-4:2019.
INVERSES = {
    8: 0.8856, 10: 1.1260, 20: 2.9891, 30: 6.2359, 40: 11.2510, 50: 18.4187, 60: 28.1233, 70: 40.7494,
    80: 56.6813, 90: 76.3034, 95: 87.6183, 100: 100.0,
}  # fmt: skip

# L* -> sRGB code of the grey that shows it, unrounded: the same two standards read backwards. 49.4961 is a grey card of
# 18 %.
CODES = {
    0: 0.0, 8: 23.514, 10: 27.464, 20: 48.291, 30: 70.633, 40: 94.232, 49.4961: 117.65, 50: 118.913, 60: 144.551,
    70: 171.048, 80: 198.328, 90: 226.330, 95: 240.584, 100: 255.0,
}  # fmt: skip

# Primaries and secondaries of sRGB -> L*, with the luminance row of IEC 61966-2-1:1999.
PRIMARIES = {
    (255, 0, 0): 53.233, (0, 255, 0): 87.737, (0, 0, 255): 32.303,
    (255, 255, 0): 97.138, (0, 255, 255): 91.117, (255, 0, 255): 60.320,
}  # fmt: skip

# Munsell value -> (Y in %, L*): ASTM D1535-08, the fifth-degree polynomial below with Y = 100 for V = 10.
MUNSELL = {
    1: (1.17993, 10.4084), 2: (3.04812, 20.2356), 3: (6.39118, 30.3787), 4: (11.70075, 40.7365),
    5: (19.27184, 51.0037), 6: (29.30115, 61.0465), 7: (41.98539, 70.8608), 8: (57.61963, 80.5269),
    9: (76.69559, 90.1813), 10: (100.0, 100.0),
}  # fmt: skip

# Munsell value -> Y in % of smoked magnesium oxide (Newhall, Nickerson & Judd 1943, J. Opt. Soc. Am. 33:385).
MUNSELL_MGO = {
    1: 1.21013, 2: 3.12619, 3: 6.55497, 4: 12.00075, 5: 19.76612, 6: 30.05289, 7: 43.06283, 8: 59.09864, 9: 78.66471,
    10: 102.568,
}  # fmt: skip

# Y in % -> Munsell value, ASTM D1535-08 read backwards.
MUNSELL_OF = {18: 4.852, 20: 5.082, 30: 6.061, 50: 7.538, 90: 9.596}

# Neutral patches of the ColorChecker (McCamy, Marcus & Davidson 1976, J. Appl. Photogr. Eng. 2:95): Y -> L*.
PATCHES = {0.9001: 96.00, 0.5910: 81.35, 0.3620: 66.67, 0.1977: 51.58, 0.0900: 35.98, 0.0313: 20.56}

# L* of the six neutral patches under D50 in three editions of the ColorChecker, as colour-science publishes them.
EDITIONS = {
    "ColorChecker 2005": (96.54, 81.26, 66.76, 50.86, 35.66, 20.48),
    "BabelColor Average": (96.53, 81.21, 66.48, 50.83, 35.85, 20.83),
    "ColorChecker24 - After November 2014": (95.19, 81.29, 66.89, 50.76, 35.63, 20.64),
}

# Pure colours: true L* (rounded), and the L* of the greys that common short cuts make of them: Rec. 601 luma as Pillow
# has it, Rec. 709 luma as scikit-image has it, the greatest channel (V of HSV), the mean of the channels.
TRAPS = {
    "red": ((255, 0, 0), 53.2, 32.3, 22.7, 100.0, 36.2),
    "green": ((0, 255, 0), 87.7, 62.1, 74.2, 100.0, 36.2),
    "blue": ((0, 0, 255), 32.3, 10.8, 5.6, 100.0, 36.2),
    "ultramarine": ((18, 10, 143), 17.1, 10.3, 6.9, 59.4, 24.0),
    "vermilion": ((227, 66, 52), 52.4, 47.6, 42.1, 90.2, 48.4),
    "skin": ((224, 172, 138), 74.3, 74.8, 73.5, 89.2, 72.6),
}


def munsell_luminance(value: float) -> float:
    """Y in % of a Munsell value, ASTM D1535-08."""
    return float(np.polyval([0.00081939, -0.020484, 0.23352, -0.22533, 1.1914, 0.0], value))


def test_greys_have_the_lightness_of_the_standards() -> None:
    codes = np.array([[code] * 3 for code in GREYS], dtype=np.uint8)
    np.testing.assert_allclose(srgb_lightness(codes), list(GREYS.values()), atol=TOLERANCE)


def test_reflectances_have_the_lightness_of_the_standard() -> None:
    luminance = np.array(list(REFLECTANCES)) / 100
    np.testing.assert_allclose(lightness_CIE1976(luminance), list(REFLECTANCES.values()), atol=TOLERANCE)


def test_lightness_has_the_reflectance_of_the_standard() -> None:
    found = luminance_CIE1976(np.array(list(INVERSES), dtype=float)) * 100
    np.testing.assert_allclose(lightness_CIE1976(found / 100), list(INVERSES), atol=TOLERANCE)
    np.testing.assert_allclose(found, list(INVERSES.values()), atol=0.001)


def test_a_lightness_has_the_code_of_the_standards() -> None:
    found = 255 * srgb_from_linear(luminance_CIE1976(np.array(list(CODES))))
    np.testing.assert_allclose(found, list(CODES.values()), atol=0.005)
    assert [grey_code(lightness) for lightness in CODES] == [round(code) for code in CODES.values()]


def test_the_luminance_row_is_that_of_the_primaries() -> None:
    """From the chromaticities of IEC 61966-2-1 and the white D65 (.3127, .3290); the standard rounds to four places,
    which changes no colour by 0.01 L*."""
    xyz = np.array([[x / y, 1.0, (1 - x - y) / y] for x, y in ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))]).T
    white = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])
    row = np.linalg.solve(xyz, white)
    np.testing.assert_allclose(row, (0.21263901, 0.71516868, 0.07219232), atol=1e-8)
    np.testing.assert_allclose(LUMINANCE_ROW, row, atol=5e-5)
    codes = np.random.default_rng(1999).integers(0, 256, (5000, 3), dtype=np.uint8)
    exact = lightness_CIE1976(linear_from_srgb(codes / 255).astype(np.float64) @ row)
    np.testing.assert_allclose(srgb_lightness(codes), exact, atol=0.01)


@pytest.mark.parametrize(("rgb", "expected"), PRIMARIES.items())
def test_primaries_have_the_lightness_of_the_standard(rgb: tuple[int, int, int], expected: float) -> None:
    assert float(srgb_lightness(np.array(rgb, dtype=np.uint8))) == pytest.approx(expected, abs=TOLERANCE)


@pytest.mark.parametrize(("value", "expected"), MUNSELL.items())
def test_munsell_values_lie_where_astm_d1535_puts_them(value: int, expected: tuple[float, float]) -> None:
    luminance, lightness = expected
    assert munsell_luminance(value) == pytest.approx(luminance, abs=0.001)
    assert float(lightness_CIE1976(luminance / 100)) == pytest.approx(lightness, abs=TOLERANCE)
    # The polynomial is colour-science's, so a slip of the pen in this file would show.
    assert colour.colorimetry.luminance_ASTMD1535(value) == pytest.approx(luminance, abs=0.001)


def test_lightness_is_ten_times_the_munsell_value_within_little_more_than_one() -> None:
    values = np.linspace(1, 10, 91)
    lightness = lightness_CIE1976(np.array([munsell_luminance(value) for value in values]) / 100)
    off = lightness - 10 * values
    assert off.min() >= -0.01
    assert off.max() == pytest.approx(1.06, abs=0.01)
    assert float(lightness_CIE1976(munsell_luminance(5.5) / 100)) == pytest.approx(56.056, abs=TOLERANCE)


def test_other_forms_of_the_munsell_scale_agree() -> None:
    """The scale on magnesium oxide, which reflects 97.5 %, is the same scale; and read backwards it gives the values.
    4.08244375 is the example that colour-science documents for both."""
    for value, luminance in MUNSELL_MGO.items():
        assert colour.colorimetry.luminance_Newhall1943(value) == pytest.approx(luminance, abs=0.001)
        assert 0.975 * luminance == pytest.approx(munsell_luminance(value), abs=0.004)
    assert munsell_luminance(4.08244375) == pytest.approx(12.2363426, abs=1e-4)
    assert colour.colorimetry.luminance_Newhall1943(4.08244375) == pytest.approx(12.5500788, abs=1e-4)
    for luminance, value in MUNSELL_OF.items():
        assert munsell_luminance(value) == pytest.approx(luminance, abs=0.02)
        assert -0.01 <= float(lightness_CIE1976(luminance / 100)) - 10 * value <= 1.07


def test_neutral_patches_have_the_lightness_of_their_luminance() -> None:
    found = lightness_CIE1976(np.array(list(PATCHES)))
    np.testing.assert_allclose(found, list(PATCHES.values()), atol=TOLERANCE)


@pytest.mark.parametrize("edition", EDITIONS)
def test_neutral_patches_are_read_as_they_were_measured(edition: str) -> None:
    """Shown in sRGB by colour-science's own conversion; what hue they have moves their lightness by less than 0.1 when
    the white changes."""
    checker = colour.CCS_COLOURCHECKERS[edition]
    patches = [xyY for name, xyY in checker.data.items() if name.startswith(("white", "neutral", "black"))]
    xyz = np.array([colour.xyY_to_XYZ(patch) for patch in patches])
    rgb = colour.XYZ_to_RGB(xyz, "sRGB", checker.illuminant, apply_cctf_encoding=True)
    np.testing.assert_allclose(srgb_lightness(255 * rgb), EDITIONS[edition], atol=0.1)


def test_a_density_has_the_lightness_of_what_it_lets_back() -> None:
    """Y is ten to the minus density: 1.05 lets 8.9 % back, L* 35.8."""
    assert float(lightness_CIE1976(10**-1.05)) == pytest.approx(35.8, abs=0.05)


@pytest.mark.parametrize("name", TRAPS)
def test_pure_colours_are_not_read_as_an_image_library_greys_them(name: str) -> None:
    rgb, true, luma, luma_709, greatest, mean = TRAPS[name]
    codes = np.array(rgb, dtype=np.uint8)
    found = float(srgb_lightness(codes))
    assert found == pytest.approx(true, abs=0.06)
    greys = {
        luma: float(np.asarray(Image.fromarray(codes[None, None]).convert("L"))[0, 0]),
        luma_709: float(255 * rgb2gray(codes[None, None])[0, 0]),
        greatest: float(codes.max()),
        mean: float(codes.mean()),
    }
    apart = 0.5 if name == "skin" else 3.5  # pale colours hide the fault
    for said, grey in greys.items():
        read_back = float(srgb_lightness(np.repeat(grey, 3)))
        assert read_back == pytest.approx(said, abs=0.1)
        assert abs(found - read_back) > 0.9 * apart


def test_agrees_with_skimage_on_random_colours() -> None:
    codes = np.random.default_rng(1976).integers(0, 256, (100, 100, 3), dtype=np.uint8)
    np.testing.assert_allclose(srgb_lightness(codes), rgb2lab(codes)[..., 0], atol=TOLERANCE)


def test_agrees_with_colour_science_on_random_colours() -> None:
    codes = np.random.default_rng(1931).integers(0, 256, (2000, 3), dtype=np.uint8)
    xyz = colour.RGB_to_XYZ(codes / 255, "sRGB", apply_cctf_decoding=True)
    expected = colour.lightness(xyz[:, 1] * 100, method="CIE 1976")
    np.testing.assert_allclose(srgb_lightness(codes), expected, atol=TOLERANCE)


def test_decoding_agrees_with_colour_science_for_every_code() -> None:
    codes = np.arange(256) / 255
    expected = colour.models.eotf_sRGB(codes)
    np.testing.assert_allclose(linear_from_srgb(codes), expected, atol=1e-6)


def test_there_is_no_step_where_the_straight_part_ends() -> None:
    """With the rounded constants 0.008856 and 903.3 there would be one."""
    join = 216 / 24389
    around = lightness_CIE1976(np.array([join * (1 - 1e-6), join * (1 + 1e-6)]))
    assert float(np.diff(around)[0]) == pytest.approx(0, abs=2e-4)


def test_half_black_and_half_white_make_lightness_76() -> None:
    """Light adds up as light (IEC 61966-2-1, ISO/CIE 11664-4): not 53, the mean code, nor 50, the mean L*."""
    light = linear_from_srgb(np.array([0.0, 1.0])).mean()
    assert float(lightness_CIE1976(light)) == pytest.approx(76.0693, abs=TOLERANCE)
    assert float(srgb_lightness(np.full(3, 127.5))) == pytest.approx(53.39, abs=TOLERANCE)


def test_lightness_is_as_exact_as_single_precision_allows() -> None:
    light = np.concatenate([[0.0, 1e-30], np.logspace(-8, 0, 100_000)])
    exact = np.where(light > 216 / 24389, 116 * np.cbrt(light) - 16, 24389 / 27 * light)
    np.testing.assert_allclose(lightness_CIE1976(light), exact, atol=3e-5)
    assert float(lightness_CIE1976(1.0)) == 100.0


def test_arrays_keep_their_shape_and_are_single_precision() -> None:
    codes = np.zeros((3, 5, 3), dtype=np.uint8)
    found = srgb_lightness(codes)
    assert found.shape == (3, 5)
    assert found.dtype == np.float32
    for function in (linear_from_srgb, srgb_from_linear, lightness_CIE1976, luminance_CIE1976):
        assert function(np.full((2, 4), 0.5)).shape == (2, 4)
        assert function(np.full((2, 4), 0.5)).dtype == np.float32


def test_colours_given_as_numbers_read_like_colours_given_as_bytes() -> None:
    codes = np.random.default_rng(3).integers(0, 256, (500, 3), dtype=np.uint8)
    np.testing.assert_allclose(srgb_lightness(codes.astype(float)), srgb_lightness(codes), atol=1e-3)


@given(st.lists(st.floats(0, 1, width=32), min_size=2, max_size=50))
def test_more_light_is_never_less_lightness(luminances: list[float]) -> None:
    rising = np.sort(np.array(luminances))
    lightness = lightness_CIE1976(rising)
    assert (np.diff(lightness) >= 0).all()
    assert lightness.min() >= 0
    assert lightness.max() <= 100.0001


@given(st.floats(0, 100, width=32))
def test_lightness_comes_back_from_its_luminance(lightness: float) -> None:
    assert float(lightness_CIE1976(luminance_CIE1976(lightness))) == pytest.approx(lightness, abs=2e-4)


@given(st.floats(0, 1, width=32))
def test_codes_come_back_from_their_light(code: float) -> None:
    # At the join of the standard's two parts its own rounded constants leave a step of 3e-8.
    assert float(srgb_from_linear(linear_from_srgb(code))) == pytest.approx(code, abs=2e-6)


@given(st.tuples(*[st.integers(0, 255)] * 3), st.integers(0, 2))
def test_a_brighter_channel_never_makes_a_colour_darker(rgb: tuple[int, int, int], channel: int) -> None:
    brighter = list(rgb)
    brighter[channel] = min(255, brighter[channel] + 1)
    pair = srgb_lightness(np.array([rgb, brighter], dtype=np.uint8))
    assert pair[1] >= pair[0] - 1e-5


@given(st.integers(0, 255))
def test_a_grey_is_shown_by_its_own_code(code: int) -> None:
    lightness = float(srgb_lightness(np.array([code] * 3, dtype=np.uint8)))
    assert grey_code(lightness) == code
