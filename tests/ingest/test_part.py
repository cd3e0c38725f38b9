"""The part of a file that a person says is the picture overrules trimming."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from ingest.lightness import lightness_CIE1976
from ingest.part import part_text, read_part
from ingest.picture import DISPLAY_SIDE, read_picture
from ingest.picture_file import UnreadablePicture
from ingest.reading import read

PAPER, GROUND = (240, 236, 228), (60, 52, 46)


def page(scale: int = 1) -> Image.Image:
    """A dark picture of 200 x 140 with brushwork on a pale page of 300 x 240, times `scale`."""
    rng = np.random.default_rng(3)
    picture = np.clip(np.array(GROUND) + rng.normal(0, 12, (140, 200, 1)), 0, 255).astype(np.uint8)
    picture[:, 100:] += 60
    image = Image.new("RGB", (300, 240), PAPER)
    image.paste(Image.fromarray(picture), (50, 40))
    return image.resize((300 * scale, 240 * scale), Image.Resampling.NEAREST)


def file_of(image: Image.Image, form: str = "PNG", **options: object) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, form, **options)
    return buffer.getvalue()


@given(st.tuples(st.integers(0, 9000), st.integers(0, 9000), st.integers(1, 9000), st.integers(1, 9000)))
def test_a_part_is_read_as_it_is_written(corner: tuple[int, int, int, int]) -> None:
    x, y, width, height = corner
    box = (x, y, x + width, y + height)
    assert read_part(part_text(box)) == box


@pytest.mark.parametrize("text", ["10,20,110,220", " 10, 20, 110, 220 ", "[10, 20, 110, 220]", "10 20 110 220"])
def test_people_write_parts_in_several_ways(text: str) -> None:
    assert read_part(text) == (10, 20, 110, 220)
    assert read_part(" Whole ") == "whole"


@pytest.mark.parametrize(
    "text", ["", "all", "1,2,3", "1,2,3,4,5", "0.1,0.2,0.3,0.4", "-1,0,5,5", "50,0,50,10", "9,9,1,1"]
)
def test_what_is_no_part_is_said(text: str) -> None:
    with pytest.raises(ValueError, match=r"neither|no area"):
        read_part(text)


def test_trimming_is_overruled_by_a_part_and_by_whole() -> None:
    data = file_of(page())
    assert read_picture(data).trimmed == (50, 40, 250, 180)
    told = read_picture(data, part=(60, 50, 150, 170))
    assert told.trimmed == (60, 50, 150, 170)
    assert told.rgb.shape == (120, 90, 3)
    assert told.trims == ("cut to the part asked for",)
    assert lightness_CIE1976(told.luminance).max() < 60
    whole = read_picture(data, part="whole")
    assert (whole.trimmed, whole.trims) == ((0, 0, 300, 240), ("left whole, as asked",))
    assert whole.rgb.shape == (240, 300, 3)


def test_the_part_is_in_pixels_of_the_upright_file() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # the camera lay on its side
    data = file_of(page().transpose(Image.Transpose.ROTATE_90), exif=exif.tobytes())
    told = read_picture(data, part=(50, 40, 250, 180))
    assert (told.width, told.height) == (300, 240)
    assert told.luminance.shape == (140, 200)
    assert lightness_CIE1976(told.luminance).max() < 80


def test_a_small_part_of_a_large_file_is_not_decoded_too_small() -> None:
    large = file_of(page(12), "JPEG", quality=90)
    told = read_picture(large, part=(1200, 960, 2160, 1680))
    assert told.rgb.shape[1] == DISPLAY_SIDE


@pytest.mark.parametrize("part", [(0, 0, 301, 240), (0, 0, 300, 241), (500, 500, 600, 600)])
def test_a_part_outside_the_picture_is_said_in_one_sentence(part: tuple[int, int, int, int]) -> None:
    with pytest.raises(UnreadablePicture, match=r"^The part .* not lie within the picture, .* 300 x 240 pixels\.$"):
        read_picture(file_of(page()), part=part)


def test_a_part_that_is_too_small_is_said() -> None:
    with pytest.raises(UnreadablePicture, match="too small"):
        read_picture(file_of(page()), part=(0, 0, 10, 100))


def test_the_reading_is_that_of_the_part_alone() -> None:
    data = file_of(page())
    cut = read(file_of(page().crop((60, 50, 240, 170))), trim=False)
    told = read(data, part=(60, 50, 240, 170))
    np.testing.assert_array_equal(told.maps[3].labels, cut.maps[3].labels)
    assert told.measures == cut.measures
