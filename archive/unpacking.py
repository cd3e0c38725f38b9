"""Opens a file that `archive.packing.pack` made, after checking all of it.

Whoever hands such a file on need not mean well: every name, size, mode and hash is checked, and the archive that comes
out of it is verified, before it is put where it was asked for.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import shutil
import stat
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

from archive.errors import ArchiveError
from archive.packing import ABOUT, FORMAT, SUMS, enough_room
from archive.store import DATABASE, SIGNATURES

_NAMES = re.compile(
    rf"{re.escape(DATABASE)}|{re.escape(SIGNATURES)}|boards\.db|pictures/([0-9a-f]{{2}})/\1[0-9a-f]{{62}}\.(jpeg|png|webp)"
)
_SUM = re.compile(r"([0-9a-f]{64})  (\S+)")
_MOST_ABOUT = 1 << 16
_MOST_OF_A_SUM = 200
_CHUNK = 1 << 20

OnProgress = Callable[[int, int], None]


def unpack(file: Path, folder: Path, *, on_progress: OnProgress | None = None) -> int:
    """Unpack ``file`` into ``folder``, which must not be there or be empty; how many works it has.

    ``on_progress`` gets the number of files done and their total.  Raises `ArchiveError` with what is wrong;
    the folder appears only when all is in order.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        message = f"{folder} is there already and not empty."
        raise ArchiveError(message)
    folder.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        with file.open("rb") as opened, zipfile.ZipFile(opened) as packed:
            entries = _checked(packed, file)
            if not enough_room(beside, sum(entry.file_size for entry in entries)):
                raise _refusal(file, "there is not enough room on the disk for what is in it")
            works = _about(packed, file)
            _write_out(packed, file, entries, beside, on_progress)
        _check_archive(beside, file, works)
        if folder.exists():
            folder.rmdir()
        # A folder for a single person's eyes is what mkdtemp makes; an archive is as open as its neighbours.
        beside.chmod(0o755)
        beside.rename(folder)
    # A name that is not in the letters it is said to be in gives the fourth.
    except (zipfile.BadZipFile, NotImplementedError, EOFError, UnicodeDecodeError, RuntimeError) as error:
        raise _refusal(file, f"it is damaged or no packed archive ({error})") from error
    except OSError as error:
        message = f"{file} could not be unpacked into {folder} ({error.strerror or error})."
        raise ArchiveError(message) from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return works


def _checked(packed: zipfile.ZipFile, file: Path) -> list[zipfile.ZipInfo]:
    """The entries that make an archive, when nothing is wrong with any."""
    entries = packed.infolist()
    seen: set[str] = set()
    for entry in entries:
        name = entry.filename
        shown = name[:80]
        if name not in (ABOUT, SUMS) and not _NAMES.fullmatch(name):
            raise _refusal(file, f"“{shown}” is no file of an archive")
        if name in seen:
            raise _refusal(file, f"“{shown}” is in it twice")
        seen.add(name)
        if stat.S_IFMT(entry.external_attr >> 16) not in (0, stat.S_IFREG):
            raise _refusal(file, f"“{shown}” is a link or something else that is no plain file")
        if entry.compress_type != zipfile.ZIP_STORED or entry.file_size != entry.compress_size or entry.flag_bits & 1:
            raise _refusal(file, f"“{shown}” is compressed or locked, which 'blotbook pack' never does")
    missing = {ABOUT, SUMS, DATABASE, SIGNATURES} - seen
    if missing:
        raise _refusal(file, f"it has no {', '.join(sorted(missing))}")
    # Nothing is compressed, so all of it together cannot be larger than the file unless entries share their bytes.
    if sum(entry.file_size for entry in entries) > file.stat().st_size:
        raise _refusal(file, "it claims to hold more than it can")
    return [entry for entry in entries if entry.filename not in (ABOUT, SUMS)]


def _about(packed: zipfile.ZipFile, file: Path) -> int:
    if packed.getinfo(ABOUT).file_size > _MOST_ABOUT:
        raise _refusal(file, f"its {ABOUT} is too long")
    try:
        about = json.loads(packed.read(ABOUT))
        form, works = int(about["format"]), int(about["works"])
    except (KeyError, TypeError, ValueError, OverflowError, RecursionError) as error:
        raise _refusal(file, f"its {ABOUT} cannot be read") from error
    if form > FORMAT:
        raise _refusal(file, "a newer Blotbook packed it, and this one cannot read it")
    return works


def _write_out(
    packed: zipfile.ZipFile, file: Path, entries: list[zipfile.ZipInfo], to: Path, on_progress: OnProgress | None
) -> None:
    sums = _sums(packed, file)
    for done, entry in enumerate(entries, 1):
        path = to / entry.filename
        path.parent.mkdir(parents=True, exist_ok=True)
        digest = hashlib.sha256()
        with packed.open(entry) as source, path.open("xb") as target:
            while part := source.read(_CHUNK):
                digest.update(part)
                target.write(part)
        if sums.pop(entry.filename, "") != digest.hexdigest():
            raise _refusal(file, f"“{entry.filename}” is not the file that {SUMS} names")
        if on_progress is not None:
            on_progress(done, len(entries))
    sums.pop(ABOUT, None)
    if sums:
        raise _refusal(file, f"{SUMS} names {next(iter(sums))[:80]}, which is not in it")


def _sums(packed: zipfile.ZipFile, file: Path) -> dict[str, str]:
    if packed.getinfo(SUMS).file_size > _MOST_OF_A_SUM * len(packed.infolist()):
        raise _refusal(file, f"its {SUMS} is too long")
    sums: dict[str, str] = {}
    for line in packed.read(SUMS).decode("utf-8", errors="replace").splitlines():
        match = _SUM.fullmatch(line)
        if match is None or match[2] in sums:
            raise _refusal(file, f"its {SUMS} cannot be read")
        sums[match[2]] = match[1]
    if sums.get(ABOUT) != hashlib.sha256(packed.read(ABOUT)).hexdigest():
        raise _refusal(file, f"“{ABOUT}” is not the file that {SUMS} names")
    return sums


def _check_archive(folder: Path, file: Path, works: int) -> None:
    from archive.verify import verify

    wrong = [finding.sentence for finding in verify(folder) if finding.wrong]
    if wrong:
        raise _refusal(file, f"the archive in it is not in order: {wrong[0].rstrip('.')}")
    from archive.store import Archive

    with contextlib.closing(Archive.open(folder)) as archive:
        if archive.counts()["works"] != works:
            raise _refusal(file, f"it says that it has {works} works, and has another number")


def _refusal(file: Path, why: str) -> ArchiveError:
    return ArchiveError(f"{file} was not unpacked: {why}.")
