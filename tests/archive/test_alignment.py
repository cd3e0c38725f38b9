"""A viewfinder slid over a work: is the part found, and does it stay within bounds?"""

from __future__ import annotations

import numpy as np
import pytest
from made_patterns import Fields, behind, in_pairs, soft_patterns

from archive.alignment import samples, slide
from ingest.signature import GRID

WHOLE = np.array([[0, 0, 1, 1]], dtype=np.float32)


def _slide(studies: Fields, works: Fields, parts: Fields) -> Fields:
    return slide(studies, works, in_pairs(studies, works), parts)


@pytest.mark.parametrize("part", [(0.05, 0.03, 0.95, 0.98), (0.08, 0.0, 1.0, 0.93), (0.0, 0.06, 0.92, 1.0)])
def test_the_viewfinder_slides_to_where_the_study_was_taken(part: tuple[float, float, float, float]) -> None:
    works = soft_patterns(20, seed=2)
    for work in works:
        parts = _slide(behind(work, part)[None], work[None], WHOLE)
        assert parts[0] == pytest.approx(part, abs=0.02)


def test_parts_stay_near_where_they_began_and_hardly_leave_the_work() -> None:
    works = soft_patterns(50, seed=6)
    start = np.random.default_rng(8).uniform(0, 0.3, (50, 4)).astype(np.float32)
    start[:, 2:] = 1 - start[:, 2:]
    part = _slide(soft_patterns(1, seed=7), works, start)
    assert np.abs(part - start).max() <= 0.1 + 1e-5
    assert part.min() >= -0.1
    assert part.max() <= 1.1
    assert (part[:, 2:] - part[:, :2]).min() > 0.2


def test_one_study_for_all_works_is_the_same_as_that_study_for_each() -> None:
    works = soft_patterns(6, seed=13)
    study, parts = soft_patterns(1, seed=14), np.repeat(WHOLE, 6, axis=0)
    slid, held = _slide(study, works, parts), _slide(np.repeat(study, 6, axis=0), works, parts)
    assert slid == pytest.approx(held, abs=1e-5)


def test_a_look_up_reads_between_cells_and_goes_on_beyond_the_frame() -> None:
    ramp = np.arange(GRID, dtype=np.float32)[None, None, :].repeat(GRID, axis=1)
    x = np.array([[10.5 / GRID, 11 / GRID, -0.2]], dtype=np.float32)
    pictures, first = np.concatenate([ramp, ramp + 5]), np.array([0])
    for of, more in ((first, 0), (first + 1, 5)):
        (seen,) = samples((pictures,), of, x, np.full_like(x, 0.5))
        assert seen[0] == pytest.approx([10.0 + more, 10.5 + more, more], abs=1e-3)


def test_pairs_say_which_study_slides_over_which_work() -> None:
    studies, works = soft_patterns(2, seed=15), soft_patterns(3, seed=16)
    pairs = np.array([[1, 2], [0, 2], [1, 0]])
    parts = np.repeat(WHOLE, 3, axis=0)
    found = slide(studies, works, pairs, parts)
    for at, (study, work) in enumerate(pairs):
        assert found[at] == pytest.approx(_slide(studies[[study]], works[[work]], WHOLE)[0], abs=1e-5)


@pytest.mark.parametrize("flat", ["study", "work"])
def test_flat_fields_are_borne(flat: str) -> None:
    pattern, even = soft_patterns(1, seed=12)[0], np.full((GRID, GRID), 50, dtype=np.float32)
    study, work = (even, pattern) if flat == "study" else (pattern, even)
    part = _slide(study[None], work[None], WHOLE)
    assert np.isfinite(part).all()
    assert np.abs(part - WHOLE).max() <= 0.1 + 1e-5
