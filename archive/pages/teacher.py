"""The teacher's way in: the code that was printed where the server was started, given on a small form."""

from __future__ import annotations

import time
from typing import Any

from datasette.utils.asgi import Response

from archive.door import HOURS, Door, TooManyTries
from archive.modes import CLASSROOM, TEACHER, is_teacher
from archive.pages.elsewhere import heard
from archive.pages.frame import HEADERS, Page, Problem, page
from archive.pages.language import say
from archive.pages.permits import house_of
from archive.pages.surround import own_path

COOKIE = "ds_actor"
"""The cookie by which Datasette knows who asks."""


async def teacher(datasette: Any, request: Any) -> Any:
    """GET: the form. POST: code= signs in and goes back to back=/path; do=leave signs out, to the first page."""
    if request.method != "POST":
        return await _form(datasette, request)
    form = await request.form(max_fields=8, max_field_size=4096, max_request_size=64 * 1024)
    if str(form.get("do") or "") == "leave":
        return _turn(datasette, "", 0)
    back = str(form.get("back") or "")
    request.scope["blotbook_back"] = back
    door = _door(datasette)
    address = str((request.scope.get("client") or ("",))[0])
    try:
        entered = door is not None and door.enter(str(form.get("code") or ""), address)
    except TooManyTries as error:
        request.scope["blotbook_problem"] = (heard(str(error)), 429)
        return await _form(datasette, request)
    if not entered:
        request.scope["blotbook_problem"] = (say("That is not the code. It stands where the server was started."), 403)
        return await _form(datasette, request)
    expires = int(time.time()) + HOURS * 3600
    from datasette.utils import baseconv

    signed = datasette.sign({"a": {"id": TEACHER}, "e": baseconv.base62.encode(expires)}, "actor")
    return _turn(datasette, signed, HOURS * 3600, back)


@page("GET", "HEAD", "POST")
async def _form(datasette: Any, request: Any) -> Page:
    if house_of(datasette).mode != CLASSROOM:
        raise Problem(say("Nobody has to sign in here."), 404)
    sentence, status = request.scope.get("blotbook_problem", ("", 200))
    signed_in = is_teacher(request.actor)
    back = str(request.scope.get("blotbook_back") or request.args.get("back") or "")
    return Page(
        "teacher.html",
        say("For the teacher"),
        {"ok": not sentence, "signed_in": signed_in, **({"error": sentence} if sentence else {})},
        {"problem": sentence, "signed_in": signed_in, "back": back},
        status=status,
    )


def _door(datasette: Any) -> Door | None:
    found = getattr(datasette, "blotbook_door", None)
    return found if isinstance(found, Door) else None


def _turn(datasette: Any, signed: str, seconds: int, back: str = "") -> Any:
    where = own_path(back, datasette.urls.path("/"))
    response = Response.redirect(where, 303, {**HEADERS, "Cache-Control": "no-store"})
    response.set_cookie(
        COOKIE, signed, max_age=seconds, path=datasette.urls.path("/"), httponly=True, samesite="strict"
    )
    return response
