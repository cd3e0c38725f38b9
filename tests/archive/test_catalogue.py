"""The catalogue against plain SQL over the same tables: what is found, in which order, and every count beside it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from archive.catalogue import BINS, CHOICES, MANY_MASSES, NONE, Catalogue, Wanted
from archive.store import Archive

WANTED = (
    Wanted(),
    Wanted(chosen={"register": "middle"}),
    Wanted(shares={"dark": (30, 100)}),
    Wanted(shares={"dark": (20, 60), "light": (10, 100)}, chosen={"light_masses": "1"}),
    Wanted(chosen={"scale": "extended", "dark_masses": "1"}, sort="darkest"),
    Wanted(chosen={"artist": "nobody of that name"}),
    Wanted(text="light", chosen={"register": "lower"}, sort="fit"),
)


@pytest.fixture(scope="module")
def archive(small_archive: Path) -> Iterator[Archive]:
    with Archive.open(small_archive) as opened:
        yield opened


@pytest.fixture(scope="module")
def catalogue(archive: Archive) -> Catalogue:
    return Catalogue.of(archive)


def by_hand(archive: Archive, wanted: Wanted, without: str = "") -> list[dict[str, object]]:
    """The works that meet all conditions, or all but one, looked at one by one."""
    rows = archive.connection.execute(
        "SELECT works.*, slug AS arrangement_slug, measures.* FROM works LEFT JOIN arrangements USING (arrangement) "
        "LEFT JOIN measures USING (work) ORDER BY works.work"
    )
    searched = {work["work"] for work in archive.search(wanted.text, size=1000).works} if wanted.text else set()
    found = []
    for row in map(dict, rows):
        row["arrangement"] = row["arrangement_slug"]
        for value in ("light", "dark"):
            row[f"{value}_masses"] = min(row[f"{value}_masses"], MANY_MASSES)
        fits = all(str(row[name]) == value for name, value in wanted.chosen.items() if name != without)
        for name, (low, high) in wanted.shares.items():
            fits = fits and (name == without or low <= round(row[name] * 100) <= high)
        if fits and (not wanted.text or row["work"] in searched):
            found.append(row)
    return found


@pytest.mark.parametrize("wanted", WANTED)
def test_the_same_works_are_found_as_one_by_one(archive: Archive, catalogue: Catalogue, wanted: Wanted) -> None:
    expected = {row["work"] for row in by_hand(archive, wanted)}
    found = catalogue.find(wanted, 0, 1000)
    assert set(found.works) == expected
    assert found.total == len(found.works) == len(expected)
    assert catalogue.page(wanted, 0, 1000) == (found.total, list(found.works))


@pytest.mark.parametrize("wanted", WANTED)
def test_counts_are_those_of_each_choice_with_all_other_conditions(
    archive: Archive, catalogue: Catalogue, wanted: Wanted
) -> None:
    found = catalogue.find(wanted)
    for name in set(CHOICES) - {"type", "subject"}:
        rows = by_hand(archive, wanted, without=name)
        expected = Counter(str(row[name]) for row in rows if row[name] not in (None, ""))
        assert dict(found.counts[name]) == dict(expected), name


@pytest.mark.parametrize("wanted", WANTED)
def test_histograms_hold_all_works_and_those_found_without_their_own_bounds(
    archive: Archive, catalogue: Catalogue, wanted: Wanted
) -> None:
    found = catalogue.find(wanted)
    for name, spread in found.spreads.items():
        for columns, rows in (
            (spread.everywhere, by_hand(archive, Wanted())),
            (spread.found, by_hand(archive, wanted, without=name)),
        ):
            expected = Counter(min(BINS - 1, int(row[name] * BINS)) for row in rows)  # type: ignore[operator]
            assert columns == tuple(expected[at] for at in range(BINS)), name


def test_works_come_in_the_order_asked_for(archive: Archive, catalogue: Catalogue) -> None:
    tones = dict(archive.connection.execute("SELECT work, median_lightness FROM measures").fetchall())
    lightest = [tones[work] for work in catalogue.find(Wanted(sort="lightest"), 0, 1000).works]
    assert lightest == sorted(lightest, reverse=True)
    assert [tones[work] for work in catalogue.find(Wanted(sort="darkest"), 0, 1000).works] == lightest[::-1]
    degrees = [work["degree"] for work in archive.named(catalogue.find(Wanted(sort="clearest"), 0, 1000).works)]
    known = [degree for degree in degrees if degree is not None]
    assert known == sorted(known, reverse=True)
    assert degrees[: len(known)] == known, "what is not known comes last"


def test_leaves_follow_each_other_without_a_gap(catalogue: Catalogue) -> None:
    every = catalogue.find(Wanted(), 0, 1000).works
    turned = [work for start in range(0, len(every), 5) for work in catalogue.find(Wanted(), start, 5).works]
    assert turned == list(every)
    assert len(set(every)) == len(catalogue)


def test_types_and_subjects_count_a_work_for_each_of_them(archive: Archive, catalogue: Catalogue) -> None:
    for choice, sql in (
        ("type", "SELECT type, work FROM work_types WHERE degree >= 0.55"),
        ("subject", "SELECT subject, work FROM work_subjects"),
    ):
        pairs = [tuple(row) for row in archive.connection.execute(sql)]
        counts = dict(catalogue.find(Wanted()).counts[choice])
        assert counts == dict(Counter(value for value, _ in pairs))
        for value in counts:
            chosen = catalogue.find(Wanted(chosen={choice: value}), 0, 1000)
            assert set(chosen.works) == {work for held, work in pairs if held == value}


def test_works_of_no_arrangement_can_be_asked_for(archive: Archive, catalogue: Catalogue) -> None:
    (loose,) = archive.connection.execute("SELECT count(*) FROM works WHERE arrangement IS NULL").fetchone()
    assert catalogue.find(Wanted(chosen={"arrangement": NONE})).total == loose
