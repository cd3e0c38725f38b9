"""A study laid beside a work of an archive, as the page and the command do it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from painting import paint

from archive.beside import Beside, lay_beside
from archive.command import main
from archive.errors import ArchiveError
from archive.match import Gallery
from archive.store import Archive
from ingest.reading import read


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("beside") / "study.png"
    paint("light-mass", 7).save(file)
    return file


@pytest.fixture(scope="module")
def laid(small_archive: Path, study: Path) -> Beside:
    archive = Archive.open(small_archive)
    gallery = Gallery(archive)
    reading = read(study)
    best = gallery.match(reading, count=1).matches[0]
    return lay_beside(archive, gallery, reading, best.work)


def test_the_part_that_matching_finds_is_the_part_that_is_compared(small_archive: Path, study: Path) -> None:
    archive = Archive.open(small_archive)
    gallery = Gallery(archive)
    reading = read(study)
    for match in gallery.match(reading, count=4).matches:
        found = lay_beside(archive, gallery, reading, match.work)
        x0, y0, x1, y1 = match.part
        assert found.part == (None if (x1 - x0) * (y1 - y0) > 0.92 else match.part)
        assert found.turned == match.mirrored
        told = lay_beside(archive, gallery, reading, match.work, part=(0.0, 0.0, 0.6, 0.6), told=True)
        assert told.part == (0.0, 0.0, 0.6, 0.6)
        assert told.turned is False


def test_works_that_are_named_are_there(laid: Beside) -> None:
    named = {name for said in (laid.advice.values, *laid.advice.next) for name in said.works}
    assert set(laid.examples) == named


def test_an_unknown_work_is_said(small_archive: Path, study: Path) -> None:
    archive = Archive.open(small_archive)
    with pytest.raises(ArchiveError, match="no work “nobody”"):
        lay_beside(archive, Gallery(archive), read(study), "nobody")


def test_the_command_says_the_same_as_the_function(small_archive: Path, study: Path, laid: Beside) -> None:
    asked = ["compare", str(study), "--archive", str(small_archive)]
    facts = json.loads(CliRunner().invoke(main, [*asked, "--json"]).output)
    assert {name: fact for name, fact in facts.items() if name != "study"} == json.loads(json.dumps(laid.facts()))
    words = CliRunner().invoke(main, [*asked, "--work", laid.work["work"]]).output
    assert laid.advice.values.seen in words
    for said in laid.advice.next:
        assert said.ask in words


def test_a_study_that_cannot_be_read_is_said(small_archive: Path, tmp_path: Path) -> None:
    letter = tmp_path / "letter.jpg"
    letter.write_text("Dear reader", encoding="utf-8")
    answer = CliRunner().invoke(main, ["compare", str(letter), "--archive", str(small_archive)])
    assert answer.exit_code == 1
    assert "not a picture" in answer.output
