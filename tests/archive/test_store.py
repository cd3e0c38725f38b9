"""An archive on disk: what is read from it, and that no stop at any moment leaves half of one."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Collection
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive import schema, store
from archive.edition import WORKING, Edition
from archive.ingesting import ingest
from archive.picture_files import is_whole, keep_picture, picture_name, sweep
from archive.store import DATABASE, PICTURES, SIGNATURES, Archive, ArchiveError
from archive.verify import verify
from archive.works import HELD
from ingest.arrangement_types import CLEAR
from ingest.provenance import Records, read_records
from ingest.reading import read

ROOT = Path(store.__file__).parents[1]


@pytest.fixture
def archive(fresh_archive: Path) -> Archive:
    return Archive.open(fresh_archive)


@pytest.fixture
def copy(fresh_archive: Path, tmp_path: Path) -> Path:
    """A copy of the small archive that a test may change."""
    return Path(shutil.copytree(fresh_archive, tmp_path / "copy"))


def contents(folder: Path) -> dict[str, str]:
    """The hash of every file in an archive by its name."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


# -- opening ---------------------------------------------------------------------------------------------------


def test_a_new_archive_is_empty_and_whole(tmp_path: Path) -> None:
    with Archive.create(tmp_path / "a" / "b") as created:
        assert set(created.counts().values()) == {0}
        assert created.works().works == []
        assert created.signatures().shape[0] == 0
        assert len(created.types()) > 10
    assert verify(tmp_path / "a" / "b") == []
    assert sorted(path.name for path in (tmp_path / "a" / "b").iterdir()) == [DATABASE, PICTURES, SIGNATURES]
    with pytest.raises(ArchiveError, match="already"):
        Archive.create(tmp_path / "a" / "b")


def test_what_is_no_archive_is_said_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(ArchiveError, match="There is no archive in"):
        Archive.open(tmp_path)
    (tmp_path / DATABASE).write_bytes(b"not a database at all" * 100)
    with pytest.raises(ArchiveError, match="damaged or no archive"):
        Archive.open(tmp_path)


def empty(file: Path) -> None:
    file.write_bytes(b"")


def fill_with_something_else(file: Path) -> None:
    file.write_bytes(b"not a database at all" * 1000)


def cut(file: Path) -> None:
    os.truncate(file, file.stat().st_size // 2)


def put_another_programs(file: Path) -> None:
    file.unlink()
    connection = sqlite3.connect(file)
    connection.execute("CREATE TABLE addresses (name)")
    connection.close()


@pytest.mark.parametrize("damage", [empty, fill_with_something_else, cut, put_another_programs])
@pytest.mark.parametrize("begin", [Archive.open, Edition.begin])
def test_a_damaged_archive_is_said_with_the_way_out_and_left_alone(
    copy: Path, damage: Callable[[Path], None], begin: Callable[[Path], object]
) -> None:
    damage(copy / DATABASE)
    before = contents(copy)
    with pytest.raises(ArchiveError, match=r"archive\.db is damaged or no archive .*move it away .*blotbook ingest"):
        begin(copy)
    assert contents(copy) == before


def test_a_damaged_working_copy_is_told_from_a_damaged_archive(copy: Path) -> None:
    fill_with_something_else(copy / WORKING)
    with pytest.raises(ArchiveError, match=r"archive\.next\.db, which a stopped command left, is damaged"):
        Edition.begin(copy)
    (copy / WORKING).unlink()
    assert verify(copy) == []


def test_damage_deep_in_an_archive_is_not_said_to_be_a_fault_of_the_disk(copy: Path) -> None:
    with sqlite3.connect(copy / DATABASE) as connection:
        (page,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'measures'").fetchone()
        (size,) = connection.execute("PRAGMA page_size").fetchone()
    connection.close()
    with (copy / DATABASE).open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(b"\xff" * size)
    with (
        pytest.raises(ArchiveError, match=r"archive\.db is damaged or no archive"),
        Edition.begin(copy) as edition,
        edition.batch() as connection,
    ):
        connection.execute("UPDATE measures SET light = 0")


def test_an_archive_of_a_newer_blotbook_is_left_alone(copy: Path) -> None:
    with sqlite3.connect(copy / DATABASE) as connection:
        connection.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    connection.close()
    before = contents(copy)
    with pytest.raises(ArchiveError, match="newer Blotbook"):
        Archive.open(copy)
    with pytest.raises(ArchiveError, match="newer Blotbook"):
        Edition.begin(copy)
    assert contents(copy)[DATABASE] == before[DATABASE]


def test_an_older_archive_is_brought_up_to_date_when_it_is_opened(copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def m002_later(connection: sqlite3.Connection) -> None:
        connection.execute("ALTER TABLE works ADD COLUMN later TEXT DEFAULT 'new'")

    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, m002_later))
    newer = schema.VERSION + 1
    for module in ("archive.schema", "archive.store", "archive.edition"):
        monkeypatch.setattr(f"{module}.VERSION", newer)
    with Archive.open(copy) as opened:
        work = opened.works(size=1).works[0]
        assert work["later"] == "new"
        assert opened.signatures().shape[0] == opened.counts()["works"] == 16
        assert opened.search("uprights").total == 2


def test_a_failed_migration_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(connection: sqlite3.Connection) -> None:
        connection.execute("CREATE TABLE half (a)")
        connection.execute("no SQL")

    connection = sqlite3.connect(tmp_path / "x.db", isolation_level=None)
    schema.migrate(connection)
    before = connection.execute("SELECT name FROM sqlite_master").fetchall()
    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, broken))
    monkeypatch.setattr(schema, "VERSION", schema.VERSION + 1)
    with pytest.raises(sqlite3.OperationalError):
        schema.migrate(connection)
    assert connection.execute("SELECT name FROM sqlite_master").fetchall() == before
    assert schema.version_of(connection) == schema.VERSION - 1


def test_measures_that_are_new_in_the_code_get_their_columns(copy: Path) -> None:
    """As an archive looks that was made before the measure 'crispness' and with one that is gone."""
    with sqlite3.connect(copy / DATABASE) as connection:
        connection.execute("DROP VIEW works_with_measures")
        connection.execute("ALTER TABLE measures DROP COLUMN crispness")
        connection.execute("ALTER TABLE measures ADD COLUMN forgotten REAL")
    connection.close()
    with Edition.begin(copy) as edition:
        with edition.batch() as working:
            working.execute("UPDATE works SET title = 'A' WHERE work = 'made-00'")
        edition.publish()
    with Archive.open(copy) as opened:
        assert "crispness" in opened.measure_names()
        assert "forgotten" not in opened.measure_names()
        work = opened.work("made-00")
        assert work is not None
        measured = {measure["measure"]: measure["value"] for measure in work["measures"]}
        assert "crispness" not in measured
        assert 0 < measured["light"] < 1


# -- reading ---------------------------------------------------------------------------------------------------


def test_a_work_has_all_that_was_read_from_its_picture(archive: Archive, small_records: Path) -> None:
    work = archive.work("made-02")
    assert work is not None
    file = small_records.parent / work["file"]
    reading = read(file)
    assert work["title"] == "“Bands” no. 2"
    assert work["artist"] == "Painter C"
    assert (work["begin_year"], work["end_year"], work["century"]) == (1640, 1650, 17)
    assert work["rights"] == "https://creativecommons.org/publicdomain/zero/1.0/"
    assert work["credit"] == "Painter C, “Bands” no. 2. Made Pictures, M.2. CC0 1.0."
    assert work["obtained_from"] == "drawn by code (second half)"
    assert work["sha256"] == hashlib.sha256(file.read_bytes()).hexdigest()
    assert work["sentence"] == reading.sentence
    assert work["trimmed"] == [0, 0, 240, 180]
    assert work["trims"] == []
    assert (work["display_width"], work["display_height"]) == (240, 180)
    measured = {measure["measure"]: measure["value"] for measure in work["measures"]}
    assert measured["light"] == reading.measures.light
    assert measured["register"] == reading.measures.register
    assert list(measured) == archive.measure_names()
    assert all(measure["unit"] and measure["says"] for measure in work["measures"])
    assert [mass["area"] for mass in work["masses"]] == [mass.area for mass in reading.masses]
    assert {kind["type"]: kind["degree"] for kind in work["types"]} == reading.types
    degrees = [kind["degree"] for kind in work["types"]]
    assert degrees == sorted(degrees, reverse=True)
    assert archive.work("none") is None


def test_numbers_are_kept_as_numbers(archive: Archive) -> None:
    kinds = {
        (table, name, kind)
        for table in ("measures", "masses", "works", "work_types")
        for _, name, declared, *_ in archive.connection.execute(f"PRAGMA table_info({table})")
        for (kind,) in archive.connection.execute(f'SELECT DISTINCT typeof("{name}") FROM {table}')
        if kind not in ("null", declared.lower())
    }
    assert kinds == set()


def test_signatures_are_those_of_the_works_in_their_rows(archive: Archive, small_records: Path) -> None:
    signatures = archive.signatures()
    works = archive.work_ids()
    assert works == sorted(works)
    for row in (0, 7, 15):
        work = archive.work(works[row])
        assert work is not None
        assert work["row"] == row
        assert np.array_equal(signatures[row], read(small_records.parent / work["file"]).signature)


def test_every_picture_is_there_under_its_hash(archive: Archive) -> None:
    names = {
        work[column]
        for work in archive.works().works
        for column in ("painting", "thumb", "squint", "map2", "map3", "map5")
    }
    # Small as they are, their thumbs are the paintings themselves.
    assert len(names) == 16 * 5
    assert all(is_whole(archive.folder / PICTURES, name) for name in names)


def test_works_are_chosen_sorted_and_paged(archive: Archive) -> None:
    everything = archive.works(size=1000)
    assert everything.total == 16
    assert everything.next is None
    first = archive.works(size=5, sort="-date")
    assert [work["begin_year"] for work in first.works] == [1900, 1880, 1860, 1840, 1820]
    pages, token = [], None
    while True:
        page = archive.works(size=5, next=token)
        pages += page.works
        token = page.next
        if token is None:
            break
    assert pages == everything.works
    assert archive.works(where={"artist": "Painter A"}).total == 6
    assert archive.works(where={"artist": "Painter A", "century": 17}).total == 2
    assert archive.works(where={"culture": ""}).total == 16
    lightest = archive.works(sort="-light", size=16).works
    shares = [
        measure["value"]
        for work in lightest
        for measure in (archive.work(work["work"]) or {})["measures"]
        if measure["measure"] == "light"
    ]
    assert shares == sorted(shares, reverse=True)
    register = archive.facet("century")
    assert sum(row["works"] for row in register) == 16


def test_works_are_chosen_by_type_and_measure(archive: Archive) -> None:
    bands = archive.works(where={"type": "bands"}, sort="-degree_of_type")
    assert "made-02" in [work["work"] for work in bands.works]
    assert all(work["degree_of_type"] >= HELD for work in bands.works)
    assert HELD == CLEAR
    counted = {kind["type"]: kind["works"] for kind in archive.types()}
    assert counted["bands"] == bands.total > 0
    registers = {name: archive.works(where={"register": name}).total for name in ("lower", "middle", "upper")}
    assert sum(registers.values()) == 16


@pytest.mark.parametrize(
    "asked",
    [
        {"where": {"nothing": "x"}},
        {"where": {"rowid; DROP TABLE works": 1}},
        {"sort": "nothing"},
        {"sort": "degree_of_type"},
        {"sort": "relevance"},
        {"next": "x"},
        {"next": "-1"},
    ],
)
def test_what_cannot_be_asked_is_said(archive: Archive, asked: dict[str, object]) -> None:
    with pytest.raises(ArchiveError):
        archive.works(**asked)  # type: ignore[arg-type]


def test_search_finds_words_beginnings_and_accents(archive: Archive) -> None:
    assert [work["work"] for work in archive.search("bands no 2").works] == ["made-02"]
    assert archive.search("BAND").total == 2
    assert archive.search("pàinter, “c”").total == 5
    assert archive.search("").total == 0
    assert archive.search("nothing-of-the-kind").total == 0
    page = archive.search("painter", size=3)
    assert (len(page.works), page.total, page.next) == (3, 16, "3")


def test_a_register_is_found_by_its_words_together_and_by_its_key(fresh_archive: Path, tmp_path: Path) -> None:
    said = {
        "up": "One light mass lower left. A tenth dark, the rest light; upper register, limited scale.",
        "down": "One light mass upper left. A tenth light, the rest dark; lower register, extended scale.",
    }
    shutil.copytree(fresh_archive, tmp_path / "archive")
    with sqlite3.connect(tmp_path / "archive" / "archive.db") as connection:
        names = [row[0] for row in connection.execute("SELECT work FROM works ORDER BY work LIMIT 2")]
        connection.execute("UPDATE works SET sentence = ''")
        for name, sentence in zip(names, said.values(), strict=True):
            connection.execute("UPDATE works SET sentence = ? WHERE work = ?", (sentence, name))
        connection.execute("UPDATE works SET title = 'The Key to the High Tower' WHERE work = ?", (names[1],))
        connection.execute("INSERT INTO works_fts(works_fts) VALUES ('rebuild')")
    up, down = names
    with Archive.open(tmp_path / "archive") as opened:
        for asked, found in (
            ("upper register", [up]), ("Lower register", [down]), ("low key", [down]), ("low key light", [down]),
            ("limited scale", [up]), ("high key", [up, down]), ("upper left", [down]), ("high key limited", [up]),
        ):  # fmt: skip
            assert sorted(work["work"] for work in opened.search(asked).works) == found, asked


@given(st.text(max_size=40))
def test_no_text_breaks_the_search(fresh_archive: Path, text: str) -> None:
    with Archive.open(fresh_archive) as archive:
        archive.search(text)


@pytest.mark.parametrize("text", ['"', "'", "a AND", "NEAR(", "title:", "*", "^a", "-", "a OR b)", "{x}"])
def test_what_means_something_to_the_database_means_nothing_here(archive: Archive, text: str) -> None:
    archive.search(text)


def test_arrangements_hold_the_works_that_say_so(archive: Archive) -> None:
    groups = archive.arrangements()
    counts = archive.counts()
    assert len(groups) == counts["arrangements"] >= 2
    assert sum(group["members"] for group in groups) + counts["unarranged"] == counts["works"] == 16
    for group in groups:
        members = archive.works(where={"arrangement": group["slug"]}, sort="-degree", size=100)
        assert members.total == group["members"]
        assert all(work["arrangement_name"] == group["name"] for work in members.works)
        degrees = [work["degree"] for work in members.works]
        assert degrees == sorted(degrees, reverse=True)
        assert archive.arrangement(group["slug"]) == group
        assert is_whole(archive.folder / PICTURES, group["mean"])
        assert is_whole(archive.folder / PICTURES, group["spread"])
        assert group["medoid_title"]
    assert archive.works(where={"arrangement": ""}).total == counts["unarranged"]
    assert archive.arrangement("none") is None
    json.loads(archive.setting("arrangement_model"))


def test_sources_and_rights_are_counted(archive: Archive) -> None:
    sources = [(row["source"], row["obtained_from"], row["works"]) for row in archive.sources()]
    assert sources == [(1, "drawn by code (first half)", 8), (2, "drawn by code (second half)", 8)]
    assert [(row["name"], row["works"]) for row in archive.rights()] == [("CC0 1.0", 16)]
    assert archive.caption("made-02") == {
        "work": "made-02",
        "title": "“Bands” no. 2",
        "artist": "Painter C",
        "date": "",
        "collection": "Made Pictures",
        "accession_number": "M.2",
    }
    with pytest.raises(ArchiveError):
        archive.caption("none")
    with pytest.raises(ArchiveError):
        archive.facet("sha256")


def test_an_archive_is_read_from_several_threads(archive: Archive) -> None:
    found: list[int] = []
    threads = [threading.Thread(target=lambda: found.append(archive.search("painter").total)) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [16] * 8
    archive.close()
    with pytest.raises((sqlite3.ProgrammingError, ArchiveError)):
        archive.counts()


def test_the_view_joins_measures_to_names(archive: Archive) -> None:
    row = archive.connection.execute(
        "SELECT title, arrangement, light FROM works_with_measures WHERE work = 'made-02'"
    ).fetchone()
    assert row["title"] == "“Bands” no. 2"
    assert 0 < row["light"] < 1


def test_the_database_is_one_clean_file(fresh_archive: Path) -> None:
    assert sorted(path.name for path in fresh_archive.iterdir()) == [DATABASE, PICTURES, SIGNATURES]
    header = (fresh_archive / DATABASE).read_bytes()[:20]
    # Bytes 18 and 19 are 1 for a rollback journal and 2 for a write-ahead log (SQLite file format, 1.3).
    assert header[18:20] == b"\x01\x01"


# -- writing ---------------------------------------------------------------------------------------------------


def test_content_depends_on_neither_order_nor_workers(fresh_archive: Path, small_records: Path, tmp_path: Path) -> None:
    read_once = read_records(small_records)
    backwards = Records(read_once.folder, tuple(reversed(read_once.records)), ())
    ingest(backwards, tmp_path / "backwards", workers=1)
    assert contents(tmp_path / "backwards") == contents(fresh_archive)


def test_an_archive_that_grew_is_the_one_made_at_once(fresh_archive: Path, small_records: Path, tmp_path: Path) -> None:
    everything = read_records(small_records)
    for part in (everything.records[3:9], everything.records[:5], everything.records):
        ingest(Records(everything.folder, part, ()), tmp_path / "grown", workers=2)
    # Arrangements keep the names and numbers that they had before, so those may differ; nothing else may.
    with Archive.open(tmp_path / "grown") as grown, Archive.open(fresh_archive) as at_once:
        for table in ("measures", "masses", "work_types", "signatures", "sources", "set_aside", "types"):
            assert rows_of(grown, table) == rows_of(at_once, table), table
        arranged = {"arrangement", "degree", "map_x", "map_y"}
        assert rows_of(grown, "works", arranged) == rows_of(at_once, "works", arranged)
        assert np.array_equal(grown.signatures(), at_once.signatures())


def rows_of(archive: Archive, table: str, without: Collection[str] = ()) -> list[dict[str, object]]:
    rows = archive.connection.execute(f"SELECT * FROM {table}")
    return [{name: row[name] for name in row.keys() if name not in without} for row in rows]  # noqa: SIM118


def test_one_edition_is_prepared_at_a_time(copy: Path) -> None:
    with Edition.begin(copy), pytest.raises(ArchiveError, match="Another"):
        Edition.begin(copy)
    with Edition.begin(copy) as edition:
        assert not edition.changed


def stop_in_a_batch(edition: Edition) -> None:
    with edition.batch() as connection:
        connection.execute("UPDATE works SET title = 'gone'")
        message = "stopped"
        raise RuntimeError(message)


def test_a_batch_is_kept_whole_or_not_at_all(copy: Path) -> None:
    with Edition.begin(copy) as edition:
        with pytest.raises(RuntimeError, match="stopped"):
            stop_in_a_batch(edition)
        assert not edition.changed
        (titles,) = edition.connection.execute("SELECT count(*) FROM works WHERE title = 'gone'").fetchone()
        assert titles == 0
    assert not (copy / WORKING).exists()


def test_what_the_database_refuses_is_said_in_a_sentence(copy: Path) -> None:
    with (
        Edition.begin(copy) as edition,
        pytest.raises(ArchiveError, match=r"could not be written .*; what was finished before is kept"),
        edition.batch() as connection,
    ):
        connection.execute("INSERT INTO works (work) VALUES ('x')")


def test_readers_go_on_with_the_edition_they_opened(copy: Path) -> None:
    with Archive.open(copy) as before:
        with Edition.begin(copy) as edition:
            with edition.batch() as connection:
                connection.execute("DELETE FROM works WHERE work < 'made-10'")
            edition.publish()
        assert before.counts()["works"] == 16
        with Archive.open(copy) as after:
            assert after.counts()["works"] == len(after.signatures()) == 6
            assert after.search("painter").total == 6
    assert {path.name for path in copy.iterdir()} == {DATABASE, PICTURES, SIGNATURES}


def test_a_work_that_leaves_takes_everything_with_it(copy: Path) -> None:
    before = len(list((copy / PICTURES).rglob("*.*")))
    with Edition.begin(copy) as edition:
        with edition.batch() as connection:
            connection.execute("DELETE FROM works WHERE work = 'made-00'")
        edition.publish()
    with Archive.open(copy) as archive:
        for table in ("measures", "masses", "work_types", "signatures"):
            (left,) = archive.connection.execute(f"SELECT count(*) FROM {table} WHERE work = 'made-00'").fetchone()
            assert left == 0
        assert all(group["medoid"] != "made-00" for group in archive.arrangements())
        needed = {name for work in archive.works().works for name in (work["painting"], work["map5"])}
    kept = {path.relative_to(copy / PICTURES).as_posix() for path in (copy / PICTURES).rglob("*.*")}
    assert needed < kept
    assert len(kept) == before - 5


CRASH = """
import os, signal, sys
from pathlib import Path
from archive.arranging import arrange_edition
from archive.edition import Edition

folder, name, when = Path(sys.argv[1]), sys.argv[2], sys.argv[3]
replace = Path.replace

def replace_and_die(self, target):
    if Path(target).name.startswith(name):
        if when == "before":
            os.kill(os.getpid(), signal.SIGKILL)
        result = replace(self, target)
        os.kill(os.getpid(), signal.SIGKILL)
    return replace(self, target)

with Edition.begin(folder) as edition:
    with edition.batch() as connection:
        connection.execute("DELETE FROM works WHERE work < 'made-10'")
    arrange_edition(edition)
    Path.replace = replace_and_die
    edition.publish()
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="the system cannot kill a process outright")
@pytest.mark.parametrize(
    ("name", "when", "works"),
    [
        ("signatures-", "before", 16),
        ("signatures-", "after", 16),
        (DATABASE, "before", 16),
        (DATABASE, "after", 6),
        (SIGNATURES, "before", 6),
        (SIGNATURES, "after", 6),
    ],
)
def test_killed_while_publishing_the_archive_is_the_old_or_the_new(
    copy: Path, name: str, when: str, works: int
) -> None:
    killed = subprocess.run(
        [sys.executable, "-c", CRASH, copy, name, when],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=False,
    )
    assert killed.returncode == -signal.SIGKILL
    with Archive.open(copy) as archive:
        assert archive.counts()["works"] == len(archive.signatures()) == works
        assert np.array_equal(archive.signatures()[-1], signature_in_database(archive, archive.work_ids()[-1]))
    assert [finding for finding in verify(copy) if finding.wrong] == []
    with Edition.begin(copy) as edition:
        assert edition.changed
        edition.publish()
    with Archive.open(copy) as archive:
        assert archive.counts()["works"] == len(archive.signatures()) == 6
    assert verify(copy) == []
    assert {path.name for path in copy.iterdir()} == {DATABASE, PICTURES, SIGNATURES}


def signature_in_database(archive: Archive, work: str) -> np.ndarray:
    (signature,) = archive.connection.execute("SELECT signature FROM signatures WHERE work = ?", (work,)).fetchone()
    return np.frombuffer(signature, dtype=np.uint8)


INGEST = """
import sys
from pathlib import Path
from archive.ingesting import ingest
from ingest.provenance import read_records
import archive.ingesting

if __name__ == "__main__":
    archive.ingesting.BATCH = 2
    ingest(read_records(Path(sys.argv[1])), Path(sys.argv[2]), workers=2, on_progress=print)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="the system cannot kill a process outright")
def test_killed_again_and_again_an_ingest_still_ends_with_the_same_archive(
    fresh_archive: Path, small_records: Path, tmp_path: Path
) -> None:
    script = tmp_path / "ingest_some.py"
    script.write_text(INGEST, encoding="utf-8")
    folder = tmp_path / "killed"
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
    for pictures in (3, 8, 13):
        with subprocess.Popen(
            [sys.executable, script, small_records, folder], env=environment, stdout=subprocess.PIPE, text=True
        ) as process:
            assert process.stdout is not None
            for _ in range(pictures):
                process.stdout.readline()
            process.kill()
        with Archive.open(folder) as archive:
            assert archive.counts()["works"] == 0
        assert [finding for finding in verify(folder) if finding.wrong] == []
        with sqlite3.connect((folder / WORKING).as_uri() + "?mode=ro", uri=True) as connection:
            (kept,) = connection.execute("SELECT count(*) FROM works").fetchone()
        connection.close()
        # At most one batch of two, and what was not yet handed over, is lost.
        assert kept >= pictures - 3
    summary = ingest(read_records(small_records), folder, workers=2)
    assert summary.new + summary.unchanged == 16
    assert summary.unchanged >= 10
    assert contents(folder) == contents(fresh_archive)


# -- pictures --------------------------------------------------------------------------------------------------


def test_pictures_are_named_by_content_written_once_and_swept(tmp_path: Path) -> None:
    content = b"RIFF...."
    name = keep_picture(tmp_path, content, "webp")
    digest = hashlib.sha256(content).hexdigest()
    assert name == picture_name(content, "webp") == f"{digest[:2]}/{digest}.webp"
    assert (tmp_path / name).read_bytes() == content
    written = (tmp_path / name).stat().st_mtime_ns
    assert keep_picture(tmp_path, content, "webp") == name
    assert (tmp_path / name).stat().st_mtime_ns == written
    (tmp_path / name).write_bytes(b"cut")
    assert not is_whole(tmp_path, name)
    keep_picture(tmp_path, content, "webp")
    assert is_whole(tmp_path, name)
    other = keep_picture(tmp_path, b"other", "png")
    (tmp_path / (name + ".part")).write_bytes(b"half")
    (tmp_path / name[:2] / "notes.txt").write_text("not ours")
    assert sweep(tmp_path, {other}) == 2
    assert sorted(path.name for path in tmp_path.rglob("*.*")) == sorted(["notes.txt", Path(other).name])
    assert not is_whole(tmp_path, "../../etc/passwd")
