"""Groups of points and how many of them there are, against points made for the purpose and published values."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from sklearn.metrics import adjusted_rand_score

from ingest.grouping import (
    Stability,
    choose_count,
    cluster,
    distances,
    memberships,
    refits,
    shuffled,
    softness_of,
    stabilities,
)

CORNERS = 3.0 * np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]])


def heaps(each: int = 25, spread: float = 0.5) -> NDArray[np.float64]:
    rng = np.random.default_rng(4)
    return np.concatenate([corner + spread * rng.normal(size=(each, 3)) for corner in CORNERS])


# Hubert & Arabie 1985 worked out: the index that the stability is told in.
@pytest.mark.parametrize(
    ("first", "second", "index"),
    [([0, 0, 1, 1], [1, 1, 0, 0], 1.0), ([0, 0, 1, 1], [0, 0, 1, 2], 4 / 7), ([0, 0, 1, 1], [0, 1, 0, 1], -0.5)],
)
def test_the_adjusted_rand_index_is_the_published_one(first: list[int], second: list[int], index: float) -> None:
    assert adjusted_rand_score(first, second) == pytest.approx(index)


def test_clear_heaps_are_counted_and_come_back() -> None:
    found = stabilities(heaps(), (3, 4, 5, 6))
    assert choose_count(found) == 4
    assert found[4].found > 0.98
    assert found[4].lead > 0


def test_the_null_keeps_every_axis_and_nothing_that_holds_them_together() -> None:
    points = heaps()
    loose = shuffled(points, np.random.default_rng(1))
    assert np.array_equal(np.sort(loose, axis=0), np.sort(points, axis=0))
    assert refits(loose, 4).mean() < refits(points, 4).mean()


def test_the_count_leads_its_null_among_the_stable() -> None:
    found = {
        3: Stability(0.85, 0.0, 0.80),
        4: Stability(0.90, 0.0, 0.60),
        5: Stability(0.75, 0.0, 0.20),
    }
    assert choose_count(found) == 4
    assert choose_count({5: found[5], 6: Stability(0.5, 0.0, 0.4)}) == 5
    assert choose_count({}) == 2


def test_too_few_points_for_a_count_are_not_tried() -> None:
    assert set(stabilities(heaps(each=4), (3, 4, 5, 6))) == {3, 4}


def test_memberships_sum_to_one_and_follow_the_distance() -> None:
    points = heaps()
    centres, labels = cluster(points, 4)
    shares = memberships(points, centres, softness_of(points, centres))
    assert np.allclose(shares.sum(axis=1), 1)
    assert np.array_equal(shares.argmax(axis=1), labels)
    assert np.array_equal(distances(points, centres).argmin(axis=1), labels)
    halfway = (centres[0] + centres[1]) / 2
    share = memberships(halfway[None], centres, 1.0)[0]
    assert share[0] == pytest.approx(share[1])
