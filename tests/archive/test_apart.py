"""What sets an arrangement apart."""

from __future__ import annotations

import sqlite3
import statistics
from pathlib import Path

import pytest

from archive.apart import LEAST, apart
from archive.store import Archive


@pytest.fixture(scope="module")
def archive(small_archive: Path) -> Archive:
    return Archive.open(small_archive)


def slugs(archive: Archive) -> list[str]:
    return [row["slug"] for row in archive.arrangements()]


def test_means_and_sizes_are_those_of_the_tables(archive: Archive, small_archive: Path) -> None:
    connection = sqlite3.connect(small_archive / "archive.db")
    compared = 0
    for slug in slugs(archive):
        for difference in apart(archive, slug, most=50):
            everywhere = [v for (v,) in connection.execute(f'SELECT "{difference.measure}" FROM measures')]
            here = [
                v
                for (v,) in connection.execute(
                    f'SELECT "{difference.measure}" FROM measures WHERE work IN (SELECT work FROM works '
                    "WHERE arrangement = (SELECT arrangement FROM arrangements WHERE slug = ?))",
                    (slug,),
                )
            ]
            assert difference.here == pytest.approx(statistics.fmean(here))
            assert difference.everywhere == pytest.approx(statistics.fmean(everywhere))
            size = (statistics.fmean(here) - statistics.fmean(everywhere)) / statistics.pstdev(everywhere)
            assert difference.size == pytest.approx(size)
            compared += 1
    connection.close()
    assert compared > 3


def test_only_real_differences_are_named_strongest_first(archive: Archive) -> None:
    for slug in slugs(archive):
        sizes = [abs(difference.size) for difference in apart(archive, slug, most=50)]
        assert sizes == sorted(sizes, reverse=True)
        assert all(size >= LEAST for size in sizes)
        assert len(apart(archive, slug, most=2)) <= 2


def test_words_follow_the_sign(archive: Archive) -> None:
    for slug in slugs(archive):
        for difference in apart(archive, slug, most=50):
            if difference.measure == "dark":
                assert difference.sentence.startswith("More dark" if difference.size > 0 else "Less dark")
                assert f"{difference.here * 100:.0f} % on the mean" in difference.sentence


def test_an_unknown_arrangement_has_none(archive: Archive) -> None:
    assert apart(archive, "none-such") == []
