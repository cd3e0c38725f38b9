"""Crops of a photo that are found by their pattern."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from archive.placing import Placer
from archive.proposals import clarity, crop, crops, pattern_of, propose
from archive.store import Archive
from ingest.picture import read_upright
from ingest.reading import read_tone
from ingest.signature import GRID


def scene() -> np.ndarray:
    """A litter of lights, middles and darks, (240, 360, 3), with one clear place in it: a light and a dark on a middle
    ground, in x 40 to 160 and y 60 to 150."""
    litter = np.array([15, 128, 245])[np.random.default_rng(1).integers(0, 3, (20, 30))]
    tone = np.kron(litter, np.ones((12, 12), dtype=np.int64)).astype(np.uint8)
    tone[60:150, 40:160] = 128
    tone[70:120, 100:150] = 245
    tone[110:150, 40:95] = 15
    return np.repeat(tone[..., None], 3, axis=2)


def overlap(first: tuple[float, ...], second: tuple[float, ...]) -> float:
    wide = max(0.0, min(first[2], second[2]) - max(first[0], second[0]))
    tall = max(0.0, min(first[3], second[3]) - max(first[1], second[1]))
    area = sum((part[2] - part[0]) * (part[3] - part[1]) for part in (first, second))
    return wide * tall / (area - wide * tall)


@pytest.mark.parametrize(("photo", "aspect"), [(1.5, 4 / 3), (1.5, 3 / 4), (0.75, 1.0), (1.0, 2.0)])
def test_crops_keep_the_format_and_stay_inside(photo: float, aspect: float) -> None:
    found = list(crops(photo, aspect))
    assert len(found) > 30
    for x0, y0, x1, y1 in found:
        assert 0 <= x0 < x1 <= 1 + 1e-9
        assert 0 <= y0 < y1 <= 1 + 1e-9
        assert (x1 - x0) * photo / (y1 - y0) == pytest.approx(aspect)
    first = found[0]
    assert max(first[2] - first[0], first[3] - first[1]) == pytest.approx(1.0), "the largest reaches from edge to edge"


def test_a_clear_pattern_is_clearer_than_noise_and_a_flat_one_is_not_clear_at_all() -> None:
    tones = np.full((40, 40), 56.0, dtype=np.float32)
    assert clarity(tones) == 0.0
    tones[:12], tones[30:] = 94.0, 20.0
    assert clarity(tones) == pytest.approx(1.0, abs=0.01), "three tones, each in one mass"
    scattered = np.random.default_rng(2).permutation(tones.ravel()).reshape(tones.shape)
    assert clarity(scattered) < 0.2
    close = 56 + (tones - 56) * 0.15
    assert clarity(close.astype(np.float32)) < 0.4, "eleven L* from dark to light are little"


def test_the_clear_place_is_proposed_first() -> None:
    found = propose(scene(), 4 / 3)
    assert 1 <= len(found) <= 3
    assert overlap(found[0].part, (40 / 360, 60 / 240, 160 / 360, 150 / 240)) > 0.4
    whole = read_tone(crop(scene(), (0.0, 0.0, 1.0, 1.0)))
    assert found[0].clarity > clarity(whole.squinted) + 0.2
    assert found[0].reason.startswith("Three values tell ")
    assert found[0].nearest is None


def test_proposals_differ_from_one_another() -> None:
    found = propose(scene(), 1.0, count=3)
    for number, one in enumerate(found):
        for other in found[number + 1 :]:
            assert overlap(one.part, other.part) < 0.5


def test_a_photo_of_one_tone_gives_no_proposal() -> None:
    assert propose(np.full((120, 160, 3), 90, dtype=np.uint8), 4 / 3) == ()
    with pytest.raises(ValueError, match="format"):
        propose(scene(), 0.0)


def test_a_crop_is_the_part_itself() -> None:
    picture = crop(scene(), (40 / 360, 60 / 240, 160 / 360, 150 / 240))
    assert picture.rgb.shape == (90, 120, 3)
    assert np.array_equal(picture.rgb, scene()[60:150, 40:160])


def test_a_work_hidden_in_a_photo_is_found_by_the_arrangement_it_belongs_to(small_archive: Path) -> None:
    archive = Archive.open(small_archive)
    placer = Placer.of(archive)
    work = archive.works(sort="-degree", size=1).works[0]
    slug = work["arrangement_slug"]
    rgb, _ = read_upright(small_archive / "pictures" / work["painting"], 400)
    height, width = rgb.shape[:2]
    photo = np.full((height * 2, width * 2, 3), 128, dtype=np.uint8)
    photo[height // 2 : height // 2 + height, width // 4 : width // 4 + width] = rgb
    pattern = pattern_of(archive, slug)
    assert pattern is not None
    assert pattern.shape == (GRID, GRID)
    first = propose(photo, width / height, placer=placer, like=(slug, pattern))[0]
    assert first.nearest is not None
    assert first.nearest.slug == slug
    assert first.nearest.degree > 0.6 * work["degree"]
    assert f"Comes near “{work['arrangement_name']}”" in first.reason
    assert pattern_of(archive, "no-such-arrangement") is None
