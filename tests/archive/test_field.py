"""The field of all works, its windows, and what the pages say of arrangements."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from archive.arrangement_counts import counts_of
from archive.arrangement_kept import STABILITY
from archive.field import CELLS, CLOSEST, Window, how_firmly, look
from archive.serving import build_datasette
from archive.store import DATABASE, Archive
from ingest.grouping import STABLE


@pytest.fixture(scope="module")
def archive(small_archive: Path) -> Archive:
    return Archive.open(small_archive)


def test_the_whole_field_has_every_work_in_one_of_its_cells(archive: Archive) -> None:
    cells, count = look(archive, Window(0, 0, 1))
    assert count == sum(cell.works for cell in cells) == 16
    places = [(cell.row, cell.column) for cell in cells]
    assert places == sorted(set(places))
    for cell in cells:
        assert cell.column == min(CELLS - 1, int(cell.work["map_x"] * CELLS))
        assert cell.row == min(CELLS - 1, int(cell.work["map_y"] * CELLS))


def test_windows_stay_on_the_field_and_part_the_works_between_them(archive: Archive) -> None:
    assert Window.about(0.0, 1.0, 0.5) == Window(0.0, 0.5, 0.5)
    assert Window.about(0.5, 0.5, 7) == Window(0, 0, 1)
    assert Window.about(0.5, 0.5, 0).side == CLOSEST
    quarters = [look(archive, Window(x, y, 0.5))[1] for x in (0, 0.5) for y in (0, 0.5)]
    assert sum(quarters) == 16


@pytest.mark.parametrize(
    ("found", "null", "words"),
    [
        (0.91, 0.5, "nearly the same ("),
        (0.6, 0.5, "only in part"),
        (0.86, 0.75, "shuffled works do so not much less"),
        (0.85, 0.9, "shuffled works do so not much less"),
    ],
)
def test_what_comes_back_is_said_as_it_is(
    small_archive: Path, tmp_path: Path, found: float, null: float, words: str
) -> None:
    (tmp_path / "pictures").mkdir()
    (tmp_path / DATABASE).write_bytes((small_archive / DATABASE).read_bytes())
    connection = sqlite3.connect(tmp_path / DATABASE)
    (groups,) = connection.execute("SELECT count(*) FROM arrangements").fetchone()
    kept = json.dumps({str(groups): {"found": found, "spread": 0.1, "null": null, "null_spread": 0.07}})
    connection.execute("INSERT OR REPLACE INTO settings VALUES (?, ?)", (STABILITY, kept))
    connection.commit()
    connection.close()
    with Archive.open(tmp_path) as archive:
        said = how_firmly(archive)
    assert words in said
    assert ("go by the degrees" in said) == (found - null < 0.14 or found < STABLE)
    assert f"{found:.2f}" in said
    assert f"{null:.2f}" in said


def test_counts_are_those_of_the_tables(archive: Archive) -> None:
    for group in archive.arrangements():
        works = archive.works(where={"arrangement": group["slug"]}, size=99).works
        for count in counts_of(archive, group["slug"], most=50).get("century", []):
            assert count.works == sum(str(work["century"]) == count.value for work in works) > 0
            assert count.works <= count.everywhere <= 16


async def json_of(datasette: Any, path: str) -> dict[str, Any]:
    response = await datasette.client.get(path)
    assert response.status_code == 200
    return dict(response.json())


@pytest.mark.asyncio
async def test_the_page_of_the_field_and_its_twin_agree(small_archive: Path) -> None:
    datasette = build_datasette(small_archive)
    twin = await json_of(datasette, "/-/field.json")
    html = (await datasette.client.get("/-/field")).text
    assert twin["works"] == 16
    for cell in twin["cells"]:
        assert f'href="{cell["url"]}"' in html
        assert cell["map3"] in html
    near = await json_of(datasette, "/-/field.json?x=0.25&y=0.25&side=0.5")
    assert near["window"] == {"x": 0.0, "y": 0.0, "side": 0.5}
    for wrong in ("x=one", "side=nan", "y=inf"):
        response = await datasette.client.get(f"/-/field?{wrong}")
        assert response.status_code == 400
        assert "numbers x, y and side" in response.text


@pytest.mark.asyncio
async def test_an_arrangement_names_its_neighbours_and_its_centuries(small_archive: Path) -> None:
    datasette = build_datasette(small_archive)
    home = await json_of(datasette, "/.json")
    assert home["stability"] == how_firmly(Archive.open(small_archive))
    for item in home["arrangements"]:
        twin = await json_of(datasette, f"/-/arrangements/{item['slug']}.json")
        html = (await datasette.client.get(f"/-/arrangements/{item['slug']}")).text
        assert twin["neighbours"]
        for near in twin["neighbours"]:
            assert f'href="{near["url"]}"' in html
            assert near["but"] in html
        for count in twin["counts"]["century"]:
            assert f": {count['works']} of {count['everywhere']}" in html
