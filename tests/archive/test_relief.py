"""Tones drawn apart: order kept, range kept, weak patterns not made strong."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from PIL import Image

from archive.relief import MOST, draw_apart, relief_url
from ingest.lightness import grey_code, srgb_lightness

fields = arrays(np.float32, (6, 6), elements=st.floats(0, 100, width=32))


@given(fields)
def test_order_and_range_are_kept(tones: np.ndarray) -> None:  # type: ignore[type-arg]
    drawn = draw_apart(tones)
    assert drawn.min() >= 12.0 - 1e-4
    assert drawn.max() <= 94.0 + 1e-4
    order = np.argsort(tones, axis=None, kind="stable")
    assert (np.diff(drawn.ravel()[order]) >= -1e-3).all()


@given(fields)
def test_no_step_grows_more_than_the_limit(tones: np.ndarray) -> None:  # type: ignore[type-arg]
    drawn = draw_apart(tones)
    assert float(np.ptp(drawn)) <= MOST * float(np.ptp(tones)) + 1e-3


@pytest.mark.parametrize(
    ("low", "high", "span"), [(40.0, 50.0, 30.0), (45.0, 46.0, 3.0), (20.0, 60.0, 82.0), (0.0, 100.0, 82.0)]
)
def test_known_spans(low: float, high: float, span: float) -> None:
    ramp = np.tile(np.linspace(low, high, 400, dtype=np.float32), (4, 1))
    assert float(np.ptp(draw_apart(ramp))) == pytest.approx(span, rel=0.03)


def test_a_flat_field_stays_flat() -> None:
    assert np.ptp(draw_apart(np.full((5, 5), 47.0, dtype=np.float32))) == 0


def test_the_picture_shows_the_tones_drawn_apart(tmp_path: Path) -> None:
    file = tmp_path / "mean.png"
    halves = np.full((64, 64), grey_code(40.0), dtype=np.uint8)
    halves[:, 32:] = grey_code(60.0)
    Image.fromarray(halves).save(file)
    kind, _, data = relief_url(file).partition(",")
    assert kind == "data:image/webp;base64"
    shown = np.asarray(Image.open(io.BytesIO(base64.b64decode(data))).convert("RGB"))
    tones = srgb_lightness(shown)
    assert float(tones[:, :40].mean()) == pytest.approx(20.0, abs=1.5)
    assert float(tones[:, -40:].mean()) == pytest.approx(80.0, abs=1.5)
