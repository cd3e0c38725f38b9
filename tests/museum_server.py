"""A small museum on this computer: a real HTTP server that answers as a test tells it, and counts what is asked."""

from __future__ import annotations

import io
import json
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

from painting import paint
from PIL import Image


@dataclass
class Asked:
    """One request as it came in."""

    path: str
    query: dict[str, str]
    headers: dict[str, str]


@dataclass
class Answer:
    """One answer.  ``cut``: after so many bytes of the body the connection is closed.  ``stall``: seconds of silence in
    the middle of the body."""

    body: bytes = b""
    content_type: str = "application/json"
    status: int = 200
    headers: dict[str, str] = field(default_factory=dict)
    cut: int | None = None
    stall: float = 0.0


Route = Answer | Callable[[Asked], Answer]


class Museum:
    """The server: ``routes`` by path, ``asked`` the requests in order (without those for robots.txt)."""

    def __init__(self) -> None:
        self.routes: dict[str, Route] = {}
        self.asked: list[Asked] = []
        self.robots: Answer = Answer(status=404)
        self.robots_asked = 0
        self.address = ""

    def counts(self) -> Counter[str]:
        """How often each path was asked for."""
        return Counter(each.path for each in self.asked)

    def pictures_asked(self) -> list[str]:
        """The paths of pictures that were asked for, in order."""
        return [each.path for each in self.asked if each.path.endswith((".jpg", ".png"))]

    def answer(self, asked: Asked) -> Answer:
        if asked.path == "/robots.txt":
            self.robots_asked += 1
            return self.robots
        self.asked.append(asked)
        route = self.routes.get(asked.path, Answer(b'{"detail": "Not found"}', status=404))
        return route if isinstance(route, Answer) else route(asked)


@contextmanager
def museum() -> Iterator[Museum]:
    """A museum that is open inside of the context."""
    made = Museum()

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            parts = urlsplit(self.path)
            query = {name: values[-1] for name, values in parse_qs(parts.query).items()}
            answer = made.answer(Asked(parts.path, query, {k.lower(): v for k, v in self.headers.items()}))
            body, status, more = answer.body, answer.status, dict(answer.headers)
            wanted = self.headers.get("Range", "")
            if wanted and status == 200 and self.headers.get("If-Range") == more.get("ETag"):
                start = int(wanted.removeprefix("bytes=").rstrip("-"))
                more["Content-Range"] = f"bytes {start}-{len(body) - 1}/{len(body)}"
                body, status = body[start:], 206
            elif more.get("ETag") and self.headers.get("If-None-Match") == more["ETag"]:
                body, status = b"", 304
            self.send_response(status)
            if answer.content_type:
                self.send_header("Content-Type", answer.content_type)
            self.send_header("Content-Length", str(len(body)))
            for name, value in more.items():
                self.send_header(name, value)
            self.end_headers()
            half = len(body) // 2 if answer.cut is None else answer.cut
            try:
                self.wfile.write(body[:half])
                self.wfile.flush()
                if answer.stall:
                    time.sleep(answer.stall)
                if answer.cut is None:
                    self.wfile.write(body[half:])
                else:
                    self.close_connection = True
            except OSError:
                self.close_connection = True

        def log_message(self, *_: Any) -> None:
            """Say nothing."""

    class Server(ThreadingHTTPServer):
        def handle_error(self, *_: Any) -> None:
            """A client that hangs up is no error here."""

    server = Server(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    made.address = f"http://127.0.0.1:{server.server_port}"
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield made
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def js(value: Any, **more: Any) -> Answer:
    """A JSON answer."""
    return Answer(json.dumps(value).encode(), **more)


@cache
def jpeg(layout: str = "bands", seed: int = 0, size: tuple[int, int] = (320, 240)) -> bytes:
    """The bytes of a small painted picture."""
    stream = io.BytesIO()
    paint(layout, seed, size).save(stream, "JPEG", quality=85)
    return stream.getvalue()


def placeholder(size: tuple[int, int] = (320, 240)) -> bytes:
    """The bytes of a picture that says that there is none: a grey sheet with a small mark."""
    image = Image.new("RGB", size, (200, 200, 200))
    image.paste((120, 120, 120), (size[0] // 2 - 10, size[1] // 2 - 10, size[0] // 2 + 10, size[1] // 2 + 10))
    stream = io.BytesIO()
    image.save(stream, "PNG")
    return stream.getvalue()


def picture(seed: int = 0, layout: str = "bands", **more: Any) -> Answer:
    """An answer with a small painted picture."""
    return Answer(jpeg(layout, seed), "image/jpeg", **more)


class FakeTime:
    """A clock that only sleeping moves; ``slept`` are the waits in order."""

    def __init__(self) -> None:
        self.now = 0.0
        self.slept: list[float] = []

    def clock(self) -> float:
        return self.now

    def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.now += seconds
