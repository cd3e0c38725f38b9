"""The surround that pictures are seen against: chosen by a small form, remembered in a cookie."""

from __future__ import annotations

from typing import Any

from datasette.utils.asgi import Response

from archive.pages.frame import HEADERS, SURROUND_COOKIE, SURROUNDS, Page, Problem, page
from archive.pages.language import say

_A_YEAR = 365 * 24 * 3600


async def choose(datasette: Any, request: Any) -> Any:
    """POST surround=paper|grey|dark and back=/path: remembers the surround and goes back there."""
    if request.method != "POST":
        return await _refused(datasette, request)
    form = await request.form(max_fields=8, max_field_size=4096, max_request_size=64 * 1024)
    chosen = str(form.get("surround") or "")
    if chosen not in SURROUNDS:
        return await _refused(datasette, request)
    response = Response.redirect(own_path(str(form.get("back") or ""), datasette.urls.path("/")), 303, dict(HEADERS))
    response.set_cookie(SURROUND_COOKIE, chosen, max_age=_A_YEAR, path=datasette.urls.path("/"), samesite="lax")
    return response


@page("POST")
async def _refused(datasette: Any, request: Any) -> Page:  # noqa: ARG001
    message = say("There are three surrounds to choose from: white paper, middle grey and dark.")
    raise Problem(message)


def own_path(back: str, home: str) -> str:
    """`back` when it is a plain path on this site, else the first page: nobody is led elsewhere."""
    plain = back.startswith(home) and back[1:2] not in ("/", "\\") and back.isascii() and back.isprintable()
    return back if plain else home
