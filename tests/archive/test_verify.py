"""Whatever is done to an archive behind its back is found and said; what can be mended is."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from archive.arranging import arrange
from archive.edition import Edition
from archive.ingesting import ingest
from archive.store import DATABASE, PICTURES, SIGNATURES, Archive, ArchiveError
from archive.verify import repair, verify, way_out
from ingest.provenance import read_records


@pytest.fixture
def copy(fresh_archive: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(fresh_archive, tmp_path / "copy"))


def wrong(folder: Path) -> list[str]:
    return [finding.sentence for finding in verify(folder) if finding.wrong]


def sql(folder: Path, *statements: str) -> None:
    connection = sqlite3.connect(folder / DATABASE)
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()


def one_picture(folder: Path, work: str, column: str) -> Path:
    with Archive.open(folder) as archive:
        found = archive.work(work)
    assert found is not None
    return folder / PICTURES / found[column]


def test_a_whole_archive_gives_nothing_to_say(fresh_archive: Path) -> None:
    seen: list[tuple[int, int]] = []
    assert verify(fresh_archive, on_progress=lambda done, total: seen.append((done, total))) == []
    assert seen[-1][0] == seen[-1][1] == len(seen) > 80


def test_no_archive_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(ArchiveError, match="no archive"):
        verify(tmp_path)


def lose_a_picture(folder: Path) -> None:
    one_picture(folder, "made-03", "map3").unlink()


def change_a_picture(folder: Path) -> None:
    picture = one_picture(folder, "made-03", "painting")
    content = bytearray(picture.read_bytes())
    content[len(content) // 2] ^= 1
    picture.write_bytes(bytes(content))


def cut_a_picture_of_an_arrangement(folder: Path) -> None:
    with Archive.open(folder) as archive:
        name = archive.arrangements()[0]["mean"]
    (folder / PICTURES / name).write_bytes(b"")


def lose_the_signatures(folder: Path) -> None:
    (folder / SIGNATURES).unlink()


def cut_the_signatures(folder: Path) -> None:
    content = (folder / SIGNATURES).read_bytes()
    (folder / SIGNATURES).write_bytes(content[:-100])


def change_a_signature(folder: Path) -> None:
    signatures = np.load(folder / SIGNATURES)
    signatures[5, 100] ^= 1
    np.save(folder / SIGNATURES, signatures)


def swap_signatures(folder: Path) -> None:
    signatures = np.load(folder / SIGNATURES)
    np.save(folder / SIGNATURES, signatures[::-1].copy())


def save_signatures_by_hand(folder: Path) -> None:
    content = (folder / SIGNATURES).read_bytes()
    (folder / SIGNATURES).write_bytes(content + b"more")


def point_nowhere(folder: Path) -> None:
    sql(folder, "UPDATE works SET source = 99 WHERE work = 'made-01'")


def lose_measures(folder: Path) -> None:
    sql(folder, "DELETE FROM measures WHERE work = 'made-01'")


def count_rows_wrongly(folder: Path) -> None:
    sql(folder, "UPDATE works SET row = 100 WHERE work = 'made-15'")


def count_members_wrongly(folder: Path) -> None:
    sql(folder, "UPDATE arrangements SET members = members + 1 WHERE slug = (SELECT min(slug) FROM arrangements)")


def forget_in_the_search(folder: Path) -> None:
    sql(folder, "INSERT INTO works_fts(works_fts) VALUES ('delete-all')")


DAMAGE: list[tuple[Callable[[Path], None], str]] = [
    (lose_a_picture, "of work made-03 is missing"),
    (change_a_picture, "of work made-03 is damaged"),
    (cut_a_picture_of_an_arrangement, "of arrangement"),
    (lose_the_signatures, "signatures.npy is missing or damaged"),
    (cut_the_signatures, "signatures.npy is missing or damaged"),
    (change_a_signature, "The signatures of 1 work differ from the database: made-05"),
    (swap_signatures, "The signatures of 16 works differ"),
    (save_signatures_by_hand, "not the file that was written with the database"),
    (point_nowhere, "1 row of works refer to sources that are not there"),
    (lose_measures, "1 work without a row in measures: made-01"),
    (count_rows_wrongly, "do not count from 0"),
    (count_members_wrongly, "another number of members"),
    (forget_in_the_search, "The text search knows 0 works"),
]


@pytest.mark.parametrize(("damage", "says"), DAMAGE, ids=lambda item: getattr(item, "__name__", None))
def test_damage_is_found_and_said(copy: Path, damage: Callable[[Path], None], says: str) -> None:
    damage(copy)
    found = wrong(copy)
    assert any(says in sentence for sentence in found), found
    assert all(sentence.endswith(".") for sentence in found)


@pytest.mark.parametrize(
    "damage",
    [
        cut_a_picture_of_an_arrangement,
        lose_the_signatures,
        cut_the_signatures,
        change_a_signature,
        save_signatures_by_hand,
        count_rows_wrongly,
        forget_in_the_search,
    ],
)
def test_what_is_derived_is_mended_from_the_rest(
    copy: Path, fresh_archive: Path, damage: Callable[[Path], None]
) -> None:
    damage(copy)
    repair(copy, verify(copy))
    assert verify(copy) == []
    assert (copy / SIGNATURES).read_bytes() == (fresh_archive / SIGNATURES).read_bytes()
    assert (copy / DATABASE).read_bytes() == (fresh_archive / DATABASE).read_bytes()


@pytest.mark.parametrize("damage", [lose_a_picture, change_a_picture, lose_measures])
def test_what_needs_the_paintings_is_read_again_by_the_next_ingest(
    copy: Path, fresh_archive: Path, small_records: Path, damage: Callable[[Path], None]
) -> None:
    damage(copy)
    said = repair(copy, verify(copy))
    assert "1 work will be read again by the next ingest of the same records." in said
    summary = ingest(read_records(small_records), copy, workers=1)
    assert (summary.again, summary.unchanged) == (1, 15)
    assert verify(copy) == []
    # The work found its place again by what it is like; the map is laid out anew only on demand.
    arrange(copy)
    assert (copy / DATABASE).read_bytes() == (fresh_archive / DATABASE).read_bytes()


def test_many_lost_pictures_are_counted_and_the_remedy_is_named(copy: Path, small_records: Path) -> None:
    shutil.rmtree(copy / PICTURES)
    (finding,) = verify(copy)
    assert finding.sentence == ("88 pictures are missing, of work made-15, work made-14, work made-13 and 17 more.")
    assert "'blotbook verify --repair' first" in way_out([finding])
    repair(copy, [finding])
    left = verify(copy)
    assert "The next ingest of the same records" in way_out(left, repaired=True)
    ingest(read_records(small_records), copy, workers=1)
    assert verify(copy) == []
    assert way_out([]) == ""


def test_an_empty_database_is_damaged(copy: Path) -> None:
    (copy / DATABASE).write_bytes(b"")
    (finding,) = verify(copy)
    assert finding.sentence == "archive.db is damaged: it is empty."
    assert "blotbook ingest" in way_out([finding])
    assert not (copy / "archive.next.db").exists()


@pytest.mark.parametrize("where", [0, 4096 * 3])
def test_a_damaged_database_is_said_and_not_made_worse(copy: Path, where: int) -> None:
    with (copy / DATABASE).open("r+b") as file:
        file.seek(where)
        file.write(b"\xff" * 2000)
    before = (copy / DATABASE).read_bytes()
    findings = verify(copy)
    assert findings
    assert all("archive.db is damaged" in finding.sentence for finding in findings)
    with pytest.raises(ArchiveError, match="itself is damaged"):
        repair(copy, findings)
    assert (copy / DATABASE).read_bytes() == before


def test_left_overs_and_unfinished_work_are_noted_but_not_wrong(copy: Path) -> None:
    (copy / PICTURES / "00").mkdir(exist_ok=True)
    (copy / PICTURES / "00" / ("0" * 64 + ".png")).write_bytes(b"")
    with Edition.begin(copy) as edition, edition.batch() as connection:
        connection.execute("UPDATE works SET title = 'x' WHERE work = 'made-00'")
    findings = verify(copy)
    assert [finding.wrong for finding in findings] == [False, False]
    assert "no work needs" in findings[0].sentence
    assert "stopped" in findings[1].sentence
