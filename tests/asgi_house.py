"""A served archive that is asked without a network: one event loop in a thread, requests as raw as they come."""

from __future__ import annotations

import asyncio
import io
import json
import threading
from collections.abc import Coroutine, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlencode

from PIL import Image

from archive.modes import House
from archive.serving import build_datasette

BOUNDARY = "blot-of-a-boundary"


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode("utf-8", "replace")

    def json(self) -> Any:
        return json.loads(self.body)


class AsgiHouse:
    """An archive with its rules, and ways to send it anything at all."""

    def __init__(self, archive: Path, house: House | None = None) -> None:
        self.codes: list[str] = []
        self.client = "127.0.0.1"
        self.loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self.loop.run_forever, daemon=True)
        self._thread.start()
        self.datasette = build_datasette(archive, house, self.codes.append)
        self.run(self.datasette.invoke_startup())
        self.app = self.datasette.app()

    def run(self, work: Coroutine[Any, Any, Any]) -> Any:
        return asyncio.run_coroutine_threadsafe(work, self.loop).result(180)

    def close(self) -> None:
        self.loop.call_soon_threadsafe(self.loop.stop)
        self._thread.join(10)
        self.datasette.close()

    def send(
        self,
        path: str,
        method: str = "GET",
        *,
        headers: Iterable[tuple[str | bytes, str | bytes]] = (),
        body: bytes | Iterable[bytes] = b"",
        host: str | None = "localhost",
        client: str | None = None,
        kind: str = "http",
    ) -> Answer:
        return self.run(self.asked(path, method, headers=headers, body=body, host=host, client=client, kind=kind))  # type: ignore[no-any-return]

    async def asked(
        self,
        path: str,
        method: str = "GET",
        *,
        headers: Iterable[tuple[str | bytes, str | bytes]] = (),
        body: bytes | Iterable[bytes] = b"",
        host: str | None = "localhost",
        client: str | None = None,
        kind: str = "http",
    ) -> Answer:
        pieces = [body] if isinstance(body, bytes) else list(body)
        raw = [(_bytes(name).lower(), _bytes(value)) for name, value in headers]
        if host is not None:
            raw.insert(0, (b"host", host.encode("latin-1")))
        if method == "POST" and not any(name == b"content-length" for name, _ in raw):
            raw.append((b"content-length", str(sum(map(len, pieces))).encode()))
        where, _, query = path.partition("?")
        scope = {
            "type": kind, "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method, "scheme": "http",
            "path": unquote(where), "raw_path": where.encode("utf-8", "surrogateescape"),
            "query_string": query.encode("utf-8", "surrogateescape"), "root_path": "", "headers": raw,
            "client": (client or self.client, 50000), "server": ("localhost", 80),
        }  # fmt: skip
        sent: list[Any] = []
        over = asyncio.Event()

        async def receive() -> dict[str, Any]:
            if pieces:
                return {"type": "http.request", "body": pieces.pop(0), "more_body": bool(pieces)}
            await over.wait()
            return {"type": "http.disconnect"}

        async def send(message: Any) -> None:
            sent.append(message)

        try:
            await self.app(scope, receive, send)
        finally:
            over.set()
        starts = [message for message in sent if message["type"] == "http.response.start"]
        if not starts:
            return Answer(0, {}, json.dumps([message["type"] for message in sent]).encode())
        found: dict[str, str] = {}
        for name, value in starts[0]["headers"]:
            found[name.decode("latin-1").lower()] = value.decode("latin-1")
        return Answer(starts[0]["status"], found, b"".join(message.get("body", b"") for message in sent[1:]))

    def post(self, path: str, fields: dict[str, Any] | None = None, **named: Any) -> Answer:
        """Post a form of fields."""
        body = urlencode(fields or {}, doseq=True).encode()
        headers = [("Content-Type", "application/x-www-form-urlencoded"), *named.pop("headers", ())]
        return self.send(path, "POST", headers=headers, body=body, **named)

    def upload(
        self,
        path: str,
        data: bytes,
        *,
        name: str = "study",
        file: str = "study.png",
        kind: str = "image/png",
        fields: Iterable[tuple[str, str]] = (),
        **named: Any,
    ) -> Answer:
        """Post a file as a browser does."""
        body = multipart(data, name=name, file=file, kind=kind, fields=fields)
        headers = [("Content-Type", f"multipart/form-data; boundary={BOUNDARY}"), *named.pop("headers", ())]
        return self.send(path, "POST", headers=headers, body=body, **named)


def multipart(data: bytes, *, name: str, file: str, kind: str, fields: Iterable[tuple[str, str]] = ()) -> bytes:
    """A form with one file."""
    parts = [
        f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="{field}"\r\n\r\n{value}\r\n'.encode()
        for field, value in fields
    ]
    head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="{name}"; filename="{file}"\r\n'
    parts.append(f"{head}Content-Type: {kind}\r\n\r\n".encode("utf-8", "surrogateescape") + data + b"\r\n")
    return b"".join(parts) + f"--{BOUNDARY}--\r\n".encode()


def picture(kind: str = "PNG", size: tuple[int, int] = (96, 72), **options: Any) -> bytes:
    """A small picture with a light mass on dark ground."""
    drawn = Image.new("RGB", size, (40, 40, 40))
    drawn.paste((220, 220, 220), (size[0] // 2, size[1] // 4, size[0] * 3 // 4, size[1] * 3 // 4))
    held = io.BytesIO()
    drawn.save(held, kind, **options)
    return held.getvalue()


def _bytes(text: str | bytes) -> bytes:
    return text if isinstance(text, bytes) else text.encode("latin-1")
