"""All that an archive is, as bytes, to hold two archives to each other."""

from __future__ import annotations

from pathlib import Path


def content_of(folder: Path) -> dict[str, bytes]:
    """Every file of an archive by its name."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }
