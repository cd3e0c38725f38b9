"""Matching: is the work found that a study was made of, where in it, and does everything asked for count?"""

from __future__ import annotations

import dataclasses
import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from paper_archive import PaperArchive
from PIL import Image, ImageDraw, ImageFont
from sample_gallery import Samples, signature_of, with_signature

from archive.errors import ArchiveError
from archive.match import Gallery, Matches
from archive.store import Archive
from ingest.reading import Reading, read

KINDS = ("near", "viewfinder", "mirrored viewfinder", "two-value near")


def _overlap(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    """Intersection over union of two rectangles."""
    wide = min(a[2], b[2]) - max(a[0], b[0])
    high = min(a[3], b[3]) - max(a[1], b[1])
    both = max(0.0, wide) * max(0.0, high)
    return both / ((a[2] - a[0]) * (a[3] - a[1]) + (b[2] - b[0]) * (b[3] - b[1]) - both)


def _read(image: Image.Image, folder: Path) -> Reading:
    image.save(folder / "study.png")
    return read(folder / "study.png")


def _page_of_text(size: int, margin: int = 90) -> Image.Image:
    """A page (900 x 1200) printed full with letters of `size` px."""
    page = Image.new("L", (900, 1200), 245)
    pen, font = ImageDraw.Draw(page), ImageFont.load_default(size)
    words = "the light falls from the left upon a table and a jug and all behind it is dark".split()  # noqa: SIM905
    chance = np.random.default_rng(size)
    for y in range(margin, 1200 - margin - size, round(1.4 * size)):
        line = ""
        while pen.textlength(f"{line} {(word := chance.choice(words))}", font=font) < 900 - 2 * margin:
            line = f"{line} {word}"
        pen.text((margin, y), line.strip(), font=font, fill=20)
    return page


@pytest.mark.parametrize("kind", KINDS)
def test_the_work_is_found_again_by_a_study_of_it(samples: Samples, kind: str) -> None:
    found = 0
    for row, study in samples.studies(kind):
        named = samples.gallery.match(study, count=5)
        assert len(named.matches) == 5
        found += samples.works[row] in [match.work for match in named.matches]
    assert found >= 18


@pytest.mark.parametrize("kind", ["near", "two-value near"])
def test_among_whole_works_it_is_found_as_well(samples: Samples, kind: str) -> None:
    found = 0
    for row, study in samples.studies(kind):
        named = samples.gallery.match(study, count=5, whole=True, mirrored=False).matches
        found += samples.works[row] in [match.work for match in named]
        assert all(match.part == (0, 0, 1, 1) and not match.mirrored for match in named)
    assert found >= 18


def test_the_part_is_where_the_study_was_taken(samples: Samples) -> None:
    overlaps, blind = [], []
    for row, study in samples.studies("viewfinder"):
        best = samples.gallery.match(study, count=1).matches[0]
        if best.work == samples.works[row]:
            overlaps.append(_overlap(best.part, samples.part(row, "viewfinder")))
            blind.append(_overlap((0, 0, 1, 1), samples.part(row, "viewfinder")))
    assert len(overlaps) >= 15
    assert np.median(overlaps) >= 0.6
    assert np.median(overlaps) > np.median(blind) + 0.05


def test_a_mirrored_study_is_said_to_be_mirrored(samples: Samples) -> None:
    right = 0
    for row, study in samples.studies("mirrored viewfinder"):
        best = samples.gallery.match(study, count=1).matches[0]
        right += best.work == samples.works[row] and best.mirrored and ", mirrored" in best.sentence
    assert right >= 15


def test_a_study_that_is_not_mirrored_is_not_said_to_be(samples: Samples) -> None:
    best = [samples.gallery.match(study, count=1).matches[0] for _, study in samples.studies("near")]
    assert sum(match.mirrored for match in best) <= 2


def test_no_work_is_turned_over_when_that_is_not_allowed(samples: Samples) -> None:
    for row, study in samples.studies("mirrored viewfinder")[:6]:
        allowed = samples.gallery.match(study, count=3)
        kept = samples.gallery.match(study, count=3, mirrored=False)
        assert not any(match.mirrored for match in kept.matches)
        assert "mirrored" not in " ".join(match.sentence for match in kept.matches)
        assert kept.matches[0].similarity <= allowed.matches[0].similarity
        assert allowed.matches[0].work == samples.works[row]


def test_every_work_is_its_own_best_match(samples: Samples) -> None:
    for row in samples.some(40):
        itself = samples.itself(row)
        best = samples.gallery.match(itself, count=2).matches
        assert best[0].work == samples.works[row]
        assert best[0].similarity >= 0.99
        assert best[0].part == pytest.approx((0, 0, 1, 1), abs=0.02)
        assert not best[0].mirrored
        assert best[1].similarity < best[0].similarity


def test_whole_works_are_as_alike_one_way_as_the_other(samples: Samples) -> None:
    rows = samples.some(25)
    works = [samples.works[row] for row in rows]
    found = {
        (samples.works[row], match.work): match.similarity
        for row in rows
        for match in samples.gallery.match(samples.itself(row), count=25, whole=True, among=works).matches
    }
    apart = [abs(found[one, other] - found[other, one]) for one in works for other in works]
    assert len(found) == 25 * 25
    assert max(apart) <= 0.05


def test_others_like_a_work_leave_out_the_work_itself(samples: Samples) -> None:
    for row in samples.some(5):
        named = samples.gallery.like(samples.works[row], count=7)
        assert len(named.matches) == 7
        assert samples.works[row] not in [match.work for match in named.matches]
        assert "your" not in " ".join(match.sentence for match in named.matches)


def test_an_unknown_work_has_nothing_like_it(samples: Samples) -> None:
    with pytest.raises(KeyError):
        samples.gallery.like("no-such-work")


def test_matches_come_best_first_and_only_once(samples: Samples) -> None:
    for _, study in samples.studies("near")[:5]:
        named = samples.gallery.match(study, count=30).matches
        assert len({match.work for match in named}) == 30
        assert [match.similarity for match in named] == sorted((match.similarity for match in named), reverse=True)
        assert all(0 <= match.similarity <= 1 for match in named)


def test_count_says_how_many_are_named(samples: Samples) -> None:
    _, study = samples.studies("near")[0]
    many = samples.gallery.match(study, count=1000).matches
    assert len(many) == len(samples.works)
    few = samples.gallery.match(study, count=3).matches
    assert [match.work for match in few] == [match.work for match in many[:3]]


def test_parts_lie_within_the_work(samples: Samples) -> None:
    for _, study in samples.studies("viewfinder")[:8]:
        for match in samples.gallery.match(study, count=20).matches:
            x0, y0, x1, y1 = match.part
            assert 0 <= x0 < x1 <= 1
            assert 0 <= y0 < y1 <= 1
            assert x1 - x0 > 0.2
            assert y1 - y0 > 0.2


def test_only_the_works_asked_for_are_named(samples: Samples) -> None:
    row, study = samples.studies("near")[3]
    others = [work for work in samples.works[::5] if work != samples.works[row]]
    named = samples.gallery.match(study, count=300, among=others).matches
    assert {match.work for match in named} == set(others)
    assert samples.gallery.match(study, count=5, among=[samples.works[row]]).matches[0].work == samples.works[row]
    for nobody in (["no-such-work"], []):
        named = samples.gallery.match(study, among=nobody)
        assert named == Matches((), "None of the works asked for is in the archive.")


def test_which_works_are_asked_for_changes_no_similarity(samples: Samples) -> None:
    _, study = samples.studies("near")[4]
    free = {match.work: match for match in samples.gallery.match(study, count=20).matches}
    chosen = samples.gallery.match(study, count=5, among=list(free)[5:10]).matches
    for match in chosen:
        other = free[match.work]
        # In other company the same products may be summed in another order; what is named is rounded to 0.0001.
        assert match.similarity == pytest.approx(other.similarity, abs=2e-4)
        assert match.part == pytest.approx(other.part, abs=1e-3)
        plain = {"masses": (), "similarity": 0.0, "part": (0.0, 0.0, 1.0, 1.0)}
        assert dataclasses.replace(match, **plain) == dataclasses.replace(other, **plain)
        for mass, again in zip(match.masses, other.masses, strict=True):
            assert mass.words == again.words
            for ring, same in zip(mass.points, again.points, strict=True):
                assert np.array(ring) == pytest.approx(np.array(same), abs=1e-3)


def test_register_counts_only_when_it_is_to_be_heeded() -> None:
    """One painting hangs thrice: as it is, and much paler, and much darker."""
    tones = np.random.default_rng(3).uniform(30, 70, (4, 4)).repeat(32, axis=0).repeat(32, axis=1)
    works = {"as-it-is": tones, "pale": 70 + (tones - 50) / 2, "deep": 30 + (tones - 50) / 2}
    gallery = Gallery(PaperArchive(list(works), np.stack([signature_of(each) for each in works.values()])))
    study = with_signature(signature_of(tones))
    free = {match.work: match.similarity for match in gallery.match(study).matches}
    assert free["pale"] > 0.95
    assert free["deep"] > 0.95
    heeded = gallery.match(study, heed_register=True).matches
    assert heeded[0].work == "as-it-is"
    assert heeded[0].similarity >= 0.99
    assert {match.work: match.similarity for match in heeded}["pale"] < free["pale"] - 0.2
    assert {match.work: match.similarity for match in heeded}["deep"] < free["deep"] - 0.2


@pytest.mark.parametrize("grey", [30, 128, 200, 255, 0])
def test_an_even_page_names_no_master(samples: Samples, grey: int, tmp_path: Path) -> None:
    named = samples.gallery.match(_read(Image.new("L", (320, 240), grey), tmp_path))
    assert named.matches == ()
    assert named.note.endswith(".")


def test_a_page_with_the_noise_of_a_camera_names_no_master(samples: Samples, tmp_path: Path) -> None:
    noise = np.random.default_rng(1).normal(205, 6, (360, 480)).clip(0, 255).astype(np.uint8)
    assert samples.gallery.match(_read(Image.fromarray(noise), tmp_path)).matches == ()


@pytest.mark.parametrize(("printed", "lost"), [(False, 0.1), (False, 0.3), (True, 0.1), (True, 0.2), (True, 1 / 3)])
def test_uneven_light_on_a_page_names_no_master(samples: Samples, printed: bool, lost: float, tmp_path: Path) -> None:
    """A photograph of a blank or printed page that loses up to a third of its light from one side to the other."""
    page = _page_of_text(18) if printed else Image.new("L", (900, 1200), 240)
    across, down = np.linspace(1, 1 - lost, 900)[None], np.linspace(1, 1 - lost / 4, 1200)[:, None]
    taken = np.asarray(page) * across * down + np.random.default_rng(1).normal(0, 3, (1200, 900))
    named = samples.gallery.match(_read(Image.fromarray(taken.clip(0, 255).astype(np.uint8)), tmp_path))
    assert named.matches == ()
    assert named.note.endswith(".")


@pytest.mark.parametrize("size", [16, 24, 44])
@pytest.mark.parametrize("margin", [4, 90])
def test_a_page_of_text_names_no_master(samples: Samples, size: int, margin: int, tmp_path: Path) -> None:
    named = samples.gallery.match(_read(_page_of_text(size, margin), tmp_path))
    assert named.matches == ()
    assert named.note.endswith(".")


def test_an_empty_archive_says_so(samples: Samples, tmp_path: Path) -> None:
    Archive.create(tmp_path / "bare").close()
    named = Gallery.open(tmp_path / "bare").match(samples.itself(3))
    assert named == Matches((), "The archive holds no works to match with.")


def test_no_archive_no_gallery(tmp_path: Path) -> None:
    with pytest.raises(ArchiveError, match=re.escape(str(tmp_path))):
        Gallery.open(tmp_path)


def test_signatures_that_belong_to_other_works_are_refused(samples: Samples) -> None:
    with pytest.raises(ArchiveError, match="do not belong"):
        Gallery(PaperArchive(samples.works[:-1], samples.signatures))


def test_an_archive_on_disk_is_matched_with_by_its_records(small_archive: Path, small_records: Path) -> None:
    picture = small_records.parent / "pictures" / "slant-04.png"
    best = Gallery.open(small_archive).match(read(picture), count=1).matches[0]
    assert best.similarity >= 0.99
    assert (best.work, best.accession_number, best.artist) == ("made-04", "M.4", "Painter B")
    assert best.title == "“Slant” no. 4"


def test_answers_are_the_same_from_several_threads(samples: Samples) -> None:
    asked = [study for _, study in samples.studies("viewfinder")[:6]]
    alone = [samples.gallery.match(study) for study in asked]
    with ThreadPoolExecutor(4) as threads:
        together = list(threads.map(samples.gallery.match, asked * 3))
    assert together == alone * 3


def test_captions_of_an_archive_on_disk_are_read_from_several_threads(small_archive: Path) -> None:
    gallery = Gallery.open(small_archive)
    works = [f"made-{number:02}" for number in range(16)]
    alone = [gallery.like(work) for work in works]
    with ThreadPoolExecutor(4) as threads:
        assert list(threads.map(gallery.like, works)) == alone
