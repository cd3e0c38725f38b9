"""Datasette kept: questions that teach, functions that explain, its own pages untouched."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import pytest
from asgi_house import AsgiHouse

from archive.match import Gallery
from archive.pages.questions import questions
from archive.store import Archive


@pytest.fixture(scope="module")
def house(small_archive: Path) -> Iterator[AsgiHouse]:
    house = AsgiHouse(small_archive)
    yield house
    house.close()


def rows(house: AsgiHouse, sql: str) -> list[dict[str, object]]:
    answer = house.send(f"/archive/-/query.json?_shape=array&sql={quote(sql)}")
    assert answer.status == 200, answer.text
    found: list[dict[str, object]] = answer.json()
    return found


@pytest.mark.parametrize("name", questions())
def test_a_question_is_answered_and_tells_why_it_is_asked(house: AsgiHouse, name: str) -> None:
    asked = questions()[name]
    page = house.send(f"/archive/{name}?work=made-00&other=made-01&artist=a")
    assert page.status == 200
    assert asked["title"].split(",")[0] in page.text
    assert asked["description"][:40] in page.text.replace("&#39;", "'")
    answer = house.send(f"/archive/{name}.json?work=made-00&other=made-01&artist=a")
    assert answer.status == 200, answer.text
    assert answer.json()["ok"]


def test_more_than_half_dark_and_one_light_mass(house: AsgiHouse, small_archive: Path) -> None:
    found = house.send("/archive/more_than_half_dark_one_light_mass.json?_shape=array").json()
    with Archive.open(small_archive) as archive:
        expected = {
            work
            for work, dark, masses in archive.connection.execute("SELECT work, dark, light_masses FROM measures")
            if dark > 0.5 and masses == 1
        }
    assert {row["work"] for row in found} == expected


def test_functions_say_what_the_pages_say(house: AsgiHouse, small_archive: Path) -> None:
    with Archive.open(small_archive) as archive:
        gallery, works = Gallery(archive), archive.work_ids()
        sentences = {work: archive.work(work)["sentence"] for work in works}  # type: ignore[index]
        for row in rows(house, "select work, words(work) as said from works"):
            assert row["said"] == sentences[str(row["work"])]
        own, other = works[0], works[-1]
        pairs = f"likeness('{own}', '{own}') as own, likeness('{own}', '{other}') as there"
        others = f"likeness('{other}', '{own}') as back, likeness('{own}', 'nobody') as nobody"
        (said,) = rows(house, f"select {pairs}, {others}")
        # A work held against itself gives 1 (archive.likeness); the order of the two must not matter.
        assert said["own"] == pytest.approx(1.0, abs=0.02)
        assert said["there"] == pytest.approx(said["back"], abs=0.02)
        assert said["there"] == pytest.approx(gallery.likeness(own, other), abs=1e-4)
        assert said["nobody"] is None
    (said,) = rows(house, "select value_name(0) a, value_name(50) b, value_name(99) c, value_name('x') d")
    assert list(said.values()) == ["dark", "middle", "light", None]


def test_tables_facets_and_rows_are_as_datasette_makes_them(house: AsgiHouse) -> None:
    page = house.send("/archive/works?_facet=century")
    assert page.status == 200
    assert "Suggested facets" in page.text or "century" in page.text
    assert house.send("/archive/works.json?_facet=century").json()["ok"]
    assert house.send("/archive/works/made-00").status == 200
    assert house.send("/archive/works.csv?_size=2").text.count("\n") == 3
    listed = house.send("/-/databases.json").json()["databases"]
    assert [(each["name"], each["path"]) for each in listed] == [("archive", "archive.db")]
