"""Frames are known by mouldings that run alongside a picture, about equally thick on its sides."""

from __future__ import annotations

import numpy as np
import pytest

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


def test_a_busy_picture_without_a_frame_has_none() -> None:
    assert frame_depths(framed(0, 0, 0, 0)[THICK:-THICK, THICK:-THICK]) is None
