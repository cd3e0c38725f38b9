"""What arranging costs as an archive grows: run ``python tests/benchmarks/arrange_scale.py``.

Synthetic works are drawn from the real distribution: each takes the reading of a sample, its pattern mixed a little
with that of another sample and its measures moved by a tenth of their spread. Grouping and the map are timed for
rising numbers of works, each in a process of its own so that the peak of its memory is its own. Target: 100,000 works
in 10 minutes and 4 GiB, growing no faster than n log n. An archive's readings are taken from ``--archive``.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import math
import resource
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
from threadpoolctl import threadpool_limits

from archive.arrangement_readings import Readings, readings_of
from ingest.arrangements import fit
from ingest.measures import Measures


def synthetic(archive: Path, count: int) -> Readings:
    """Readings of `count` works like those of the archive."""
    real = readings_of(archive)
    rng = np.random.default_rng(1783)
    first, second = rng.integers(len(real.works), size=(2, count))
    share = rng.uniform(0.0, 0.3, count)[:, None].astype(np.float32)
    signatures = np.empty((count, real.signatures.shape[1]), dtype=np.uint8)
    for at in range(0, count, 4096):
        part = slice(at, at + 4096)
        mixed = (1 - share[part]) * real.signatures[first[part]] + share[part] * real.signatures[second[part]]
        signatures[part] = np.rint(mixed + rng.normal(0, 2, mixed.shape)).clip(0, 255).astype(np.uint8)
    fields = [field.name for field in dataclasses.fields(Measures) if field.type in ("float", float)]
    spread = {name: 0.1 * float(np.std([getattr(m, name) for m in real.measures])) for name in fields}
    noise = {name: rng.normal(0, spread[name], count) for name in fields}
    measures = [
        dataclasses.replace(
            real.measures[row], **{name: float(getattr(real.measures[row], name) + noise[name][at]) for name in fields}
        )
        for at, row in enumerate(first)
    ]
    return Readings([str(at) for at in range(count)], signatures, real.types[first], measures)


def one(archive: Path, count: int) -> dict[str, float]:
    made = synthetic(archive, count)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    started = time.perf_counter()
    with threadpool_limits(1):
        found = fit(made.signatures, made.types, made.measures)
    seconds = time.perf_counter() - started
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return {"seconds": seconds, "before": before / 2**20, "peak": peak / 2**20, "groups": len(found.groups)}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--archive", type=Path, required=True, help="archive whose readings are varied")
    parser.add_argument("--counts", type=int, nargs="+", default=[1000, 3000, 10000, 30000, 100000])
    parser.add_argument("--one", type=int, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.one:
        print(json.dumps(one(options.archive, options.one)))
        return
    print(f"{'works':>8}{'seconds':>9}{'µs per work and log2 n':>24}{'peak GiB':>10}{'made GiB':>10}{'groups':>8}")
    for count in options.counts:
        command = [sys.executable, __file__, "--archive", str(options.archive), "--one", str(count)]
        found = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
        each = 1e6 * found["seconds"] / count / math.log2(count)
        print(
            f"{count:8,}{found['seconds']:9.1f}{each:24.1f}{found['peak']:10.2f}{found['before']:10.2f}"
            f"{found['groups']:8.0f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
