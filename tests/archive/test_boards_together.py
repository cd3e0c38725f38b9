"""Many writers on one board over real HTTP, and writers that are killed in the middle of writing."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from archive.board import Leaf, Shown, new_id
from archive.boards import Boards
from archive.boards_file import BOARDS, BoardsFile

WRITERS = 20
LONGEST_WAIT = 2.0
"""Seconds that nobody may be kept waiting for, as the requirement says."""

KILLS = 50


@pytest.fixture(scope="module")
def address(small_archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A server of a copy of the small archive, in a process of its own."""
    folder = Path(shutil.copytree(small_archive, tmp_path_factory.mktemp("served") / "copy"))
    process = subprocess.Popen(
        [sys.executable, "-c", "from archive.command import main; main()",
         "serve", "--archive", str(folder), "--port", "0"],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    words = process.stdout.readline().split()
    yield next(word for word in words if word.startswith("http://")).rstrip("/")
    process.terminate()
    process.wait(timeout=20)


def ask(url: str, form: list[tuple[str, Any]] | None = None) -> tuple[int, dict[str, Any], float]:
    """Status, JSON and seconds of a request."""
    data = None if form is None else urllib.parse.urlencode(form).encode()
    began = time.perf_counter()
    try:
        with urllib.request.urlopen(urllib.request.Request(url, data=data), timeout=30) as answer:
            status, said = answer.status, json.load(answer)
    except urllib.error.HTTPError as refused:
        status, said = refused.code, json.load(refused)
    return status, said, time.perf_counter() - began


def test_twenty_writers_lose_nothing_and_nobody_waits_long(address: str) -> None:
    works = ask(f"{address}/-/search.json")[1]["works"]
    board = ask(f"{address}/-/boards.json", [("do", "make"), ("title", "Together")])[1]["board"]
    url = f"{address}/-/boards/{board}.json"

    def write(number: int) -> list[float]:
        waits = []
        work = works[number % len(works)]["work"]
        for turn in range(3):
            form = [("board", board), ("work", work), ("way", ("painting", "three", "two")[turn])]
            status, _, waited = ask(f"{address}/-/gather.json", form)
            assert status == 200
            waits.append(waited)
        form = [("do", "words"), ("version", 1), ("title", "Together"), ("aim", f"by {number}"), ("notes", "")]
        status, said, waited = ask(url, form)
        assert status in (200, 409)
        assert (status == 409) == (said["ok"] is False)
        return [*waits, waited]

    with ThreadPoolExecutor(WRITERS) as pool:
        waits = [waited for writer in pool.map(write, range(WRITERS)) for waited in writer]
    there = ask(url)[1]["board"]
    assert len(there["leaves"]) == 3 * WRITERS
    shown = sorted((leaf["shown"][0]["work"], leaf["showing"][0]) for leaf in there["leaves"])
    assert shown == sorted(
        (works[number % len(works)]["work"], way) for number in range(WRITERS) for way in ("painting", "three", "two")
    )
    listed = ask(f"{address}/-/boards.json")[1]["boards"]
    aims = {each["aim"] for each in listed if each["board"] == board or each["beside"] == board}
    assert aims == {f"by {number}" for number in range(WRITERS)}
    assert there["version"] == 1 + 3 * WRITERS + 1
    assert max(waits) < LONGEST_WAIT


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can fork")
def test_whatever_was_acknowledged_outlasts_fifty_kills(tmp_path: Path) -> None:
    with BoardsFile.open(tmp_path) as file:
        board = Boards(file).make("Killed").board
    chance = random.Random(7)
    acknowledged: dict[str, str] = {}
    cut_short = 0
    for _ in range(KILLS):
        acknowledged |= _killed_writer(tmp_path, board, chance.uniform(0, 0.02))
        # A writer that ends as it should leaves no journal behind.
        cut_short += (tmp_path / f"{BOARDS}-wal").exists()
        with sqlite3.connect(tmp_path / BOARDS) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        connection.close()
        with BoardsFile.open(tmp_path) as file:
            boards = Boards(file)
            kept = {leaf.leaf: leaf.note for leaf in boards.get(board).leaves + tuple(boards.removed(board))}
            assert acknowledged.items() <= kept.items()
            # A board is full at its bound; room is made without losing what was acknowledged.
            for leaf in boards.get(board).leaves[20:]:
                boards.remove(board, leaf.leaf)
    assert cut_short == KILLS
    assert len(acknowledged) >= KILLS


def _killed_writer(folder: Path, board: str, after: float) -> dict[str, str]:
    """The notes that a process acknowledged, by leaf, before it was killed ``after`` seconds from its first one."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(reader)
            boards = Boards(BoardsFile.open(folder))
            while True:
                leaf = Leaf(new_id(), (Shown(work="a work"),), note=new_id() * 50)
                boards.add(board, [leaf])
                os.write(writer, f"{leaf.leaf} {leaf.note}\n".encode())
        finally:
            os._exit(1)
    os.close(writer)
    with os.fdopen(reader, "rb") as said:
        first = said.readline()
        time.sleep(after)
        os.kill(child, signal.SIGKILL)
        rest = said.read()
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), "the writer ended by itself"
    lines = (first + rest).decode().splitlines(keepends=True)
    return dict(line.split() for line in lines if line.endswith("\n"))  # type: ignore[arg-type]
