"""Under load and fault, small: a place in the line, a new edition while pages are asked for, a killed server."""

from __future__ import annotations

import asyncio
import re
import shutil
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from asgi_house import BOUNDARY, AsgiHouse, multipart, picture

from archive.edition import Edition
from archive.modes import CLASSROOM, House
from archive.pages import editions, waiting
from archive.store import Archive


@pytest.fixture
def folder(small_archive: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(small_archive, tmp_path / "archive"))


@pytest.fixture
def house(folder: Path) -> Iterator[AsgiHouse]:
    house = AsgiHouse(folder, House(CLASSROOM))
    yield house
    house.close()


def test_a_class_at_once_is_answered_each_in_turn(house: AsgiHouse, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(waiting, "PATIENCE", 0.05)
    body = multipart(picture(size=(400, 300)), name="study", file="a.png", kind="image/png")
    headers = [("Content-Type", f"multipart/form-data; boundary={BOUNDARY}")]
    places: list[int] = []

    async def student(number: int) -> str:
        answer = await house.asked("/-/find", "POST", headers=headers, body=body, client=f"10.0.0.{number}")
        while answer.status in (202, 303):
            where = answer.headers.get("location", "")
            if answer.status == 202:
                refresh = answer.headers["refresh"]
                found = re.fullmatch(r"\d+; url=(/-/waiting/[\w-]+)", refresh)
                assert found is not None
                where = found[1]
                place = (await house.asked(where + ".json")).json()
                if "place" in place:
                    places.append(place["place"])
                assert "<meta http-equiv" not in answer.text
            answer = await house.asked(where)
        assert answer.status == 200, answer.text
        return answer.text

    async def all_of_them() -> list[str]:
        return await asyncio.gather(*(student(number) for number in range(10)))

    pages = house.run(all_of_them())
    assert all("as it was read" in page for page in pages)
    assert max(places) >= 2
    assert house.send("/-/waiting/" + "A" * 22).status == 404


def test_a_twin_may_ask_for_its_place(house: AsgiHouse, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(waiting, "PATIENCE", 0.0)
    answer = house.upload("/-/find.json", picture(), headers=[("Prefer", "respond-async")])
    assert answer.status == 202
    while answer.status == 202:
        answer = house.send(answer.headers["location"])
    assert answer.json()["matches"]


def test_a_new_edition_is_taken_up_whole(house: AsgiHouse, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(editions, "EVERY", 0.01)
    before = Archive.open(folder)
    gone, stays = before.work_ids()[0], before.work_ids()[1]
    signatures = before.signatures()
    assert house.send(f"/-/works/{gone}").status == 200
    with Edition.begin(folder) as edition:
        with edition.batch() as connection:
            connection.execute("DELETE FROM works WHERE work = ?", (gone,))
            connection.execute("UPDATE works SET title = 'Another title' WHERE work = ?", (stays,))
        edition.publish()

    # Whoever holds the old edition sees it whole, from whatever thread.
    async def old() -> tuple[int, int]:
        counts = await asyncio.gather(*(asyncio.to_thread(before.counts) for _ in range(8)))
        assert len({count["works"] for count in counts}) == 1
        return counts[0]["works"], len(before.signatures())

    works, rows = house.run(old())
    assert works == rows == len(signatures)
    assert before.replaced

    seen: set[tuple[int, str, int, int]] = set()
    deadline = time.monotonic() + 20
    while time.monotonic() < deadline:
        ours = house.send("/-/about.json").json()
        theirs = house.send("/archive/works.json?_extra=count&_size=0")
        if theirs.status == 302:
            # Begun on the edition that has just gone: whoever asked is sent to ask again, as a browser does by itself.
            assert theirs.headers["location"].endswith("/archive/works.json?_extra=count&_size=0")
            continue
        answered = house.send(f"/-/works/{gone}").status
        matches = house.upload("/-/find.json", picture())
        assert matches.status == 200
        seen.add((ours["counts"]["works"], "", theirs.json()["count"], answered))
        if ours["counts"]["works"] == works - 1 and answered == 404:
            break
        time.sleep(0.02)
    assert ours["counts"]["works"] == works - 1
    assert theirs.json()["count"] == works - 1
    assert "Another title" in house.send(f"/-/works/{stays}").text
    assert gone not in {match["work"] for match in house.upload("/-/find.json", picture()).json()["matches"]}


def test_a_file_that_is_no_archive_does_not_end_the_lesson(
    house: AsgiHouse, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(editions, "EVERY", 0.01)
    works = house.send("/-/about.json").json()["counts"]["works"]
    broken = folder / "broken.db"
    broken.write_bytes(b"this is no database" * 100)
    broken.replace(folder / "archive.db")
    for _ in range(3):
        time.sleep(0.05)
        assert house.send("/-/about.json").json()["counts"]["works"] == works
        assert house.upload("/-/find.json", picture()).status == 200


COMMAND = [sys.executable, "-c", "from archive.command import main; main()"]


def start(folder: Path) -> tuple[subprocess.Popen[str], str]:
    process = subprocess.Popen(
        [*COMMAND, "serve", "--archive", str(folder), "--port", "0"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    return process, next(word for word in process.stdout.readline().split() if word.startswith("http://"))


def send(address: str, path: str, body: bytes = b"", kind: str = "") -> Any:
    import json

    request = urllib.request.Request(address.rstrip("/") + path, data=body or None)
    if kind:
        request.add_header("Content-Type", kind)
    with urllib.request.urlopen(request, timeout=60) as answer:
        return json.loads(answer.read())


def test_what_was_acknowledged_is_there_after_a_kill(folder: Path) -> None:
    process, address = start(folder)
    try:
        form = multipart(picture(), name="study", file="a.png", kind="image/png", fields=[("do", "keep")])
        study = send(address, "/-/practice.json", form, f"multipart/form-data; boundary={BOUNDARY}")["study"]
        board = send(address, "/-/boards.json", b"do=make&title=Lights", "application/x-www-form-urlencoded")["board"]
    finally:
        process.send_signal(signal.SIGKILL)
        process.communicate(timeout=20)
    process, address = start(folder)
    try:
        assert [kept["study"] for kept in send(address, "/-/practice.json")["studies"]] == [study]
        assert send(address, f"/-/boards/{board}.json")["board"]["title"] == "Lights"
    finally:
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=20)
    assert process.returncode == 0
