"""Frames are known by mouldings that run alongside a picture, about equally thick on its sides."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.lightness import luminance_CIE1976
from ingest.margins import find_picture
from ingest.mouldings import frame_depths

WALL, FRAME, THICK = 70.0, 25.0, 14


def framed(left: int, top: int, right: int, bottom: int) -> np.ndarray:
    """(h, w, 3) appearance of a busy picture in a frame of THICK pixels on a wall that shows so far on each side."""
    rng = np.random.default_rng(5)
    picture = rng.uniform(35, 95, (24, 30)).repeat(10, axis=0).repeat(10, axis=1)
    with_frame = np.pad(picture, THICK, constant_values=FRAME)
    on_wall = np.pad(with_frame, ((top, bottom), (left, right)), constant_values=WALL)
    field = np.zeros((*on_wall.shape, 3), dtype=np.float32)
    field[..., 0] = on_wall + rng.normal(0, 0.5, on_wall.shape)
    return field


@pytest.mark.parametrize("wall", [(0, 0, 0, 0), (8, 8, 8, 8), (3, 30, 3, 3), (28, 6, 30, 6), (6, 30, 7, 29)])
def test_a_frame_is_found_however_much_wall_shows_on_each_side(wall: tuple[int, int, int, int]) -> None:
    found = frame_depths(framed(*wall))
    assert found is not None
    assert np.abs(np.array(found) - np.array(wall) - THICK).max() <= 1


def test_a_frame_of_one_thickness_is_believed_before_wall_and_frame_together() -> None:
    """Two bands, 7 and 11 pixels, wall beside them on three sides: frame and wall at the left and bottom are as deep as
    the wall alone at the right, and pass for a thicker frame there."""
    wall, bands = {"left": 13, "right": 35, "bottom": 32}, ((11, 88.0), (7, 58.0))
    rng = np.random.default_rng(5)
    page = rng.uniform(10, 40, (55, 44)).repeat(8, axis=0).repeat(8, axis=1)
    for thick, tone in bands:
        page = np.pad(page, thick, constant_values=tone)
    page = np.pad(page, ((0, wall["bottom"]), (wall["left"], wall["right"])), constant_values=WALL)
    field = np.zeros((*page.shape, 3), dtype=np.float32)
    field[..., 0] = page + rng.normal(0, 0.5, page.shape)
    found = frame_depths(field)
    assert found is not None
    assert np.abs(np.array(found) - (31, 18, 53, 50)).max() <= 1


def test_a_busy_picture_without_a_frame_has_none() -> None:
    assert frame_depths(framed(0, 0, 0, 0)[THICK:-THICK, THICK:-THICK]) is None


def test_a_frame_that_is_as_dark_as_its_wall_on_some_sides_is_taken_off_on_all() -> None:
    """A moulding lit from one side: where it has the wall's tone it goes with the wall, and the others must follow."""
    wall, thick, shown = 25.0, 24, (16, 12, 20, 14)
    rng = np.random.default_rng(6)
    picture = rng.uniform(45, 95, (24, 30)).repeat(12, axis=0).repeat(12, axis=1)
    left, top, right, bottom = shown
    height, width = picture.shape
    page = np.full((height + 2 * thick + top + bottom, width + 2 * thick + left + right), wall)
    page[top : top + thick, left + thick : -right] = 42.0
    page[top : -bottom - thick, -right - thick : -right] = 52.0
    page[top + thick : top + thick + height, left + thick : left + thick + width] = picture
    page += rng.normal(0, 0.5, page.shape)
    found = find_picture(luminance_CIE1976(page))
    part = np.array(found.part) * np.tile(page.shape[::-1], 2)
    assert part == pytest.approx((left + thick, top + thick, left + thick + width, top + thick + height), abs=2), (
        found.reasons
    )
