"""Study beside work, with maps whose answers can be told by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from archive.compare import closest, compare, compare_maps, difference_picture, read_master, turned
from ingest.lightness import grey_code
from ingest.picture import read_picture
from ingest.reading import read_tone
from ingest.value_map import MAP_LIGHTNESS, OUTSIDE

DARK, MID, LIGHT = 0, 1, 2


def halves(left: int, right: int, side: int = 40) -> np.ndarray:
    labels = np.full((side, side), left, dtype=np.uint8)
    labels[:, side // 2 :] = right
    return labels


def grey_file(path: Path, labels: np.ndarray, times: int = 6) -> Path:
    codes = np.array([grey_code(tone) for tone in MAP_LIGHTNESS[3]], dtype=np.uint8)[labels]
    Image.fromarray(np.kron(codes, np.ones((times, times), dtype=np.uint8))).save(path)
    return path


def test_a_map_agrees_with_itself_in_every_value() -> None:
    compared = compare_maps(halves(DARK, LIGHT), halves(DARK, LIGHT))
    assert compared.same == 1.0
    assert compared.agreement == compared.answered == {"light": 1.0, "dark": 1.0}, "there is no mid to agree"
    assert compared.shift == {"light": 0.0, "mid": 0.0, "dark": 0.0}
    assert compared.parted == compared.closed == ()
    assert set(np.unique(compared.difference())) == {2}


def test_agreement_value_by_value() -> None:
    """Study: left half light, right half dark. Work: left quarter light, second quarter mid, right half dark. Of the
    study's light half falls on light and half on mid; all of the work's light is light in the study."""
    work = halves(LIGHT, DARK)
    work[:, 10:20] = MID
    compared = compare_maps(halves(LIGHT, DARK), work)
    assert compared.agreement == {"light": 0.5, "dark": 1.0}
    assert compared.answered == {"light": 1.0, "mid": 0.0, "dark": 1.0}
    assert compared.same == 0.75
    assert compared.shift == {"light": 0.25, "mid": -0.25, "dark": 0.0}
    assert compared.table == ((0.5, 0.0, 0.0), (0.0, 0.0, 0.0), (0.0, 0.25, 0.25))
    steps = compared.difference()
    assert (steps[:, 10:20] == 3).all(), "light where the work is mid: lighter by one value"
    assert (np.delete(steps, np.s_[10:20], axis=1) == 2).all()


def test_what_is_no_picture_in_either_counts_for_nothing() -> None:
    own, work = halves(LIGHT, DARK), halves(LIGHT, LIGHT)
    own[:20], work[30:] = OUTSIDE, OUTSIDE
    compared = compare_maps(own, work)
    assert compared.same == 0.5
    assert (compared.difference()[:20] == OUTSIDE).all()


def test_a_light_joined_in_the_work_and_broken_in_the_study() -> None:
    """The work has one bar of light across the middle; the study has it in two pieces, with dark between them."""
    work = np.full((60, 80), DARK, dtype=np.uint8)
    work[20:40, 10:70] = LIGHT
    own = work.copy()
    own[:, 36:44] = DARK
    (gap,) = compare_maps(own, work).parted
    assert (gap.value, gap.between) == ("light", "dark")
    assert gap.area == pytest.approx(20 * 60 / 4800)
    assert gap.pieces == ("at the left", "at the right")
    assert (gap.x, gap.where) == (pytest.approx(0.5, abs=0.01), "in the middle")
    assert gap.width == pytest.approx(9 / 100), (
        "from the middle of one pixel to that of the next: 9 px of a 100 px diagonal"
    )
    assert compare_maps(work, own).parted == ()
    (closed,) = compare_maps(work, own).closed
    assert closed.value == "light"


def test_along_a_seam_that_is_hardly_narrower_at_one_end_its_middle_is_named() -> None:
    work = np.full((100, 100), DARK, dtype=np.uint8)
    work[20:80, 10:90] = LIGHT
    own = work.copy()
    for row in range(20, 80):
        own[row, 45 : 55 + (row - 20) // 30] = DARK
    (gap,) = compare_maps(own, work).parted
    assert (gap.x, gap.y) == (pytest.approx(0.5, abs=0.02), pytest.approx(0.5, abs=0.05))
    assert gap.width == pytest.approx(11 / np.hypot(100, 100))


def test_pieces_that_are_mere_specks_or_lie_elsewhere_break_nothing() -> None:
    work = np.full((60, 80), MID, dtype=np.uint8)
    work[20:40, 10:70] = LIGHT
    specks = work.copy()
    specks[20:40, 14:16] = MID
    specks[21:40, 10:14] = MID
    assert compare_maps(specks, work).parted == (), "the piece cut off is four pixels, an accent"
    elsewhere = np.full((60, 80), MID, dtype=np.uint8)
    elsewhere[2:16, 10:30] = elsewhere[44:58, 50:70] = LIGHT
    assert compare_maps(elsewhere, work).parted == ()


def test_the_closest_two_masses() -> None:
    labels = np.full((100, 100), MID, dtype=np.uint8)
    labels[5:25, 5:20] = labels[5:25, 26:40] = labels[70:95, 70:95] = LIGHT
    gap = closest(labels, LIGHT)
    assert gap is not None
    assert gap.pieces == ("upper left", "upper left")
    assert gap.where == "upper left"
    assert gap.width == pytest.approx(7 / np.hypot(100, 100))
    assert closest(labels, DARK) is None
    labels[26:, :] = MID
    labels[5:25, 26:40] = MID
    assert closest(labels, LIGHT) is None, "one is not two"


def test_a_study_answers_to_a_part_of_a_work_turned_over(tmp_path: Path) -> None:
    """The left half of the work, turned over, is the study: dark at the left, a light at the right."""
    study = np.full((40, 30), MID, dtype=np.uint8)
    study[:, :10], study[10:26, 18:28] = DARK, LIGHT
    work = np.full((40, 60), MID, dtype=np.uint8)
    work[:, :30] = study[:, ::-1]
    own = read_tone(read_picture(grey_file(tmp_path / "study.png", study), part="whole"))
    there = grey_file(tmp_path / "work.png", work)
    compared = compare(own, read_master(there, (0.0, 0.0, 0.5, 1.0), mirrored=True))
    assert compared.same > 0.98
    assert abs(compared.stretched) < 0.03
    assert compare(own, read_master(there, (0.0, 0.0, 0.5, 1.0))).same < 0.75
    assert compare(own, read_master(there)).stretched == pytest.approx(-1.0, abs=0.05), "half as wide"


def test_turning_over_twice_gives_the_picture_again(tmp_path: Path) -> None:
    picture = read_picture(grey_file(tmp_path / "halves.png", halves(DARK, LIGHT)), part="whole")
    again = turned(turned(picture))
    assert np.array_equal(again.rgb, picture.rgb)
    assert np.array_equal(again.luminance, picture.luminance)
    assert turned(picture).rgb[0, 0, 0] > picture.rgb[0, 0, 0]


def test_the_picture_of_the_differences_is_middle_grey_where_there_are_none() -> None:
    picture = difference_picture(compare_maps(halves(DARK, LIGHT), halves(DARK, DARK)), 80)
    codes = np.asarray(picture)
    assert codes[40, 4] == grey_code(MAP_LIGHTNESS[5][2])
    assert codes[40, 76] == grey_code(MAP_LIGHTNESS[5][4])
