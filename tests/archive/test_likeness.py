"""The one number for how alike two patterns are, against other libraries and plain cases."""

from __future__ import annotations

import numpy as np
import pytest
from made_patterns import behind, soft_patterns
from scipy import stats

from archive.alignment import align
from archive.likeness import agreement_in_order, agreement_in_value, agreement_of_borders, similarity
from ingest.signature import GRID

WHOLE = np.array([[0, 0, 1, 1]], dtype=np.float32)
LIMITS = np.array([[40, 60]], dtype=np.float32)


def _similarity(study: np.ndarray, works: np.ndarray, strain: float = 0.0) -> np.ndarray:
    parts = np.repeat(WHOLE, len(works), axis=0)
    aligned = align(study[None], works, parts)
    return similarity(study[None], LIMITS, aligned, np.full(len(works), strain, dtype=np.float32))


def test_order_agrees_with_the_rank_correlation_of_scipy() -> None:
    """Tones within the same 2 L* share a rank, as SciPy has it for equal numbers."""
    works = soft_patterns(8, seed=1)
    found = agreement_in_order(works[:1], works)
    for work, agreement in zip(works, found, strict=True):
        first, second = (np.rint(each.ravel() / 2) for each in (works[0], work))
        assert agreement == pytest.approx(stats.spearmanr(first, second).statistic, abs=1e-4)


def test_even_areas_have_no_order_of_their_own() -> None:
    """Two flat halves, left and right, are not at all like a ramp from top to bottom."""
    study = np.full((1, GRID, GRID), 80, dtype=np.float32)
    study[..., : GRID // 2] = 20
    ramp = np.linspace(20, 80, GRID, dtype=np.float32)[:, None].repeat(GRID, axis=1)
    assert agreement_in_order(study, np.stack([ramp, ramp[::-1]])) == pytest.approx([0, 0], abs=1e-3)


def test_values_and_order_do_not_ask_how_light_a_work_is() -> None:
    """Any change of tone that keeps their order, as between a pale study and a deep painting."""
    study = soft_patterns(1, seed=2)
    deep = (100 * (study / 100) ** 2.2).astype(np.float32)
    assert agreement_in_value(study, LIMITS, deep)[0] == pytest.approx(1.0, abs=1e-3)
    assert agreement_in_order(study, deep)[0] == pytest.approx(1.0, abs=0.01)
    assert agreement_of_borders(study, deep)[0] > 0.9


def test_a_negative_agrees_in_nothing() -> None:
    study = soft_patterns(1, seed=3)
    negative = 100 - study
    assert agreement_in_value(study, LIMITS, negative)[0] < 0
    assert agreement_in_order(study, negative)[0] == pytest.approx(-1.0, abs=1e-3)
    assert agreement_of_borders(study, negative)[0] == pytest.approx(-1.0, abs=1e-3)


def test_value_by_chance_is_nothing() -> None:
    works = soft_patterns(200, seed=4, softness=1.0)
    assert abs(agreement_in_value(works[:1], LIMITS, works[1:]).mean()) < 0.05


def test_half_light_half_dark_and_a_quarter_of_it_wrong() -> None:
    """Agreement beyond chance, worked out: 3/4 of the cells agree, 1/2 would by chance, so (3/4 - 1/2) / (1 - 1/2)."""
    study = np.full((GRID, GRID), 80, dtype=np.float32)
    study[:, : GRID // 2] = 20
    seen = study.copy()
    seen[: GRID // 4], seen[GRID // 4 :] = 100 - study[: GRID // 4], study[GRID // 4 :]
    assert agreement_in_value(study[None], LIMITS, seen[None])[0] == pytest.approx(0.5)


def test_similarity_is_one_for_the_same_and_falls_with_every_difference() -> None:
    work = soft_patterns(1, seed=5)[0]
    same = _similarity(work, work[None])[0]
    noisy = _similarity(work + np.random.default_rng(1).normal(0, 6, work.shape).astype(np.float32), work[None])[0]
    other = _similarity(soft_patterns(1, seed=6)[0], work[None])[0]
    assert same == pytest.approx(1.0, abs=1e-3)
    assert 0 <= other < noisy < same


def test_a_part_a_bend_and_a_stretched_format_each_cost_something() -> None:
    work = soft_patterns(1, seed=7)[0]
    part = (0.2, 0.1, 0.9, 0.9)
    study = behind(work, part)[None]
    aligned = align(study, work[None], np.array([part], dtype=np.float32))
    assert similarity(study, LIMITS, aligned, np.zeros(1, np.float32))[0] < 0.97
    assert _similarity(work, work[None], strain=0.5)[0] < _similarity(work, work[None], strain=0.1)[0] < 1.0


def test_a_little_of_a_stretch_costs_far_less_than_its_share() -> None:
    work = soft_patterns(1, seed=7)[0]
    cost = [1 - float(_similarity(work, work[None], strain=octaves)[0]) for octaves in (0.05, 0.5)]
    assert 0 < cost[0] < cost[1] / 10 / 2


def test_similarity_lies_in_0_to_1_for_anything() -> None:
    works = np.concatenate([soft_patterns(50, seed=8), np.full((1, GRID, GRID), 50), 100 - soft_patterns(1, seed=9)])
    for study in (soft_patterns(1, seed=9)[0], np.full((GRID, GRID), 50, dtype=np.float32)):
        found = _similarity(study, works.astype(np.float32))
        assert np.isfinite(found).all()
        assert found.min() >= 0
        assert found.max() <= 1
