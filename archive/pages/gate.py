"""The gate that every request passes: odd ones are turned away in a sentence, every answer gets its cautions.

It stands in front of Datasette's own pages as well as ours.
"""

from __future__ import annotations

import re
from collections.abc import Awaitable, Callable, Iterable, Iterator, Mapping, MutableMapping
from typing import Any
from urllib.parse import parse_qs

from archive.modes import ALONE, House, is_loopback
from archive.pages.editions import follow
from archive.pages.frame import SURROUND_COOKIE
from archive.pages.language import LANGUAGE, languages, negotiated, say, speak
from archive.pages.permits import house_of
from archive.pages.room import PICTURES_MOUNT, STUDIES_MOUNT, room_of
from archive.pages.uploads import Uploads

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

METHODS = {"GET", "HEAD", "POST", "OPTIONS"}
LONGEST_PATH, LONGEST_QUERY = 2_000, 16_000
"""Bytes."""

_A_YEAR = 365 * 24 * 3600

_COOKIES = {LANGUAGE.encode(), SURROUND_COOKIE.encode(), b"ds_actor", b"ds_messages"}
_COOKIE = 1_000
"""The cookies that are read here, and how many bytes one may have."""

_HOST = re.compile(r"(?P<name>[A-Za-z0-9._-]{1,253}|\[[0-9A-Fa-f:.]{2,45}\])(?::\d{1,5})?")

CAUTIONS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    # Ours replace this by a stricter one. Datasette's own pages bring scripts of their own within them.
    "Content-Security-Policy": (
        "default-src 'self'; script-src 'self' 'unsafe-inline'; style-src 'self' 'unsafe-inline'; "
        "img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    ),
}


IN_PICTURES = "default-src 'none'; frame-ancestors 'none'; sandbox"
"""Policy for what lies in the folders of pictures: whatever else somebody put there, nothing of it may act."""


def guarded(datasette: Any, app: App) -> App:
    """The app behind the gate; another Datasette's is left alone."""
    uploads = Uploads()
    pictures = tuple(str(datasette.urls.path(f"/{mount}/")) for mount in (PICTURES_MOUNT, STUDIES_MOUNT))

    async def through(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan" or room_of(datasette) is None:
            await app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        house = house_of(datasette)
        send = _with_cautions(send, _of_pictures(house) if scope["path"].startswith(pictures) else CAUTIONS)
        asked = _language_asked(scope)
        speak(asked or _language_kept(scope))
        refused = _refused(scope, house)
        if refused is not None:
            await answer(send, *refused)
            return
        if asked:
            send = _remembering(send, str(datasette.urls.path("/")), asked)
        await follow(datasette)
        scope = {**scope, "headers": [*_heeded(scope["headers"])]}
        if scope["method"] != "POST":
            await app(scope, receive, send)
            return
        async with uploads.taking_in(scope, receive, house) as body:
            if body.refused is not None:
                await answer(send, 429, body.refused, {"Retry-After": "60"})
                return
            await app(scope, body.receive, send)

    return through


async def answer(send: Send, status: int, sentence: str, headers: dict[str, str] | None = None) -> None:
    """Answer with one sentence as plain text."""
    body = (sentence + "\n").encode()
    named = {"Content-Type": "text/plain; charset=utf-8", "Content-Length": str(len(body)), **(headers or {})}
    raw = [(name.lower().encode("latin-1"), value.encode("latin-1")) for name, value in named.items()]
    await send({"type": "http.response.start", "status": status, "headers": raw})
    await send({"type": "http.response.body", "body": body})


def _refused(scope: Scope, house: House) -> tuple[int, str] | None:
    if scope["method"] not in METHODS:
        return 405, say("This server does not answer that kind of request.")
    if len(scope.get("raw_path") or b"") > LONGEST_PATH or len(scope.get("query_string") or b"") > LONGEST_QUERY:
        return 414, say("That address is too long.")
    if "\x00" in scope["path"] or b"%00" in (scope.get("query_string") or b""):
        return 400, say("That address has a character in it that no address has.")
    hosts = [value for name, value in scope["headers"] if name.lower() == b"host"]
    host = _HOST.fullmatch(hosts[0].decode("latin-1")) if len(hosts) == 1 else None
    if host is None:
        return 400, say("The request does not say which server it is for.")
    if house.mode == ALONE and not is_loopback(host["name"]):
        # A page elsewhere can give this computer a name of its own; the browser then takes our pages for its own.
        return 403, say("This server answers to this computer alone.")
    return None


def _heeded(headers: Iterable[tuple[bytes, bytes]]) -> Iterator[tuple[bytes, bytes]]:
    """The headers without what is none of ours."""
    for name, value in headers:
        low = name.lower()
        if low == b"cookie":
            # Others that are served at this host bring theirs along. And Python before 3.11.10 and 3.12.6 reads a long
            # one in a time that grows with the square of its backslashes (CVE-2024-7592), while everybody waits.
            pairs = (pair.strip() for pair in value.split(b";"))
            yield name, b"; ".join(pair for pair in pairs if pair.split(b"=")[0] in _COOKIES and len(pair) <= _COOKIE)
        elif low != b"authorization":
            # Datasette asks no origin of whoever brings a token. None is given out here, so it asks everybody.
            yield name, value


def _language_asked(scope: Scope) -> str:
    """The language that the address asks for, '' where it asks for none that there is."""
    asked = parse_qs((scope.get("query_string") or b"").decode("latin-1")).get(LANGUAGE, [""])[-1]
    return asked if asked in languages() else ""


def _language_kept(scope: Scope) -> str:
    """The language that somebody chose before, else the one that their browser would like best."""
    headers = {name.lower(): value.decode("latin-1") for name, value in scope["headers"]}
    kept = re.search(rf"(?:^|;)\s*{LANGUAGE}=([A-Za-z-]{{1,20}})\s*(?:;|$)", headers.get(b"cookie", ""))
    if kept is not None and kept[1] in languages():
        return kept[1]
    return negotiated(headers.get(b"accept-language", ""))


def _remembering(send: Send, path: str, language: str) -> Send:
    cookie = f"{LANGUAGE}={language}; Path={path}; Max-Age={_A_YEAR}; SameSite=Lax; HttpOnly".encode()

    async def remembering(message: Message) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", []), (b"set-cookie", cookie)]}
        await send(message)

    return remembering


def _of_pictures(house: House) -> dict[str, str]:
    cautions = CAUTIONS | {"Content-Security-Policy": IN_PICTURES}
    # A manifest names them, and viewers of manifests stand elsewhere. Alone, no page elsewhere is answered anything.
    return cautions if house.mode == ALONE else cautions | {"Cross-Origin-Resource-Policy": "cross-origin"}


def _with_cautions(send: Send, cautions: Mapping[str, str]) -> Send:
    async def cautious(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = list(message.get("headers", []))
            there = {name.lower() for name, _ in headers}
            for name, value in cautions.items():
                low = name.lower().encode()
                if low not in there:
                    headers.append((low, value.encode()))
            message = {**message, "headers": headers}
        await send(message)

    return cautious
