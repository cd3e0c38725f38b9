"""Ingests in a process of their own, to be stopped in hard ways, and what must hold after each stop."""

from __future__ import annotations

import contextlib
import os
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

from archive.edition import WORKING
from archive.store import DATABASE, Archive
from archive.verify import verify

BATCH = 2
"""Works that these ingests commit together: fewer than usual, so that small collections have many batches."""

_SCRIPT = """
import resource, sys
from pathlib import Path
import archive.ingesting
from archive.errors import ArchiveError
from ingest.provenance import read_records

if __name__ == "__main__":
    records, folder, batch, largest = sys.argv[1:]
    archive.ingesting.BATCH = int(batch)
    if int(largest):
        resource.setrlimit(resource.RLIMIT_FSIZE, (int(largest), resource.RLIM_INFINITY))
    try:
        summary = archive.ingesting.ingest(
            read_records(Path(records)), Path(folder), on_progress=lambda done, total: print(done, flush=True)
        )
    except ArchiveError as error:
        sys.exit(str(error))
    print("ended", summary.new, summary.unchanged, summary.works, flush=True)
"""


def start(records: Path, archive: Path, *, largest: int = 0) -> subprocess.Popen[str]:
    """An ingest under way, which prints the number of pictures done after each, and at the end 'ended', how many works
    were new, how many were there, and how many there are.

    ``largest``: bytes after which no file can grow, as on a disk that is full (0 for no such limit).
    """
    root = str(Path(__file__).parents[1])
    return subprocess.Popen(
        [sys.executable, "-c", _SCRIPT, str(records), str(archive), str(BATCH), str(largest)],
        env={**os.environ, "PYTHONPATH": root},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def kill(process: subprocess.Popen[str]) -> str:
    """Kill an ingest outright, with the processes that read for it; what it had printed and nobody had read."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    return process.communicate()[0]


def finish(records: Path, archive: Path) -> tuple[int, int, int]:
    """Let an ingest run to its end: works that were new, that were there, and that there are."""
    out, said = start(records, archive).communicate(timeout=300)
    last = out.strip().rpartition("\n")[2].split()
    assert last[0] == "ended", said
    return int(last[1]), int(last[2]), int(last[3])


def committed(archive: Path) -> int:
    """How many works a stopped ingest has kept; the working copy stays as the stop left it."""
    working = archive / WORKING
    if not working.exists():
        with Archive.open(archive) as opened:
            return int(opened.counts()["works"])
    # The journal of a transaction that was stopped belongs to the file: SQLite takes back what was not committed.
    with contextlib.closing(sqlite3.connect(working, timeout=10)) as connection:
        connection.execute("BEGIN IMMEDIATE")
        try:
            (works,) = connection.execute("SELECT count(*) FROM works").fetchone()
        except sqlite3.OperationalError:
            return 0
        finally:
            connection.rollback()
        return int(works)


def check_whole(archive: Path) -> None:
    """An archive that is there opens, and nothing in it is wrong."""
    if (archive / DATABASE).exists():
        Archive.open(archive).close()
        wrong = [finding.sentence for finding in verify(archive) if finding.wrong]
        assert wrong == []
