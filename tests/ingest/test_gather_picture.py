"""Whether a file that came is the picture of a work: every format that is read, deep greys, placeholders."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from painting import paint
from PIL import Image, features

from ingest.gather_picture import ENDINGS, NoPicture, check_picture
from ingest.picture import read_picture
from ingest.picture_file import MOST_LONG

SIZE = (320, 240)


def grained() -> NDArray[np.float64]:
    """A grey picture with grain, (h, w), 0..1."""
    codes = np.asarray(paint("slant", size=SIZE).convert("L")) / 300
    return np.asarray(codes + np.random.default_rng(0).uniform(0, 0.1, codes.shape))


def saved(image: Image.Image, file: Path, form: str, **options: Any) -> Path:
    image.save(file, form, **options)
    return file


@pytest.mark.parametrize("form", ["JPEG", "PNG", "TIFF", "WEBP", "AVIF", "HEIF", "GIF", "BMP", "PPM"])
def test_every_format_that_is_read_is_taken(form: str, tmp_path: Path) -> None:
    if form == "AVIF" and not features.check("avif"):
        pytest.skip("this Pillow was built without AVIF")
    file = saved(Image.fromarray((grained() * 255).astype(np.uint8)), tmp_path / "part", form)
    assert check_picture(file, SIZE) == ENDINGS[form]
    assert read_picture(file).width == SIZE[0]


@pytest.mark.parametrize(("form", "white", "kind"), [
    ("PNG", 65535, "u2"), ("TIFF", 65535, "u2"), ("TIFF", 1, "f4"), ("TIFF", 2**31 - 1, "i4"),
])  # fmt: skip
def test_deep_greys_are_no_placeholders_unless_they_are_plain(form: str, white: int, kind: str, tmp_path: Path) -> None:
    deep = (grained() * white).astype(kind)
    assert check_picture(saved(Image.fromarray(deep), tmp_path / "a", form)) == ENDINGS[form]
    with pytest.raises(NoPicture, match="one colour") as caught:
        check_picture(saved(Image.fromarray(np.full_like(deep, white // 2)), tmp_path / "b", form))
    assert caught.value.placeholder


def test_a_broken_exif_is_no_damage(tmp_path: Path) -> None:
    file = saved(paint("bands", size=SIZE), tmp_path / "part", "PNG", exif=b"Exif\0\0no tags at all")
    assert check_picture(file, SIZE) == ".png"


def test_a_turned_picture_has_the_shape_of_its_record_either_way(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    file = saved(paint("slant", size=SIZE), tmp_path / "part", "JPEG", exif=exif)
    assert check_picture(file, SIZE) == check_picture(file, SIZE[::-1]) == ".jpg"


@pytest.mark.parametrize("size", [(1, 1), (40, 30), (300, 10)])
def test_a_picture_of_few_pixels_is_a_placeholder(size: tuple[int, int], tmp_path: Path) -> None:
    with pytest.raises(NoPicture, match=f"the picture is .*{size[0]} x {size[1]} pixels") as caught:
        check_picture(saved(Image.new("RGB", size), tmp_path / "part", "PNG"))
    assert caught.value.placeholder


def test_what_could_not_be_read_later_is_not_taken(tmp_path: Path) -> None:
    frames = [paint("slant", seed, SIZE) for seed in range(2)]
    moving = saved(frames[0], tmp_path / "a", "GIF", save_all=True, append_images=frames[1:])
    thread = saved(paint("slant", size=((MOST_LONG + 1) * 20, 20)), tmp_path / "b", "PNG")
    cut = saved(frames[0], tmp_path / "c", "PNG")
    cut.write_bytes(cut.read_bytes()[:900])
    for file, why in ((moving, "is animated"), (thread, "so long and narrow"), (cut, "damaged or cut short")):
        with pytest.raises(NoPicture, match=why) as caught:
            check_picture(file)
        assert not caught.value.placeholder
        assert str(caught.value).startswith("the picture is")
        assert not str(caught.value).endswith(".")
