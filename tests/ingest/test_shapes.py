"""Connected shapes told by runs, held to scipy.ndimage, which walks over every pixel."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from ingest.shapes import Shapes


def _spiral(side: int) -> np.ndarray:
    """A line that winds inwards: one shape whose rows are joined far away, and so is what lies between its turns."""
    field = np.zeros((side, side), dtype=np.uint8)
    row, column, down, across = 0, 0, 0, 1
    for length in [side - 1, *(turn for pair in range(side - 1, 0, -2) for turn in (pair, pair))]:
        for _ in range(length):
            field[row, column] = 1
            row, column = row + down, column + across
        down, across = across, -down
    return field


@pytest.mark.parametrize("size", [(1, 1), (1, 9), (9, 1), (30, 41), (64, 17)])
@pytest.mark.parametrize("values", [1, 2, 5])
def test_shapes_are_those_that_a_walk_over_all_pixels_finds(size: tuple[int, int], values: int) -> None:
    labels = np.random.default_rng(values).integers(0, values, size).astype(np.uint8)
    shapes = Shapes.of(labels)
    found = shapes.over_pixels(np.arange(len(shapes.area)))
    np.testing.assert_array_equal(shapes.over_pixels(shapes.label), labels)
    np.testing.assert_array_equal(shapes.area, np.bincount(found.ravel()))
    # Numbered as they are met.
    np.testing.assert_array_equal(
        np.unique(found, return_index=True)[1], np.sort(np.unique(found, return_index=True)[1])
    )
    count = 0
    for value in range(values):
        wanted, number = ndimage.label(labels == value)
        count += number
        pairs = np.unique(np.stack([wanted[labels == value], found[labels == value]]), axis=1)
        assert pairs.shape[1] == number, "a shape is in two pieces, or two are one"
    assert count == len(shapes.area)
    assert shapes.runs.boxes(shapes.number) == ndimage.find_objects(found + 1)


def test_what_winds_is_one_shape() -> None:
    shapes = Shapes.of(_spiral(41))
    assert sorted(shapes.label) == [0, 1]
    assert shapes.area.sum() == 41**2


def test_shapes_that_touch_at_a_corner_are_two() -> None:
    assert len(Shapes.of(np.eye(2, dtype=bool)).area) == 4


def test_boxes_of_some_runs_are_those_of_what_they_are_numbered() -> None:
    labels = np.zeros((6, 8), dtype=np.uint8)
    labels[1:3, 2:4] = labels[4, 6:] = 1
    shapes = Shapes.of(labels)
    runs = shapes.runs.chosen((shapes.label == 1)[shapes.number])
    assert runs.boxes(np.array([0, 0, 1])) == [(slice(1, 3), slice(2, 4)), (slice(4, 5), slice(6, 8))]
    assert runs.boxes(np.array([0, 0, 0])) == [(slice(1, 5), slice(2, 8))]
    assert runs.chosen(np.zeros(3, dtype=bool)).boxes(np.array([], dtype=int)) == []
