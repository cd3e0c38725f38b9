"""The samples are grouped firmly, or else it is said that they are not: refits on four fifths of the works."""

from __future__ import annotations

import numpy as np
import pytest
from sample_gallery import Samples
from threadpoolctl import threadpool_limits

from ingest.arrangements import grouping_points
from ingest.grouping import STABLE, Stability, choose_count, refits, shuffled, stabilities

COUNTS = (3, 4, 6)


@pytest.fixture(scope="module")
def points(samples: Samples) -> np.ndarray:
    return grouping_points(samples.signatures, samples.measures)


@pytest.fixture(scope="module")
def found(points: np.ndarray) -> dict[int, Stability]:
    with threadpool_limits(1):
        return stabilities(points, COUNTS)


def test_refits_on_four_fifths_agree_with_the_whole(found: dict[int, Stability]) -> None:
    """The aim of 0.8 is the project's own; adjusted Rand index: Hubert & Arabie 1985, J. Classif. 2:193."""
    assert found[choose_count(found)].found >= STABLE


def test_the_works_lead_shuffled_works(found: dict[int, Stability]) -> None:
    best = found[choose_count(found)]
    assert best.lead >= 0.05
    assert best.found - best.spread > best.null - best.null_spread


def test_more_groups_than_the_works_support_come_back_less_often(found: dict[int, Stability]) -> None:
    assert found[6].found < found[choose_count(found)].found


def test_points_without_groups_are_not_called_firm(points: np.ndarray) -> None:
    """The same figures for works whose axes were exchanged: were these firm too, the test above could not fail."""
    loose = shuffled(points, np.random.default_rng(5))
    with threadpool_limits(1):
        assert refits(loose, 6, 4).mean() < STABLE
