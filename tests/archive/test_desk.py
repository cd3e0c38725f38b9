"""The desk: pictures are read in turn by bounded processes, nobody's is lost, and a broken worker is replaced."""

from __future__ import annotations

import asyncio
import io
import os
import pickle
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from asgi_house import picture

from archive.desk import Desk, DeskFull, DeskProblem, Turn, standing, wire
from archive.desk.tasks import MEGAPIXELS
from archive.desk.worker import STAND, Worker
from archive.pages import waiting
from ingest.reading import Reading, read


@pytest.mark.asyncio
async def test_a_reading_comes_back_as_it_was_read_here() -> None:
    data = picture()
    there, here = await Desk(1).ask("study", data, True), read(data)
    assert isinstance(there, Reading)
    assert there.sentence == here.sentence
    assert there.measures == here.measures
    assert there.masses == here.masses
    np.testing.assert_array_equal(there.signature, here.signature)
    np.testing.assert_array_equal(there.picture.rgb, here.picture.rgb)


@pytest.mark.asyncio
async def test_who_comes_first_is_served_first_and_is_told_the_place() -> None:
    desk, order, places = Desk(1), [], []

    async def one(number: int) -> None:
        turn = Turn()
        standing.set(turn)
        task = asyncio.create_task(desk.ask("study", picture(), True))
        await turn.came.wait()
        places.append(turn.place)
        await task
        assert turn.place == 0
        order.append(number)

    await asyncio.gather(*(one(number) for number in range(6)))
    assert places == [0, 1, 2, 3, 4, 5]
    assert order == [0, 1, 2, 3, 4, 5]
    assert desk.waiting == 0


@pytest.mark.asyncio
async def test_whoever_goes_away_gives_up_the_place_and_the_work() -> None:
    desk = Desk(1)
    # Large enough to be under way still when the first goes away.
    large = picture("JPEG", (6000, 4000), quality=95)
    tasks = [asyncio.create_task(desk.ask("study", large, True)) for _ in range(4)]
    await asyncio.sleep(0.01)
    tasks[0].cancel()
    tasks[2].cancel()
    done = await asyncio.gather(*tasks, return_exceptions=True)
    assert [type(one) for one in done] == [asyncio.CancelledError, Reading, asyncio.CancelledError, Reading]
    assert isinstance(await desk.ask("study", picture(), True), Reading)


@pytest.mark.asyncio
async def test_a_line_that_is_full_says_so() -> None:
    desk = Desk(1, longest=1)
    tasks = [asyncio.create_task(desk.ask("study", picture(), True)) for _ in range(2)]
    await asyncio.sleep(0)
    with pytest.raises(DeskFull, match=r"waiting to be read already; please send yours again"):
        await desk.ask("study", picture(), True)
    await asyncio.gather(*tasks)


@pytest.mark.asyncio
async def test_bytes_that_wait_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("archive.desk.line.MOST_BYTES", 1000)
    desk = Desk(1)
    tasks = [asyncio.create_task(desk.ask("study", picture(), True)) for _ in range(2)]
    await asyncio.sleep(0)
    with pytest.raises(DeskFull):
        await desk.ask("study", b"x" * 1000, True)
    await asyncio.gather(*tasks)


@pytest.mark.asyncio
async def test_a_worker_that_dies_is_replaced() -> None:
    desk = Desk(1)
    await desk.ask("study", picture(), True)
    worker = STAND.take()
    os.kill(worker.pid, 9)
    with pytest.raises(DeskProblem, match=r"broke off"):
        worker.ask("study", (picture(), True))
    STAND.give_back(worker, 1)
    assert isinstance(await desk.ask("study", picture(), True), Reading)


def test_a_worker_that_is_late_is_stopped() -> None:
    worker = Worker()
    began = time.monotonic()
    with pytest.raises(DeskProblem, match=r"took too long"):
        worker.ask("study", (picture(size=(3000, 2000)), True), seconds=0.02)
    assert time.monotonic() - began < 10
    assert not worker.usable
    worker.kill()


@pytest.mark.asyncio
async def test_a_picture_of_too_many_pixels_is_not_decoded() -> None:
    from hostile.pictures_that_harm import png

    with pytest.raises(DeskProblem, match=rf"has 81 million pixels; here it may have up to {MEGAPIXELS}\."):
        await Desk(1).ask("study", png(9000, 9000, b""), True)


class Harm:
    def __reduce__(self) -> Any:
        return os.system, ("touch pwned",)


@pytest.mark.parametrize(
    "value",
    [Harm(), (1, [Harm()]), {"a": Harm()}, os.getcwd, Path, Desk, wire.send, print, np.load, io.BytesIO, type, getattr],
    ids=str,
)  # fmt: skip
def test_an_answer_that_could_act_is_not_taken(value: object, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(wire.NotPlain):
        wire.plain(pickle.dumps(value, 5))
    assert list(tmp_path.iterdir()) == []


def test_plain_answers_are_taken() -> None:
    value = ("done", {"a": [1, 2.5, None, True, b"x", "y"], "b": np.arange(6, dtype=np.float32).reshape(2, 3)})
    kind, found = wire.plain(pickle.dumps(value, 5))
    assert kind == "done"
    np.testing.assert_array_equal(found["b"], value[1]["b"])


def test_an_answer_that_says_it_is_endless_is_not_waited_for() -> None:
    with pytest.raises(wire.NotPlain):
        wire.receive(io.BytesIO(b"\xff" * 8))


@pytest.mark.asyncio
async def test_a_ticket_nobody_asks_for_is_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    stopped = asyncio.Event()

    async def view() -> str:
        turn = standing.get()
        assert turn is not None
        turn.came.set()
        try:
            await asyncio.sleep(60)
        except asyncio.CancelledError:
            stopped.set()
            raise
        return ""

    answer = await waiting.in_turn(view, patience=0.01)
    assert isinstance(answer, tuple)
    tickets = waiting.Tickets()
    ticket = tickets.give(*answer)
    assert tickets.find(ticket.name) is ticket
    assert tickets.find(ticket.name[:-1]) is None
    monkeypatch.setattr(waiting, "_FORSAKEN", -1.0)
    assert tickets.find(ticket.name) is None
    await asyncio.wait_for(stopped.wait(), 5)
