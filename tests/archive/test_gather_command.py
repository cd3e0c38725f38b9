"""The command ``blotbook gather``: a folder with a table, a IIIF address, and on into an archive."""

from __future__ import annotations

import csv
import dataclasses
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from museum_server import js, museum, picture, placeholder
from painting import paint

from archive.command import main
from archive.store import Archive
from ingest.collections.iiif import Iiif


def blotbook(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture
def box(tmp_path: Path) -> Path:
    """A folder of four pictures with a table that calls its columns otherwise."""
    folder = tmp_path / "box"
    folder.mkdir()
    for number, layout in enumerate(("bands", "ring", "slant", "grade"), 1):
        paint(layout, number, (320, 240)).save(folder / f"{number}.png")
    (folder / "5.png").write_bytes(placeholder())
    rows = [
        ("Datei", "Titel", "Maler", "Jahr", "Rechte", "Art"),
        ("1.png", "Erstes", "Ida Maler", "1880", "CC0", "Gemälde"),
        ("2.png", "Zweites", "Ida Maler", "1881/82", "Public Domain", ""),
        ("3.png", "Drittes", "Ida Maler", "1990", "In Copyright", "Gemälde"),
        ("4.png", "Viertes", "Ida Maler", "1883", "CC0", "Zeichnung"),
        ("5.png", "Fünftes", "Ida Maler", "1884", "CC0", "Gemälde"),
        ("6.png", "Sechstes", "Ida Maler", "1885", "CC0", "Gemälde"),
        ("../box2/7.png", "Siebtes", "Ida Maler", "1886", "CC0", "Gemälde"),
    ]
    with (folder / "liste.csv").open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream, delimiter=";").writerows(rows)
    return folder


COLUMNS = [
    word
    for pair in ("file=Datei", "title=Titel", "artist=Maler", "date=Jahr", "rights=Rechte", "kind=Art")
    for word in ("--column", pair)
]


def test_a_folder_with_a_table_is_gathered_and_taken_into_an_archive(box: Path, tmp_path: Path) -> None:
    into = tmp_path / "into"
    result = blotbook("gather", box, "--into", into, *COLUMNS)
    assert result.exit_code == 0, result.output
    assert "gathering 7 of 7" in result.stderr
    lines = result.stdout.splitlines()
    assert lines[0] == f"A folder with a table: {box / 'liste.csv'}"
    assert lines[1:3] == ["      2  came", "      0  were there already"]
    assert "1  their rights do not admit them" in result.stdout
    assert "1 the work is in copyright" in result.stdout
    assert "1 it is of the type “Zeichnung”" in result.stdout
    assert "1 there is no such file" in result.stdout
    assert "1 its file lies outside of the folder of the table" in result.stdout
    assert "all but one colour" in result.stdout
    assert lines[-1] == f"Take them into an archive with: blotbook ingest {into / 'records.csv'} --archive DIR"
    taken = blotbook("ingest", into / "records.csv", "--archive", tmp_path / "archive", "--workers", "1")
    assert taken.exit_code == 0, taken.output
    with Archive.open(tmp_path / "archive") as archive:
        assert archive.work_ids() == ["1", "2"]
        work = archive.work("2")
        assert work is not None
        assert (work["title"], work["artist"], work["begin_year"], work["end_year"]) == (
            "Zweites",
            "Ida Maler",
            1881,
            1882,
        )
    again = blotbook("gather", box, "--into", into, *COLUMNS, "--also", "drawings,prints")
    assert "      1  came" in again.stdout
    assert "      2  were there already" in again.stdout
    # Rights that are gone take the work out of the folder, and with the next ingest out of the archive.
    table = box / "liste.csv"
    table.write_text(table.read_text(encoding="utf-8").replace("1880;CC0", "1880;In Copyright"), encoding="utf-8")
    assert blotbook("gather", box, "--into", into, *COLUMNS, "--also", "drawings").exit_code == 0
    taken = blotbook("ingest", into / "records.csv", "--archive", tmp_path / "archive", "--workers", "1")
    assert "1  taken out again" in taken.stdout
    with Archive.open(tmp_path / "archive") as archive:
        assert archive.work_ids() == ["2", "4"]


def test_a_iiif_address_is_gathered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Iiif, "manners", dataclasses.replace(Iiif.manners, pace=0.0))
    with museum() as house:
        base = house.address
        house.routes["/m.json"] = js(
            {
                "@context": "http://iiif.io/api/presentation/3/context.json", "id": f"{base}/m.json",
                "type": "Manifest", "label": {"en": ["One"]},
                "rights": "https://creativecommons.org/publicdomain/mark/1.0/",
                "items": [{"type": "Canvas", "items": [{"type": "AnnotationPage", "items": [
                    {"type": "Annotation", "motivation": "painting",
                     "body": {"id": f"{base}/one.jpg", "type": "Image", "width": 320, "height": 240}}
                ]}]}],
            }
        )  # fmt: skip
        house.routes["/one.jpg"] = picture(seed=1)
        result = blotbook("gather", f"{base}/m.json", "--into", tmp_path, "--contact", "me@school.example")
        assert result.exit_code == 0, result.output
        assert "      1  came" in result.stdout
        assert all("me@school.example" in asked.headers["user-agent"] for asked in house.asked)


def test_wrong_use_is_said_in_one_sentence(box: Path, tmp_path: Path) -> None:
    cases: list[tuple[list[str | Path], int, str]] = [
        (["louvre-or-so"], 1, "There is no collection 'louvre-or-so'"),
        ([tmp_path], 1, "no table"),
        ([box, "--also", "sculptures"], 2, "there is no kind 'sculptures'"),
        ([box, "--column", "title"], 2, "not of the form OURS=THEIRS"),
        ([box, "--column", "colour=Farbe"], 1, "There is no column 'colour'"),
        ([box], 1, "no column 'rights'"),
    ]
    for words, code, sentence in cases:
        result = blotbook("gather", *words, "--into", tmp_path / "into")
        assert result.exit_code == code, (words, result.output)
        assert sentence in result.stderr
        assert "Traceback" not in result.output
