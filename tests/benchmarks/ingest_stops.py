"""Kills an ingest outright at random moments and sees whether anything is lost or doubled.

    PYTHONPATH=tests:. python tests/benchmarks/ingest_stops.py [--kills 30] [--works 40]

Each kill falls at a moment drawn evenly over the time that an ingest takes from its start to its end. After each, the
archive must open and be in order, and keep at least all works but those of the batch under way; an ingest that ends
before its kill makes room for a new one. At the end the archive must have the bytes of one that nobody stopped.
"""

from __future__ import annotations

import argparse
import random
import shutil
import tempfile
import time
from pathlib import Path

from archive_content import content_of
from painting import write_collection
from stopping import BATCH, check_whole, committed, finish, kill, start


def main() -> None:
    """Kill as often as the options say, and print what became of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=30)
    parser.add_argument("--works", type=int, default=40)
    options = parser.parse_args()
    chance = random.Random(30)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        records = write_collection(folder / "made", options.works)
        begun = time.perf_counter()
        finish(records, folder / "never-stopped")
        takes = time.perf_counter() - begun
        wanted = content_of(folder / "never-stopped")
        archive, kept, killed, ended, redone = folder / "archive", 0, 0, 0, 0
        while killed < options.kills:
            process = start(records, archive)
            time.sleep(chance.uniform(0, takes))
            if process.poll() is not None:
                ended += 1
                assert content_of(archive) == wanted
                process.communicate()
                shutil.rmtree(archive)
                kept = 0
                continue
            kill_at = time.perf_counter()
            done = max((int(line) for line in kill(process).split() if line.isdigit()), default=0)
            killed += 1
            check_whole(archive)
            now = committed(archive) if archive.exists() and any(archive.iterdir()) else 0
            assert now >= kept, (now, kept)
            assert done - now <= BATCH, (done, now)
            redone = max(redone, done - now)
            took = time.perf_counter() - kill_at
            print(f"kill {killed:3}: {done:3} read, {now:3} kept, {took:.1f} s to check", flush=True)
            kept = now
        new, there, works = finish(records, archive)
        assert (new, there, works) == (options.works - kept, kept, options.works)
        assert content_of(archive) == wanted
        print(f"{killed} kills, {ended} ingests that ended before theirs; at most {redone} works read twice at a stop")
        print(f"with {BATCH} a batch; the archive has the bytes of one that nobody stopped")


if __name__ == "__main__":
    main()
