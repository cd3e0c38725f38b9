"""The panels of one work stay together on their ground; what is small beside a picture does not belong to it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ingest.margins import find_picture

PAPER = 0.85


def page(*blocks: tuple[float, float, float, float]) -> NDArray[np.float32]:
    """Dark blocks with brushwork, (x0, y0, x1, y1) in 0..1, on pale paper: luminance (h, w)."""
    rng = np.random.default_rng(7)
    field = PAPER + rng.normal(0, 0.004, (400, 500))
    for x0, y0, x1, y1 in blocks:
        here = field[round(400 * y0) : round(400 * y1), round(500 * x0) : round(500 * x1)]
        here[:] = 0.12 + rng.uniform(-0.1, 0.1, here.shape)
    return field.clip(0, 1).astype(np.float32)


def test_two_panels_are_one_picture() -> None:
    found = find_picture(page((0.08, 0.1, 0.48, 0.9), (0.53, 0.1, 0.92, 0.9)))
    np.testing.assert_allclose(found.part, (0.08, 0.1, 0.92, 0.9), atol=0.01)
    assert not any("beside" in reason for reason in found.reasons)


def test_a_bar_beside_a_picture_is_not_part_of_it() -> None:
    found = find_picture(page((0.08, 0.1, 0.8, 0.9), (0.86, 0.2, 0.92, 0.8)))
    np.testing.assert_allclose(found.part, (0.08, 0.1, 0.8, 0.9), atol=0.01)
    assert "a colour bar or other matter beside it" in found.reasons


def test_a_caption_below_two_panels_is_left_out() -> None:
    found = find_picture(page((0.08, 0.1, 0.48, 0.75), (0.53, 0.1, 0.92, 0.75), (0.3, 0.84, 0.7, 0.88)))
    np.testing.assert_allclose(found.part, (0.08, 0.1, 0.92, 0.75), atol=0.01)
    assert "a caption or other matter above or below" in found.reasons
