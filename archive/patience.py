"""How long the server waits for the beginning of a request: whoever connects and says nothing is let go."""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

SECONDS = 20.0
"""Until the head of a first request has come."""


class PatientProtocol(H11Protocol):  # type: ignore[misc]  # uvicorn brings no types that hold here
    """uvicorn's protocol, which waits for ever for a head that comes letter by letter; this one does not."""

    def connection_made(self, transport: Any) -> None:
        """Begin to wait."""
        super().connection_made(transport)
        self._begun: asyncio.TimerHandle = self.loop.call_later(SECONDS, self._let_go)

    def _let_go(self) -> None:
        if self.cycle is None and not self.transport.is_closing():
            self.transport.close()

    def connection_lost(self, exc: Exception | None) -> None:
        """Nobody is waited for any more."""
        self._begun.cancel()
        super().connection_lost(exc)
