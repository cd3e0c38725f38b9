"""An archive, and boards, of every older form open in today's Blotbook with all that was in them."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from painting import paint

from archive import boards_schema, schema
from archive.boards_file import BOARDS, BoardsFile
from archive.ingesting import ingest
from archive.store import DATABASE, Archive
from archive.verify import verify
from archive.verify_tables import table_faults
from ingest.provenance import read_records

FIRST = Path(__file__).parents[1] / "data" / "first_archive.sql"
RECORDS = (
    "id,file,title,artist,begin_year,rights,obtained_from\n"
    "a,a.png,Lamp on a table,Painter,1650,CC0,made by code\n"
    "b,b.png,Harbour,Painter,1700,CC0,made by code\n"
)


def first_archive(folder: Path, forms: int) -> None:
    """An archive as the first form held it, brought to the form number ``forms`` by the migrations of that time."""
    folder.mkdir()
    with closing(sqlite3.connect(folder / DATABASE, isolation_level=None)) as connection:
        connection.executescript(FIRST.read_text(encoding="utf-8"))
        for number in range(1, forms):
            schema.MIGRATIONS[number](connection)
            connection.execute(f"PRAGMA user_version = {number + 1}")


@pytest.mark.parametrize("forms", range(1, schema.VERSION))
def test_an_archive_of_every_form_opens_with_all_its_works(tmp_path: Path, forms: int) -> None:
    first_archive(tmp_path / "archive", forms)
    with Archive.open(tmp_path / "archive") as archive:
        assert schema.version_of(archive.connection) == schema.VERSION
        assert table_faults(archive.connection, schema.migrate) == []
        work = archive.work("a")
        assert work is not None
        assert (work["title"], work["begin_year"], work["obtained_from"]) == ("Lamp on a table", 1650, "made by code")
        assert work["sentence"]
        assert len(work["masses"]) >= 1
        assert {row["measure"] for row in work["measures"]} >= {"light", "mid", "dark"}
        assert archive.search("harbour").total == 1
        assert [(row["work"], row["kind"]) for row in archive.set_aside()] == [("d", "picture"), ("c", "rights")]


def test_its_works_are_read_again_by_the_next_ingest_and_all_is_in_order(tmp_path: Path) -> None:
    for name, layout in (("a", "light-mass"), ("b", "bands")):
        paint(layout, 1, (120, 90)).save(tmp_path / f"{name}.png")
    (tmp_path / "records.csv").write_text(RECORDS)
    first_archive(tmp_path / "archive", 1)
    summary = ingest(read_records(tmp_path / "records.csv"), tmp_path / "archive")
    assert (summary.again, summary.new, summary.works) == (2, 0, 2)
    assert verify(tmp_path / "archive") == []


@pytest.mark.parametrize("forms", range(1, boards_schema.VERSION + 1))
def test_boards_of_every_form_open_with_all_their_leaves(tmp_path: Path, forms: int) -> None:
    with closing(sqlite3.connect(tmp_path / BOARDS, isolation_level=None)) as connection:
        for number, name in enumerate(boards_schema.MIGRATIONS[:forms], 1):
            connection.executescript((Path(boards_schema.__file__).parent / name).read_text(encoding="utf-8"))
            connection.execute(f"PRAGMA user_version = {number}")
        connection.execute("INSERT INTO boards VALUES ('x', 'Lamps', '', '', '', 1, 0, NULL, '2026-01-01')")
        connection.execute(
            "INSERT INTO leaves VALUES ('x', 'y', 0, "
            """'{"shown": [{"work": "a"}], "showing": ["painting"], "note": "n", "question": ""}', NULL)"""
        )
    with BoardsFile.open(tmp_path) as boards, boards.reading() as connection:
        assert [tuple(row) for row in connection.execute("SELECT title, work FROM shown_on_boards")] == [("Lamps", "a")]
        assert table_faults(connection, boards_schema.migrate) == []
