"""What an answer from the web is worth: whether to take it, to ask again, or to give up."""

from __future__ import annotations

from pathlib import Path

import httpx2

from ingest.gather_pace import retry_after

BUSY = frozenset({408, 425, 429, 500, 502, 503, 504})
"""Statuses of a server that may answer later."""


class WebProblem(Exception):
    """An address that gave nothing.

    The message is a part of a sentence.  ``lasting``: asking again would not help.  ``stop``: nothing more should be
    asked of this host now.
    """

    def __init__(self, reason: str, *, lasting: bool = False, stop: bool = False) -> None:
        super().__init__(reason)
        self.lasting = lasting
        self.stop = stop


class Busy(Exception):
    """A server has no time now; ``wait`` is the seconds after which it wants to be asked again, if it says so."""

    def __init__(self, response: httpx2.Response) -> None:
        super().__init__(f"the server answered {response.status_code}")
        self.wait = retry_after(response.headers.get("Retry-After"))


def may_be_picture(content_type: str) -> bool:
    """Whether a content type can be that of a picture: image/..., or none that says anything."""
    return content_type.startswith("image/") or content_type in ("", "application/octet-stream", "binary/octet-stream")


def check_status(response: httpx2.Response) -> None:
    """Raise `Busy` or `WebProblem` for an answer that holds nothing."""
    status = response.status_code
    if status in BUSY:
        raise Busy(response)
    if status in (401, 403):
        message = f"the server refuses it ({status})"
        raise WebProblem(message)
    if status not in (200, 206, 304, 416):
        gone = status in (404, 410)
        message = f"there is nothing at its address ({status})" if gone else f"the server answered {status}"
        raise WebProblem(message, lasting=True)


def start_of(response: httpx2.Response, part: Path) -> int:
    """How many bytes of ``part`` an answer goes on from; 0 where it begins anew."""
    if response.status_code != 206:
        return 0
    had = part.stat().st_size if part.exists() else 0
    stated = response.headers.get("Content-Range", "")
    if not stated.startswith(f"bytes {had}-"):
        part.unlink(missing_ok=True)
        message = "it was gone on with at another place"
        raise httpx2.RemoteProtocolError(message)
    return had


def check_size(came: int, most: int) -> None:
    """Raise `WebProblem` when more bytes came than are taken."""
    if came > most:
        message = f"it is larger than {most >> 20} MiB"
        raise WebProblem(message, lasting=True)
