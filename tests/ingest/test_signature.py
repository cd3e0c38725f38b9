"""The signature: what it keeps can be read back from it."""

from __future__ import annotations

import numpy as np
import pytest
from drawn_tone import box, disc, grained, ground, light_of

from ingest.signature import GRID, SIGNATURE_LENGTH, aspects, fields, signature, thresholds
from ingest.squint import squint
from ingest.value_map import value_map


def sign(field: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    seen = squint(light_of(field))
    return signature(seen, value_map(seen, 3)), seen


def painted(size: tuple[int, int] = (320, 240)) -> np.ndarray:
    field = box(ground(50.0, size), 0.0, 0.6, 1.0, 1.0, 18.0)
    return grained(disc(field, 0.3, 0.4, 0.15, 0.2, 88.0), 4.0)


def test_a_signature_is_bytes_of_one_length() -> None:
    record, _ = sign(painted())
    assert record.shape == (SIGNATURE_LENGTH,)
    assert record.dtype == np.uint8


def test_the_field_is_the_squinted_picture_made_small() -> None:
    record, seen = sign(painted((320, 256)))
    small = seen.reshape(GRID, 256 // GRID, GRID, 320 // GRID).mean(axis=(1, 3))
    assert np.abs(fields(record[None])[0] - small).max() < 0.5


def test_thresholds_come_back() -> None:
    seen = squint(light_of(painted()))
    laid = value_map(seen, 3)
    record = signature(seen, laid)
    expected = (laid.thresholds[0], laid.thresholds[-1])
    np.testing.assert_allclose(thresholds(record[None])[0], expected, atol=0.5)


@pytest.mark.parametrize("size", [(320, 240), (240, 320), (320, 80), (100, 320), (320, 320)])
def test_the_shape_of_the_frame_comes_back(size: tuple[int, int]) -> None:
    record, _ = sign(painted(size))
    assert float(aspects(record[None])[0]) == pytest.approx(size[0] / size[1], rel=0.02)


def test_many_signatures_are_read_at_once() -> None:
    records = np.stack([sign(painted(size))[0] for size in ((320, 240), (240, 320))])
    assert fields(records).shape == (2, GRID, GRID)
    assert thresholds(records).shape == (2, 2)
    assert aspects(records).shape == (2,)


def test_two_sizes_of_a_picture_sign_alike() -> None:
    small, large = (sign(disc(ground(30.0, size), 0.4, 0.5, 0.2, 0.3, 85.0))[0] for size in ((160, 120), (320, 240)))
    off = np.abs(fields(small[None]) - fields(large[None]))
    assert float(off.mean()) < 1.0
