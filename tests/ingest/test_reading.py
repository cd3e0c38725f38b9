"""The whole street: what must not matter does not, and what everyone knows of squinting holds."""

from __future__ import annotations

import io

import colour_profiles
import numpy as np
import pytest
from benchmarks.made_changes import CHANGES, differing, jpeg, png, shares
from benchmarks.made_pages import SAMPLES, clean_parts
from benchmarks.made_tones import MadePicture, count_masses, make
from drawn_tone import grained, ground, png_of
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from ingest.lightness import lightness_CIE1976, srgb_lightness
from ingest.picture import WORKING_SIDE, read_picture
from ingest.reading import READING_VERSION, Reading, read
from ingest.signature import SIGNATURE_LENGTH, fields
from ingest.value_map import MAP_LIGHTNESS, map_picture

PARTS = dict(clean_parts(every=32))
MOST_CHANGED = {"recoloured": 0.005, "mirrored": 0.01, "turned by 90": 0.01, "turned by 180": 0.01}
"""Share of the pixels; 0.03 where a file's loss comes in."""


@pytest.fixture(scope="module")
def own_readings() -> dict[str, Reading]:
    return {file: read(png(image), trim=False) for file, image in PARTS.items()}


@pytest.mark.parametrize("name", [name for name, change in CHANGES.items() if change.same_light])
@pytest.mark.parametrize("file", PARTS)
def test_what_changes_only_the_file_leaves_the_map(own_readings: dict[str, Reading], file: str, name: str) -> None:
    change = CHANGES[name]
    own = own_readings[file].maps[3].labels
    other = read(change.make(PARTS[file]), trim=False).maps[3].labels
    assert differing(own, other, change) < MOST_CHANGED.get(name, 0.03)
    assert np.abs(shares(own) - shares(other)).max() < 0.02


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("met-1981-278.jpg", "JPEG quality 60"),
        ("met-53-225-5.jpg", "half the size"),
        ("met-29-100-23.jpg", "recoloured"),
        ("met-1981-276.jpg", "recoloured"),
    ],
)
def test_tones_that_lie_at_a_threshold_stay_on_their_side(file: str, name: str) -> None:
    """A broad even tone where light or dark begins, or a picture that is between two values and three."""
    with Image.open(SAMPLES / file) as opened:
        image = opened.convert("RGB").crop(read_picture(SAMPLES / file).trimmed)
    change = CHANGES[name]
    own = read(png(image), trim=False).maps[3].labels
    other = read(change.make(image), trim=False).maps[3].labels
    assert differing(own, other, change) < MOST_CHANGED.get(name, 0.03)
    assert np.abs(shares(own) - shares(other)).max() < 0.02


def test_half_black_and_half_white_through_the_whole_street() -> None:
    field = ground(0.0, (1280, 960))
    field[:, 640:] = 100.0
    picture = Image.open(io.BytesIO(png_of(field)))
    for data in (png_of(field), jpeg(picture, 60)):
        measures = read(data, trim=False).measures
        assert measures.mid < 0.01
        assert measures.light == pytest.approx(0.5, abs=0.01)


TEXTURED = [
    ("blobs", "brush", False),
    ("polygons", "grain", False),
    ("figure", "halftone", False),
    ("bands", "engraving", True),
    ("polygons", "plain", True),
    ("figure", "impasto", True),
]


def read_made(picture: MadePicture) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """The map found and the true one at its size."""
    found = read(png(Image.fromarray(picture.pixels)), trim=False).maps[3].labels
    truth = Image.fromarray(picture.labels).resize(found.shape[::-1], Image.Resampling.NEAREST)
    return found, np.asarray(truth)


@pytest.mark.parametrize(("layout", "texture", "soft"), TEXTURED)
def test_known_masses_are_found_under_any_texture(layout: str, texture: str, soft: bool) -> None:
    made = make(layout, texture, np.random.default_rng([1903, soft]), soft=soft)
    found, truth = read_made(made)
    assert float((found == truth).mean()) >= 0.97
    assert abs(count_masses(found) / made.masses() - 1) <= 0.2
    assert np.abs(shares(found) - shares(truth)).max() <= 0.02


def test_recolouring_at_equal_lightness_changes_nothing() -> None:
    """A red and a green of one lightness are one value; a library's grey would part them by 30 L*."""
    red, green = np.array((200, 30, 30), dtype=np.uint8), np.array((40, 116, 40), dtype=np.uint8)
    assert float(srgb_lightness(red)) == pytest.approx(float(srgb_lightness(green)), abs=0.5)
    image = Image.new("RGB", (320, 240), tuple(int(code) for code in red))
    image.paste(tuple(int(code) for code in green), (0, 0, 160, 240))
    assert read(png(image), trim=False).measures.values_present == 1


def test_a_squint_sees_the_coarse_picture_of_a_hybrid() -> None:
    """A hybrid of one picture's coarse and another's fine part shows the first when one squints (Brady & Oliva 2012,
    Frontiers in Psychology 3:462, fig. 1; Oliva, Torralba & Schyns 2006)."""
    pairs = list(PARTS.values())
    for coarse, fine in zip(pairs[:3], pairs[2:5], strict=True):
        size = (WORKING_SIDE, WORKING_SIDE * 3 // 4)
        first, second = (srgb_lightness(np.asarray(image.convert("RGB").resize(size))) for image in (coarse, fine))
        diagonal = float(np.hypot(*size))
        low = ndimage.gaussian_filter(first, 0.02 * diagonal)
        high = second - ndimage.gaussian_filter(second, 0.006 * diagonal)
        seen = read(png_of(np.clip(low + high, 0, 100)), trim=False).squinted
        close = np.corrcoef(seen.ravel(), low.ravel())[0, 1]
        far = np.corrcoef(seen.ravel(), ndimage.gaussian_filter(second, 0.02 * diagonal).ravel())[0, 1]
        assert close > 0.96
        assert close - far > 0.3
        assert float(np.abs(seen - low).mean()) < 4


def test_a_munsell_scale_reads_as_its_values() -> None:
    """Neutral patches of Munsell value 1 to 9, luminance by ASTM D1535-08, each within 0.6 L* (8-bit codes lie up to
    0.4 L* apart)."""
    values = np.arange(1, 10)
    luminance = np.polyval([0.00081939, -0.020484, 0.23352, -0.22533, 1.1914, 0.0], values) / 100
    expected = lightness_CIE1976(luminance)
    strip = np.repeat(np.repeat(expected, 100)[None], 300, axis=0)
    seen = read(png_of(strip), trim=False).squinted
    at = ((np.arange(9) + 0.5) * seen.shape[1] / 9).astype(int)
    np.testing.assert_allclose(seen[seen.shape[0] // 2, at], expected, atol=0.6)


def test_a_profile_does_not_change_what_is_seen() -> None:
    """The same light coded for another space reads as the same values."""
    strip = np.repeat(np.repeat(np.array([20.0, 50.0, 80.0]), 120)[None], 240, axis=0)
    light = np.where(strip > 8, ((strip + 16) / 116) ** 3, strip * 27 / 24389)
    codes = np.rint(255 * light ** (256 / 563)).astype(np.uint8)
    image = Image.fromarray(codes).convert("RGB")
    image.info["icc_profile"] = colour_profiles.adobe_rgb()
    buffer = io.BytesIO()
    image.save(buffer, "PNG", icc_profile=colour_profiles.adobe_rgb())
    tagged, plain = read(buffer.getvalue(), trim=False), read(png_of(strip), trim=False)
    # Codes of eight bits lie up to 0.8 L* apart in the dark of this space.
    assert float(np.median(np.abs(tagged.squinted - plain.squinted))) < 0.4
    assert (tagged.maps[3].labels == plain.maps[3].labels).all()


def test_three_values_are_enough_to_know_the_picture_again(own_readings: dict[str, Reading]) -> None:
    """Common practice, no source: white paper, one grey and one dark keep the layout. The map of each picture, read as
    a picture, is nearer to its own picture than to any other."""
    patterns = []
    again = []
    for reading in own_readings.values():
        map_image = map_picture(reading.maps[3].labels, 3)
        patterns.append(fields(reading.signature[None])[0].ravel())
        again.append(fields(read(png(map_image), trim=False).signature[None])[0].ravel())
    likeness = np.corrcoef(np.array(patterns), np.array(again))[: len(patterns), len(patterns) :]
    assert (likeness.argmax(axis=1) == np.arange(len(patterns))).all()


def test_a_map_read_as_a_picture_gives_the_same_map(own_readings: dict[str, Reading]) -> None:
    for reading in own_readings.values():
        labels = reading.maps[3].labels
        if len(np.unique(labels)) < 3:
            continue
        again = read(png(map_picture(labels, 3)), trim=False).maps[3].labels
        assert float((again == labels).mean()) > 0.96


def test_a_reading_hangs_together(own_readings: dict[str, Reading]) -> None:
    assert READING_VERSION
    for reading in own_readings.values():
        assert set(reading.maps) == set(MAP_LIGHTNESS)
        for laid in reading.maps.values():
            assert laid.labels.shape == reading.squinted.shape == reading.picture.luminance.shape
        dark, mid, light = reading.maps[3].shares()
        assert (reading.measures.dark, reading.measures.mid, reading.measures.light) == pytest.approx(
            (dark, mid, light)
        )
        assert sum(mass.area for mass in reading.masses) == pytest.approx(1)
        assert reading.signature.shape == (SIGNATURE_LENGTH,)
        assert all(0 <= degree <= 1 for degree in reading.types.values())
        assert reading.sentence.endswith(".")


def test_the_same_bytes_read_the_same() -> None:
    data = png_of(grained(ground(50.0), 12.0))
    first, second = read(data), read(data)
    np.testing.assert_array_equal(first.signature, second.signature)
    assert first.measures == second.measures
    assert first.sentence == second.sentence
