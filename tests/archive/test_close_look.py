"""The close look: are a known slide, size and bend found, do they stay within bounds, and is it the best register?"""

from __future__ import annotations

import numpy as np
import pytest
from made_patterns import Fields, behind, in_pairs, soft_patterns
from numpy.typing import NDArray
from scipy import ndimage

from archive.close_look import Alignments, align, unbent
from archive.likeness import BENDING, told
from archive.net import Net
from archive.patterns import Patterns
from ingest.signature import GRID

WHOLE = np.array([[0, 0, 1, 1]], dtype=np.float32)
LIMITS = np.array([[40, 60]], dtype=np.float32)


def _told(fields: Fields) -> Fields:
    return told(fields.astype(np.float32), np.repeat(LIMITS, len(fields), axis=0))


def _unstrained(parts: Fields) -> Fields:
    return np.zeros(len(parts), dtype=np.float32)


def _align(studies: Fields, works: Fields, parts: Fields, *, fixed: bool = False) -> Alignments:
    pairs = in_pairs(studies, works)
    return align(Patterns(_told(studies)), Patterns(_told(works)), pairs, parts, _unstrained, fixed=fixed)


def _bend(seed: int, most: float) -> NDArray[np.float64]:
    """(2, GRID, GRID) smooth displacement of `most` at its largest."""
    noise = np.random.default_rng(seed).standard_normal((2, GRID, GRID))
    soft = ndimage.gaussian_filter(noise, (0, 6, 6))
    return np.asarray(soft * most / np.hypot(*soft).max())


def test_a_pattern_is_in_register_with_itself() -> None:
    for work in soft_patterns(5, seed=1):
        found = _align(work[None], work[None], WHOLE)
        assert found.total[0] == pytest.approx(1.0, abs=1e-4)
        assert found.part[0] == pytest.approx((0, 0, 1, 1), abs=1e-3)
        assert found.bend[0] < 1e-3
        assert found.seen(work[None], np.array([0]))[0] == pytest.approx(work, abs=0.3)


def test_what_gives_way_is_what_places_are_made_of() -> None:
    """A net that is shifted as a whole shifts every place by as much; a part alone places evenly."""
    frame = Net(8)
    give = frame.started(np.array([[0.1, 0.2, 0.7, 0.9]], dtype=np.float32))
    x, y = frame.places(give)
    assert x[0] == pytest.approx(0.1 + 0.6 * frame.u, abs=1e-6)
    assert y[0] == pytest.approx(0.2 + 0.7 * frame.v, abs=1e-6)
    right, down = np.split(frame.bend, 2)
    give[:, right] += 0.03
    give[:, down] -= 0.02
    shifted = frame.places(give)
    assert shifted[0] - x == pytest.approx(np.full_like(x, 0.03), abs=1e-6)
    assert shifted[1] - y == pytest.approx(np.full_like(y, -0.02), abs=1e-6)


def test_sliding_and_bending_make_up_for_a_hand_that_strays() -> None:
    found, stiff = [], []
    for number, work in enumerate(soft_patterns(30, seed=3, softness=1.3)):
        study = behind(work, (0, 0, 1, 1), _bend(number, 0.05))[None]
        aligned = _align(study, work[None], WHOLE)
        found.append(np.corrcoef(study.ravel(), aligned.seen(work[None], np.array([0])).ravel())[0, 1])
        stiff.append(np.corrcoef(study.ravel(), work.ravel())[0, 1])
        assert 0.002 < aligned.bend[0] < 0.05
    assert np.median(stiff) < 0.95
    assert np.median(found) > 0.985
    assert np.min(found) > 0.96


def test_no_register_near_by_is_better() -> None:
    """Likeness is greatest where the search ends: it ends there again when it is begun a little beside it."""
    works = soft_patterns(30, seed=20)
    rng = np.random.default_rng(5)
    totals = []
    for number, work in enumerate(works):
        study = behind(work, (0.05, 0.0, 0.95, 1.0), _bend(number, 0.04))[None]
        starts = np.repeat(WHOLE, 8, axis=0) + rng.normal(0, 0.02, (8, 4)).astype(np.float32)
        totals.append(_align(study, work[None].repeat(8, axis=0), starts).total)
    assert np.median(np.ptp(totals, axis=1)) < 0.005


def test_grain_hardly_moves_a_likeness() -> None:
    """What the register is sought by is what is reported, so grain of 2 L* cannot make works change places."""
    works = soft_patterns(40, seed=21)
    study = works[:1] + np.random.default_rng(1).normal(0, 8, works[:1].shape)
    parts = np.repeat(WHOLE, 40, axis=0)
    one = _align(study, works, parts).total
    other = _align(study + np.random.default_rng(2).normal(0, 0.4, study.shape), works, parts).total
    assert np.abs(one - other).max() < 0.02
    assert np.median(np.abs(one - other)) < 0.002


def test_bending_costs_its_mean_square() -> None:
    works = soft_patterns(30, seed=22)
    found = _align(works[:1], works[1:], np.repeat(WHOLE, 29, axis=0), fixed=True)
    assert (found.total + BENDING * found.bend**2 <= 1 + 1e-5).all()


def test_as_they_are_patterns_are_as_like_as_before_anything_gives_way() -> None:
    """Where nothing has to give way it is the likeness itself; elsewhere it can only be less."""
    works = soft_patterns(12, seed=23)
    parts = np.repeat(np.array([[0.1, 0.0, 0.9, 1.0]], dtype=np.float32), 12, axis=0)
    study = behind(works[3], (0.1, 0.0, 0.9, 1.0))[None]
    pairs = in_pairs(study, works)
    first = unbent(Patterns(_told(study)), Patterns(_told(works)), pairs, parts, _unstrained)
    found = _align(study, works, parts).total
    assert first.argmax() == found.argmax() == 3
    assert first[3] == pytest.approx(found[3], abs=0.01)
    assert (first <= found + 1e-5).all()


def test_unlike_works_are_not_bent_into_likeness() -> None:
    works = soft_patterns(60, seed=4)
    found = _align(works[:1], works[1:], np.repeat(WHOLE, 59, axis=0))
    assert np.median(found.total) < 0.5
    assert found.total.max() < 0.8
    assert (found.bend <= 0.06 + 1e-6).all()


def test_a_fixed_part_stays_where_it_is() -> None:
    work, study = soft_patterns(2, seed=5)
    parts = np.array([[0.1, 0.2, 0.8, 0.9]], dtype=np.float32)
    found = _align(study[None], work[None], parts, fixed=True)
    assert np.array_equal(found.part, parts)
    assert found.bend[0] > 0


def test_parts_stay_near_where_they_began_and_hardly_leave_the_work() -> None:
    works = soft_patterns(50, seed=6)
    start = np.random.default_rng(8).uniform(0, 0.3, (50, 4)).astype(np.float32)
    start[:, 2:] = 1 - start[:, 2:]
    part = _align(soft_patterns(1, seed=7), works, start).part
    # A little more only where a viewfinder would become too small.
    assert np.abs(part - start).max() <= 0.1 + 0.02
    assert part.min() >= -0.1
    assert part.max() <= 1.1
    assert (part[:, 2:] - part[:, :2]).min() > 0.2


def test_each_work_is_brought_into_register_on_its_own() -> None:
    works, study = soft_patterns(6, seed=9), soft_patterns(1, seed=10)
    together = _align(study, works, np.repeat(WHOLE, 6, axis=0))
    for row in range(6):
        alone = _align(study, works[[row]], WHOLE)
        assert alone.part[0] == pytest.approx(together.part[row], abs=2e-3)
        assert alone.total[0] == pytest.approx(together.total[row], abs=1e-3)


def test_one_study_for_all_works_is_the_same_as_that_study_for_each() -> None:
    works = soft_patterns(6, seed=13)
    study, parts = soft_patterns(1, seed=14), np.repeat(WHOLE, 6, axis=0)
    once, each = _align(study, works, parts), _align(np.repeat(study, 6, axis=0), works, parts)
    assert once.part == pytest.approx(each.part, abs=1e-4)
    assert once.total == pytest.approx(each.total, abs=1e-4)


def test_what_is_seen_is_the_work_behind_the_part() -> None:
    work = soft_patterns(1, seed=11)[0]
    part = (0.2, 0.1, 0.9, 0.95)
    found = _align(behind(work, part)[None], work[None], np.array([part], dtype=np.float32), fixed=True)
    assert found.seen(work[None], np.array([0]))[0] == pytest.approx(behind(work, part), abs=1.0)


@pytest.mark.parametrize("flat", ["study", "work"])
def test_flat_fields_are_borne(flat: str) -> None:
    pattern, even = soft_patterns(1, seed=12)[0], np.full((GRID, GRID), 50, dtype=np.float32)
    study, work = (even, pattern) if flat == "study" else (pattern, even)
    found = _align(study[None], work[None], WHOLE)
    assert np.isfinite(found.part).all()
    assert abs(found.total[0]) < 0.2
