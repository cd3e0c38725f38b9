"""How much may come in, how fast and from how many: so that thirty may send photos at once, and nobody can flood it."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import AsyncIterator, Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from typing import Any

from archive.modes import ALONE, House
from archive.pages.language import say

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]

AT_ONCE = 320 * 1024 * 1024
"""Bytes that may be on their way in at the same time; who comes next waits until some have arrived."""

OF_ONE = AT_ONCE // 2
"""How much of that one address may have; a whole class may come from one address."""

_UNSAID = 24 * 1024 * 1024
"""What is counted for a body whose length is not said, and at most for any: longer ones are refused further on."""

IDLE, GRACE, SLOWEST = 20.0, 30.0, 8 * 1024
"""Seconds without a byte, seconds after which it is looked at how fast a body comes, and the least bytes a second."""

BURST, A_SECOND = 240.0, 4.0
"""Forms that one address may send at once, and how many more each second: two classes behind one address."""

_MOST_ADDRESSES = 10_000


@dataclass
class Body:
    """A request's body as the pages take it in; refused: why it is not let in, or None."""

    receive: Receive
    refused: str | None = None


class Uploads:
    """What comes in by forms at one server."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._coming: dict[str, int] = {}
        self._freed = asyncio.Condition()
        self._left: dict[str, tuple[float, float]] = {}

    @contextlib.asynccontextmanager
    async def taking_in(self, scope: Scope, receive: Receive, house: House) -> AsyncIterator[Body]:
        """Wait until there is room for a body, and let go of the room when it is in."""
        address = str((scope.get("client") or ("",))[0])
        if house.mode != ALONE and not self._may_send(address):
            sentence = say("So many forms came from your address that some have to wait; try again in a minute.")
            yield Body(receive, sentence)
            return
        counted = min(_length(scope), _UNSAID)
        async with self._freed:
            await self._freed.wait_for(lambda: self._room_for(address, counted))
            self._coming[address] = self._coming.get(address, 0) + counted
        held = [counted]

        async def let_go() -> None:
            if held:
                async with self._freed:
                    self._coming[address] -= held.pop()
                    if not self._coming[address]:
                        del self._coming[address]
                    self._freed.notify_all()

        try:
            yield Body(self._paced(receive, let_go))
        finally:
            await let_go()

    def _room_for(self, address: str, counted: int) -> bool:
        own, all_of_it = self._coming.get(address, 0), sum(self._coming.values())
        return not own or (own + counted <= OF_ONE and all_of_it + counted <= AT_ONCE)

    def _may_send(self, address: str) -> bool:
        now = self._clock()
        if len(self._left) > _MOST_ADDRESSES:
            self._left.clear()
        left, when = self._left.get(address, (BURST, now))
        left = min(BURST, left + (now - when) * A_SECOND)
        self._left[address] = (max(0.0, left - 1), now)
        return left >= 1

    def _paced(self, receive: Receive, let_go: Callable[[], Awaitable[None]]) -> Receive:
        began, got, ended = self._clock(), 0, False

        async def paced() -> Message:
            nonlocal got, ended
            if ended:
                return await receive()
            try:
                message = await asyncio.wait_for(receive(), IDLE)
            except TimeoutError:
                ended = True
                return {"type": "http.disconnect"}
            got += len(message.get("body", b""))
            spent = self._clock() - began
            if message["type"] != "http.request" or not message.get("more_body"):
                ended = True
                await let_go()
            elif spent > GRACE and got < spent * SLOWEST:
                ended = True
                return {"type": "http.disconnect"}
            return message

        return paced


def _length(scope: Scope) -> int:
    said = dict(scope["headers"]).get(b"content-length", b"")
    return int(said) if said.isdigit() and len(said) < 16 else _UNSAID
