"""The practice log: what is kept, what is not, and that deleting leaves nothing."""

from __future__ import annotations

import datetime
import io
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from archive.board import BoardsError, Leaf, NotThereError, Shown, new_id
from archive.boards import Boards
from archive.boards_file import BoardsFile
from archive.looking_back import look_back
from archive.placing import Belonging
from archive.practice import Kept, Practice, TracesLeft
from ingest.reading import read

DAY = datetime.date(2026, 3, 5)


def photo() -> bytes:
    """A study photographed by a telephone that wrote a place, a camera and a time into the file."""
    tone = np.full((120, 160, 3), 200, dtype=np.uint8)
    tone[40:, :80], tone[10:30, 100:] = 40, 110
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0132] = "Maker of cameras", "Camera of places", "2026:03:05 18:30:00"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (52.0, 30.0, 7.0)
    held = io.BytesIO()
    Image.fromarray(tone).save(held, "JPEG", quality=95, exif=exif)
    return held.getvalue()


@pytest.fixture
def file(tmp_path: Path) -> Any:
    with BoardsFile.open(tmp_path) as opened:
        yield opened


def on_disk(file: BoardsFile) -> bytes:
    return b"".join(each.read_bytes() for each in sorted(file.file.parent.glob(file.file.name + "*")))


def test_what_is_kept_comes_back(file: BoardsFile) -> None:
    practice = Practice(file)
    reading = read(photo())
    kept = practice.keep(reading, nickname="  Wren ", title="Lamp\nagain", nearest=Belonging("a", "A", 0.7), day=DAY)
    assert (kept.nickname, kept.title, kept.kept_on) == ("Wren", "Lamp again", "2026-03-05")
    assert practice.get(kept.study) == kept
    assert practice.all() == practice.all("Wren") == [kept]
    assert practice.all("") == practice.all("wren") == []
    assert kept.measures["dark"] == pytest.approx(reading.measures.dark)
    assert practice.nicknames() == [("Wren", 1)]
    with Image.open(io.BytesIO(practice.picture(kept.study) or b"")) as picture:
        assert picture.size == (kept.width, kept.height) == (160, 120)
    with Image.open(io.BytesIO(practice.picture(kept.study, "map3") or b"")) as picture:
        assert picture.size == (kept.width, kept.height)


def test_nothing_that_a_camera_wrote_is_kept(file: BoardsFile) -> None:
    data = photo()
    assert b"Camera of places" in data
    practice = Practice(file)
    kept = practice.keep(read(data))
    with Image.open(io.BytesIO(practice.picture(kept.study) or b"")) as picture:
        assert len(picture.getexif()) == 0
    there = on_disk(file)
    for written in (b"Maker of cameras", b"Camera of places", b"18:30:00"):
        assert written not in there


def test_deleting_leaves_nothing_behind(file: BoardsFile) -> None:
    practice, boards = Practice(file), Boards(file)
    stays = practice.keep(read(photo()), nickname="Finch")
    goes = practice.keep(read(photo()), nickname="Wren", title="The kettle by the stove")
    picture = practice.picture(goes.study) or b""
    inside = picture[len(picture) // 2 :][:200]
    board = boards.make("Evening class", leaves=[
        Leaf(new_id(), (Shown(study=goes.study),)), Leaf(new_id(), (Shown(study=stays.study),)),
    ])  # fmt: skip
    assert b"The kettle by the stove" in on_disk(file)
    assert practice.forget(goes.study)
    assert practice.get(goes.study) is None
    assert practice.picture(goes.study) is None
    assert practice.all() == [stays]
    assert [leaf.shown[0].study for leaf in boards.get(board.board).leaves] == [stays.study]
    there = on_disk(file)
    assert b"The kettle by the stove" not in there
    assert goes.sentence == stays.sentence, "the sentence alone tells nothing here"
    assert there.count(inside) == (practice.picture(stays.study) or b"").count(inside)
    assert not practice.forget(goes.study)


@contextmanager
def somebody_reads(file: BoardsFile) -> Iterator[None]:
    """Another program in the middle of reading: what it began to see must stay readable to it."""
    with closing(sqlite3.connect(file.file, isolation_level=None, check_same_thread=False)) as other:
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM studies").fetchone()
        yield


def test_what_a_reader_held_is_told_and_goes_later(file: BoardsFile, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("archive.practice._PATIENCE", 0.05)
    practice = Practice(file)
    first, second = (practice.keep(read(photo()), nickname=f"Wren of the {name}") for name in ("reeds", "hedge"))
    with somebody_reads(file), pytest.raises(TracesLeft, match=r"gone, also from every board.*boards\.db-wal"):
        practice.forget(first.study)
    assert practice.all() == [second]
    assert b"Wren of the reeds" in on_disk(file)
    assert not practice.forget(first.study)
    assert b"Wren of the reeds" not in on_disk(file), "the next deletion empties the journal"
    with somebody_reads(file), pytest.raises(TracesLeft):
        practice.forget_all("Wren of the hedge")
    assert b"Wren of the hedge" in on_disk(file)
    with BoardsFile.open(file.file.parent) as again:
        Practice(again)
        assert b"Wren of the hedge" not in on_disk(file), "so does whoever opens the studies next"


def test_a_reader_who_is_soon_done_is_waited_for(file: BoardsFile) -> None:
    practice = Practice(file)
    kept = practice.keep(read(photo()), nickname="Wren of the reeds")
    with ExitStack() as reading:
        reading.enter_context(somebody_reads(file))
        ends = threading.Timer(0.2, reading.close)
        ends.start()
        assert practice.forget(kept.study)
        ends.join()
    assert b"Wren of the reeds" not in on_disk(file)


def test_a_study_and_its_leaves_go_together_or_not_at_all(file: BoardsFile, monkeypatch: pytest.MonkeyPatch) -> None:
    practice, boards = Practice(file), Boards(file)
    kept = practice.keep(read(photo()))
    board = boards.make("Evening class", leaves=[Leaf(new_id(), (Shown(study=kept.study),)) for _ in range(2)])

    def broken(*_: object) -> None:
        raise RuntimeError

    with monkeypatch.context() as patched:
        patched.setattr("archive.board_studies.write_changed", broken)
        with pytest.raises(RuntimeError):
            practice.forget(kept.study)
    assert practice.all() == [kept]
    assert boards.get(board.board) == board
    assert practice.forget(kept.study)
    assert boards.get(board.board).leaves == ()


def test_a_leaf_of_a_deleted_study_does_not_come_back(file: BoardsFile) -> None:
    practice, boards = Practice(file), Boards(file)
    goes, stays = (practice.keep(read(photo()), title=title) for title in ("Kettle", "Lamp"))
    leaves = [Leaf(new_id(), (Shown(study=kept.study),)) for kept in (goes, goes, stays)]
    board = boards.make("Evening class", leaves=leaves)
    boards.remove(board.board, leaves[0].leaf)
    boards.remove(board.board, leaves[2].leaf)
    practice.forget(goes.study)
    assert boards.removed(board.board) == [leaves[2]]
    for leaf in leaves[:2]:
        with pytest.raises(NotThereError, match=r"not kept here any more"):
            boards.put_back(board.board, leaf.leaf)
        with pytest.raises(NotThereError, match=r"not kept here any more"):
            boards.change_leaf(board.board, leaf.leaf, 1, note="Still here?")
    assert boards.put_back(board.board, leaves[2].leaf).leaves == (leaves[2],)
    assert boards.count() == 1


def test_all_of_a_nickname_go_at_once(file: BoardsFile) -> None:
    practice = Practice(file)
    reading = read(photo())
    for name in ("Wren", "Finch", "Wren", ""):
        practice.keep(reading, nickname=name)
    assert practice.forget_all("Wren") == 2
    assert practice.nicknames() == [("", 1), ("Finch", 1)]
    assert practice.forget_all("Wren") == 0


def test_names_that_are_too_long_are_refused_in_words(file: BoardsFile) -> None:
    with pytest.raises(BoardsError, match=r"A nickname may have up to 40 characters\."):
        Practice(file).keep(read(photo()), nickname="w" * 41)
    assert Practice(file).all() == []


def kept(arrangement: str, **measures: float) -> Kept:
    flat = {"light": 0.3, "mid": 0.4, "dark": 0.3, "light_masses": 2, "dark_masses": 2, "gap_mid_dark": 30,
            "gap_light_mid": 30}  # fmt: skip
    return Kept(new_id(), "", "", "2026-03-05", 4, 3, "", arrangement, arrangement.upper(), 0.6, flat | measures)


def test_looking_back_on_what_was_tried() -> None:
    looked = look_back([kept("a"), kept("b"), kept("a"), kept("")], [("a", "A"), ("b", "B"), ("c", "C")])
    assert looked.tried == (("a", "A", 2), ("b", "B", 1))
    assert looked.untried == (("c", "C"),)
    assert looked.changes == (), "nothing changed"


def test_looking_back_on_what_changed() -> None:
    """Medians of the first two studies against those of the last two; the one in the middle counts for neither."""
    first = [kept("a", light=0.5, light_masses=7), kept("a", light=0.48, light_masses=5)]
    last = [kept("a", light=0.25, light_masses=2), kept("a", light=0.24, light_masses=2)]
    looked = look_back([*first, kept("a", light=0.9), *last])
    assert looked.changes == (
        "Your light went from half of the picture to a quarter.",
        "Your lights went from six masses to two masses.",
    )
    assert look_back([first[0], *last]).changes == (), "three are too few to speak of change"
