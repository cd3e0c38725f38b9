"""An ingest takes only what is new, says what became of everything, and loses nothing."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from painting import paint, write_collection

from archive.edition import WORKING, Edition
from archive.ingesting import Summary, ingest
from archive.store import DATABASE, Archive, ArchiveError
from archive.verify import verify
from ingest.provenance import Records, read_records

HEADER = "file,rights,title,artist,begin_year,obtained_from\n"


def records_of(folder: Path, rows: str, header: str = HEADER) -> Records:
    (folder / "records.csv").write_text(header + rows, encoding="utf-8")
    return read_records(folder / "records.csv")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with six pictures a.png to f.png."""
    for number, name in enumerate("abcdef"):
        paint(("light-mass", "bands", "uprights")[number % 3], number).save(tmp_path / f"{name}.png")
    return tmp_path


ALL = "".join(f"{name}.png,CC0,Title {name.upper()},Painter,1650,carrier\n" for name in "abcdef")


def test_everything_is_new_once(folder: Path) -> None:
    archive = folder / "archive"
    done: list[tuple[int, int]] = []
    first = ingest(records_of(folder, ALL), archive, on_progress=lambda count, total: done.append((count, total)))
    assert (first.new, first.unchanged, first.works, first.works_named) == (6, 0, 6, 6)
    assert done == [(count, 6) for count in range(1, 7)]
    assert first.arranged
    stamp = (archive / DATABASE).stat().st_mtime_ns
    second = ingest(records_of(folder, ALL), archive)
    assert second == Summary(unchanged=6, works=6)
    assert (archive / DATABASE).stat().st_mtime_ns == stamp
    assert not (archive / WORKING).exists()


def test_new_bytes_are_read_and_changed_records_only_written(folder: Path) -> None:
    archive = folder / "archive"
    ingest(records_of(folder, ALL), archive)
    with Archive.open(archive) as opened:
        before = {work["work"]: work for work in opened.works().works}
    paint("scattered", 9).save(folder / "b.png")
    changed = ALL.replace("Title C,Painter,1650,carrier", "Title C Zanzibar,Painter,1770,another")
    summary = ingest(records_of(folder, changed), archive)
    assert (summary.new, summary.again, summary.updated, summary.unchanged) == (0, 1, 1, 4)
    with Archive.open(archive) as opened:
        after = {work["work"]: work for work in opened.works().works}
        assert opened.search("zanzibar").total == 1
        assert [row["obtained_from"] for row in opened.sources()] == ["carrier", "another"]
    assert after["b"]["sha256"] != before["b"]["sha256"]
    assert after["b"]["map3"] != before["b"]["map3"]
    assert (after["c"]["title"], after["c"]["century"]) == ("Title C Zanzibar", 18)
    assert after["c"]["map3"] == before["c"]["map3"]
    assert verify(archive) == []


def test_a_part_that_the_record_names_overrules_trimming_and_is_noticed(folder: Path) -> None:
    archive = folder / "archive"

    def take(part: str) -> tuple[Summary, dict[str, Any]]:
        (folder / "records.csv").write_text(f"file,rights,part\na.png,CC0,{part}\nb.png,CC0,\n", encoding="utf-8")
        summary = ingest(read_records(folder / "records.csv"), archive)
        with Archive.open(archive) as opened:
            return summary, {work["work"]: work for work in opened.works().works}["a"]

    _, trimmed = take("")
    assert (trimmed["part"], trimmed["trims"]) == ("", "[]")
    summary, cut = take('"20,10,200,150"')
    assert (summary.again, summary.unchanged) == (1, 1)
    assert (cut["part"], cut["trimmed"]) == ("20,10,200,150", "[20, 10, 200, 150]")
    assert cut["trims"] == '["as the record says"]'
    assert cut["map3"] != trimmed["map3"]
    assert take('"20, 10, 200, 150"')[0] == Summary(unchanged=2, works=2)
    summary, beyond = take('"20,10,2000,150"')
    assert [file for file, _ in summary.unread] == ["a.png"]
    assert "does not lie within the picture" in summary.unread[0][1]
    assert beyond["part"] == "20,10,200,150"
    summary, whole = take("whole")
    assert (summary.again, whole["part"], whole["trimmed"]) == (1, "whole", "[0, 0, 240, 180]")
    summary, again = take("")
    assert summary.again == 1
    assert (again["part"], again["map3"]) == ("", trimmed["map3"])
    assert verify(archive) == []


def test_another_way_of_reading_reads_everything_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    archive = folder / "archive"
    ingest(records_of(folder, ALL), archive)
    monkeypatch.setattr("ingest.reading.READING_VERSION", "later")
    assert [finding.wrong for finding in verify(archive)] == [False]
    summary = ingest(records_of(folder, ALL), archive)
    assert (summary.again, summary.unchanged) == (6, 0)
    assert ingest(records_of(folder, ALL), archive).unchanged == 6


def test_refused_unreadable_and_broken_rows_are_named_and_kept_aside(folder: Path) -> None:
    archive = folder / "archive"
    (folder / "bad.png").write_bytes(b"no picture")
    rows = (
        "a.png,CC0,A,P,1650,x\n"
        "b.png,http://rightsstatements.org/vocab/InC/1.0/,B,P,,x\n"
        "c.png,https://creativecommons.org/licenses/by/4.0/,C,P,,x\n"
        "d.png,CC0,D,P,sixteen,x\n"
        "bad.png,CC0,Bad,P,,x\n"
        "none.png,CC0,None,P,,x\n"
        "../e.png,CC0,E,P,,x\n"
        ",CC0,F,P,,x\n"
    )
    summary = ingest(records_of(folder, rows), archive, workers=2)
    assert (summary.new, summary.works) == (2, 2)
    assert summary.refused == {"In Copyright": 1, "CC BY 4.0": 1}
    assert [file for file, _ in summary.unread] == ["../e.png", "line 9", "bad.png", "none.png"]
    assert all(reason for _, reason in summary.unread)
    assert [remark.file for remark in summary.remarks] == ["d.png"]
    with Archive.open(archive) as opened:
        aside = {row["file"]: (row["kind"], row["title"]) for row in opened.set_aside()}
    assert aside == {
        "b.png": ("rights", "B"),
        "c.png": ("rights", "C"),
        "bad.png": ("picture", "Bad"),
        "none.png": ("picture", "None"),
        "../e.png": ("record", "E"),
        "line 9": ("record", "F"),
    }
    assert ingest(records_of(folder, rows), archive).unchanged == 2
    paint("bands").save(folder / "bad.png")
    again = ingest(records_of(folder, rows), archive)
    assert again.new == 1
    with Archive.open(archive) as opened:
        assert "bad.png" not in {row["file"] for row in opened.set_aside()}


def test_a_work_whose_rights_are_gone_is_taken_out(folder: Path) -> None:
    archive = folder / "archive"
    ingest(records_of(folder, ALL), archive)
    summary = ingest(records_of(folder, ALL.replace("e.png,CC0", "e.png,In Copyright")), archive)
    assert (summary.withdrawn, summary.works, summary.refused) == (1, 5, {"In Copyright": 1})
    with Archive.open(archive) as opened:
        assert opened.work("e") is None
        assert len(opened.signatures()) == 5
    assert verify(archive) == []
    assert ingest(records_of(folder, ALL), archive).new == 1


def test_a_picture_that_is_damaged_later_does_not_cost_what_was_read(folder: Path) -> None:
    archive = folder / "archive"
    ingest(records_of(folder, ALL), archive)
    good = (folder / "a.png").read_bytes()
    (folder / "a.png").write_bytes(good[:100])
    summary = ingest(records_of(folder, ALL), archive)
    assert (summary.works, summary.unchanged, len(summary.unread)) == (6, 5, 1)
    with Archive.open(archive) as opened:
        assert opened.work("a") is not None
        assert len(opened.set_aside()) == 1
    (folder / "a.png").write_bytes(good)
    assert ingest(records_of(folder, ALL), archive).unchanged == 6
    with Archive.open(archive) as opened:
        assert opened.set_aside() == []


def test_two_collections_share_an_archive(folder: Path, fresh_archive: Path, small_records: Path) -> None:
    archive = Path(shutil.copytree(fresh_archive, folder / "archive"))
    summary = ingest(records_of(folder, ALL), archive)
    assert (summary.new, summary.works) == (6, 22)
    assert ingest(read_records(small_records), archive).unchanged == 16
    with Archive.open(archive) as opened:
        assert opened.work_ids() == sorted(opened.work_ids())
    assert verify(archive) == []


def test_a_stop_keeps_the_batches_that_were_done(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    records = read_records(write_collection(tmp_path / "collection", 12))
    monkeypatch.setattr("archive.ingesting.BATCH", 2)

    def stop(done: int, _: int) -> None:
        if done == 7:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        ingest(records, tmp_path / "archive", on_progress=stop)
    with Archive.open(tmp_path / "archive") as opened:
        assert opened.counts()["works"] == 0
    summary = ingest(records, tmp_path / "archive")
    assert (summary.new, summary.unchanged, summary.works) == (6, 6, 12)
    ingest(records, tmp_path / "at-once")
    assert (tmp_path / "archive" / DATABASE).read_bytes() == (tmp_path / "at-once" / DATABASE).read_bytes()


def test_an_archive_that_is_being_changed_is_not_changed_twice(folder: Path) -> None:
    archive = folder / "archive"
    Archive.create(archive).close()
    with Edition.begin(archive), pytest.raises(ArchiveError, match="Another 'blotbook'"):
        ingest(records_of(folder, ALL), archive)


def test_countries_and_subjects_come_along_and_follow_the_records(folder: Path) -> None:
    header, archive = "file,rights,country,subject\n", folder / "archive"
    first = "a.png,CC0,France,Harbours; Ships\nb.png,CC0,France,Ships|Ships| Storms\nc.png,CC0,,\n"
    ingest(records_of(folder, first, header), archive)
    with Archive.open(archive) as opened:
        assert opened.facet("country") == [{"value": "France", "works": 2}]
        assert {row["value"]: row["works"] for row in opened.facet("subject")} == {
            "Harbours": 1,
            "Ships": 2,
            "Storms": 1,
        }
        assert [work["work"] for work in opened.works(where={"subject": "Harbours"}).works] == ["a"]
        assert [work["work"] for work in opened.works(where={"subject": ""}).works] == ["c"]
        assert opened.chosen({"subject": "Ships", "country": "France"}) == ["a", "b"]
        assert opened.work("b")["subjects"] == ["Ships", "Storms"]  # type: ignore[index]
    changed = first.replace("Harbours; Ships", "Harbours")
    summary = ingest(records_of(folder, changed, header), archive)
    assert (summary.updated, summary.unchanged, summary.again) == (1, 2, 0)
    with Archive.open(archive) as opened:
        assert opened.work("a")["subjects"] == ["Harbours"]  # type: ignore[index]
    assert verify(archive) == []


def test_no_records_make_an_empty_archive(folder: Path) -> None:
    records = records_of(folder, "")
    assert ingest(records, folder / "archive") == Summary()
    assert verify(folder / "archive") == []


def test_works_keep_nothing_of_an_earlier_reading(folder: Path) -> None:
    """Putting a work in again leaves one reading of it, not two."""
    archive = folder / "archive"
    ingest(records_of(folder, ALL), archive)
    paint("light-mass", 40).save(folder / "a.png")
    read = records_of(folder, ALL)
    ingest(replace(read, records=read.records[:1]), archive)
    with Archive.open(archive) as opened:
        for table in ("measures", "signatures"):
            (rows,) = opened.connection.execute(f"SELECT count(*) FROM {table} WHERE work = 'a'").fetchone()
            assert rows == 1
        work = opened.work("a")
        assert work is not None
        (rows,) = opened.connection.execute("SELECT count(*) FROM masses WHERE work = 'a'").fetchone()
        assert rows == len(work["masses"])
