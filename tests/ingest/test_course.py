"""The course of a panel's sides: are known bends followed, and is what lies between the sides laid flat?"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.transform import ProjectiveTransform, warp

from ingest.sheet.course import Course, follow
from ingest.sheet.geometry import UNIT, homography, transform
from ingest.sheet.rectify import places, straighten

Points = NDArray[np.float64]

CORNERS = np.array([[62.0, 51.0], [341.0, 70.0], [330.0, 262.0], [48.0, 240.0]])
SHARES = np.linspace(0.0, 1.0, 41)


def _bent(points: Points, most: float) -> Points:
    """Where points of a flat sheet are seen when it is cockled: moved by at most so many pixels each way."""
    x, y = points[..., 0], points[..., 1]
    return points + most * np.stack([np.sin(y / 60 + 1), np.sin(x / 70)], axis=-1)


def _photo(most: float = 0.0, *, seed: int = 1, contrast: float = 90.0) -> NDArray[np.uint8]:
    """A panel of blots on light paper, cockled by so many pixels, as a camera sees it: soft and with some noise."""
    rng = np.random.default_rng(seed)
    fine = 3
    y, x = (np.mgrid[: 300 * fine, : 400 * fine] + 0.5) / fine
    seen = np.stack([x, y], axis=-1)
    flat = seen
    for _ in range(6):
        flat = seen - (_bent(flat, most) - flat)
    on = transform(np.linalg.inv(homography(UNIT, CORNERS)), flat)
    inside = ((on > 0) & (on < 1)).all(axis=-1)
    blots = np.sin(on[..., 0] * 9) + np.sin(on[..., 1] * 7 + on[..., 0] * 4)
    tone = np.where(inside, 225 - contrast - 20 * blots, 225.0).reshape(300, fine, 400, fine).mean(axis=(1, 3))
    return np.clip(tone[..., None] + rng.normal(0, 2, (300, 400, 3)), 0, 255).astype(np.uint8)


def _sides(course: Course) -> Points:
    """(4, n, 2) points of the sides, as one goes round."""
    round_ = zip(UNIT, np.roll(UNIT, -1, axis=0), strict=True)
    return np.stack([course.at(start + SHARES[:, None] * (end - start)) for start, end in round_])


def test_corners_a_little_off_are_drawn_to_where_the_sides_meet() -> None:
    chance = np.random.default_rng(3)
    for seed in range(5):
        near = CORNERS + chance.uniform(-2, 2, (4, 2))
        found = follow(_photo(seed=seed), near)
        assert np.abs(found.corners - CORNERS).max() < 0.35
        assert np.abs(found.off).max() < 0.35


@pytest.mark.parametrize("most", [1.0, 2.0])
def test_sides_that_bend_are_followed(most: float) -> None:
    straight = Course.straight(CORNERS)
    truth = _bent(_sides(straight), most)
    found = _sides(follow(_photo(most), CORNERS))
    off = np.hypot(*np.moveaxis(found[:, 4:-4] - truth[:, 4:-4], -1, 0))
    ways = np.roll(CORNERS, -1, axis=0) - CORNERS
    inward = np.stack([-ways[:, 1], ways[:, 0]], axis=1) / np.hypot(*ways.T)[:, None]
    across = np.abs(((found - truth) * inward[:, None]).sum(axis=-1))
    before = np.abs(((_sides(straight) - truth) * inward[:, None]).sum(axis=-1))
    # Along a side nothing tells where one is; across it, it is told to a small part of a pixel.
    assert np.median(across) < 0.25 < np.median(before)
    assert across.max() < 0.8
    assert off.max() < 2 * most


def test_what_is_drawn_within_bent_sides_is_laid_flat() -> None:
    flat, bent = _photo(0.0), _photo(2.0)
    truth = straighten(flat, Course.straight(CORNERS), (280, 190)).astype(float)
    followed = straighten(bent, follow(bent, CORNERS), (280, 190)).astype(float)
    as_straight = straighten(bent, Course.straight(CORNERS), (280, 190)).astype(float)
    assert np.abs(followed - truth).mean() < 0.75 * np.abs(as_straight - truth).mean()


def test_where_nothing_is_seen_sides_stay_where_they_are() -> None:
    even = np.full((300, 400, 3), 180, dtype=np.uint8)
    found = follow(even, CORNERS)
    assert found.corners == pytest.approx(CORNERS, abs=1e-9)
    assert np.abs(found.off).max() < 1e-9


def test_a_strong_edge_further_in_does_not_draw_a_pale_side_away() -> None:
    """A drawing has edges of its own; the outermost that is plain to see is the panel's."""
    photo = _photo(contrast=30.0)
    on = transform(np.linalg.inv(homography(UNIT, CORNERS)), np.stack(np.mgrid[:400, :300] + 0.5, axis=-1))
    within = ((on > 0.03) & (on < 0.97)).all(axis=-1).T
    photo[within] = 70
    assert np.abs(follow(photo, CORNERS).corners - CORNERS).max() < 1.0


def test_straight_sides_are_the_homography() -> None:
    grid = np.stack(np.meshgrid(np.linspace(0, 1, 9), np.linspace(0, 1, 7)), axis=-1)
    assert Course.straight(CORNERS).at(grid) == pytest.approx(transform(homography(UNIT, CORNERS), grid), abs=1e-9)


def test_a_panel_that_is_not_quite_square_is_no_slant_of_its_own() -> None:
    """On a sheet seen square on, a trapezium is a trapezium: what is drawn halfway down lies halfway down. Taken for a
    rectangle at a slant, it would lie nearer its shorter side: where its diagonals cross."""
    trapezium = np.array([[60.0, 50.0], [340.0, 50.0], [330.0, 250.0], [70.0, 250.0]])
    middle = [0.5, 0.5]
    assert Course.straight(trapezium, np.eye(3)).at(middle) == pytest.approx([200.0, 150.0], abs=1e-9)
    crossing = 50 + 200 * 280 / (280 + 260)
    assert Course.straight(trapezium).at(middle) == pytest.approx([200.0, crossing], abs=1e-6)


def test_on_a_slanted_sheet_places_are_those_of_the_sheet() -> None:
    plane = homography(UNIT * [400, 300], CORNERS)
    on_sheet = np.array([[50.0, 40.0], [330.0, 46.0], [320.0, 260.0], [60.0, 250.0]])
    course = Course.straight(transform(plane, on_sheet), plane)
    first, second, third, fourth = on_sheet
    u, v = 0.3, 0.7
    blended = (1 - v) * ((1 - u) * first + u * second) + v * ((1 - u) * fourth + u * third)
    assert course.at([u, v]) == pytest.approx(transform(plane, blended), abs=1e-9)


def test_a_course_moves_and_grows_with_its_picture() -> None:
    course = follow(_photo(2.0), CORNERS)
    grid = np.random.default_rng(5).random((20, 2))
    further = np.array([3, -2])
    assert course.moved(further).at(grid) == pytest.approx(course.at(grid) + further, abs=1e-9)
    assert course.scaled([2, 2]).at(grid) == pytest.approx(2 * course.at(grid), abs=1e-6)


def test_straightening_is_what_scikit_image_makes_of_it() -> None:
    """skimage.transform.warp with the same projective transform, bilinear."""
    photo = _photo()
    size = (150, 100)
    target = UNIT * size
    to_photo = ProjectiveTransform(homography(target, CORNERS))
    # The library counts from the middles of pixels.
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    matrix = ProjectiveTransform(np.linalg.inv(half) @ to_photo.params @ half)
    expected = warp(photo, matrix, output_shape=size[::-1], order=1, preserve_range=True)
    found = straighten(photo, Course.straight(CORNERS), size).astype(float)
    assert np.abs(found - expected)[1:-1, 1:-1].mean() < 1.0
    assert np.abs(found - expected)[1:-1, 1:-1].max() < 12


def test_places_say_where_pixels_of_the_straightened_panel_were() -> None:
    course = follow(_photo(2.0), CORNERS)
    at = places(course, (5, 4))
    assert at.shape == (4, 5, 2)
    assert at[1, 2] == pytest.approx(course.at([0.5, 0.375]), abs=1e-9)
    assert places(course, (100, 100), 0.05)[0, 0] == pytest.approx(course.at([0.05, 0.05]), abs=1e-9)
