"""The close look: are a known slide, size and bend found, and do they stay within bounds?"""

from __future__ import annotations

import numpy as np
import pytest
from made_patterns import behind, soft_patterns
from scipy import ndimage

from archive.alignment import align, slide
from ingest.signature import GRID

WHOLE = np.array([[0, 0, 1, 1]], dtype=np.float32)


def _bend(seed: int, most: float) -> np.ndarray:
    """(2, GRID, GRID) smooth displacement of `most` at its largest."""
    noise = np.random.default_rng(seed).standard_normal((2, GRID, GRID))
    soft = ndimage.gaussian_filter(noise, (0, 6, 6))
    return soft * most / np.hypot(*soft).max()


def test_a_pattern_is_in_register_with_itself() -> None:
    works = soft_patterns(5, seed=1)
    for work in works:
        found = align(work[None], work[None], WHOLE)
        assert found.agreement[0] == pytest.approx(1.0, abs=1e-4)
        assert found.part[0] == pytest.approx((0, 0, 1, 1), abs=1e-3)
        assert found.bend[0] < 1e-3
        assert found.seen[0] == pytest.approx(work, abs=0.3)


@pytest.mark.parametrize("part", [(0.05, 0.03, 0.95, 0.98), (0.08, 0.0, 1.0, 0.93), (0.0, 0.06, 0.92, 1.0)])
def test_the_viewfinder_slides_to_where_the_study_was_taken(part: tuple[float, float, float, float]) -> None:
    works = soft_patterns(20, seed=2)
    for work in works:
        parts, agreement = slide(behind(work, part)[None], work[None], WHOLE)
        assert parts[0] == pytest.approx(part, abs=0.02)
        assert agreement[0] > 0.98


def test_sliding_and_bending_make_up_for_a_hand_that_strays() -> None:
    works = soft_patterns(30, seed=3, softness=1.3)
    plain, bent, long = [], [], []
    for number, work in enumerate(works):
        study = behind(work, (0, 0, 1, 1), _bend(number, 0.05))
        found = align(study[None], work[None], WHOLE)
        plain.append(np.corrcoef(study.ravel(), work.ravel())[0, 1])
        bent.append(found.agreement[0])
        long.append(found.bend[0])
        assert found.agreement[0] >= found.plain[0] - 1e-3
    assert np.median(plain) < 0.95
    assert np.median(bent) > 0.99
    assert np.min(bent) > 0.98
    assert 0.003 < np.median(long) < 0.05


def test_unlike_works_are_not_bent_into_likeness() -> None:
    works = soft_patterns(60, seed=4)
    found = align(works[:1], works[1:], np.repeat(WHOLE, 59, axis=0))
    assert np.median(found.agreement) < 0.6
    assert (found.bend <= 0.06 + 1e-6).all()


def test_a_fixed_part_stays_where_it_is() -> None:
    work, study = soft_patterns(2, seed=5)
    parts = np.array([[0.1, 0.2, 0.8, 0.9]], dtype=np.float32)
    found = align(study[None], work[None], parts, fixed=True)
    assert np.array_equal(found.part, parts)
    assert found.bend[0] > 0


def test_parts_stay_near_where_they_began_and_hardly_leave_the_work() -> None:
    works = soft_patterns(50, seed=6)
    study = soft_patterns(1, seed=7)
    start = np.random.default_rng(8).uniform(0, 0.3, (50, 4)).astype(np.float32)
    start[:, 2:] = 1 - start[:, 2:]
    for part in (slide(study, works, start)[0], align(study, works, start).part):
        assert np.abs(part - start).max() <= 0.1 + 1e-5
        assert part.min() >= -0.1
        assert part.max() <= 1.1
        assert (part[:, 2:] - part[:, :2]).min() > 0.2


def test_each_work_is_brought_into_register_on_its_own() -> None:
    works = soft_patterns(6, seed=9)
    study = soft_patterns(1, seed=10)
    parts = np.repeat(WHOLE, 6, axis=0)
    together = align(study, works, parts)
    for row in range(6):
        alone = align(study, works[[row]], WHOLE)
        assert alone.part[0] == pytest.approx(together.part[row], abs=1e-3)
        assert alone.agreement[0] == pytest.approx(together.agreement[row], abs=1e-3)


def test_one_study_for_all_works_is_the_same_as_that_study_for_each() -> None:
    works = soft_patterns(6, seed=13)
    study, parts = soft_patterns(1, seed=14), np.repeat(WHOLE, 6, axis=0)
    once, each = align(study, works, parts), align(np.repeat(study, 6, axis=0), works, parts)
    assert once.part == pytest.approx(each.part, abs=1e-5)
    assert once.seen == pytest.approx(each.seen, abs=1e-3)
    slid, held = slide(study, works, parts), slide(np.repeat(study, 6, axis=0), works, parts)
    assert slid[0] == pytest.approx(held[0], abs=1e-5)
    assert slid[1] == pytest.approx(held[1], abs=1e-5)


def test_what_is_seen_is_the_work_behind_the_part() -> None:
    work = soft_patterns(1, seed=11)[0]
    part = (0.2, 0.1, 0.9, 0.95)
    found = align(behind(work, part)[None], work[None], np.array([part], dtype=np.float32))
    assert found.seen[0] == pytest.approx(behind(work, part), abs=1.0)


@pytest.mark.parametrize("flat", ["study", "work"])
def test_flat_fields_are_borne(flat: str) -> None:
    pattern, even = soft_patterns(1, seed=12)[0], np.full((GRID, GRID), 50, dtype=np.float32)
    study, work = (even, pattern) if flat == "study" else (pattern, even)
    found = align(study[None], work[None], WHOLE)
    assert np.isfinite(found.part).all()
    assert abs(found.agreement[0]) < 0.2
