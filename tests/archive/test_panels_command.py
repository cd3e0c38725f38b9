"""``blotbook panels``: files, JSON and sentences."""

from __future__ import annotations

import io
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from drawn_tone import png_of
from PIL import Image

from archive.command import main


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two panels on white paper, with a place and a camera in the file."""
    field = np.full((500, 800), 93.0)
    field[100:400, 80:360], field[100:400, 430:710] = 45.0, 60.0
    field[180:300, 150:260] = 20.0
    exif = Image.Exif()
    exif[0x010F] = "A Maker"
    exif.get_ifd(0x8825)[1] = "N"
    file = tmp_path_factory.mktemp("photo") / "two studies.jpg"
    Image.open(io.BytesIO(png_of(field))).save(file, "JPEG", quality=92, exif=exif)
    return file


def run(*words: object) -> Result:
    return CliRunner().invoke(main, ["panels", *map(str, words)])


def test_panels_are_written_and_told(photo: Path, tmp_path: Path) -> None:
    result = run(photo, "--out", tmp_path / "new", "--json")
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    assert told["layout"] == [1, 2]
    assert (told["width"], told["height"]) == (800, 500)
    assert len(told["panels"]) == 2
    first = told["panels"][0]
    np.testing.assert_allclose(first["corners"], [[80, 100], [360, 100], [360, 400], [80, 400]], atol=2)
    assert 0.9 <= first["confidence"] <= 1
    assert [Path(panel["file"]).name for panel in told["panels"]] == [
        "two studies-panel-1.png",
        "two studies-panel-2.png",
    ]
    with Image.open(first["file"]) as image:
        assert abs(image.width / image.height - 280 / 300) < 0.03
        assert not image.getexif()
    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == [
        "two studies-panel-1.png",
        "two studies-panel-2.png",
    ]


def test_what_was_found_is_said_in_words(photo: Path, tmp_path: Path) -> None:
    result = run(photo, "--out", tmp_path)
    assert result.exit_code == 0, result.output
    assert "2 panels, 1 x 2" in result.output


def test_corners_can_be_given(photo: Path, tmp_path: Path) -> None:
    result = run(photo, "--out", tmp_path, "--json", "--corners", "430,100 710,100 710,400 430,400")
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    assert [panel["corners"] for panel in told["panels"]] == [[[430, 100], [710, 100], [710, 400], [430, 400]]]


@pytest.mark.parametrize("corners", ["0,0 5000,0 5000,5000 0,5000", "-90,-90 400,-90 400,400 -90,400"])
def test_corners_beyond_the_photo_are_refused_with_its_size(photo: Path, tmp_path: Path, corners: str) -> None:
    result = run(photo, "--out", tmp_path, "--layout", "2x2", "--corners", corners)
    assert result.exit_code == 2
    assert "800 x 500" in result.output


def test_another_layout_than_was_asked_for_is_told_by_its_rows(photo: Path, tmp_path: Path) -> None:
    result = run(photo, "--out", tmp_path, "--layout", "2x1")
    assert result.exit_code == 1
    assert "2 panels were seen, one row of 2" in result.output


def test_panels_of_an_earlier_reading_are_told_of_and_kept(photo: Path, tmp_path: Path) -> None:
    assert "more file" not in run(photo, "--out", tmp_path).output
    assert "more file" not in run(photo, "--out", tmp_path).output
    result = run(photo, "--out", tmp_path, "--corners", "430,100 710,100 710,400 430,400")
    assert "one more file of panels of two studies" in result.stderr
    assert "by the corners given" in result.stdout
    assert (tmp_path / "two studies-panel-2.png").exists()


def test_nothing_found_asks_for_corners_and_writes_nothing(tmp_path: Path) -> None:
    blank = tmp_path / "blank.png"
    blank.write_bytes(png_of(np.full((200, 300), 88.0)))
    result = run(blank, "--out", tmp_path / "out", "--json")
    assert result.exit_code == 1
    assert "corners" in json.loads(result.stdout)["need_corners"]
    assert not (tmp_path / "out").exists()
    assert "corners" in run(blank, "--out", tmp_path / "out").output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--layout", "2by2"), "rows x columns"),
        (("--layout", "9x1"), "rows x columns"),
        (("--corners", "1,2 3,4"), "four corners"),
        (("--corners", "0,0 100,0 50,20 50,90"), "span a panel"),
    ],
)
def test_wrong_use_is_said_in_words(photo: Path, tmp_path: Path, words: tuple[str, str], said: str) -> None:
    result = run(photo, "--out", tmp_path, *words)
    assert result.exit_code == 2
    assert said in result.output
    assert "Traceback" not in result.output


def test_a_file_that_is_no_picture_is_named(tmp_path: Path) -> None:
    file = tmp_path / "notes.txt"
    file.write_text("not a picture")
    result = run(file, "--out", tmp_path)
    assert result.exit_code == 1
    assert "notes.txt" in result.output
