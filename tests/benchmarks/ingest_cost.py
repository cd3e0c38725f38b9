"""What an archive of many works costs, computed from what `ingest_speed.py` measured for one.

    python tests/benchmarks/ingest_cost.py --read 0.2 --write 0.006 --bytes 120 [--works 10000000] [--file 305]

``--read``: seconds of one processor to read a work. ``--write``: seconds of the one process that writes. ``--bytes``:
kilobytes of the archive a work. ``--file``: kilobytes of a picture as it is fetched.
"""

from __future__ import annotations

import argparse

CORES = (2, 16, 128, 1024)
DAY = 86_400
"""Seconds in a day."""


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--works", type=int, default=10_000_000)
    parser.add_argument("--read", type=float, required=True)
    parser.add_argument("--write", type=float, required=True)
    parser.add_argument("--bytes", type=float, required=True)
    parser.add_argument("--file", type=float, default=300.0)
    options = parser.parse_args()
    works = options.works
    print(f"{works:,} works: {works * options.read / 3600:,.0f} hours of one processor to read")
    print(f"{works * options.write / 3600:,.1f} hours of the process that writes")
    print("| processors that read | hours | what is waited for |")
    print("|---:|---:|---|")
    for cores in CORES:
        reading, writing = works * options.read / cores, works * options.write
        waits = "reading" if reading >= writing else "the process that writes"
        print(f"| {cores:,} | {max(reading, writing) / 3600:,.0f} | {waits} |")
    print(f"archive: {works * options.bytes / 1e9:,.2f} TB; while an edition is made, its tables twice")
    print(f"pictures as fetched: {works * options.file / 1e9:,.1f} TB, which need not be kept")
    print(f"fetching one picture a second from one collection: {works / DAY:,.0f} days")


if __name__ == "__main__":
    main()
