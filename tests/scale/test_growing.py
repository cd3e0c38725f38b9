"""An archive grows by collections, takes only what is asked for, and lets works be taken out without hurting boards."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from archive_content import content_of
from painting import paint

from archive.board import Leaf, Shown
from archive.boards import Boards
from archive.boards_file import BoardsFile
from archive.edition import Edition
from archive.errors import ArchiveError
from archive.ingesting import Chosen, ingest
from archive.store import Archive
from archive.verify import verify
from archive.withdrawing import boards_showing, let_in, withdraw
from ingest.provenance import Records, read_records


@pytest.fixture
def pair(tmp_path: Path) -> tuple[Path, Path]:
    """Two collections of three works, of which each has one that cannot be read."""
    files = []
    for letter in "ab":
        folder = tmp_path / letter
        folder.mkdir()
        rows = ["id,file,rights,title"]
        for number in range(3):
            paint(("bands", "ring", "slant")[number], ord(letter), (96, 72)).save(folder / f"{number}.png")
            rows.append(f"{letter}{number},{number}.png,CC0,T{number}")
        (folder / "2.png").write_bytes(b"no picture")
        (folder / "records.csv").write_text("\n".join(rows) + "\n")
        files.append(folder / "records.csv")
    return files[0], files[1]


def both(pair: tuple[Path, Path]) -> list[Records]:
    return [read_records(each) for each in pair]


def test_the_order_in_which_collections_come_changes_nothing(pair: tuple[Path, Path], tmp_path: Path) -> None:
    one, other, turned = tmp_path / "one", tmp_path / "other", tmp_path / "turned"
    summary = ingest(both(pair), one)
    assert (summary.new, len(summary.unread), summary.works) == (4, 2, 4)
    ingest(both(pair)[::-1], turned)
    for each in both(pair)[::-1]:
        ingest(each, other)
    assert content_of(one) == content_of(turned) == content_of(other)
    assert ingest(both(pair), one).works_named == 4


def test_two_files_that_name_one_work_do_not_both_get_it(pair: tuple[Path, Path], tmp_path: Path) -> None:
    first, second = both(pair)
    again = Records(second.folder, first.records[:1], ())
    summary = ingest([first, again], tmp_path / "archive")
    assert summary.new == 2
    assert "another of the records files names the same work" in summary.unread[-1][1]


def test_what_gave_no_work_can_be_taken_alone(pair: tuple[Path, Path], tmp_path: Path) -> None:
    archive = tmp_path / "archive"
    ingest(both(pair), archive)
    for each in pair:
        paint("slant", 3, (96, 72)).save(each.parent / "2.png")
        (each.parent / "0.png").unlink()
    summary = ingest(both(pair), archive, chosen=Chosen(aside=True))
    assert (summary.new, summary.unread, summary.unchanged, summary.works) == (2, [], 0, 6)
    with Archive.open(archive) as opened:
        assert opened.set_aside() == []
    assert verify(archive) == []


def test_single_works_can_be_taken_alone(pair: tuple[Path, Path], tmp_path: Path) -> None:
    archive = tmp_path / "archive"
    assert ingest(both(pair), archive, chosen=Chosen(works=["b1"])).works == 1
    with pytest.raises(ArchiveError, match="no such work: z9"):
        ingest(both(pair), archive, chosen=Chosen(works=["z9", "a1"]))
    with Archive.open(archive) as opened:
        assert opened.work_ids() == ["a1", "b1"]


def test_a_note_under_an_older_name_of_the_file_goes_when_the_work_comes(
    pair: tuple[Path, Path], tmp_path: Path
) -> None:
    archive = tmp_path / "archive"
    ingest(read_records(pair[0]), archive)
    paint("slant", 3, (96, 72)).save(pair[0].parent / "better.png")
    pair[0].write_text(pair[0].read_text().replace("2.png", "better.png"))
    assert ingest(read_records(pair[0]), archive).new == 1
    with Archive.open(archive) as opened:
        assert opened.set_aside() == []


def test_a_picture_whose_record_states_the_hash_that_was_read_is_not_opened_again(
    small_records: Path, fresh_archive: Path, tmp_path: Path
) -> None:
    archive = Path(shutil.copytree(fresh_archive, tmp_path / "archive"))
    elsewhere = tmp_path / "records.csv"
    elsewhere.write_bytes(small_records.read_bytes())
    assert ingest(read_records(elsewhere), archive).unchanged == 16
    assert content_of(archive) == content_of(fresh_archive)


def test_a_work_that_is_taken_out_stays_out_and_leaves_boards_whole(pair: tuple[Path, Path], tmp_path: Path) -> None:
    archive = tmp_path / "archive"
    ingest(both(pair), archive)
    with BoardsFile.open(archive) as file:
        board = Boards(file).make("Lamps")
        Boards(file).add(board.board, [Leaf("l1", (Shown("a1", record={"title": "T1"}),), ("painting",))])
    with pytest.raises(ArchiveError, match="no such work in the archive: q"):
        withdraw(archive, ["a1", "q"], "Asked for.")
    assert withdraw(archive, ["a1"], "Asked for.") == 1
    assert boards_showing(archive, ["a1"]) == ["Lamps"]
    summary = ingest(both(pair), archive)
    assert (summary.withheld, summary.new, summary.works) == (1, 0, 3)
    with Archive.open(archive) as opened:
        assert opened.work("a1") is None
        assert [row["reason"] for row in opened.set_aside() if row["kind"] == "withdrawn"] == ["Asked for."]
    findings = verify(archive)
    assert [(finding.wrong, "a1" in finding.sentence) for finding in findings] == [(False, True)]
    with BoardsFile.open(archive) as file:
        (leaf,) = Boards(file).get(board.board).leaves
    assert leaf.shown[0].record["title"] == "T1"
    with pytest.raises(ArchiveError, match="was not taken out by hand"):
        let_in(archive, ["a0"])
    let_in(archive, ["a1"])
    assert ingest(both(pair), archive).new == 1
    assert verify(archive) == []


def test_arrangements_found_in_an_older_way_are_found_anew_without_reading_a_picture(
    small_records: Path, fresh_archive: Path, tmp_path: Path
) -> None:
    archive = Path(shutil.copytree(fresh_archive, tmp_path / "archive"))
    with Edition.begin(archive) as edition:
        with edition.batch() as connection:
            connection.execute("UPDATE settings SET value = '{}' WHERE name = 'arrangement_model'")
        edition.publish()
    summary = ingest(read_records(small_records), archive)
    assert (summary.unchanged, summary.again) == (16, 0)
    assert content_of(archive) == content_of(fresh_archive)
