"""The masses of a study drawn on a work: shapes whose place can be told by hand."""

from __future__ import annotations

import numpy as np
import pytest

from archive.correspondence import Fellow
from archive.outlines import outline
from ingest.signature import GRID

MIDDLES = (np.arange(GRID, dtype=np.float32) + 0.5) / GRID
U, V = np.meshgrid(MIDDLES, MIDDLES)


def _mass(x0: float, y0: float, x1: float, y1: float) -> Fellow:
    shape = (np.abs(2 * U - x0 - x1) < x1 - x0) & (np.abs(2 * V - y0 - y1) < y1 - y0)
    return Fellow("light", "upper left", True, shape)


def _area(ring: tuple[tuple[float, float], ...]) -> float:
    """The surveyor's formula (Gauss); its sign tells which way round the ring runs."""
    x, y = np.array(ring).T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def test_a_rectangle_stays_where_it_is_on_a_work_seen_whole() -> None:
    drawn = outline(_mass(0.25, 0.125, 0.75, 0.5), U, V)
    assert (drawn.value, drawn.words, drawn.alike) == ("light", "the light upper left", True)
    (ring,) = drawn.points
    assert ring[0] == ring[-1]
    points = np.array(ring)
    assert points.min(axis=0) == pytest.approx([0.25, 0.125], abs=0.01)
    assert points.max(axis=0) == pytest.approx([0.75, 0.5], abs=0.01)
    assert abs(_area(ring)) == pytest.approx(0.5 * 0.375, rel=0.03)


def test_it_lies_in_the_part_that_the_study_looks_at() -> None:
    (ring,) = outline(_mass(0.0, 0.0, 0.5, 1.0), 0.2 + 0.6 * U, 0.1 + 0.8 * V).points
    points = np.array(ring)
    assert points.min(axis=0) == pytest.approx([0.2, 0.1], abs=0.01)
    assert points.max(axis=0) == pytest.approx([0.5, 0.9], abs=0.01)


def test_it_bends_with_the_net() -> None:
    (straight,) = outline(_mass(0.25, 0.25, 0.75, 0.75), U, V).points
    (bent,) = outline(_mass(0.25, 0.25, 0.75, 0.75), U, (V + 0.1 * U).astype(np.float32)).points
    assert np.array(bent)[:, 1].max() - np.array(straight)[:, 1].max() == pytest.approx(0.075, abs=0.01)
    assert abs(_area(bent)) == pytest.approx(abs(_area(straight)), rel=0.02)


def test_a_ring_has_a_hole() -> None:
    ring, hole = _mass(0.125, 0.125, 0.875, 0.875), _mass(0.3125, 0.3125, 0.6875, 0.6875)
    drawn = outline(Fellow("dark", "in the middle", False, ring.shape & ~hole.shape), U, V)
    assert sorted(abs(_area(points)) for points in drawn.points) == pytest.approx([0.375**2, 0.75**2], rel=0.06)
    # Inner and outer run opposite ways round, so that a filled path would leave the hole open.
    assert np.prod([np.sign(_area(points)) for points in drawn.points]) == -1


def test_a_mass_that_fills_the_study_is_its_frame() -> None:
    (ring,) = outline(Fellow("dark", "in the middle", True, np.ones((GRID, GRID), bool)), U, V).points
    assert abs(_area(ring)) == pytest.approx(1.0, rel=0.03)
