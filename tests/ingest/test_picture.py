"""Pictures of every kind of file, with every kind of colour tag, and files that are no pictures."""

from __future__ import annotations

import io
import itertools
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import colour_profiles
import numpy as np
import pillow_heif
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image, features
from scipy import ndimage

from ingest.lightness import lightness_CIE1976, srgb_lightness
from ingest.picture import DISPLAY_SIDE, WORKING_SIDE, Picture, read_picture, read_upright
from ingest.picture_file import UnreadablePicture

TOLERANCE = 0.02
COLOURS = ((200, 60, 50), (30, 120, 190), (230, 220, 190), (25, 22, 30))
WIDTH, HEIGHT = 96, 64
ORIENTATION = 0x0112


def card(mode: str = "RGB") -> Image.Image:
    """Four quarters of different colours: upper left, upper right, lower left, lower right."""
    image = Image.new("RGB", (WIDTH, HEIGHT))
    for at, colour in enumerate(COLOURS):
        image.paste(colour, (at % 2 * WIDTH // 2, at // 2 * HEIGHT // 2, WIDTH, HEIGHT))
    return image.convert(mode)


def quarters(picture: Picture) -> NDArray[np.float32]:
    """L* in the middle of each quarter."""
    tone = lightness_CIE1976(picture.luminance)
    height, width = tone.shape
    return np.array([tone[y * height // 4, x * width // 4] for y in (1, 3) for x in (1, 3)])


def stored(image: Image.Image, form: str, **options: Any) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, form, **options)
    return buffer.getvalue()


def read(data: bytes) -> Picture:
    return read_picture(data, trim=False)


def uniform(code: int | tuple[int, ...], mode: str = "RGB", **options: Any) -> bytes:
    return stored(Image.new(mode, (40, 30), code), "PNG", **options)


def middle(picture: Picture) -> float:
    tone = lightness_CIE1976(picture.luminance)
    return float(tone[tone.shape[0] // 2, tone.shape[1] // 2])


EXPECTED = srgb_lightness(np.array(COLOURS, dtype=np.uint8))
GREY_CODES = np.asarray(Image.fromarray(np.array([COLOURS], dtype=np.uint8)).convert("L"))[0]
EXPECTED_GREY = srgb_lightness(np.repeat(GREY_CODES[:, None], 3, axis=1))

LOSSLESS: dict[str, tuple[str, dict[str, Any]]] = {
    "PNG": ("PNG", {}),
    "interlaced-free BMP": ("BMP", {}),
    "TIFF": ("TIFF", {}),
    "TIFF, LZW": ("TIFF", {"compression": "tiff_lzw"}),
    "TIFF, deflate": ("TIFF", {"compression": "tiff_adobe_deflate"}),
    "WebP without loss": ("WEBP", {"lossless": True}),
    "PPM": ("PPM", {}),
}
LOSSY: dict[str, tuple[str, dict[str, Any]]] = {
    "JPEG": ("JPEG", {"quality": 95}),
    "progressive JPEG": ("JPEG", {"quality": 95, "progressive": True}),
    "WebP": ("WEBP", {"quality": 95}),
    "AVIF": ("AVIF", {"quality": 95}),
}


@pytest.mark.parametrize("name", LOSSLESS)
def test_lossless_formats_read_exactly(name: str) -> None:
    form, options = LOSSLESS[name]
    picture = read(stored(card(), form, **options))
    np.testing.assert_allclose(quarters(picture), EXPECTED, atol=TOLERANCE)
    np.testing.assert_array_equal(picture.rgb, np.asarray(card()))
    assert (picture.width, picture.height) == (WIDTH, HEIGHT)


@pytest.mark.parametrize("name", LOSSY)
def test_lossy_formats_read_to_within_their_loss(name: str) -> None:
    form, options = LOSSY[name]
    if form == "AVIF" and not features.check("avif"):
        pytest.skip("this Pillow was built without AVIF")
    np.testing.assert_allclose(quarters(read(stored(card(), form, **options))), EXPECTED, atol=1.5)


def test_heic_reads() -> None:
    buffer = io.BytesIO()
    pillow_heif.from_pillow(card()).save(buffer, quality=95)
    picture = read(buffer.getvalue())
    np.testing.assert_allclose(quarters(picture), EXPECTED, atol=2.0)
    assert (picture.width, picture.height) == (WIDTH, HEIGHT)


@pytest.mark.parametrize(("form", "mode"), [("PNG", "L"), ("TIFF", "L"), ("JPEG", "L"), ("PNG", "P"), ("GIF", "P")])
def test_grey_and_palette_pictures_read(form: str, mode: str) -> None:
    image = card("L") if mode == "L" else card().quantize(8)
    picture = read(stored(image, form, **({"quality": 95} if form == "JPEG" else {})))
    expected = EXPECTED_GREY if mode == "L" else EXPECTED
    np.testing.assert_allclose(quarters(picture), expected, atol=1.0 if form == "JPEG" else TOLERANCE)
    assert picture.rgb.shape == (HEIGHT, WIDTH, 3)


def test_bilevel_pictures_read_as_black_and_white() -> None:
    image = Image.new("1", (WIDTH, HEIGHT), 0)
    image.paste(1, (WIDTH // 2, 0, WIDTH, HEIGHT))
    for form in ("PNG", "TIFF"):
        np.testing.assert_allclose(quarters(read(stored(image, form))), [0, 100, 0, 100], atol=TOLERANCE)


def deep_png(codes: NDArray[np.uint16]) -> bytes:
    """A PNG of 16 bits a channel, grey (h, w) or colour (h, w, 3); Pillow can write only the first."""
    height, width = codes.shape[:2]
    rows = codes.astype(">u2").reshape(height, -1)
    packed = zlib.compress(b"".join(b"\0" + row.tobytes() for row in rows))
    head = struct.pack(">IIBBBBB", width, height, 16, 0 if codes.ndim == 2 else 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head) + _chunk(b"IDAT", packed) + _chunk(b"IEND", b"")


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def deep_tiff(codes: NDArray[np.uint16]) -> bytes:
    """An uncompressed TIFF of 16 bits a channel, grey (h, w) or colour (h, w, 3)."""
    height, width = codes.shape[:2]
    bands = 1 if codes.ndim == 2 else 3
    body = codes.astype("<u2").tobytes()
    entries = [
        (256, 3, 1, width), (257, 3, 1, height), (258, 3, bands, 16 if bands == 1 else 8 + 2 + 12 * 9 + 4),
        (259, 3, 1, 1), (262, 3, 1, 1 if bands == 1 else 2), (273, 4, 1, 8 + 2 + 12 * 9 + 4 + 6),
        (277, 3, 1, bands), (278, 3, 1, height), (279, 4, 1, len(body)),
    ]  # fmt: skip
    index = b"".join(struct.pack("<HHII", *entry) for entry in entries)
    return b"II*\0" + struct.pack("<IH", 8, 9) + index + struct.pack("<I3H", 0, 16, 16, 16) + body


def _deep(codes: list[Any]) -> NDArray[np.uint16]:
    """Quarters of 16-bit codes, (h, w) or (h, w, 3)."""
    four = np.array(codes, dtype=np.uint16)
    return four.reshape(2, 2, *four.shape[1:]).repeat(HEIGHT // 2, axis=0).repeat(WIDTH // 2, axis=1)


@pytest.mark.parametrize("write", [deep_png, deep_tiff])
def test_sixteen_bit_greys_keep_what_eight_bits_lose(write: Callable[[NDArray[np.uint16]], bytes]) -> None:
    # Between the 8-bit codes 10 and 11, and 119 and 120 (one is 257 sixteenth-bit codes).
    codes = [10 * 257 + 128, 119 * 257 + 64, 40000, 65535]
    expected = srgb_lightness(np.array(codes)[:, None].repeat(3, axis=1) / 257)
    np.testing.assert_allclose(quarters(read(write(_deep(codes)))), expected, atol=TOLERANCE)


@pytest.mark.parametrize("write", [deep_png, deep_tiff])
def test_sixteen_bit_colours_read_to_within_eight_bits(write: Callable[[NDArray[np.uint16]], bytes]) -> None:
    codes = [[code * 257 for code in colour] for colour in COLOURS]
    np.testing.assert_allclose(quarters(read(write(_deep(codes)))), EXPECTED, atol=TOLERANCE)


SHARES = np.array([10.5 / 255, 119.25 / 255, 0.6, 1.0])
"""Quarters of a grey picture as shares of white, between the 8-bit codes."""
EXPECTED_SHARES = srgb_lightness(SHARES[:, None].repeat(3, axis=1) * 255)


def grey_tiff(values: NDArray[Any], meaning: int = 1) -> bytes:
    """An uncompressed TIFF of (h, w) numbers of any kind; tags of TIFF 6.0, `meaning` is PhotometricInterpretation."""
    height, width = values.shape
    body = values.tobytes()
    kind = "uif".index(values.dtype.kind) + 1
    entries = [
        (256, 3, 1, width), (257, 3, 1, height), (258, 3, 1, 8 * values.itemsize), (259, 3, 1, 1),
        (262, 3, 1, meaning), (273, 4, 1, 8 + 2 + 12 * 10 + 4), (277, 3, 1, 1), (278, 3, 1, height),
        (279, 4, 1, len(body)), (339, 3, 1, kind),
    ]  # fmt: skip
    index = b"".join(struct.pack("<HHII", *entry) for entry in entries)
    return b"II*\0" + struct.pack("<IH", 8, 10) + index + bytes(4) + body


def in_quarters(shares: NDArray[np.float64], white: float, kind: str) -> NDArray[Any]:
    """(h, w) numbers of a kind whose quarters are shares of a white."""
    return (shares * white).astype(kind).reshape(2, 2).repeat(HEIGHT // 2, axis=0).repeat(WIDTH // 2, axis=1)


def assert_reads_as_shares(picture: Picture) -> None:
    np.testing.assert_allclose(quarters(picture), EXPECTED_SHARES, atol=TOLERANCE)
    shown = picture.rgb[HEIGHT // 4 :: HEIGHT // 2, WIDTH // 4 :: WIDTH // 2, 0].ravel()
    np.testing.assert_allclose(shown, SHARES * 255, atol=0.51)


@pytest.mark.parametrize(("white", "kind"), [(65535, "<u2"), (1, "<f4")])
def test_deep_greys_whose_white_is_zero_are_no_negatives(white: float, kind: str) -> None:
    # TIFF 6.0, PhotometricInterpretation (262): 0 is WhiteIsZero.
    assert_reads_as_shares(read(grey_tiff(in_quarters(1 - SHARES, white, kind), meaning=0)))


@pytest.mark.parametrize("white", [1, 255, 65535, 1e6])
@pytest.mark.parametrize("stray", [1.0001, 400.0, np.inf, -np.inf, np.nan])
def test_a_stray_pixel_of_floats_leaves_the_rest_as_it_is(white: float, stray: float) -> None:
    values = in_quarters(SHARES, white, "<f4")
    values[0, 0] = white * stray
    picture = read(grey_tiff(values))
    assert_reads_as_shares(picture)
    # Above white is white; what is no number is as if nothing were there.
    assert picture.luminance[0, 0] == pytest.approx(1.0 if stray > 0 else 0.0)


def test_paper_a_little_over_white_is_white() -> None:
    values = in_quarters(SHARES, 1, "<f4")
    values[values == 1] = 1.02
    assert_reads_as_shares(read(grey_tiff(values)))


def test_floats_that_are_no_numbers_at_all_read_as_black() -> None:
    np.testing.assert_array_equal(quarters(read(grey_tiff(np.full((HEIGHT, WIDTH), np.nan, dtype="<f4")))), 0)


# SampleFormat (339) of TIFF 6.0: 1 without a sign, 2 with one. Thirty-two bits are often used for fewer.
@pytest.mark.parametrize(
    ("white", "kind"),
    [
        (255, "<i4"), (65535, "<i4"), (70_000, "<i4"), (2**31 - 1, "<i4"), (65535, "<u4"), (2**32 - 1, "<u4"),
        (2**15 - 1, "<i2"),
    ],
)  # fmt: skip
def test_whole_numbers_read_by_their_range(white: int, kind: str) -> None:
    shares = np.round(SHARES * 255) if white == 255 else SHARES * 255
    picture = read(grey_tiff(in_quarters(shares / 255, white, kind)))
    np.testing.assert_allclose(quarters(picture), srgb_lightness(shares[:, None].repeat(3, axis=1)), atol=TOLERANCE)
    shown = picture.rgb[HEIGHT // 4 :: HEIGHT // 2, WIDTH // 4 :: WIDTH // 2, 0].ravel()
    np.testing.assert_allclose(shown, shares, atol=0.52)


def test_below_black_is_black() -> None:
    values = in_quarters(SHARES, 2**31 - 1, "<i4")
    values[0, 0] = -1000
    picture = read(grey_tiff(values))
    assert_reads_as_shares(picture)
    assert tuple(picture.rgb[0, 0]) == (0, 0, 0)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_pictures_are_set_upright(orientation: int, form: str) -> None:
    back = {
        2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180, 4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE, 6: Image.Transpose.ROTATE_90, 7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }  # fmt: skip
    image = card() if orientation == 1 else card().transpose(back[orientation])
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    options: dict[str, Any] = {"exif": exif}
    options |= {"JPEG": {"quality": 95}, "WEBP": {"lossless": True}}.get(form, {})
    picture = read(stored(image, form, **options))
    assert (picture.width, picture.height) == (WIDTH, HEIGHT)
    assert picture.rgb.shape == (HEIGHT, WIDTH, 3)
    assert picture.trimmed == (0, 0, WIDTH, HEIGHT)
    np.testing.assert_allclose(quarters(picture), EXPECTED, atol=1.5)


def test_a_turned_telephone_picture_is_set_upright_once() -> None:
    buffer = io.BytesIO()
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    heif = pillow_heif.from_pillow(card().transpose(Image.Transpose.ROTATE_90))
    heif.save(buffer, quality=95, exif=exif.tobytes())
    picture = read(buffer.getvalue())
    assert (picture.width, picture.height) == (WIDTH, HEIGHT)
    np.testing.assert_allclose(quarters(picture), EXPECTED, atol=2.0)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_a_broken_exif_costs_only_the_turn(form: str) -> None:
    options = {"PNG": {}, "WEBP": {"lossless": True}}.get(form, {"quality": 95})
    data = stored(card(), form, exif=b"Exif\0\0no tags at all", **options)
    np.testing.assert_allclose(quarters(read(data)), EXPECTED, atol=2.0)
    rgb, size = read_upright(data, WIDTH)
    assert size == (WIDTH, HEIGHT) == rgb.shape[1::-1]


def test_what_is_transparent_shows_white_paper() -> None:
    layer = card("RGBA")
    layer.paste((0, 0, 0, 0), (0, 0, WIDTH // 2, HEIGHT // 2))
    for form, options in (("PNG", {}), ("WEBP", {"lossless": True}), ("TIFF", {})):
        picture = read(stored(layer, form, **options))
        np.testing.assert_allclose(quarters(picture), [100, *EXPECTED[1:]], atol=TOLERANCE)
        assert tuple(picture.rgb[2, 2]) == (255, 255, 255)
    grey = stored(Image.merge("LA", (card("L"), Image.new("L", (WIDTH, HEIGHT), 0))), "PNG")
    np.testing.assert_allclose(quarters(read(grey)), [100] * 4, atol=TOLERANCE)


def test_a_transparent_palette_entry_shows_white_paper() -> None:
    image = card().quantize(8)
    gone = image.getpixel((2, 2))
    picture = read(stored(image, "PNG", transparency=gone))
    np.testing.assert_allclose(quarters(picture), [100, *EXPECTED[1:]], atol=TOLERANCE)


def test_a_transparent_grey_of_sixteen_bits_shows_white_paper() -> None:
    # PNG, 11.3.1.1 tRNS: pixels of that very grey, in all bits of it, are transparent.
    data = deep_png(_deep([10_000, 10_001, 40_000, 65_535]))
    end = 8 + 25
    tagged = data[:end] + _chunk(b"tRNS", struct.pack(">H", 10_000)) + data[end:]
    expected = srgb_lightness(np.array([65_535, 10_001, 40_000, 65_535])[:, None].repeat(3, axis=1) / 257)
    picture = read(tagged)
    np.testing.assert_allclose(quarters(picture), expected, atol=TOLERANCE)
    assert tuple(picture.rgb[2, 2]) == (255, 255, 255)


def test_a_transparent_black_of_one_bit_shows_white_paper() -> None:
    image = Image.new("1", (WIDTH, HEIGHT), 0)
    np.testing.assert_allclose(quarters(read(stored(image, "PNG", transparency=0))), [100] * 4, atol=TOLERANCE)


# L* of a code in a tagged file: CIE 1976 L* of the profile's own luminance row and curve.
# Display P3: primaries of SMPTE RP 431-2, white D65, curve of sRGB. Adobe RGB (1998) encoding, May 2005. ProPhoto: ISO
# 22028-2, a power of 1.8; its greys alone, since its colours are seen under another white.
TAGGED = [
    ("display_p3", (255, 0, 0), 54.97),
    ("display_p3", (0, 255, 0), 86.59),
    ("display_p3", (119, 119, 119), 50.03),
    ("adobe_rgb", (119, 119, 119), 50.35),
    ("adobe_rgb", (64, 64, 64), 26.11),
    ("adobe_rgb", (0, 255, 0), 83.30),
    ("adobe_rgb", (255, 255, 255), 100.0),
    ("prophoto", (119, 119, 119), 57.428),
    ("prophoto", (255, 255, 255), 100.0),
    ("srgb", (255, 0, 0), 53.233),
    ("srgb", (0, 255, 0), 87.737),
    ("srgb", (0, 0, 255), 32.303),
]


@pytest.mark.parametrize(("name", "code", "expected"), TAGGED)
def test_embedded_profiles_say_what_codes_mean(name: str, code: tuple[int, int, int], expected: float) -> None:
    picture = read(uniform(code, icc_profile=getattr(colour_profiles, name)()))
    assert middle(picture) == pytest.approx(expected, abs=TOLERANCE)
    said = {"display_p3": "Display P3", "adobe_rgb": "Adobe RGB (1998)", "prophoto": "ProPhoto", "srgb": "sRGB"}[name]
    assert picture.profile.startswith("embedded: ")
    assert said in picture.profile


@pytest.mark.parametrize("form", ["PNG", "TIFF", "JPEG", "WEBP"])
def test_a_profile_is_found_in_every_format(form: str) -> None:
    options: dict[str, Any] = {"JPEG": {"quality": 95}, "WEBP": {"lossless": True}}.get(form, {})
    data = stored(Image.new("RGB", (40, 30), (64, 64, 64)), form, icc_profile=colour_profiles.adobe_rgb(), **options)
    picture = read(data)
    assert middle(picture) == pytest.approx(26.11, abs=TOLERANCE)
    assert "Adobe RGB" in picture.profile


def test_a_profile_is_found_in_heic() -> None:
    buffer = io.BytesIO()
    image = Image.new("RGB", (64, 64), (64, 64, 64))
    image.info["icc_profile"] = colour_profiles.adobe_rgb()
    pillow_heif.from_pillow(image).save(buffer, quality=100)
    picture = read(buffer.getvalue())
    assert middle(picture) == pytest.approx(26.11, abs=0.5)
    assert "Adobe RGB" in picture.profile


@pytest.mark.parametrize("gamma", [1.0, 1.8, 2.2])
def test_grey_profiles_say_what_codes_mean(gamma: float) -> None:
    code = 119
    picture = read(uniform(code, "L", icc_profile=colour_profiles.grey_profile("Grey power", gamma)))
    expected = 116 * (code / 255) ** (round(gamma * 256) / 256 / 3) - 16
    assert middle(picture) == pytest.approx(expected, abs=TOLERANCE)
    assert picture.profile == "embedded: Grey power"


def test_a_grey_profile_holds_for_sixteen_bits_too() -> None:
    data = deep_png(np.full((30, 40), 119 * 257, dtype=np.uint16))
    profile = zlib.compress(colour_profiles.grey_profile("Grey power", 1.8))
    end = 8 + 25
    tagged = data[:end] + _chunk(b"iCCP", b"grey\0\0" + profile) + data[end:]
    expected = 116 * (119 / 255) ** (round(1.8 * 256) / 256 / 3) - 16
    assert middle(read(tagged)) == pytest.approx(expected, abs=TOLERANCE)


def test_what_lies_outside_srgb_keeps_its_lightness() -> None:
    """The green of Adobe RGB cannot be shown in sRGB; its lightness is measured before that matters."""
    picture = read(uniform((0, 255, 0), icc_profile=colour_profiles.adobe_rgb()))
    assert middle(picture) == pytest.approx(83.30, abs=TOLERANCE)
    assert picture.rgb.dtype == np.uint8


def test_a_picture_without_profile_is_taken_as_srgb_and_says_so() -> None:
    for mode, code in (("RGB", (119, 119, 119)), ("L", 119)):
        picture = read(uniform(code, mode))
        assert middle(picture) == pytest.approx(50.0344, abs=TOLERANCE)
        assert "sRGB" in picture.profile
        assert "assumed" in picture.profile


@pytest.mark.parametrize("profile", [b"nonsense", bytes(200), colour_profiles.adobe_rgb()[:300]])
def test_a_damaged_profile_costs_only_the_profile(profile: bytes) -> None:
    picture = read(uniform((119, 119, 119), icc_profile=profile))
    assert middle(picture) == pytest.approx(50.0344, abs=TOLERANCE)
    assert "assumed" in picture.profile


def test_a_profile_for_other_channels_costs_only_the_profile() -> None:
    picture = read(uniform((119, 119, 119), icc_profile=colour_profiles.grey_profile("Grey power", 1.8)))
    assert middle(picture) == pytest.approx(50.0344, abs=TOLERANCE)
    assert "assumed" in picture.profile


INKS = {"cyan": (62.0, -31.0, -42.0), "magenta": (55.0, 60.0, -4.0), "yellow": (92.0, -5.0, 80.0)}
"""Full inks: the cyan lies outside what sRGB can show."""


def ink_corners() -> dict[tuple[int, int, int, int], tuple[float, float, float]]:
    """L*a*b* of every overprint: each ink takes its share of the light, black nearly all of it."""
    corners = {}
    for c in (0, 1):
        for m in (0, 1):
            for y in (0, 1):
                for k in (0, 1):
                    laid = [tone for on, tone in zip((c, m, y), INKS.values(), strict=True) if on]
                    lightness = 100.0 * np.prod([tone[0] / 100 for tone in laid]) * (0.0 if k else 1.0)
                    a, b = (sum(tone[at] for tone in laid) / max(1, len(laid)) * (1 - k) for at in (1, 2))
                    corners[c, m, y, k] = (float(lightness), float(a), float(b))
    return corners


@pytest.mark.parametrize("form", ["TIFF", "JPEG"])
def test_inks_read_by_their_profile(form: str) -> None:
    """Each patch has the L* that the profile gives it; half an L* is granted to tables of few steps."""
    profile = colour_profiles.ink_profile("Four inks", ink_corners())
    for code, expected in (
        ((0, 0, 0, 0), 100.0), ((255, 0, 0, 0), 62.0), ((0, 255, 0, 0), 55.0), ((0, 0, 255, 0), 92.0),
        ((0, 0, 0, 255), 0.0), ((0, 0, 0, 128), 49.8),
    ):  # fmt: skip
        options: dict[str, Any] = {"quality": 100} if form == "JPEG" else {}
        data = stored(Image.new("CMYK", (40, 30), code), form, icc_profile=profile, **options)
        picture = read(data)
        assert middle(picture) == pytest.approx(expected, abs=0.5), code
        assert picture.profile == "embedded: Four inks"


def test_inks_without_profile_keep_their_order() -> None:
    for form in ("TIFF", "JPEG"):
        found = [
            middle(read(stored(Image.new("CMYK", (40, 30), code), form)))
            for code in ((0, 0, 0, 0), (0, 0, 255, 0), (255, 0, 0, 0), (0, 255, 0, 0), (0, 0, 0, 200), (0, 0, 0, 255))
        ]
        assert found == sorted(found, reverse=True)
        assert found[0] == pytest.approx(100, abs=0.5)
        assert found[-1] == pytest.approx(0, abs=0.5)
    assert "CMYK" in read(stored(Image.new("CMYK", (40, 30), (0, 0, 0, 0)), "TIFF")).profile


def test_light_is_averaged_as_light() -> None:
    """A fine chequer of black and white, made small, is L* 76 (IEC 61966-2-1, ISO/CIE 11664-4), not code 128."""
    fine = np.indices((4 * WORKING_SIDE, 4 * WORKING_SIDE)).sum(axis=0) % 2 * 255
    picture = read(stored(Image.fromarray(fine.astype(np.uint8)), "PNG"))
    assert max(picture.luminance.shape) == WORKING_SIDE
    found = lightness_CIE1976(picture.luminance)
    # In the four corners the weights are cut off on two sides at once, so that black and white weigh unequally there.
    for row, column in itertools.product((0, -1), repeat=2):
        assert found[row, column] == pytest.approx(76.0693, abs=0.2)
        found[row, column] = 76.0693
    np.testing.assert_allclose(found, 76.0693, atol=TOLERANCE)


@pytest.mark.parametrize("ratio", [1.3, 1.5, 1.75, 2.5])
def test_fine_lines_have_their_mean_light_at_any_size(ratio: float) -> None:
    """Black and white lines a pixel wide, made small by a ratio that is no whole number: L* 76 on the whole, and no
    pixel far from it after a light squint. Averages over whole pixels alone beat against such lines."""
    side = round(ratio * WORKING_SIDE)
    fine = np.indices((side, side))[0] % 2 * 255
    picture = read(stored(Image.fromarray(fine.astype(np.uint8)), "PNG"))
    assert lightness_CIE1976(picture.luminance.mean()) == pytest.approx(76.0693, abs=0.2)
    seen = ndimage.uniform_filter(picture.luminance, 15)[8:-8]
    assert np.abs(lightness_CIE1976(seen) - 76.0693).max() < 1.5


def test_large_pictures_are_made_small_and_keep_their_shape() -> None:
    picture = read(stored(card().resize((3000, 2000), Image.Resampling.NEAREST), "JPEG", quality=95))
    assert (picture.width, picture.height) == (3000, 2000)
    assert picture.trimmed == (0, 0, 3000, 2000)
    assert picture.rgb.shape == (DISPLAY_SIDE * 2 // 3, DISPLAY_SIDE, 3)
    assert picture.luminance.shape == (round(WORKING_SIDE * 2 / 3), WORKING_SIDE)
    np.testing.assert_allclose(quarters(picture), EXPECTED, atol=1.0)


def test_a_large_picture_and_its_small_copy_read_alike() -> None:
    rng = np.random.default_rng(5)
    coarse = Image.fromarray(rng.integers(0, 256, (30, 40, 3), dtype=np.uint8)).resize((2400, 1800))
    large = read(stored(coarse, "JPEG", quality=95))
    small = read(stored(coarse.resize((WORKING_SIDE, WORKING_SIDE * 3 // 4), Image.Resampling.BOX), "PNG"))
    off = np.abs(lightness_CIE1976(large.luminance) - lightness_CIE1976(small.luminance))
    assert off.mean() < 0.5


def test_content_counts_not_the_name(tmp_path: Path) -> None:
    file = tmp_path / "picture.jpg"
    file.write_bytes(stored(card(), "PNG"))
    np.testing.assert_allclose(quarters(read_picture(file, trim=False)), EXPECTED, atol=TOLERANCE)


def test_a_path_and_its_bytes_read_alike(tmp_path: Path) -> None:
    file = tmp_path / "picture.png"
    file.write_bytes(stored(card(), "PNG"))
    from_path, from_bytes = read_picture(file), read_picture(file.read_bytes())
    np.testing.assert_array_equal(from_path.luminance, from_bytes.luminance)
    assert from_path.trimmed == from_bytes.trimmed


def bare_png(width: int, height: int) -> bytes:
    """A PNG whose header declares a size that its few bytes do not hold."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    packed = zlib.compress(bytes(1000))
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head) + _chunk(b"IDAT", packed) + _chunk(b"IEND", b"")


def animation(form: str) -> bytes:
    frames = [Image.new("RGB", (40, 30), (40 * at, 80, 120)) for at in range(3)]
    return stored(frames[0], form, save_all=True, append_images=frames[1:], duration=100)


def half(data: bytes) -> bytes:
    return data[: len(data) // 2]


def noise(mode: str = "RGB") -> Image.Image:
    codes = np.random.default_rng(0).integers(0, 256, (120, 160, 3), dtype=np.uint8)
    return Image.fromarray(codes).convert(mode)


BAD: dict[str, Callable[[], bytes]] = {
    "empty": lambda: b"",
    "one byte": lambda: b"\xff",
    "text": lambda: b"These are words and no picture.\n" * 40,
    "a web page": lambda: b"<!doctype html><html><body>Not found</body></html>",
    "a drawing in words": lambda: b"<svg xmlns='http://www.w3.org/2000/svg' width='90' height='90'></svg>",
    "a printed page": lambda: b"%PDF-1.7\n" + bytes(500),
    "JPEG's first bytes alone": lambda: b"\xff\xd8\xff\xe0" + bytes(100),
    "half a JPEG": lambda: half(stored(noise(), "JPEG")),
    "half a PNG": lambda: half(stored(noise(), "PNG")),
    "half a TIFF": lambda: half(stored(noise(), "TIFF")),
    "half a WebP": lambda: half(stored(noise(), "WEBP")),
    "half a GIF": lambda: half(stored(noise("P"), "GIF")),
    "a damaged PNG": lambda: stored(noise(), "PNG").replace(b"IDAT", b"IDAX", 1),
    "one pixel": lambda: stored(Image.new("RGB", (1, 1)), "PNG"),
    "one row": lambda: stored(Image.new("RGB", (500, 1)), "PNG"),
    "a thread": lambda: stored(Image.new("L", (16, 4000)), "PNG"),
    "a long thread": lambda: stored(noise("L").resize((20_000, 100)), "JPEG"),
    "no pixels": lambda: bare_png(0, 0),
    "no width": lambda: bare_png(0, 50),
    "30,000 px wide": lambda: stored(Image.new("L", (30_000, 40)), "PNG"),
    "a bomb": lambda: bare_png(60_000, 60_000),
    "a bomb within the sides allowed": lambda: bare_png(29_000, 29_000),
    "a moving GIF": lambda: animation("GIF"),
    "a moving WebP": lambda: animation("WEBP"),
    "a moving PNG": lambda: animation("PNG"),
}


def assert_one_clear_sentence(message: str) -> None:
    assert message.endswith(".")
    assert message[0].isupper()
    assert "\n" not in message
    assert ". " not in message.rstrip(".")
    assert len(message) < 240
    for wrong in ("Traceback", "Error", "/tmp", "object at 0x", "BytesIO", "None", "  "):
        assert wrong not in message, message


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_read_is_said_in_one_sentence(name: str, tmp_path: Path) -> None:
    data = BAD[name]()
    with pytest.raises(UnreadablePicture) as from_bytes:
        read_picture(data)
    assert_one_clear_sentence(str(from_bytes.value))
    file = tmp_path / "work.jpg"
    file.write_bytes(data)
    with pytest.raises(UnreadablePicture) as from_path:
        read_picture(file)
    assert str(from_path.value) == str(from_bytes.value)
    assert "work.jpg" not in str(from_path.value)


def test_a_missing_file_and_a_folder_are_said_in_one_sentence(tmp_path: Path) -> None:
    for path in (tmp_path / "missing.jpg", tmp_path):
        with pytest.raises(UnreadablePicture) as raised:
            read_picture(path)
        assert_one_clear_sentence(str(raised.value))
        assert str(tmp_path) not in str(raised.value)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("empty", "empty"),
        ("text", "not a picture"),
        ("one pixel", "too small"),
        ("a thread", "so long and narrow"),
        ("a long thread", "20000 x 100 pixels, so long and narrow"),
        ("30,000 px wide", "30000"),
        ("a bomb", "60000"),
        ("a moving GIF", "animated"),
        ("half a JPEG", "cut short"),
    ],
)
def test_the_sentence_names_the_reason(name: str, words: str) -> None:
    with pytest.raises(UnreadablePicture, match=words):
        read_picture(BAD[name]())


def test_a_part_may_be_no_thread_either() -> None:
    with pytest.raises(UnreadablePicture, match="The part is 16 x 1200 pixels, so long and narrow"):
        read_picture(stored(Image.new("L", (900, 1200)), "PNG"), part=(0, 0, 16, 1200))


def test_a_handscroll_reads() -> None:
    # Wang Hui, The Kangxi Emperor's Southern Inspection Tour, scroll 3: 67.9 x 1393.8 cm; and one twice as long.
    picture = read_picture(stored(noise("L").resize((2700, 68)), "PNG"))
    assert min(picture.luminance.shape) > 5


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(["JPEG", "PNG", "WEBP", "TIFF", "GIF"]), st.data())
def test_damaged_bytes_read_or_are_refused_and_nothing_else(form: str, data: st.DataObject) -> None:
    whole = bytearray(stored(noise("P" if form == "GIF" else "RGB").resize((48, 32)), form))
    for _ in range(data.draw(st.integers(1, 8))):
        whole[data.draw(st.integers(0, len(whole) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.integers(len(whole) // 2, len(whole)))
    said = ""
    try:
        luminance = read_picture(bytes(whole[:cut])).luminance
    except UnreadablePicture as refused:
        said = str(refused)
        luminance = np.zeros((1, 1), dtype=np.float32)
    assert not said or (said.endswith(".") and "\n" not in said)
    assert np.isfinite(luminance).all()
    assert luminance.min() >= 0
    assert luminance.max() <= 1.0001
