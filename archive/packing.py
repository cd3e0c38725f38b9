"""Makes one file of an archive, to hand on; the same archive always gives the same bytes.

The file is a ZIP file without compression (pictures are compressed already, and the bytes of a compressor depend on
its version), with fixed order, times and modes::

    about.json        what it is: {"format": 1, "works": …, "boards": …, "studies": …}
    archive.db        the tables
    signatures.npy
    boards.db         if asked for
    pictures/ab/…     in the order of their names
    SHA256SUMS        the SHA-256 of every file above, as ``sha256sum --check`` reads it
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import stat
import tempfile
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import IO

from archive.boards_file import BOARDS
from archive.edition import needed_pictures
from archive.errors import ArchiveError
from archive.pack_boards import copy_boards
from archive.signature_file import SIGNATURES
from archive.store import DATABASE, PICTURES, Archive

ABOUT, SUMS = "about.json", "SHA256SUMS"
FORMAT = 1
"""Raised when an older Blotbook could not unpack what this one packs."""

_WHEN = (1980, 1, 1, 0, 0, 0)
"""The earliest time that the format can say (APPNOTE.TXT 6.3.10, 4.4.6: years count from 1980)."""

_CHUNK = 1 << 20

OnProgress = Callable[[int, int], None]


def pack(
    folder: Path, file: Path, *, boards: bool = False, studies: bool = False, on_progress: OnProgress | None = None
) -> int:
    """Pack the archive in ``folder`` into ``file``, which must not be there yet; how many works are in it.

    ``boards`` packs the boards too, without kept studies and the leaves that show them unless ``studies`` asks for
    these as well.  ``on_progress`` gets the number of pictures done and their total.  Every picture is held to its
    hash on the way.  Raises `ArchiveError`; the file appears only when it is whole.
    """
    if file.exists():
        message = f"There is a file {file} already."
        raise ArchiveError(message)
    unfinished = file.with_name(file.name + ".part")
    try:
        before = _edition(folder)
        with Archive.open(folder) as archive, tempfile.TemporaryDirectory() as scratch:
            works = int(archive.counts()["works"])
            beside = Path(scratch) / BOARDS if boards and (folder / BOARDS).exists() else None
            if beside is not None:
                copy_boards(folder, beside, studies=studies)
            about = {"format": FORMAT, "works": works, "boards": beside is not None, "studies": studies}
            with unfinished.open("wb") as opened:
                with zipfile.ZipFile(opened, "w", zipfile.ZIP_STORED) as packed:
                    _Packing(packed).all(archive, about, beside, on_progress)
                opened.flush()
                os.fsync(opened.fileno())
        if _edition(folder) != before:
            message = f"The archive in {folder} was changed while it was being packed; give the same command again."
            raise ArchiveError(message)
        unfinished.replace(file)
    except OSError as error:
        message = f"The archive in {folder} could not be packed into {file} ({error.strerror or error})."
        raise ArchiveError(message) from error
    finally:
        with contextlib.suppress(OSError):
            unfinished.unlink(missing_ok=True)
    return works


class _Packing:
    """Writes entries and remembers their hashes."""

    def __init__(self, packed: zipfile.ZipFile) -> None:
        self._packed = packed
        self._sums: list[str] = []

    def all(
        self, archive: Archive, about: Mapping[str, object], boards: Path | None, on_progress: OnProgress | None
    ) -> None:
        folder = archive.folder
        self._bytes(ABOUT, (json.dumps(about, indent=1) + "\n").encode())
        self._file(DATABASE, folder / DATABASE)
        self._file(SIGNATURES, archive.signatures_file())
        if boards is not None:
            self._file(BOARDS, boards)
        names = list(needed_pictures(archive.connection))
        for done, name in enumerate(names, 1):
            try:
                digest = self._file(f"{PICTURES}/{name}", folder / PICTURES / name)
            except FileNotFoundError:
                digest = ""
            if digest != Path(name).stem:
                message = f"The picture {name} is missing or damaged; 'blotbook verify' tells more."
                raise ArchiveError(message)
            if on_progress is not None:
                on_progress(done, len(names))
        self._bytes(SUMS, "".join(self._sums).encode())

    def _file(self, name: str, path: Path) -> str:
        with path.open("rb") as file:
            return self._stream(name, file, path.stat().st_size)

    def _bytes(self, name: str, content: bytes) -> None:
        info = _info(name)
        self._packed.writestr(info, content)
        self._sums.append(f"{hashlib.sha256(content).hexdigest()}  {name}\n")

    def _stream(self, name: str, file: IO[bytes], size: int) -> str:
        info = _info(name)
        info.file_size = size
        digest = hashlib.sha256()
        with self._packed.open(info, "w", force_zip64=size >= 1 << 31) as entry:
            while part := file.read(_CHUNK):
                digest.update(part)
                entry.write(part)
        self._sums.append(f"{digest.hexdigest()}  {name}\n")
        return digest.hexdigest()


def _edition(folder: Path) -> tuple[int, int] | None:
    """What tells one edition's file from the next."""
    try:
        found = (folder / DATABASE).stat()
    except FileNotFoundError:
        return None
    return found.st_ino, found.st_mtime_ns


def _info(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, _WHEN)
    info.create_system = 3
    info.external_attr = (stat.S_IFREG | 0o644) << 16
    info.compress_type = zipfile.ZIP_STORED
    return info


def enough_room(folder: Path, wanted: int) -> bool:
    """Whether ``wanted`` bytes fit where ``folder`` is."""
    return shutil.disk_usage(folder).free >= wanted
