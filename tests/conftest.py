"""Fixtures that more than one test module needs."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from hypothesis import settings
from painting import write_collection

# How long an example takes says more about what else the computer is doing than about our code.
settings.register_profile("blotbook", deadline=None)
settings.load_profile("blotbook")


@pytest.fixture(scope="session")
def small_records(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The records of sixteen small pictures of eight layouts; not to be changed."""
    return write_collection(tmp_path_factory.mktemp("collection"))


@pytest.fixture(scope="session")
def fresh_archive(small_records: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of an archive of the sixteen small pictures, as it was made; never served, and not to be changed."""
    from archive.ingesting import ingest
    from ingest.provenance import read_records

    folder = tmp_path_factory.mktemp("archive") / "small"
    ingest(read_records(small_records), folder, workers=2)
    return folder


@pytest.fixture(scope="session")
def small_archive(fresh_archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same for tests that serve it, which lay boards beside it; the archive itself is not to be changed."""
    return Path(shutil.copytree(fresh_archive, tmp_path_factory.mktemp("served") / "small"))
