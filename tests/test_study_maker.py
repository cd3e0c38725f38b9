"""The maker of test studies: does it make what it says, and the same each time?"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage
from study_maker import (
    DARK,
    LONG_SIDE,
    MIDDLE,
    PAPER,
    PRESETS,
    draw_shapes,
    lay_tone,
    make_study,
    part_of,
    study_of,
)

STRAIGHT = {
    "warp": 0.0,
    "shift": (0.0, 0.0),
    "scale": (1.0, 1.0),
    "crop": (0.0, 0.0, 0.0, 0.0),
    "mirrored": False,
}


def _painting(height: int = 300, width: int = 480) -> NDArray[np.float32]:
    """Return a dark ground with a light disc at the left and a middle band below."""
    rows, columns = np.mgrid[:height, :width]
    field = np.full((height, width), 20, dtype=np.float32)
    field[rows > 0.7 * height] = 55
    field[np.hypot(rows - 0.4 * height, columns - 0.25 * width) < 0.2 * height] = 90
    return field


def _light(study: NDArray[np.uint8]) -> NDArray[np.float64]:
    encoded = study / 255
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


@pytest.mark.parametrize("preset", PRESETS)
def test_a_seed_gives_the_same_study_and_another_seed_another(preset: str) -> None:
    first, again, other = (study_of(_painting(), preset, seed) for seed in (1, 1, 2))
    assert first.dtype == np.uint8
    assert max(first.shape) == LONG_SIDE
    assert np.array_equal(first, again)
    assert first.shape != other.shape or not np.array_equal(first, other)


def test_presets_differ_from_each_other() -> None:
    studies = [study_of(_painting(), preset, 1) for preset in PRESETS]
    assert len({study.tobytes() for study in studies}) == len(PRESETS)


@pytest.mark.parametrize("values", [2, 3])
def test_number_of_values(values: int) -> None:
    labels = draw_shapes(_painting(), np.random.default_rng(3), values=values, **STRAIGHT)
    assert np.unique(labels).tolist() == list(range(values))


@pytest.mark.parametrize("medium", ["charcoal", "wash"])
def test_tones_are_about_the_three_planned(medium: str) -> None:
    rng = np.random.default_rng(5)
    labels = draw_shapes(_painting(), rng, values=3, **STRAIGHT)
    tone = lay_tone(labels, rng, values=3, medium=medium)
    for value, planned in enumerate((DARK, MIDDLE, PAPER)):
        inside = ndimage.binary_erosion(labels == value, iterations=4)
        assert abs(np.median(tone[inside]) - planned) < 9
        assert tone[inside].std() > 0.5


def test_the_light_disc_is_where_the_painting_has_it() -> None:
    labels = draw_shapes(_painting(), np.random.default_rng(7), values=3, **STRAIGHT)
    y, x = ndimage.center_of_mass(labels == 2)
    assert x / labels.shape[1] == pytest.approx(0.25, abs=0.01)
    assert y / labels.shape[0] == pytest.approx(0.4, abs=0.01)


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"mirrored": True}, (0.75, 0.4)),
        ({"shift": (0.05, -0.04)}, (0.30, 0.36)),
        ({"scale": (1.2, 1.2)}, (0.5 - 0.25 * 1.2, 0.5 - 0.1 * 1.2)),
        ({"crop": (0.0, 0.0, 0.2, 0.0)}, (0.25 / 0.8, 0.4)),
        ({"crop": (0.05, 0.1, 0.0, 0.2)}, (0.20 / 0.95, 0.3 / 0.7)),
    ],
)
def test_geometry(change: dict[str, object], place: tuple[float, float]) -> None:
    labels = draw_shapes(_painting(), np.random.default_rng(7), values=3, **{**STRAIGHT, **change})
    y, x = ndimage.center_of_mass(labels == 2)
    assert (x / labels.shape[1], y / labels.shape[0]) == pytest.approx(place, abs=0.015)


def test_crop_changes_the_proportions_of_the_sheet() -> None:
    study = make_study(_painting(), np.random.default_rng(1), crop=(0.25, 0.0, 0.25, 0.0))
    height, width = study.shape
    assert width / height == pytest.approx(240 / 300, abs=0.01)


def test_warp_moves_shapes_by_no_more_than_it_says() -> None:
    straight = draw_shapes(_painting(), np.random.default_rng(9), values=3, **STRAIGHT)
    strayed = draw_shapes(_painting(), np.random.default_rng(9), values=3, **{**STRAIGHT, "warp": 0.04})
    assert not np.array_equal(straight, strayed)
    limit = 0.04 * np.hypot(*straight.shape) + 6
    away = ndimage.distance_transform_edt(straight != 2)
    assert away[strayed == 2].max() <= limit


def test_small_shapes_are_left_out() -> None:
    field = np.full((300, 480), 80, dtype=np.float32)
    field[:, 240:] = 20
    field[100:112, 100:112] = 20
    labels = draw_shapes(field, np.random.default_rng(1), values=2, **STRAIGHT)
    assert (labels[:, :140] == 1).all()


def test_uneven_light_darkens_one_side() -> None:
    bare = np.full((200, 300), 90, dtype=np.float32)
    even, uneven = (
        _light(make_study(bare, np.random.default_rng(4), values=2, medium="wash", uneven_light=share))
        for share in (0.0, 0.5)
    )
    lost = 1 - (uneven / even)[5:-5, 5:-5]
    assert lost.min() < 0.12
    assert lost.max() > 0.38


@pytest.mark.parametrize("values", [2, 3])
def test_a_flat_painting_gives_one_flat_shape(values: int) -> None:
    labels = draw_shapes(np.full((200, 300), 50.0), np.random.default_rng(2), values=values, **STRAIGHT)
    assert labels.shape == (213, 320)
    assert len(np.unique(labels)) == 1


def test_a_line_of_page_left_at_the_edge_does_not_become_a_band() -> None:
    field = _painting()
    field[:, -3:] = 100
    labels = draw_shapes(field, np.random.default_rng(7), values=3, **{**STRAIGHT, "shift": (-0.06, 0.0)})
    assert (labels[:80, -30:] == 0).all()


@pytest.mark.parametrize("mirrored", [False, True])
def test_paper_round_an_oval_stays_bare_and_the_oval_in_its_place(mirrored: bool) -> None:
    rows, columns = np.mgrid[:300, :480]
    frame = np.hypot((rows - 149.5) / 150, (columns - 239.5) / 240) < 1
    field = np.where(frame, 20.0, 100.0)
    field[np.hypot(rows - 149.5, columns - 239.5) < 50] = 90
    rng = np.random.default_rng(7)
    study = make_study(field, rng, shift=(0.06, 0.06), mirrored=mirrored, values=2, frame=frame)
    inside = np.hypot((np.mgrid[:200, :320][0] - 99.5) / 100, (np.mgrid[:200, :320][1] - 159.5) / 160)
    assert (study[inside > 1.08] > 180).all()
    assert (study[(inside > 0.7) & (inside < 0.92)] < 120).all()


def test_what_part_of_the_painting_a_study_shows() -> None:
    for seed in range(20):
        whole, part, turned = (part_of(kind, seed) for kind in ("near", "viewfinder", "mirrored viewfinder"))
        for x0, y0, x1, y1 in (whole, part, turned):
            assert 0 <= x0 < x1 <= 1
            assert 0 <= y0 < y1 <= 1
        assert (whole[2] - whole[0]) * (whole[3] - whole[1]) > 0.75
        assert max(part[0], part[1], 1 - part[2], 1 - part[3]) < 0.22 + 0.09


@pytest.mark.parametrize("kind", PRESETS)
def test_the_part_is_where_the_study_has_it(kind: str) -> None:
    """A dot drawn large is found in the study where the part says."""
    for seed in range(6):
        rows, columns = np.mgrid[:300, :480]
        field = np.full((300, 480), 85.0)
        field[np.hypot(rows - 140, columns - 260) < 50] = 15
        study = study_of(field, kind, seed)
        x0, y0, x1, y1 = part_of(kind, seed)
        y, x = ndimage.center_of_mass(ndimage.gaussian_filter(study.astype(float), 4) < 128)
        u, v = x / study.shape[1], y / study.shape[0]
        u = 1 - u if kind.startswith("mirrored") else u
        # What the hand carried on past the edge is no part of the painting, so up to 9 % of the sheet may lie outside.
        assert x0 + u * (x1 - x0) == pytest.approx(260 / 480, abs=0.09)
        assert y0 + v * (y1 - y0) == pytest.approx(140 / 300, abs=0.09)
