"""What is said when something breaks inside: one sentence, and nothing of this computer."""

from __future__ import annotations

import logging
import re
import sqlite3
from typing import Any

from datasette.utils.asgi import Base400, Response
from datasette.views.base import DatasetteError

from archive.pages.editions import EditionReplacedError
from archive.pages.frame import problem_answer
from archive.pages.language import say
from archive.pages.room import room_of

_LOG = logging.getLogger("blotbook")

_PATH = re.compile(r"(?:[A-Za-z]:)?(?:[/\\][\w.+-]+){2,}")


def answer(datasette: Any, request: Any, error: Exception) -> Any:
    """The answer to a request that broke; None where Datasette's own answer will do."""
    if room_of(datasette) is None or isinstance(error, (Base400, DatasetteError)):
        return None
    if isinstance(error, EditionReplacedError) and request.method in ("GET", "HEAD"):
        return Response.redirect(request.full_path, 302, {"Cache-Control": "no-store"})
    if isinstance(error, sqlite3.Error):
        # Asked for by an address: a column that is not there, a word that is no search.
        return _said(datasette, request, 400, say("The tables cannot answer that: %(why)s.", why=without_paths(error)))
    # For whoever started the server, and nobody else.
    _LOG.error("A request broke: %s %s", request.method, request.path, exc_info=error)
    sentence = say("Something broke inside Blotbook. Nothing that you made is lost; try again.")
    return _said(datasette, request, 500, sentence)


def without_paths(error: object) -> str:
    """What an error says, without the names of folders."""
    return _PATH.sub("…", str(error)).strip().rstrip(".")


async def _said(datasette: Any, request: Any, status: int, sentence: str) -> Any:
    if str(request.path).endswith((".json", ".csv", ".blob")):
        return Response.error([sentence], status=status)
    return await problem_answer(datasette, request, status, sentence)
