"""The folder of pictures: each named by the SHA-256 of its bytes, so a name never changes meaning."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from collections.abc import Iterator
from pathlib import Path

_NAME = re.compile(r"[0-9a-f]{2}/([0-9a-f]{64})\.(jpeg|png|webp)")
_UNFINISHED = ".part"


def picture_name(content: bytes, suffix: str) -> str:
    """'ab/<sha256>.<suffix>' for these bytes."""
    digest = hashlib.sha256(content).hexdigest()
    return f"{digest[:2]}/{digest}.{suffix}"


def keep_picture(folder: Path, content: bytes, suffix: str) -> str:
    """Write a picture below ``folder`` unless it is there, and return its name.

    It is written under another name first and then renamed, so that a picture under its own name is whole.
    Raises OSError when it cannot be written.
    """
    name = picture_name(content, suffix)
    path = folder / name
    with contextlib.suppress(FileNotFoundError):
        if path.stat().st_size == len(content):
            return name
    if not path.parent.is_dir():
        path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(path.name + _UNFINISHED)
    with unfinished.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    unfinished.replace(path)
    return name


def is_whole(folder: Path, name: str) -> bool:
    """Whether the picture is there and its bytes have the hash that its name says."""
    match = _NAME.fullmatch(name)
    if match is None:
        return False
    try:
        with (folder / name).open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest() == match[1]
    except OSError:
        return False


def picture_files(folder: Path) -> Iterator[str]:
    """Every file two levels below ``folder``, as names with a forward slash, in order."""
    if not folder.is_dir():
        return
    for shelf in sorted(folder.iterdir()):
        if shelf.is_dir():
            for path in sorted(shelf.iterdir()):
                yield f"{shelf.name}/{path.name}"


def sweep(folder: Path, wanted: set[str]) -> int:
    """Remove pictures (ours by their names, finished or not) that are not in ``wanted``; how many went."""
    gone = 0
    for name in picture_files(folder):
        if name not in wanted and _NAME.fullmatch(name.removesuffix(_UNFINISHED)):
            (folder / name).unlink(missing_ok=True)
            gone += 1
    return gone
