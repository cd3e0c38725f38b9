"""Fixtures of the tests of what is done with many works."""

from __future__ import annotations

from pathlib import Path

import pytest
from archive_content import content_of


@pytest.fixture(scope="session")
def small_content(fresh_archive: Path) -> dict[str, bytes]:
    """Every file of the archive of sixteen works."""
    return content_of(fresh_archive)
