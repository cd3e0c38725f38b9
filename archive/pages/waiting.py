"""Waiting for the desk: a request that has to wait long gets a page of its own that says how many come before it.

The work goes on meanwhile; the page asks again by itself, without a script, until the answer is there.
"""

from __future__ import annotations

import asyncio
import itertools
import secrets
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import Any, TypeVar

from archive.desk import Turn, standing

Answer = TypeVar("Answer")

PATIENCE = 3.0
"""Seconds that a request waits before it is told its place."""

AGAIN = 2
"""Seconds after which the page asks again."""

_FORSAKEN = 45.0
"""Seconds after which nobody is thought to wait any more, and the work is stopped."""

_KEPT = 600.0
_MOST = 160
"""Seconds, and how many, that answers are kept for being looked at again."""


@dataclass
class Ticket:
    """One request in waiting."""

    name: str
    turn: Turn
    task: asyncio.Task[Any]
    seen: float = field(default_factory=time.monotonic)


class Tickets:
    """The requests in waiting of one server."""

    def __init__(self) -> None:
        self._tickets: dict[str, Ticket] = {}

    def give(self, turn: Turn, task: asyncio.Task[Any]) -> Ticket:
        """A ticket of a name that nobody can guess."""
        self.tidy()
        ticket = Ticket(secrets.token_urlsafe(16), turn, task)
        self._tickets[ticket.name] = ticket
        return ticket

    def find(self, name: str) -> Ticket | None:
        """The ticket of that name, seen now; None when there is none, or none any more."""
        self.tidy()
        ticket = self._tickets.get(name)
        if ticket is not None:
            ticket.seen = time.monotonic()
        return ticket

    def before(self, ticket: Ticket) -> int:
        """How many that came earlier are not answered yet; at least as many as stand before it at the desk."""
        earlier = itertools.takewhile(lambda other: other is not ticket, self._tickets.values())
        return max(sum(not other.task.done() for other in earlier), ticket.turn.place)

    def tidy(self) -> None:
        """Stop what nobody waits for, and forget old answers."""
        now = time.monotonic()
        for ticket in list(self._tickets.values()):
            idle = now - ticket.seen
            if not ticket.task.done() and idle > _FORSAKEN:
                ticket.task.cancel()
                del self._tickets[ticket.name]
            elif ticket.task.done() and (idle > _KEPT or len(self._tickets) > _MOST):
                del self._tickets[ticket.name]


async def in_turn(
    view: Callable[[], Awaitable[Answer]], *, patience: float | None
) -> Answer | tuple[Turn, asyncio.Task[Answer]]:
    """What `view` answers; when it waits for the desk longer than ``patience`` seconds, its place and the work itself.

    With None it is waited for to the end.
    """
    turn = Turn()

    async def work() -> Answer:
        standing.set(turn)
        return await view()

    task: asyncio.Task[Answer] = asyncio.create_task(work())
    came = asyncio.create_task(turn.came.wait())
    try:
        await asyncio.wait({task, came}, return_when=asyncio.FIRST_COMPLETED)
        if not task.done():
            await asyncio.wait({task}, timeout=patience)
    except asyncio.CancelledError:
        task.cancel()
        raise
    finally:
        came.cancel()
    return task.result() if task.done() else (turn, task)


def tickets_of(datasette: Any) -> Tickets:
    """The requests in waiting of a Datasette."""
    found = getattr(datasette, "blotbook_tickets", None)
    if not isinstance(found, Tickets):
        found = datasette.blotbook_tickets = Tickets()
    return found
