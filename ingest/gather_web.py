"""Asks the web politely: under our own name, at a pace, as robots.txt allows, and again when a server is busy.

HTTP by httpx2.  Redirects are followed here, one at a time, so that each address goes through the gate, the pace and
robots.txt.  A picture that broke off is gone on with by ``Range`` and ``If-Range`` (RFC 9110, 13.1.5 and 14.2): when
its ``ETag`` has changed meanwhile, the server sends the new one whole.
"""

from __future__ import annotations

import json
import random
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any
from urllib.parse import urljoin

import httpx2

from ingest.gather_address import Gate, Refused, host_of
from ingest.gather_answers import BUSY, Busy, WebProblem, check_size, check_status, may_be_picture, start_of
from ingest.gather_pace import Pace, back_off
from ingest.gather_robots import Robots, address_of

TRIES = 5
MOST_REDIRECTS = 5
MOST_PATIENCE = 600.0
"""A server that asks for a longer wait, in seconds, is left alone until the command is given again."""

MOST_DOCUMENT, MOST_PICTURE, MOST_DATA = 64 << 20, 256 << 20, 4 << 30
"""Bytes beyond which an answer is not taken."""

PICTURE_SECONDS = 600.0
"""A picture that takes longer is given up for this time."""

_BLOCK = 1 << 16


@dataclass(frozen=True)
class Arrived:
    """A file that came: its content type, its ETag ('' where there is none), whether it is the one we had."""

    content_type: str
    etag: str
    unchanged: bool = False


class Web:
    """One client for one gathering; use as a context manager.

    contact: an address or mail address under which the person who gathers can be reached. pace: least seconds between
    requests to one host. named: addresses that the person gave. sleep, clock, chance can be replaced in tests.
    """

    def __init__(
        self,
        *,
        pace: float,
        contact: str = "",
        named: Iterable[str] = (),
        timeout: float = 30.0,
        sleep: Callable[[float], None] = time.sleep,
        clock: Callable[[], float] = time.monotonic,
        chance: Callable[[], float] = random.random,
    ) -> None:
        self._pace = Pace(pace, sleep=sleep, clock=clock)
        self._gate = Gate(named)
        self._clock = clock
        self._chance = chance
        self._robots: dict[str, Robots] = {}
        self._client = httpx2.Client(
            headers={"User-Agent": user_agent(contact)}, timeout=timeout, follow_redirects=False, http2=False
        )

    def __enter__(self) -> Web:
        return self

    def __exit__(self, *_: object) -> None:
        self._client.close()

    def json(self, address: str, *, accept: str = "application/json") -> Any:
        """The JSON document at an address.  Raises `WebProblem`."""
        try:
            return json.loads(self._body(address, accept))
        except (ValueError, RecursionError) as error:
            message = "the answer is no JSON"
            raise WebProblem(message, lasting=True) from error

    def text(self, address: str, *, accept: str) -> str:
        """The text at an address, in UTF-8.  Raises `WebProblem`."""
        return self._body(address, accept).decode("utf-8", errors="replace")

    def _body(self, address: str, accept: str) -> bytes:
        def take(response: httpx2.Response) -> bytes:
            body = bytearray()
            for block in response.iter_bytes(_BLOCK):
                body.extend(block)
                check_size(len(body), MOST_DOCUMENT)
            return bytes(body)

        body: bytes = self._ask(address, {"Accept": accept}, take)
        return body

    def download(self, address: str, part: Path, *, known: str = "", picture: bool = True) -> Arrived:
        """Bring what lies at an address into the file ``part``, going on with one that broke off earlier.

        ``known`` is the ETag of what we have already: if that is still the same, nothing comes.  With ``picture`` a
        type that no picture has is refused before its bytes come.  Raises `WebProblem`.
        """
        note = part.with_name(part.name + ".etag")
        begun = self._clock()

        def headers() -> dict[str, str]:
            # Compressed on the way, the length of a picture could not be checked.
            asked = {"Accept": "image/*" if picture else "*/*", "Accept-Encoding": "identity"}
            had = note.read_text(encoding="utf-8") if note.exists() and part.exists() else ""
            if had and part.stat().st_size:
                asked |= {"Range": f"bytes={part.stat().st_size}-", "If-Range": had}
            elif known:
                asked["If-None-Match"] = known
            return asked

        def take(response: httpx2.Response) -> Arrived:
            etag = response.headers.get("ETag", "")
            content_type = response.headers.get("Content-Type", "").split(";")[0].strip().lower()
            if response.status_code == 416:
                # What we have is no part of what there is now: begin anew.
                part.unlink(missing_ok=True)
                message = "the server could not go on with it"
                raise httpx2.RemoteProtocolError(message)
            if response.status_code == 304:
                return Arrived(content_type, known, unchanged=True)
            if picture and not may_be_picture(content_type):
                message = f"what lies at its address is no picture but {content_type}"
                raise WebProblem(message, lasting=True)
            packed = response.headers.get("Content-Encoding", "identity").lower() != "identity"
            start = start_of(response, part)
            if not start:
                part.unlink(missing_ok=True)
                note.unlink(missing_ok=True)
                if etag and not etag.startswith("W/") and not packed:
                    note.write_text(etag, encoding="utf-8")
            stated = response.headers.get("Content-Length", "")
            came = 0
            with part.open("ab") as stream:
                for block in response.iter_bytes() if packed else response.iter_raw():
                    came += len(block)
                    check_size(start + came, MOST_PICTURE if picture else MOST_DATA)
                    stream.write(block)
                    if picture and self._clock() - begun > PICTURE_SECONDS:
                        message = "it comes too slowly"
                        raise WebProblem(message)
            if stated.isdigit() and int(stated) != came and not packed:
                message = f"{came} of {stated} bytes came"
                raise httpx2.RemoteProtocolError(message)
            note.unlink(missing_ok=True)
            return Arrived(content_type, etag)

        arrived: Arrived = self._ask(address, headers, take)
        return arrived

    def _ask(
        self,
        address: str,
        headers: dict[str, str] | Callable[[], dict[str, str]],
        take: Callable[[httpx2.Response], Any],
    ) -> Any:
        """Ask up to `TRIES` times; each answer that is not one of a busy server goes to ``take``."""
        for tried in range(1, TRIES + 1):
            wait: float | None = None
            try:
                return self._follow(address, headers() if callable(headers) else headers, take)
            except Busy as busy:
                reason, wait = str(busy), busy.wait
            except httpx2.TimeoutException:
                reason = "the server did not answer in time"
            except (httpx2.TransportError, httpx2.DecodingError) as error:
                reason = f"the connection broke ({str(error).strip().rstrip('.') or type(error).__name__})"
            except httpx2.InvalidURL as error:
                message = f"“{address[:100]}” is no web address"
                raise WebProblem(message, lasting=True) from error
            if wait is not None and wait > MOST_PATIENCE:
                message = f"the server asks us to come back in {wait / 60:.0f} minutes"
                raise WebProblem(message, stop=True)
            if tried < TRIES:
                self._pace.rest(back_off(tried, self._chance) if wait is None else wait)
        message = f"{reason}, {TRIES} times"
        raise WebProblem(message)

    def _follow(self, address: str, headers: dict[str, str], take: Callable[[httpx2.Response], Any]) -> Any:
        before = ""
        for _ in range(MOST_REDIRECTS + 1):
            try:
                self._gate.check(address, before=before)
            except Refused as refused:
                raise WebProblem(str(refused), lasting=True) from refused
            self._heed_robots(address)
            with self._send(address, headers) as response:
                if response.has_redirect_location:
                    before, address = address, urljoin(address, response.headers.get("Location", ""))
                    continue
                check_status(response)
                return take(response)
        message = f"it is redirected more than {MOST_REDIRECTS} times"
        raise WebProblem(message, lasting=True)

    def _send(self, address: str, headers: dict[str, str]) -> _Response:
        self._pace.wait(host_of(address))
        response = self._client.send(self._client.build_request("GET", address, headers=headers), stream=True)
        stream = response.extensions.get("network_stream")
        peer = stream.get_extra_info("server_addr") if stream is not None else None
        if peer:
            try:
                self._gate.check_peer(address, str(peer[0]))
            except Refused as refused:
                response.close()
                raise WebProblem(str(refused), lasting=True) from refused
        return _Response(response)

    def _heed_robots(self, address: str) -> None:
        here = address_of(address)
        if here not in self._robots:
            self._robots[here] = self._read_robots(here)
            if self._robots[here].pause:
                self._pace.slow_down(host_of(address), self._robots[here].pause)
        if not self._robots[here].allows(address):
            message = "the robots.txt of its host asks programs to keep away from it"
            raise WebProblem(message, lasting=True)

    def _read_robots(self, here: str) -> Robots:
        """The rules of a host; one that has none allows all, one that fails is asked again (RFC 9309, 2.3.1)."""
        address = here
        for _ in range(MOST_REDIRECTS + 1):
            try:
                self._gate.check(address)
            except Refused:
                break
            with self._send(address, {"Accept": "text/plain"}) as response:
                if response.has_redirect_location:
                    address = urljoin(address, response.headers.get("Location", ""))
                    continue
                if response.status_code in BUSY or response.status_code >= 500:
                    # RFC 9309, 2.3.1.4: with any error of the server the rules are unreachable, and nothing is allowed.
                    raise Busy(response)
                if response.status_code != 200:
                    return Robots("")
                # RFC 9309, 2.5: at least 500 KiB are read.
                text = b"".join(block for _, block in zip(range(8), response.iter_bytes(_BLOCK), strict=False))
                return Robots(text.decode("utf-8", errors="replace"))
        return Robots("")


def user_agent(contact: str = "") -> str:
    """How we name ourselves: the program, its version, and whom to write to."""
    try:
        number = version("blotbook")
    except PackageNotFoundError:
        number = "0"
    return f"Blotbook/{number} (public-domain paintings for study{'; ' + contact if contact else ''})"


class _Response:
    """A response that is closed when it is done with."""

    def __init__(self, response: httpx2.Response) -> None:
        self._response = response

    def __enter__(self) -> httpx2.Response:
        return self._response

    def __exit__(self, *_: object) -> None:
        self._response.close()
