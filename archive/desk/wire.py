"""What the server and a worker say to one another: frames of eight bytes of length and a pickle.

The server believes nothing that a worker says: of a pickle it takes plain values, arrays, and our own records of
numbers, and nothing that could be called.  A decoder that was taken over can answer nonsense, and no more.
"""

from __future__ import annotations

import dataclasses
import importlib
import io
import pickle
import struct
from typing import IO, Any

MOST_BYTES = 512 * 1024 * 1024
"""Largest answer that is taken."""

_LENGTH = struct.Struct(">Q")
_OURS = ("ingest.", "archive.desk.seen", "archive.placing", "archive.proposals")
_PLAIN = {
    ("numpy", "dtype"),
    ("numpy", "ndarray"),
    ("numpy._core.numeric", "_frombuffer"),
    ("numpy._core.multiarray", "_reconstruct"),
    ("numpy._core.multiarray", "scalar"),
    ("_codecs", "encode"),
}


class NotPlain(Exception):
    """An answer holds something that is neither a plain value nor one of our records."""


def send(file: IO[bytes], value: object) -> None:
    """Write one value as a frame."""
    body = pickle.dumps(value, 5)
    file.write(_LENGTH.pack(len(body)))
    file.write(body)
    file.flush()


def receive(file: IO[bytes]) -> bytes:
    """The body of the next frame.  Raises EOFError when the other side is gone."""
    head = _exactly(file, _LENGTH.size)
    (length,) = _LENGTH.unpack(head)
    if length > MOST_BYTES:
        message = "The answer is too long."
        raise NotPlain(message)
    return _exactly(file, length)


def plain(body: bytes) -> Any:
    """The value of a worker's frame.  Raises `NotPlain` when it holds anything that could act."""
    try:
        return _Plain(io.BytesIO(body)).load()
    except NotPlain:
        raise
    except Exception as error:  # a damaged pickle raises nearly anything
        message = "The answer is damaged."
        raise NotPlain(message) from error


class _Plain(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> Any:
        if (module, name) in _PLAIN:
            return getattr(importlib.import_module(module), name)
        if module.startswith(_OURS) and name.isidentifier():
            found = getattr(importlib.import_module(module), name, None)
            if isinstance(found, type) and dataclasses.is_dataclass(found) and found.__module__ == module:
                return found
        message = f"{module}.{name} is not taken."
        raise NotPlain(message)

    def persistent_load(self, pid: Any) -> Any:
        message = f"{pid!r} is not taken."
        raise NotPlain(message)


def _exactly(file: IO[bytes], count: int) -> bytes:
    parts = []
    while count:
        part = file.read(min(count, 1 << 20))
        if not part:
            raise EOFError
        parts.append(part)
        count -= len(part)
    return b"".join(parts)
