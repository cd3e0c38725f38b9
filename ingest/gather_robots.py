"""What a host's robots.txt says to us (RFC 9309, https://www.rfc-editor.org/rfc/rfc9309)."""

from __future__ import annotations

from urllib.parse import urlsplit

from protego import Protego

TOKEN = "Blotbook"
"""The name by which a robots.txt can speak to us."""


def address_of(address: str) -> str:
    """Where the robots.txt that holds for an address lies."""
    parts = urlsplit(address)
    return f"{parts.scheme}://{parts.netloc}/robots.txt"


class Robots:
    """One robots.txt; an empty one allows everything, as does a missing one (RFC 9309, 2.3.1.3)."""

    def __init__(self, text: str) -> None:
        self._rules = Protego.parse(text)

    def allows(self, address: str) -> bool:
        """Whether an address may be asked."""
        return bool(self._rules.can_fetch(address, TOKEN))

    @property
    def pause(self) -> float:
        """The seconds between requests that it asks for; 0 where it asks for none."""
        return float(self._rules.crawl_delay(TOKEN) or 0.0)
