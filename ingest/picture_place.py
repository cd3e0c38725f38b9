"""Where a record says that its picture lies: below the folder of the records, or at an address."""

from __future__ import annotations

import unicodedata
from pathlib import Path, PurePosixPath
from urllib.parse import urlsplit
from urllib.request import url2pathname

from ingest.fetching import address_fault, is_address


def place_of(folder: Path | str, given: str) -> tuple[str, str]:
    """The address of a picture, or its path below ``folder`` with forward slashes, and ''.

    Or else '' or what was given, and what is wrong with it as the end of a sentence.

    ``folder`` is a resolved folder, or the address below which files lie.
    """
    if not given:
        return "", "the row names no file"
    if given.lower().startswith("file://"):
        given = url2pathname(urlsplit(given).path)
    elif is_address(given):
        return given, address_fault(given)
    if isinstance(folder, str):
        below = PurePosixPath(given.replace("\\", "/"))
        outside = below.is_absolute() or ".." in below.parts
        return below.as_posix(), "its file lies outside of the address of the pictures" if outside else ""
    try:
        path = _as_found(folder, given)
        real = (folder / path).resolve()
        inside = real.is_relative_to(folder) and real != folder
    except (OSError, RuntimeError, ValueError):
        return given, "its file name is none that this system can hold"
    if not inside:
        return given, "its file lies outside of the folder of the records"
    # A link inside of the folder keeps its own name; only a path that climbs is written out.
    if path.is_absolute() or ".." in path.parts:
        return real.relative_to(folder).as_posix(), ""
    return path.as_posix(), ""


def _as_found(folder: Path, given: str) -> Path:
    """The spelling of ``given`` that exists: a Mac parts accents from letters, Windows writes ``\\``."""
    spellings = [given, *(unicodedata.normalize(form, given) for form in ("NFC", "NFD"))]
    spellings += [spelling.replace("\\", "/") for spelling in spellings]
    return next((Path(spelling) for spelling in spellings if (folder / spelling).exists()), Path(given))
