"""Pictures that lie at an address: on the web, or in a store of objects.

Read through fsspec, which knows many kinds of stores.  The ones named here are those in which collections keep
pictures; an address of another kind is refused by name.
"""

from __future__ import annotations

import re
import time
from urllib.parse import urlsplit

from ingest.engines import EngineFault

EXTRAS = {
    "http": "urls",
    "https": "urls",
    "s3": "s3",
    "gs": "",
    "gcs": "",
    "az": "",
    "abfs": "",
}
"""Kinds of addresses, and the extra of Blotbook that brings what reads them ('' for a library of its own)."""

_LIBRARY = {"gs": "gcsfs", "gcs": "gcsfs", "az": "adlfs", "abfs": "adlfs"}
_TRIES = 3
_PAUSE = 0.5
_CHUNK = 1 << 20


class NotFetched(Exception):
    """One picture could not be had from its address; the message is one sentence for people."""


def is_address(text: str) -> bool:
    """Whether a text is an address, 'kind://…', and no path."""
    return re.match(r"[A-Za-z][A-Za-z0-9+.:\-]*://", text) is not None


def address_fault(address: str) -> str:
    """What is wrong with an address that pictures are to be read from, as the end of a sentence; '' for nothing."""
    if "::" in address:
        return "its address goes through another one ('::'), which is not followed"
    try:
        parts = urlsplit(address)
        user = parts.username or parts.password
    except ValueError:
        return "its address cannot be understood"
    if parts.scheme.lower() not in EXTRAS:
        return f"pictures are not read from addresses that begin with “{parts.scheme[:20]}:”"
    if not parts.netloc:
        return "its address names no place"
    if user:
        return "its address holds a name or password, which would be shown with the work"
    return ""


def fetch(address: str, most: int) -> bytes:
    """The bytes at ``address``, at most ``most`` + 1 of them.

    What looks like trouble on the way is tried again, three times in all.  Raises `NotFetched` with the reason, and
    `EngineFault` when a library that is needed is not installed.
    """
    for attempt in range(_TRIES):
        try:
            return _read(address, most + 1)
        except FileNotFoundError:
            message = "There is nothing at its address."
            raise NotFetched(message) from None
        except PermissionError:
            message = "Its address may not be read: the place asks for rights that we have not been given."
            raise NotFetched(message) from None
        except ImportError:
            raise _missing(address) from None
        except Exception as error:
            # Each kind of store has errors of its own, and none of them may end the reading of the other pictures.
            if attempt + 1 == _TRIES or _is_final(error):
                message = f"It could not be had from its address ({type(error).__name__}: {error})."
                raise NotFetched(message[:400]) from error
            time.sleep(_PAUSE * 4**attempt)
    raise AssertionError


def _read(address: str, most: int) -> bytes:
    from fsspec.core import url_to_fs

    kind = urlsplit(address).scheme.lower()
    if kind not in ("http", "https"):
        store, path = url_to_fs(address)
        # One request for the object itself: opening it would first ask whether it is there, and then what is beside it.
        content: bytes = store.cat_file(path, start=0, end=most)
        return content
    from ingest.gather_web import user_agent

    store, path = url_to_fs(address, client_kwargs={"headers": {"User-Agent": user_agent()}})
    parts: list[bytes] = []
    # A stream that is read to its end, instead of blocks as a reader that jumps about would want them.
    with store.open(path, "rb", block_size=0) as file:
        while most and (part := file.read(min(most, _CHUNK))):
            parts.append(part)
            most -= len(part)
    return b"".join(parts)


def _is_final(error: Exception) -> bool:
    """Whether a server of the web said no, other than for the moment (RFC 9110, 15.5: 408 and 429 may pass)."""
    status = getattr(error, "status", 0)
    return isinstance(status, int) and 400 <= status < 500 and status not in (408, 429)


def _missing(address: str) -> EngineFault:
    kind = urlsplit(address).scheme.lower()
    extra = EXTRAS.get(kind, "")
    what = f"install Blotbook with 'blotbook[{extra}]'" if extra else f"install the library {_LIBRARY.get(kind, kind)}"
    return EngineFault(f"Pictures at addresses that begin with {kind}: need a library that is not here; {what}.")
