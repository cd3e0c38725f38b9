"""How long matching takes in archives of a thousand to a million works, and whether the fast look misses anything.

    python tests/benchmarks/match_scale.py --cache FOLDER [--also PICTURES]... [--million] [--studies N]

Made signatures distributed as real ones (see made_archive.py), in archives on disk; a million only as arrays. Each size
is measured in a process of its own. Columns: seconds to open; milliseconds of a whole answer, parts and mirrored
included, median and 95th percentile; MiB held at most, all that the process holds included; 'own' is the share of
studies for which the fast look passed the study's own work on whenever a close look would have put it first;
'exhaustive' the share for which the work that a close look at all works puts first is the one that was named first.
"""

from __future__ import annotations

import argparse
import io
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from works_and_studies import KINDS, PaperArchive, load_works, progress, study_of

from archive.match import Gallery, Match
from ingest.reading import Reading

SIZES = (1_000, 10_000, 100_000)
MILLION = 1_000_000
_LOOKED_AT_ONCE = 500


def measure(archive: Path, studies: int, exhaustive: int) -> dict[str, float]:
    """All numbers of one archive; run in a process of its own."""
    from made_archive import as_painting, name
    from PIL import Image

    from ingest.reading import read

    signatures = np.load(archive / "signatures.npy", mmap_mode="r")
    started = time.perf_counter()
    if (archive / "archive.db").exists():
        gallery = Gallery.open(archive)
    else:
        gallery = Gallery(PaperArchive([name(row) for row in range(len(signatures))], signatures))
    opened = time.perf_counter() - started
    drawn = []
    for number, row in enumerate(np.random.default_rng(1).integers(0, len(signatures), studies)):
        held = io.BytesIO()
        kind = KINDS[number % len(KINDS)]
        Image.fromarray(study_of(as_painting(signatures[row]), kind, number)).save(held, "PNG")
        drawn.append((name(int(row)), read(held.getvalue())))
    gallery.match(drawn[0][1])
    spent, own, first, asked = [], [], 0, 0
    for number, (work, study) in enumerate(progress(drawn, f"matching with {len(signatures)}")):
        started = time.perf_counter()
        named = gallery.match(study).matches
        spent.append(1e3 * (time.perf_counter() - started))
        close = gallery.match(study, among=[work], count=1).matches
        if close and named:
            # A work is passed on when it is named, or when it could not have come first.
            own.append(work in {each.work for each in named} or close[0].similarity <= named[0].similarity)
            if not own[-1]:
                print(f"missed: {work} for {named[0].work}", file=sys.stderr)
        if number < exhaustive and named:
            best = _look_at_all(gallery, study, len(signatures))
            # Looked at among others the same work may come out differently in the last place that is told.
            first += best.work == named[0].work or best.similarity <= named[0].similarity
            asked += 1
    return {
        "works": len(signatures),
        "open": opened,
        "p50": float(np.median(spent)),
        "p95": float(np.quantile(spent, 0.95)),
        "MiB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        "own": float(np.mean(own)),
        "exhaustive": first / asked if asked else float("nan"),
    }


def _look_at_all(gallery: Gallery, study: Reading, count: int) -> Match:
    """The best match when every work is looked at closely, few at a time so that none is left out."""
    from made_archive import name

    best = None
    for start in range(0, count, _LOOKED_AT_ONCE):
        some = [name(row) for row in range(start, min(count, start + _LOOKED_AT_ONCE))]
        found = gallery.match(study, count=len(some), among=some).matches[0]
        best = found if best is None or found.similarity > best.similarity else best
    return best


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cache", type=Path, required=True, help="folder that keeps what has been read")
    parser.add_argument("--also", type=Path, action="append", default=[], help="more pictures to learn from")
    parser.add_argument("--studies", type=int, default=100, help="studies for each size (default 100)")
    parser.add_argument(
        "--exhaustive", type=int, default=20, help="studies compared with all works, up to 10,000 of them"
    )
    parser.add_argument("--million", action="store_true", help="also a million works")
    parser.add_argument("--size", type=int, action="append", help="only this number of works")
    parser.add_argument("--measure", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.measure:
        print(json.dumps(measure(asked.measure, asked.studies, asked.exhaustive)))
        return
    from made_archive import made_signatures, write_archive

    real = load_works(asked.cache, asked.also).signatures
    print(f"{'works':>10}{'open s':>8}{'p50 ms':>8}{'p95 ms':>8}{'MiB':>8}{'own':>8}{'exhaustive':>12}", flush=True)
    for size in asked.size or (*SIZES, *((MILLION,) if asked.million else ())):
        with tempfile.TemporaryDirectory(dir=asked.cache) as folder:
            archive = Path(folder)
            made = made_signatures(real, size)
            if size < MILLION:
                write_archive(archive, made)
            else:
                np.save(archive / "signatures.npy", made)
            del made
            exhaustive = asked.exhaustive if size <= 10_000 else 0
            command = [sys.executable, __file__, "--cache", str(asked.cache), "--measure", str(archive)]
            command += ["--studies", str(asked.studies), "--exhaustive", str(exhaustive)]
            found = json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout)
        print(
            f"{found['works']:10,}{found['open']:8.2f}{found['p50']:8.0f}{found['p95']:8.0f}{found['MiB']:8.0f}"
            f"{found['own']:8.3f}{found['exhaustive']:12.3f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
