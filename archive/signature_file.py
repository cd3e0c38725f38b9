"""signatures.npy: the signatures of all works in one file that is read by mapping it into memory."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from pathlib import Path

SIGNATURES = "signatures.npy"
_UNFINISHED = ".part"


def pending_name(sha256: str) -> str:
    """The name under which the signatures with this hash wait for the edition that needs them."""
    return f"signatures-{sha256[:16]}.npy"


def write_signatures(folder: Path, rows: Iterable[bytes], count: int, length: int) -> tuple[Path, str]:
    """Write ``count`` signatures of ``length`` bytes as a NumPy file; its path, under the name it waits with,
    and its SHA-256.

    The rows are written as they come, so that memory does not grow with their number.  Raises OSError when
    the file cannot be written.
    """
    from numpy.lib import format as npy

    unfinished = folder / (SIGNATURES + _UNFINISHED)
    with unfinished.open("w+b") as file:
        # uint8 has no byte order, C order: the bytes of the rows follow the header one after another.
        npy.write_array_header_1_0(file, {"descr": "|u1", "fortran_order": False, "shape": (count, length)})
        for row in rows:
            file.write(row)
        file.flush()
        os.fsync(file.fileno())
        file.seek(0)
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    return unfinished.replace(folder / pending_name(digest)), digest


def remove_pending(folder: Path) -> None:
    """Remove signatures that wait for an edition that never came, or were never finished."""
    for stale in (*folder.glob("signatures-*.npy"), folder / (SIGNATURES + _UNFINISHED)):
        stale.unlink(missing_ok=True)


def sha256_of(file: Path) -> str:
    """The SHA-256 of a file, or '' when it cannot be read."""
    try:
        with file.open("rb") as opened:
            return hashlib.file_digest(opened, "sha256").hexdigest()
    except OSError:
        return ""
