"""The fast look: is it the correlation it claims to be, and does it find the work and the part?"""

from __future__ import annotations

import numpy as np
import pytest
from made_patterns import as_signatures, behind, soft_patterns
from scipy.stats import rankdata

from archive import viewfinders
from archive.viewfinders import COARSE, VIEWFINDERS, Wall
from ingest.signature import GRID, fields


def _coarse(pattern: np.ndarray) -> np.ndarray:
    step = GRID // COARSE
    return pattern.reshape(COARSE, step, COARSE, step).mean(axis=(1, 3))


def _told(pattern: np.ndarray) -> np.ndarray:
    """Half the tones, half their mid-ranks (Spearman 1904, by SciPy) spread as widely."""
    ranks = rankdata(pattern).reshape(pattern.shape)
    return (pattern - pattern.mean()) / pattern.std() + (ranks - ranks.mean()) / ranks.std()


def _overlap(a: np.ndarray, b: tuple[float, ...]) -> float:
    both = max(0.0, min(a[2], b[2]) - max(a[0], b[0])) * max(0.0, min(a[3], b[3]) - max(a[1], b[1]))
    return both / ((a[2] - a[0]) * (a[3] - a[1]) + (b[2] - b[0]) * (b[3] - b[1]) - both)


def test_viewfinders_lie_within_the_work_and_the_first_is_all_of_it() -> None:
    rectangles = VIEWFINDERS.rectangles
    assert rectangles[0].tolist() == [0, 0, 1, 1]
    assert len(np.unique(rectangles.round(4), axis=0)) == len(rectangles)
    assert rectangles.min() >= 0
    assert rectangles.max() <= 1 + 1e-6
    sides = np.stack([rectangles[:, 2] - rectangles[:, 0], rectangles[:, 3] - rectangles[:, 1]])
    assert sides.min() == pytest.approx(0.62, abs=1e-6)


def test_any_crop_of_up_to_a_quarter_off_each_side_has_a_viewfinder_near_it() -> None:
    for left, top, right, bottom in np.random.default_rng(2).uniform(0, 0.25, (300, 4)):
        wanted = (left, top, 1 - right, 1 - bottom)
        assert max(_overlap(each, wanted) for each in VIEWFINDERS.rectangles) > 0.6


def test_agreement_over_the_whole_is_the_correlation_of_tones_and_their_order() -> None:
    works = soft_patterns(40, seed=1)
    study = soft_patterns(1, seed=2)[0]
    signatures = as_signatures(works)
    looks = Wall(signatures).look(study, 1.0, works=40, whole=True, mirrored=False)
    kept = fields(signatures)
    for row, agreement, part in zip(looks.rows, looks.agreement[:, 0], looks.parts[:, 0], strict=True):
        expected = np.corrcoef(_coarse(_told(study)).ravel(), _told(_coarse(kept[row])).ravel())[0, 1]
        assert agreement == pytest.approx(expected, abs=5e-3)
        assert part.tolist() == [0, 0, 1, 1]


def test_agreement_behind_a_viewfinder_is_the_correlation_of_what_lies_there() -> None:
    """Weighted correlation, cell by cell, written out: cells count by how much of them the viewfinder covers."""
    work, study = soft_patterns(2, seed=3)
    templates = VIEWFINDERS.templates(study)
    spread = VIEWFINDERS.spread_behind(_coarse(work)[None])[0]
    edges = np.arange(COARSE + 1) / COARSE
    for number in range(0, len(VIEWFINDERS), 7):
        x0, y0, x1, y1 = VIEWFINDERS.rectangles[number]
        inside = [
            np.clip(np.minimum(edges[1:], end) - np.maximum(edges[:-1], start), 0, None)
            for start, end in ((y0, y1), (x0, x1))
        ]
        weight = np.outer(*inside)
        weight /= weight.sum()
        laid = np.zeros((COARSE, COARSE))
        for row, column in np.argwhere(weight > 0):
            u = (np.clip(edges[[column, column + 1]], x0, x1) - x0) / (x1 - x0) * 200
            v = (np.clip(edges[[row, row + 1]], y0, y1) - y0) / (y1 - y0) * 200
            fine = np.repeat(np.repeat(study, 25, axis=0), 25, axis=1)[::4, ::4]
            laid[row, column] = fine[round(v[0]) : round(v[1]), round(u[0]) : round(u[1])].mean()
        centred = laid - (weight * laid).sum(), _coarse(work) - (weight * _coarse(work)).sum()
        expected = (weight * centred[0] * centred[1]).sum() / np.sqrt(
            np.prod([(weight * each**2).sum() for each in centred])
        )
        assert templates[number] @ _coarse(work).ravel() / spread[number] == pytest.approx(expected, abs=0.02)


def test_a_work_is_found_by_any_part_of_it_and_the_part_is_known() -> None:
    works = soft_patterns(300, seed=5)
    wall = Wall(as_signatures(works))
    chance = np.random.default_rng(6)
    overlaps = []
    for row in range(0, 300, 10):
        left, top, right, bottom = chance.uniform(0, 0.22, 4)
        part = (left, top, 1 - right, 1 - bottom)
        aspect = (part[2] - part[0]) / (part[3] - part[1])
        looks = wall.look(behind(works[row], part), aspect, works=1)
        assert looks.rows[0] == row
        assert not looks.mirrored[0, 0]
        overlaps.append(_overlap(looks.parts[0, 0], part))
    assert np.median(overlaps) > 0.75


def test_a_study_turned_over_is_found_and_said_to_be() -> None:
    works = soft_patterns(100, seed=7)
    wall = Wall(as_signatures(works))
    for row in range(0, 100, 9):
        turned = works[row][:, ::-1]
        looks = wall.look(turned, 1.0, works=100)
        assert looks.rows[0] == row
        assert looks.mirrored[0, 0]
        assert not wall.look(turned, 1.0, works=100, mirrored=False).mirrored.any()


def test_how_light_or_dark_either_is_does_not_matter() -> None:
    works = soft_patterns(60, seed=8)
    study = soft_patterns(1, seed=9)[0]
    wall = Wall(as_signatures(works))
    plain, pale = wall.look(study, 1.0, works=60), wall.look(0.3 * study + 65, 1.0, works=60)
    seen = [dict(zip(looks.rows.tolist(), looks.agreement[:, 0], strict=True)) for looks in (plain, pale)]
    assert plain.rows[0] == pale.rows[0]
    assert all(seen[1][row] == pytest.approx(agreement, abs=5e-3) for row, agreement in seen[0].items())


def test_noise_in_a_flat_work_is_not_stretched_into_a_pattern() -> None:
    study = soft_patterns(1, seed=10)[0]
    faint = 50 + (study - study.mean()) / 40
    looks = Wall(as_signatures(faint[None])).look(study, 1.0, works=1)
    assert looks.agreement[0, 0] < 0.5


def test_another_format_costs_a_little_and_a_wild_one_more() -> None:
    work = soft_patterns(1, seed=11)
    wall = Wall(as_signatures(work, aspect=1.0))
    same, near, wild = (wall.look(work[0], aspect, works=1, whole=True).agreement[0, 0] for aspect in (1.0, 1.1, 4.0))
    assert same == pytest.approx(near, abs=1e-6)
    assert wild < same - 0.15


def test_what_is_taken_off_beforehand_counts() -> None:
    works = soft_patterns(50, seed=12)
    wall = Wall(as_signatures(works))
    taken = np.zeros(50, dtype=np.float32)
    taken[7] = 0.25
    taken[20:] = np.inf
    free, held = wall.look(works[7], 1.0, works=50), wall.look(works[7], 1.0, works=50, taken=taken)
    assert free.rows[0] == held.rows[0] == 7
    assert held.agreement[0, 0] == pytest.approx(free.agreement[0, 0] - 0.25, abs=1e-5)
    assert sorted(set(held.rows)) == list(range(20))


def test_the_most_promising_come_first() -> None:
    wall = Wall(as_signatures(soft_patterns(80, seed=13)))
    looks = wall.look(soft_patterns(1, seed=14)[0], 1.0, works=25)
    assert len(looks.rows) == 25
    assert (np.diff(looks.agreement[:, 0]) <= 0).all()


def test_several_looks_at_a_work_are_its_best_and_one_at_the_whole() -> None:
    wall = Wall(as_signatures(soft_patterns(30, seed=18)))
    study = soft_patterns(1, seed=19)[0]
    best, all_of_them = wall.look(study, 1.0, works=30), wall.look(study, 1.0, works=30, each=10_000)
    some = wall.look(study, 1.0, works=30, each=6)
    assert all_of_them.agreement.shape == (30, 2 * len(VIEWFINDERS))
    assert some.rows.tolist() == best.rows.tolist() == all_of_them.rows.tolist()
    whole = (some.parts == [0, 0, 1, 1]).all(axis=2)
    every_whole = (all_of_them.parts == [0, 0, 1, 1]).all(axis=2)
    assert (np.diff(some.agreement, axis=1) <= 0).all()
    for row in range(30):
        kept, others = some.agreement[row], all_of_them.agreement[row]
        assert kept[0] == best.agreement[row, 0] == others.max()
        assert kept[whole[row]].max() == others[every_whole[row]].max()
        # But for the one that gave way to the whole, they are those that agree best.
        assert np.isin(others[:5], kept).all()


def test_register_and_scale_of_each_work_are_known() -> None:
    works = soft_patterns(5, seed=15)
    wall = Wall(as_signatures(works))
    assert wall.mean == pytest.approx(works.mean(axis=(1, 2)), abs=0.3)
    coarse = np.array([_coarse(each).std() for each in works])
    assert wall.spread == pytest.approx(coarse, abs=0.3)


def test_a_glance_at_a_large_archive_misses_nothing_that_the_full_look_puts_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    works = soft_patterns(5000, seed=16)
    signatures = as_signatures(works)
    glancing = Wall(signatures)
    with monkeypatch.context() as patch:
        patch.setattr(viewfinders, "_GLANCED", len(works))
        thorough = Wall(signatures)
    chance = np.random.default_rng(17)
    shared = []
    for row in range(0, 5000, 600):
        left, top, right, bottom = chance.uniform(0, 0.22, 4)
        study = behind(works[row], (left, top, 1 - right, 1 - bottom)) + chance.normal(0, 3, (GRID, GRID))
        quick = glancing.look(study.astype(np.float32), 1.0, works=200).rows
        slow = thorough.look(study.astype(np.float32), 1.0, works=200).rows
        assert quick[0] == slow[0] == row
        shared.append(len(set(quick) & set(slow)) / 200)
    assert np.mean(shared) > 0.9
