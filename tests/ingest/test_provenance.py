"""Records files as people save them, and rights statements as museums write them."""

from __future__ import annotations

import dataclasses
import string
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.provenance import (
    COLUMNS,
    SourceRecord,
    UnreadableRecords,
    credit,
    read_records,
    slug,
)
from ingest.rights import ADMITTED, REFUSED, WORDS, read_rights

CC0_URI = "https://creativecommons.org/publicdomain/zero/1.0/"


def write(folder: Path, text: str | bytes, name: str = "records.csv") -> Path:
    path = folder / name
    path.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
    return path


# The statements and their addresses: https://creativecommons.org/public-domain/ and
# https://rightsstatements.org/page/1.0/ (twelve statements, read in 2026).
@pytest.mark.parametrize(
    ("text", "uri"),
    [
        ("http://creativecommons.org/publicdomain/zero/1.0/", CC0_URI),
        ("https://creativecommons.org/publicdomain/zero/1.0", CC0_URI),
        ("HTTPS://WWW.CreativeCommons.org/publicdomain/zero/1.0/deed.fr", CC0_URI),
        ("creativecommons.org/publicdomain/zero/1.0/legalcode", CC0_URI),
        ("  CC0  ", CC0_URI),
        ("CC-0 1.0 Universal", ""),
        ("CC0 1.0 Universal", CC0_URI),
        ("https://creativecommons.org/publicdomain/mark/1.0/?ref=x", ADMITTED[1].uri),
        ("Public-Domain", ADMITTED[1].uri),
        ("https://creativecommons.org/publicdomain/certification/1.0/us/", ADMITTED[2].uri),
        ("https://rightsstatements.org/page/NoC-US/1.0/?language=en", ADMITTED[3].uri),
        ("http://rightsstatements.org/vocab/noc-us/1.0", ADMITTED[3].uri),
        ("NoC-US", ADMITTED[3].uri),
    ],
)
def test_statements_of_public_domain_in_every_form(text: str, uri: str) -> None:
    rights = read_rights(text)
    assert rights.uri == uri
    assert rights.admits is bool(uri)


@pytest.mark.parametrize("statement", REFUSED, ids=lambda statement: statement.name)
def test_each_other_rightsstatement_is_refused_with_its_reason(statement) -> None:  # type: ignore[no-untyped-def]
    for form in (statement.uri, statement.uri.replace("/vocab/", "/page/").rstrip("/"), statement.name):
        rights = read_rights(form)
        assert not rights.admits
        assert rights.reason == statement.reason
        assert rights.name == statement.name


@pytest.mark.parametrize(
    "text",
    [
        "",
        "https://creativecommons.org/licenses/by/4.0/",
        "https://creativecommons.org/licenses/by-nc-sa/4.0/deed.en",
        "https://creativecommons.org.example/publicdomain/zero/1.0/",
        "https://example.org/?u=https://creativecommons.org/publicdomain/zero/1.0/",
        "https://creativecommons.org/publicdomain/zero/",
        "http://rightsstatements.org/vocab/NoC-XX/1.0/",
        "http://[creativecommons.org/publicdomain/zero/1.0/",
        "© the artist",
        "not public domain",
    ],
)
def test_everything_else_is_refused_in_words(text: str) -> None:
    rights = read_rights(text)
    assert not rights.admits
    assert rights.reason


@given(st.text(max_size=60))
def test_no_text_breaks_the_reading_of_rights(text: str) -> None:
    rights = read_rights(text)
    assert rights.admits == (rights.uri in {statement.uri for statement in ADMITTED})
    assert bool(rights.reason) is not rights.admits


def test_the_words_hold_no_word_twice_for_different_rights() -> None:
    for words, statement in WORDS.items():
        assert read_rights(words.upper()) == statement


def test_a_full_record(tmp_path: Path) -> None:
    values = {
        "id": "met-1", "file": "a/one.jpg", "title": "A Title", "artist": "A. Painter",
        "artist_dates": "French, 1600–1682", "date": "ca. 1650", "begin_year": "1645", "end_year": "1655",
        "medium": "Oil on canvas", "culture": "French", "country": "France",
        "subject": "Harbours; Ships", "collection": "A Museum",
        "accession_number": "65.1", "object_url": "https://museum.example/1", "rights": "CC0",
        "rights_basis": "flagged", "credit_line": "Gift, 1965", "obtained_from": "a carrier",
        "sha256": "AB" * 32, "part": "12,8,640,480",
    }  # fmt: skip
    assert tuple(values) == COLUMNS
    text = ",".join(COLUMNS) + "\n" + ",".join(f'"{values[name]}"' for name in COLUMNS) + "\n"
    read = read_records(write(tmp_path, text))
    assert read.problems == ()
    (record,) = read.records
    assert dataclasses.asdict(record) == {
        **{name: value for name, value in values.items() if name != "id"},
        "work": "met-1", "begin_year": 1645, "end_year": 1655, "rights": CC0_URI, "sha256": "ab" * 32,
    }  # fmt: skip
    assert credit(record) == (
        "A. Painter (French, 1600–1682), A Title, ca. 1650. Oil on canvas. A Museum, 65.1. Gift, 1965. CC0 1.0."
    )


def test_two_columns_are_enough_and_words_of_rights_are_kept_as_basis(tmp_path: Path) -> None:
    (record,) = read_records(write(tmp_path, "file,rights\nsub/One Picture.jpg,Public Domain\n")).records
    assert record == SourceRecord(
        work="sub-one-picture",
        file="sub/One Picture.jpg",
        rights=ADMITTED[1].uri,
        rights_basis="stated as “Public Domain” in its record",
    )
    assert credit(record) == "Artist not recorded, Untitled. Public Domain Mark 1.0."


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_delimiters_and_line_ends(tmp_path: Path, encoding: str, delimiter: str, end: str) -> None:
    rows = [
        ["Title", " FILE ", "Rights"],
        ['"Cliffs, Étretat; a | study"', "é.jpg", "CC0"],
        ["x", "b.jpg", "CC0"],
    ]
    text = end.join(delimiter.join(row) for row in rows) + end
    read = read_records(write(tmp_path, text.encode(encoding)))
    assert read.problems == ()
    assert [(record.title, record.file) for record in read.records] == [
        ("Cliffs, Étretat; a | study", "é.jpg"),
        ("x", "b.jpg"),
    ]


def test_a_spreadsheets_sep_line_and_blank_rows_are_passed_over(tmp_path: Path) -> None:
    text = "sep=;\r\nfile;rights\r\n\r\na.jpg;CC0;\r\n;;\r\n"
    read = read_records(write(tmp_path, text))
    assert [record.work for record in read.records] == ["a"]
    assert read.problems == ()


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b"file,title\na.jpg,x\n", "no column 'rights'"),
        (b"picture;wording\na;b\n", "no column 'file' and no column 'rights'"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not a text file"),
    ],
)
def test_a_file_that_is_no_table_is_refused_in_one_sentence(tmp_path: Path, content: bytes, says: str) -> None:
    with pytest.raises(UnreadableRecords, match=says) as caught:
        read_records(write(tmp_path, content))
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)


def test_a_missing_file_is_refused_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(UnreadableRecords, match="There is no file"):
        read_records(tmp_path / "none.csv")
    with pytest.raises(UnreadableRecords, match="could not be opened"):
        read_records(tmp_path)


def test_one_bad_row_never_costs_the_others(tmp_path: Path) -> None:
    rows = {
        2: "a.jpg,CC0,1650,Good",
        3: "b.jpg,CC0,sixteen fifty,Bad year",
        4: "../c.jpg,CC0,,Climbs out",
        5: "/etc/passwd,CC0,,Elsewhere",
        6: ",CC0,,No file",
        7: "d.jpg,http://rightsstatements.org/vocab/InC/1.0/,,In copyright",
        8: "e.jpg,,,No rights",
        9: 'f.jpg,CC0,1650,"Never closed',
        10: "g.jpg,CC0,1650,Too, many, fields",
        11: "a.png,CC0,,Same name",
        12: 'h.jpg,CC0,1650.0,The "Blue" House',
        13: 'i.jpg,CC0,1650,"Two',
        14: 'lines"',
        15: "j.jpg,CC0",
        16: "sub/../k.jpg,CC0,-40,Climbs and comes back",
    }
    text = "file,rights,begin_year,title\n" + "\n".join(rows.values())
    read = read_records(write(tmp_path, text))
    assert [(record.work, record.file, record.begin_year, record.title) for record in read.records] == [
        ("a", "a.jpg", 1650, "Good"),
        ("b", "b.jpg", None, "Bad year"),
        ("f", "f.jpg", 1650, '"Never closed'.strip('"')),
        ("h", "h.jpg", 1650, 'The "Blue" House'),
        ("i", "i.jpg", 1650, "Two lines"),
        ("j", "j.jpg", None, ""),
        ("k", "k.jpg", -40, "Climbs and comes back"),
    ]
    assert [(problem.line, problem.kind, problem.reason) for problem in read.problems] == [
        (3, "remark", "begin_year “sixteen fifty” is not a year and was left out"),
        (4, "record", "its file lies outside of the folder of the records"),
        (5, "record", "its file lies outside of the folder of the records"),
        (6, "record", "the row names no file"),
        (7, "rights", "the work is in copyright"),
        (8, "rights", "its record states no rights"),
        (10, "record", "the row has 6 fields but the table has 4 columns"),
        (11, "record", "the row names the same work as line 2 (“a”); give each its own id"),
    ]
    assert [problem.line for problem in read.unusable] == [4, 5, 6, 7, 8, 10, 11]


def test_a_quotation_mark_left_open_costs_its_own_row_only(tmp_path: Path) -> None:
    text = 'title,file,rights\n"Never closed,a.jpg,CC0\nx,b.jpg,CC0\n"A ""good"" one",c.jpg,CC0\n'
    read = read_records(write(tmp_path, text))
    assert [record.file for record in read.records] == ["b.jpg", "c.jpg"]
    assert read.records[1].title == 'A "good" one'
    (problem,) = read.problems
    assert (problem.line, problem.kind) == (2, "record")
    assert "not closed" in problem.reason


def test_a_link_that_leads_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    inside = tmp_path / "inside"
    inside.mkdir()
    (tmp_path / "secret.jpg").write_bytes(b"x")
    (inside / "link.jpg").symlink_to(tmp_path / "secret.jpg")
    read = read_records(write(inside, "file,rights\nlink.jpg,CC0\n"))
    assert read.records == ()
    assert "outside" in read.problems[0].reason


def test_file_names_of_other_systems_are_found(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "é.jpg").write_bytes(b"x")
    read = read_records(write(tmp_path, "file,rights\nsub\\é.jpg,CC0\nabsent  two.jpg,CC0\n"))
    assert [record.file for record in read.records] == ["sub/é.jpg", "absent  two.jpg"]


def test_years_that_contradict_and_addresses_that_are_none_are_left_out(tmp_path: Path) -> None:
    text = "file,rights,begin_year,end_year,object_url\na.jpg,CC0,1700,1690,javascript:alert(1)\n"
    read = read_records(write(tmp_path, text))
    (record,) = read.records
    assert (record.begin_year, record.end_year, record.object_url) == (None, None, "")
    assert [problem.kind for problem in read.problems] == ["remark", "remark"]


def test_a_hash_that_cannot_be_checked_makes_the_row_unusable(tmp_path: Path) -> None:
    read = read_records(write(tmp_path, "file,rights,sha256\na.jpg,CC0,12345\n"))
    assert read.records == ()
    assert "sha256" in read.problems[0].reason


def test_a_part_is_taken_in_one_form_and_left_out_when_it_is_none(tmp_path: Path) -> None:
    text = 'file,rights,part\na.jpg,CC0,Whole\nb.jpg,CC0,"[ 10, 20, 300, 400 ]"\nc.jpg,CC0,most\nd.jpg,CC0,9 9 9 9\n'
    read = read_records(write(tmp_path, text))
    assert [record.part for record in read.records] == ["whole", "10,20,300,400", "", ""]
    assert [(problem.kind, problem.line) for problem in read.problems] == [("remark", 4), ("remark", 5)]
    assert read.problems[0].reason == (
        "part “most” is neither 'whole' nor four whole numbers of pixels as in 120,80,1620,1280; it was left out"
    )


def test_work_ids_come_from_id_then_collection_then_file(tmp_path: Path) -> None:
    text = (
        "id,collection,accession_number,file,rights\n"
        "Met 436532,The Met,29.100.6,a.jpg,CC0\n"
        ",The Met,29.100.6,b.jpg,CC0\n"
        ",The Met,,pictures/c.d.jpeg,CC0\n"
    )
    read = read_records(write(tmp_path, text))
    assert [record.work for record in read.records] == ["met-436532", "the-met-29-100-6", "pictures-c-d"]


def test_slugs_keep_names_apart_that_have_no_latin_letters() -> None:
    assert slug("Géricault, Théodore") == "gericault-theodore"
    first, second = slug("富嶽三十六景"), slug("東海道五十三次")
    assert first != second
    assert slug("a" * 300) != slug("a" * 301)


@given(st.text(max_size=200))
def test_slugs_are_safe_stable_names(text: str) -> None:
    name = slug(text)
    assert set(name) <= set(string.ascii_lowercase + string.digits + "-")
    assert len(name) <= 120
    assert slug(name) == name


@given(st.binary(max_size=400))
def test_no_bytes_break_the_reading_of_records(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    path = write(tmp_path_factory.mktemp("bytes"), b"file,rights,title\n" + data)
    try:
        read = read_records(path)
    except UnreadableRecords:
        return
    assert all(record.file and record.work for record in read.records)
