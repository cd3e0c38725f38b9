"""What holds when the file of boards cannot be written: another program has it, the disk is full, it is damaged."""

from __future__ import annotations

import asyncio
import shutil
import sqlite3
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from asgi_house import Answer, AsgiHouse

from archive.boards import Boards
from archive.boards_file import BOARDS, BoardsFile, BoardsFileError
from archive.pages import pressed

FORM = [("Content-Type", "application/x-www-form-urlencoded")]


@pytest.fixture
def house(small_archive: Path, tmp_path: Path) -> Iterator[AsgiHouse]:
    opened = AsgiHouse(Path(shutil.copytree(small_archive, tmp_path / "archive")))
    yield opened
    opened.close()


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Another program has begun to write and does not come to an end."""
    with closing(sqlite3.connect(folder / BOARDS, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


def test_all_who_wait_for_another_program_wait_at_the_same_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("archive.boards_file._PATIENCE", 0.6)

    def refusal(number: int) -> str:
        with pytest.raises(BoardsFileError) as caught:
            boards.make(f"Board {number}")
        return str(caught.value)

    with BoardsFile.open(tmp_path) as file, ThreadPoolExecutor(8) as writers:
        boards = Boards(file)
        with held(tmp_path):
            began = time.monotonic()
            said = set(writers.map(refusal, range(8)))
            # One after the other they would wait eight times as long.
            assert time.monotonic() - began < 2.4
        assert said == {"Another program is writing to boards.db just now. Nothing was changed; try again in a minute."}
        assert boards.count() == 0
        boards.make("Afterwards")
        assert boards.count() == 1


def test_pages_come_while_another_program_holds_the_boards(house: AsgiHouse, monkeypatch: pytest.MonkeyPatch) -> None:
    """More writers wait than there are threads in which pages are made."""
    folder = house.datasette.blotbook_room.archive.folder
    board = house.post("/-/boards.json", {"do": "make", "title": "Board of the class"}).json()["board"]
    monkeypatch.setattr("archive.boards_file._PATIENCE", 5.0)
    words = b"do=words&version=1&aim=More"

    async def asked() -> list[Answer]:
        path = f"/-/boards/{board}.json"
        writers = [
            asyncio.create_task(house.asked(path, "POST", headers=FORM, body=words, client=f"10.0.0.{number}"))
            for number in range(30)
        ]
        await asyncio.sleep(0.3)
        for page in ("/-/about", "/-/boards", f"/-/boards/{board}"):
            assert (await house.asked(page)).status == 200
        assert not any(writer.done() for writer in writers), "pages waited for those who write"
        return await asyncio.gather(*writers)

    with held(folder):
        answers = house.run(asked())
    for answer in answers:
        assert answer.status == 503
        assert answer.headers["retry-after"] == "60"
        assert answer.json()["error"].startswith("Another program is writing")
        assert str(folder) not in answer.text
    assert house.send(f"/-/boards/{board}.json").json()["board"]["aim"] == ""


def test_a_full_disk_is_said_and_nothing_is_lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with BoardsFile.open(tmp_path) as file:
        boards = Boards(file)
        board = boards.make("Before")

    def bounded(self: BoardsFile) -> sqlite3.Connection:
        opened = connect(self)
        (pages,) = opened.execute("PRAGMA page_count").fetchone()
        opened.execute(f"PRAGMA max_page_count = {pages}")
        return opened

    connect = BoardsFile._connect
    monkeypatch.setattr(BoardsFile, "_connect", bounded)
    with BoardsFile.open(tmp_path) as file:
        boards = Boards(file)
        with pytest.raises(BoardsFileError, match=r"^The disk is full, and boards\.db cannot be written\."):
            boards.reword(board.board, 1, notes="x" * 20_000)
        assert boards.get(board.board) == board


def test_a_damaged_file_is_said(tmp_path: Path) -> None:
    (tmp_path / BOARDS).write_bytes(b"no boards at all" * 1000)
    with pytest.raises(BoardsFileError, match=r"^boards\.db is damaged; 'blotbook verify' tells more\.$"):
        BoardsFile.open(tmp_path)


def test_where_the_file_cannot_be_made_no_folder_is_told(house: AsgiHouse) -> None:
    folder = house.datasette.blotbook_room.archive.folder
    # Whatever the rights of whoever runs the tests, a folder is no file.
    (folder / BOARDS).unlink(missing_ok=True)
    (folder / BOARDS).mkdir()
    for path in ("/-/boards", "/-/boards.json", "/-/boards/x.json", "/-/boards/x/wall", "/-/boards/x/press/json"):
        answer = house.send(path)
        assert answer.status == 503, path
        assert str(folder) not in answer.text
        assert "boards.db cannot be opened or written in the folder of the archive" in answer.text
    assert house.send("/-/works").status == 200


def test_boards_are_made_into_files_one_after_the_other(house: AsgiHouse, monkeypatch: pytest.MonkeyPatch) -> None:
    board = house.post("/-/boards.json", {"do": "make", "title": "Long"}).json()["board"]
    at_work, most, may_go_on = [0], [0], threading.Event()

    def held_up(*values: Any) -> Any:
        at_work[0] += 1
        most[0] = max(most[0], at_work[0])
        assert may_go_on.wait(60)
        at_work[0] -= 1
        return press(*values)

    press = pressed._press
    monkeypatch.setattr(pressed, "_press", held_up)

    async def asked(count: int, refused: int) -> list[int]:
        """Answers to so many at once; the first file is finished when so many of them have been refused."""
        path = f"/-/boards/{board}/press/json"
        asking = [asyncio.create_task(house.asked(path)) for _ in range(count)]
        while sum(task.done() for task in asking) < refused:
            await asyncio.sleep(0.01)
        may_go_on.set()
        return [answer.status for answer in await asyncio.gather(*asking)]

    answered = house.run(asked(60, 20))
    assert most == [1]
    assert answered.count(200) == 40
    assert answered.count(503) == 20
    assert house.run(asked(1, 0)) == [200]
