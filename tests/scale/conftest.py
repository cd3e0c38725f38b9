"""Fixtures of the tests of what is done with many works."""

from __future__ import annotations

from pathlib import Path

import pytest


def content_of(folder: Path) -> dict[str, bytes]:
    """Every file of an archive by its name."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }


@pytest.fixture(scope="session")
def small_content(small_archive: Path) -> dict[str, bytes]:
    """Every file of the archive of sixteen works."""
    return content_of(small_archive)
