"""What is said when something breaks inside: one sentence, and nothing of this computer."""

from __future__ import annotations

import errno
import logging
import re
import sqlite3
from typing import Any

from datasette.utils.asgi import Base400, NotFound, Response
from datasette.views.base import DatasetteError

from archive.pages.editions import EditionReplacedError
from archive.pages.frame import problem_answer
from archive.pages.language import say
from archive.pages.room import room_of
from archive.pages.tables import DATABASE

_LOG = logging.getLogger("blotbook")

_JSON = "application/json"
_DATA = (".json", ".csv", ".blob")
"""Endings of addresses that are asked for as data."""

_NO_NAME = (errno.ENAMETOOLONG, errno.ENOTDIR)
"""What a file system says of an address of a picture, or of another file of ours, that is too long or goes on behind
the name of a file."""

_PATH = re.compile(r"(?:[A-Za-z]:)?(?:[/\\][\w.+-]+){2,}")


def answer(datasette: Any, request: Any, error: Exception) -> Any:
    """The answer to a request that broke; None where Datasette's own answer will do."""
    if room_of(datasette) is None:
        return None
    if isinstance(error, NotFound) or (isinstance(error, OSError) and error.errno in _NO_NAME):
        return _not_there(datasette, request)
    if isinstance(error, (Base400, DatasetteError)):
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


def _not_there(datasette: Any, request: Any) -> Any:
    """The answer where no page is; None where Datasette says so itself, to whoever asks for data and not for a page."""
    first, *others = str(request.scope.get("route_path") or request.path).strip("/").split("/")
    tables = first.partition(".")[0] == DATABASE
    if str(request.path).endswith(_DATA) or (tables and "-" in others):
        return None
    if request.headers.get("content-type", "").partition(";")[0].strip() == _JSON:
        return None
    sentence = say("There is no page at this address. The tabs of this book lead to all that there are.")
    if tables:
        sentence = say("The tables behind these pages have nothing at this address.")
    accepted = request.headers.get("accept", "")
    if _JSON in accepted and "text/html" not in accepted:
        return Response.error([sentence], status=404)
    return problem_answer(datasette, request, 404, sentence)


async def _said(datasette: Any, request: Any, status: int, sentence: str) -> Any:
    if str(request.path).endswith(_DATA):
        return Response.error([sentence], status=status)
    return await problem_answer(datasette, request, status, sentence)
