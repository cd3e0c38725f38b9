"""The one number for how alike two patterns are, in plain cases."""

from __future__ import annotations

import numpy as np
import pytest
from made_patterns import Fields, behind, in_pairs, soft_patterns

from archive.close_look import align
from archive.likeness import faded, taken_off, told
from archive.patterns import Patterns
from ingest.signature import GRID

WHOLE = np.array([[0, 0, 1, 1]], dtype=np.float32)
LIMITS = np.array([[40, 60]], dtype=np.float32)


def _similarity(study: Fields, works: Fields, *, strain: float = 0.0, of_works: Fields = LIMITS) -> Fields:
    parts = np.repeat(WHOLE, len(works), axis=0)
    limits = np.repeat(of_works, len(works), axis=0)
    stretched = np.full(len(works), strain, dtype=np.float32)
    pairs = in_pairs(study[None], works)
    held, hung = Patterns(told(study[None], LIMITS)), Patterns(told(works, limits))
    return faded(align(held, hung, pairs, parts, lambda _: stretched).total)


def test_tones_are_told_about_nothing_and_in_one_unit() -> None:
    found = told(soft_patterns(5, seed=1), np.repeat(LIMITS, 5, axis=0))
    assert found.mean(axis=(1, 2)) == pytest.approx(np.zeros(5), abs=1e-4)
    assert (np.abs(found.std(axis=(1, 2)) - 1) < 0.05).all()


def test_half_of_a_tone_is_its_value() -> None:
    """Worked out: half the picture in L* 20 and half in 80 is told as -1 and +1; a change of tones
    that keeps each on its side of the thresholds changes only the half that is told as it is."""
    study = np.full((1, GRID, GRID), 80, dtype=np.float32)
    study[..., : GRID // 2] = 20
    assert np.unique(np.round(told(study, LIMITS), 4)).tolist() == [-1.0, 1.0]
    quarters = study.copy()
    quarters[:, : GRID // 2, : GRID // 2] = 5
    found = told(quarters, LIMITS)
    value = np.where(study > 50, 1.0, -1.0)
    plain = (quarters - quarters.mean()) / quarters.std()
    assert found == pytest.approx((plain + value) / 2, abs=0.02)


def test_a_pale_study_is_like_a_deep_painting_of_the_same_layout() -> None:
    """Any change of tone that keeps light, middle and dark apart at each picture's own thresholds."""
    study = soft_patterns(1, seed=2)
    deep, limits = ((100 * (each / 100) ** 2.2).astype(np.float32) for each in (study, LIMITS))
    same = _similarity(study[0], deep, of_works=limits)[0]
    others = _similarity(study[0], soft_patterns(50, seed=3))
    assert same > 0.95
    assert others.max() < same - 0.2


def test_a_negative_is_not_like_it() -> None:
    study = soft_patterns(1, seed=3)
    assert _similarity(study[0], 100 - study)[0] < 0.3


def test_similarity_is_one_for_the_same_and_falls_with_every_difference() -> None:
    work = soft_patterns(1, seed=5)[0]
    same = _similarity(work, work[None])[0]
    noisy = _similarity(work + np.random.default_rng(1).normal(0, 12, work.shape).astype(np.float32), work[None])[0]
    other = _similarity(soft_patterns(1, seed=6)[0], work[None])[0]
    assert same == pytest.approx(1.0, abs=1e-3)
    assert 0 <= other < noisy < same


def test_a_part_and_a_stretched_format_each_cost_something() -> None:
    work = soft_patterns(1, seed=7)[0]
    part = np.array([(0.2, 0.1, 0.9, 0.9)], dtype=np.float32)
    nothing = np.zeros(1, dtype=np.float32)
    study = Patterns(told(behind(work, tuple(part[0]))[None], LIMITS))
    found = align(study, Patterns(told(work[None], LIMITS)), in_pairs(work[None], work[None]), part, lambda _: nothing)
    assert found.total[0] < 0.95
    assert _similarity(work, work[None], strain=0.5)[0] < _similarity(work, work[None], strain=0.1)[0] < 1.0


def test_a_little_of_a_stretch_costs_far_less_than_its_share() -> None:
    cost = [float(taken_off(WHOLE, np.array([octaves], dtype=np.float32))[0]) for octaves in (0.0, 0.05, 0.5)]
    assert cost[0] == 0
    assert 0 < cost[1] < cost[2] / 10 / 2


def test_similarity_lies_in_0_to_1_for_anything() -> None:
    works = np.concatenate([soft_patterns(50, seed=8), np.full((1, GRID, GRID), 50), 100 - soft_patterns(1, seed=9)])
    for study in (soft_patterns(1, seed=9)[0], np.full((GRID, GRID), 50, dtype=np.float32)):
        found = _similarity(study, works.astype(np.float32))
        assert np.isfinite(found).all()
        assert found.min() >= 0
        assert found.max() <= 1


def test_totals_fade_in_their_order() -> None:
    found = faded(np.linspace(-1, 1, 201, dtype=np.float32))
    assert (np.diff(found) > 0).all()
    assert found[0] > 0
    assert found[-1] == 1
