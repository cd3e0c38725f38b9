"""Lessons on one thing to see: do their works show it, and the last its opposite?"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from archive.board import BoardsError, checked
from archive.command import main
from archive.pages.shown import theme_words
from archive.store import Archive
from archive.themes import THEMES, lesson_on
from public_domain_samples import FOLDER


@pytest.fixture(scope="module")
def samples_archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of an archive of all samples."""
    from archive.ingesting import ingest
    from ingest.provenance import read_records

    folder = tmp_path_factory.mktemp("samples") / "archive"
    ingest(read_records(FOLDER / "records.csv"), folder, workers=2)
    return folder


@pytest.fixture(scope="module")
def archive(samples_archive: Path) -> Iterator[Archive]:
    with Archive.open(samples_archive) as opened:
        yield opened


def _measured(archive: Archive, work: str) -> dict[str, Any]:
    known = archive.work(work)
    assert known is not None
    return {row["measure"]: row["value"] for row in known["measures"]}


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.slug)
def test_eight_works_show_it_and_the_last_does_not(archive: Archive, theme: Any) -> None:
    board = lesson_on(archive, theme.slug)
    shown = [leaf.shown[0].work for leaf in board.leaves]
    assert len(set(shown)) == len(shown) == 9
    assert all(theme.shown(_measured(archive, work)) for work in shown[:-1])
    assert not theme.shown(_measured(archive, shown[-1]))
    by = theme.by.removeprefix("-")
    least = [_measured(archive, work)[by] for work in (shown[0], shown[-1])]
    assert (least[0] > least[1]) == theme.by.startswith("-")
    asked = [leaf.question for leaf in board.leaves]
    assert (asked[0], asked[-1]) == (theme.question, theme.last)
    assert len(set(asked)) == 9
    assert len({leaf.shown[0].record["artist"] for leaf in board.leaves[:-1]}) >= 7
    assert checked(board) == board
    assert lesson_on(archive, theme.slug).leaves[3].shown == board.leaves[3].shown


def test_two_values_are_shown_in_two(archive: Archive) -> None:
    assert all(leaf.showing[-1] == "two" for leaf in lesson_on(archive, "two-values").leaves)


def test_what_is_too_seldom_in_an_archive_is_said(small_archive: Path) -> None:
    with Archive.open(small_archive) as archive:
        works = [_measured(archive, work) for work in archive.work_ids()]
        seldom = [theme for theme in THEMES if sum(map(theme.shown, works)) < 4]
        assert seldom
        for theme in seldom:
            with pytest.raises(BoardsError, match=f"^“{theme.name}” needs at least four works that show it"):
                lesson_on(archive, theme.slug)


def test_an_unknown_theme_names_those_that_there_are(archive: Archive) -> None:
    with pytest.raises(BoardsError, match=r"no theme “sunsets”; there are two-values, one-middle-grey, high-key"):
        lesson_on(archive, "sunsets")


def test_every_theme_has_its_name_on_the_pages() -> None:
    assert list(theme_words()) == [theme.slug for theme in THEMES]
    assert [str(word) for word in theme_words().values()] == [theme.name for theme in THEMES]


def test_the_command_builds_one(samples_archive: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(samples_archive, tmp_path / "archive"))
    runner = CliRunner()
    made = runner.invoke(main, ["board", "make", "--theme", "edges-lost", "--archive", str(folder)])
    assert made.exit_code == 0, made.output
    wrong = runner.invoke(main, ["board", "make", "--theme", "sunsets", "--archive", str(folder)])
    assert wrong.exit_code == 1
    assert "There is no theme" in wrong.output
    both = runner.invoke(
        main, ["board", "make", "--theme", "low-key", "--lesson", "light-above", "--archive", str(folder)]
    )
    assert both.exit_code == 2
    assert "one of them at a time" in both.output
