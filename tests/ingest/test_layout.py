"""The map of many works: likes lie near likes, and every work has a place."""

from __future__ import annotations

import numpy as np
import pytest

from ingest import layout
from ingest.layout import lay_out, place_among


def heaps(each: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(7)
    points = np.concatenate([corner + 0.3 * rng.normal(size=(each, 5)) for corner in 8 * np.eye(5)[:3]])
    return points, np.repeat(np.arange(3), each)


def kept_neighbours(places: np.ndarray, heap: np.ndarray) -> float:
    away = ((places[:, None] - places[None]) ** 2).sum(axis=2)
    np.fill_diagonal(away, np.inf)
    return float((heap[away.argmin(axis=1)] == heap).mean())


def test_works_of_one_kind_lie_together() -> None:
    points, heap = heaps(20)
    places = lay_out(points)
    assert places.shape == (60, 2)
    assert (places.min(), places.max()) == (0.0, 1.0)
    assert kept_neighbours(places, heap) > 0.95
    assert np.array_equal(places, lay_out(points))


def test_more_works_than_landmarks_are_placed_between_them(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(layout, "_LANDMARKS", 30)
    points, heap = heaps(30)
    places = lay_out(points)
    assert places.shape == (90, 2)
    assert kept_neighbours(places, heap) > 0.9


@pytest.mark.parametrize("count", [0, 1, 2, 3, 5])
def test_a_handful_of_works_has_places_too(count: int) -> None:
    places = lay_out(np.random.default_rng(1).normal(size=(count, 4)))
    assert places.shape == (count, 2)
    assert np.isfinite(places).all()


def test_a_point_that_is_known_is_placed_where_it_was() -> None:
    known = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    places = np.array([[0.1, 0.2], [0.8, 0.2], [0.4, 0.9]])
    assert place_among(known, known, places) == pytest.approx(places, abs=1e-4)
    between = place_among(np.array([[0.5, 0.0]]), known, places)[0]
    assert 0.1 < between[0] < 0.8
