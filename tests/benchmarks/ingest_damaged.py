"""As many damaged files as good ones through one ingest.

    PYTHONPATH=tests:. python tests/benchmarks/ingest_damaged.py [--count 1000]

Every good picture must come in and every damaged file have its reason. Prints the reasons, and the peak of memory of
this process and of the largest worker.
"""

from __future__ import annotations

import argparse
import re
import resource
import tempfile
import time
from collections import Counter
from pathlib import Path

from damaged_files import write_good_and_damaged

from archive.ingesting import ingest
from archive.verify import verify
from ingest.provenance import read_records


def main() -> None:
    """Measure as the options say."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1000)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        records = read_records(write_good_and_damaged(Path(name) / "files", options.count))
        begun = time.perf_counter()
        summary = ingest(records, Path(name) / "archive", workers=2)
        took = time.perf_counter() - begun
        assert (summary.new, len(summary.unread)) == (options.count, options.count)
        assert verify(Path(name) / "archive") == []
        said = Counter(
            (file.rpartition("-")[0], re.sub(r"\d{5}|\d+ bytes", "…", reason)) for file, reason in summary.unread
        )
    for (kind, reason), count in sorted(said.items()):
        print(f"{count:6} {kind:14} {reason}")
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    worker = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1000
    print(f"{summary.new} came in, {len(summary.unread)} named, {took:.0f} s; archive in order")
    print(f"peak memory: this process {own:.0f} MB, the largest worker {worker:.0f} MB")


if __name__ == "__main__":
    main()
