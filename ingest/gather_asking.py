"""What a collection asks with: the web, remembering what it was told until the work is done."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ingest.gather_journal import Journal
from ingest.gather_output import ARRIVING, RECEIVED, put_in_place
from ingest.gather_web import Web


class Asking:
    """What a collection asks with: the web, remembering answers in the journal until their work is done."""

    def __init__(self, web: Web, folder: Path, journal: Journal | None, *, again: bool) -> None:
        self._web = web
        self._folder = folder
        self._journal = journal
        self._again = again

    def json(self, address: str, *, accept: str = "application/json") -> Any:
        """See `ingest.collections.source.Asks.json`."""
        if self._journal is None:
            return self._web.json(address, accept=accept)
        kept = self._journal.answer(address)
        if kept is None:
            kept = self._web.json(address, accept=accept)
            self._journal.keep_answer(address, kept)
        return kept

    def text(self, address: str, *, accept: str) -> str:
        """See `ingest.collections.source.Asks.text`; only lists are asked for as text, so it is not kept."""
        return self._web.text(address, accept=accept)

    def file(self, address: str, name: str) -> Path:
        """See `ingest.collections.source.Asks.file`."""
        path = self._folder / RECEIVED / name
        if path.exists() and not self._again:
            return path
        part = self._folder / ARRIVING / name.replace("/", "-")
        part.parent.mkdir(parents=True, exist_ok=True)
        self._web.download(address, part, picture=False)
        put_in_place(part, path)
        return path
