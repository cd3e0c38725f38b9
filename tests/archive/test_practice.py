"""The practice log: what is kept, what is not, and that deleting leaves nothing."""

from __future__ import annotations

import datetime
import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from archive.board import BoardsError, Leaf, Shown, new_id
from archive.boards import Boards
from archive.boards_file import BoardsFile
from archive.looking_back import look_back
from archive.placing import Belonging
from archive.practice import Kept, Practice
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
