"""The line in front of the desk: who comes first is served first, and everybody can be told their place."""

from __future__ import annotations

import asyncio
import contextvars
import os
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

from archive.desk.worker import STAND, DeskProblem, Worker

LONGEST = 80
"""Pictures that may wait at one time: two classes, and some that try again."""

MOST_BYTES = 400 * 1024 * 1024
"""Bytes of all pictures that wait."""

standing: contextvars.ContextVar[Turn | None] = contextvars.ContextVar("standing", default=None)
"""Whoever is to be told where a request stands sets a `Turn` here before it asks the desk."""


class DeskFull(DeskProblem):
    """So many wait that no more are taken just now."""


class Turn:
    """Where one request stands; `came` is set when it has come to the desk."""

    def __init__(self) -> None:
        self.came = asyncio.Event()
        self._line: list[asyncio.Future[None]] = []
        self._mine: asyncio.Future[None] | None = None

    @property
    def place(self) -> int:
        """How many come before it, and itself; 0 when it is being read, or has been."""
        return self._line.index(self._mine) + 1 if self._mine in self._line else 0

    def stand(self, line: list[asyncio.Future[None]], mine: asyncio.Future[None] | None) -> None:
        """Take a place in a line; None for being served at once."""
        self._line, self._mine = line, mine
        self.came.set()


class Desk:
    """Has pictures read, ``workers`` at a time; used from one event loop."""

    def __init__(self, workers: int | None = None, longest: int = LONGEST) -> None:
        self.workers = workers or max(1, min(2, os.cpu_count() or 1))
        self._longest = longest
        self._busy = 0
        self._line: list[asyncio.Future[None]] = []
        self._bytes = 0
        self._threads = ThreadPoolExecutor(self.workers, "desk")

    @property
    def waiting(self) -> int:
        """How many stand in line."""
        return len(self._line)

    async def ask(self, task: str, *values: Any) -> Any:
        """Have a task of `archive.desk.tasks` done, in turn.

        Raises `DeskProblem` with one clear sentence.  When the caller is cancelled, the work is stopped.
        """
        size = sum(len(value) for value in values if isinstance(value, bytes))
        await self._turn(size)
        try:
            return await self._work(task, values)
        finally:
            self._next()

    async def _turn(self, size: int) -> None:
        told = standing.get()
        if self._busy < self.workers:
            self._busy += 1
            if told is not None:
                told.stand(self._line, None)
            return
        if len(self._line) >= self._longest or (self._line and self._bytes + size > MOST_BYTES):
            message = f"{len(self._line)} pictures are waiting to be read already; please send yours again in a minute."
            raise DeskFull(message)
        mine: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._line.append(mine)
        if told is not None:
            told.stand(self._line, mine)
        self._bytes += size
        try:
            await mine
        except asyncio.CancelledError:
            if mine in self._line:
                self._line.remove(mine)
            elif mine.done() and not mine.cancelled():
                # The turn had come at this very moment; it goes on to the next.
                self._next()
            raise
        finally:
            self._bytes -= size

    def _next(self) -> None:
        while self._line:
            first = self._line.pop(0)
            if not first.done():
                first.set_result(None)
                return
        self._busy -= 1

    async def _work(self, task: str, values: tuple[Any, ...]) -> Any:
        loop = asyncio.get_running_loop()
        taking = self._threads.submit(STAND.take)
        try:
            worker = await asyncio.wrap_future(taking)
        except asyncio.CancelledError:
            taking.add_done_callback(self._left_behind)
            raise
        try:
            return await loop.run_in_executor(self._threads, worker.ask, task, values)
        except asyncio.CancelledError:
            worker.kill()
            raise
        finally:
            STAND.give_back(worker, self.workers)

    def _left_behind(self, taken: Future[Worker]) -> None:
        if not taken.cancelled() and taken.exception() is None:
            STAND.give_back(taken.result(), self.workers)
