"""A field at a small size, by area."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.shrink import shrunk

SIZES = st.integers(5, 90)


@given(SIZES, SIZES, st.integers(8, 64))
def test_the_mean_is_kept_and_mirrors_agree(height: int, width: int, side: int) -> None:
    field = np.random.default_rng(height * width).uniform(0, 100, (height, width)).astype(np.float32)
    small, _ = shrunk(field, None, side)
    mirrored, _ = shrunk(np.ascontiguousarray(field[:, ::-1]), None, side)
    assert max(small.shape) == side
    assert float(small.mean()) == pytest.approx(float(field.mean()), abs=0.01)
    assert np.allclose(mirrored[:, ::-1], small, atol=1e-3)


def test_whole_blocks_become_their_means() -> None:
    field = np.arange(64, dtype=np.float32).reshape(8, 8)
    small, inside = shrunk(field, field >= 32, 4)
    assert np.allclose(small, field.reshape(4, 2, 4, 2).mean(axis=(1, 3)))
    assert inside is not None
    assert np.array_equal(inside[:, 0], [False, False, True, True])
