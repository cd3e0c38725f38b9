"""Whatever stops an ingest, the archive opens, is in order, and the next ingest ends what was begun."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from archive_content import content_of
from stopping import BATCH, check_whole, committed, finish, kill, start

from archive.errors import ArchiveError
from archive.ingesting import ingest
from archive.verify import verify
from ingest.provenance import read_records

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="stops processes in the way of POSIX")


def test_killed_at_any_moment_it_loses_nothing_and_doubles_nothing(
    small_records: Path, small_content: dict[str, bytes], tmp_path: Path
) -> None:
    chance = random.Random(8)
    kept = 0
    # The last one is killed after its last picture: while arrangements are found and the edition is put in place.
    for at in (chance.randint(1, 3), chance.randint(1, 4), chance.randint(1, 3), 0):
        process = start(small_records, tmp_path)
        assert process.stdout is not None
        done = -1
        for line in process.stdout:
            done = int(line)
            if done == (kept + at if at else 16):
                break
        time.sleep(chance.uniform(0, 0.3 if at else 0.8))
        kill(process)
        check_whole(tmp_path)
        now = committed(tmp_path)
        assert now >= max(kept, done - BATCH)
        kept = now
    new, there, works = finish(small_records, tmp_path)
    assert (new, there, works) == (16 - kept, kept, 16)
    assert verify(tmp_path) == []
    assert content_of(tmp_path) == small_content


def test_a_file_that_cannot_grow_stops_it_with_one_sentence(
    small_records: Path, small_content: dict[str, bytes], tmp_path: Path
) -> None:
    """The limit stands in for a full disk where none can be made: SQLite and Python get the error at a write."""
    process = start(small_records, tmp_path, largest=len(small_content["archive.db"]) * 2 // 3)
    _, said = process.communicate(timeout=120)
    assert process.returncode == 1
    assert "could not be written" in said
    assert said.count("\n") == 1
    check_whole(tmp_path)
    assert 0 < committed(tmp_path) < 16
    finish(small_records, tmp_path)
    assert content_of(tmp_path) == small_content


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of its own that holds less than the archive needs."""
    disk = tmp_path / "disk"
    disk.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=600k", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if made.returncode:
        pytest.skip("no disk of a given size can be made here (mount: not permitted)")
    try:
        yield disk
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_a_full_disk_stops_it_and_room_lets_it_go_on(
    small_disk: Path, small_records: Path, small_content: dict[str, bytes]
) -> None:
    archive = small_disk / "archive"
    with pytest.raises(ArchiveError, match="could not be written"):
        ingest(read_records(small_records), archive)
    check_whole(archive)
    with pytest.raises(ArchiveError, match="could not be written"):
        ingest(read_records(small_records), archive)
    check_whole(archive)
    subprocess.run(["mount", "-o", "remount,size=64m", str(small_disk)], check=True)
    assert ingest(read_records(small_records), archive).works == 16
    assert content_of(archive) == small_content


@pytest.fixture
def closed_folder(fresh_archive: Path, tmp_path: Path) -> Iterator[Path]:
    """An archive in a folder that cannot be written."""
    if os.geteuid():
        folder = Path(shutil.copytree(fresh_archive, tmp_path / "archive"))
        for path in (folder, *folder.rglob("*")):
            path.chmod(0o555 if path.is_dir() else 0o444)
        yield folder
        for path in (folder, *(path for path in folder.rglob("*") if path.is_dir())):
            path.chmod(0o755)
        return
    # Permissions do not hold the superuser back; a disk that is mounted for reading does.
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "--bind", str(shutil.copytree(fresh_archive, tmp_path / "archive")), str(folder)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("no folder can be closed to the superuser here (mount: not permitted)")
    subprocess.run(["mount", "-o", "remount,ro,bind", str(folder)], check=True)
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def test_a_folder_that_cannot_be_written_is_said_and_stays_as_it_was(
    closed_folder: Path, small_records: Path, small_content: dict[str, bytes]
) -> None:
    with pytest.raises(ArchiveError, match=r"could not be written \(.*\)"):
        ingest(read_records(small_records), closed_folder)
    assert verify(closed_folder) == []
    assert content_of(closed_folder) == small_content
