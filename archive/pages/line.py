"""The page of those who wait: how many come before, until the answer itself stands there."""

from __future__ import annotations

import asyncio
from typing import Any

from archive.pages import waiting
from archive.pages.frame import Answer, Problem, page, path_part, waiting_page
from archive.pages.language import say


@page("GET", "HEAD", private=True)
async def line(datasette: Any, request: Any) -> Answer:
    """The answer to the request that the ticket in the path was given for, or how many come before it."""
    ticket = waiting.tickets_of(datasette).find(path_part(request, "ticket"))
    if ticket is None:
        raise Problem(say("That place in the line is not known any more; please show your picture again."), 404)
    if not ticket.task.done():
        await asyncio.wait({ticket.task}, timeout=waiting.PATIENCE)
    if not ticket.task.done():
        return waiting_page(datasette, ticket)
    if ticket.task.cancelled():
        raise Problem(say("Nobody waited for that picture any more; please show it again."), 404)
    answer: Answer = ticket.task.result()
    return answer
