"""What reading costs: run ``python tests/benchmarks/reading_speed.py``; one core, processor time, not the clock's.

Targets: everything after decoding at most 60 ms a picture; the whole street from a 20-megapixel JPEG at most 2.5 times
Pillow's scaled decode alone; reading a 100-megapixel JPEG in under 400 MB. The peak is that of a fresh process, with
Python and its libraries.
"""

from __future__ import annotations

import argparse
import io
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

# One thread, before the libraries that would start more are loaded.
os.environ.update({name: "1" for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")})

import numpy as np
from PIL import Image
from transformed_samples import SAMPLES, with_grain

LARGE, HUGE = (5472, 3648), (12_500, 8_000)
SIZES = ((1600, 1067), (3000, 2000), LARGE, (8000, 5333))


def seconds(work: Callable[[], Any], rounds: int = 3) -> float:
    """Least processor time of a few rounds."""
    spent = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return min(spent)


def steps_of(file: Path) -> dict[str, float]:
    """Seconds of each step after decoding."""
    from ingest.arrangement_facts import facts_of
    from ingest.arrangement_types import type_degrees
    from ingest.lightness import lightness_CIE1976
    from ingest.masses import find_masses
    from ingest.measures import measure
    from ingest.picture import read_picture
    from ingest.reading import read_tone
    from ingest.signature import signature
    from ingest.squint import squint
    from ingest.value_map import MAP_LIGHTNESS, value_map, value_maps
    from ingest.words import describe

    picture = read_picture(file)
    seen = squint(picture.luminance, mask=picture.mask)
    laid = value_map(seen, 3, picture.mask)
    masses = find_masses(laid.labels)
    before = lightness_CIE1976(picture.luminance)
    measures = measure(seen, laid, masses, picture.mask, before)
    return {
        "squint": seconds(lambda: squint(picture.luminance, mask=picture.mask)),
        "map, 2 values": seconds(lambda: value_map(seen, 2, picture.mask)),
        "map, 3 values": seconds(lambda: value_map(seen, 3, picture.mask)),
        "map, 5 values": seconds(lambda: value_map(seen, 5, picture.mask)),
        "all three maps": seconds(lambda: value_maps(seen, MAP_LIGHTNESS, picture.mask)),
        "masses": seconds(lambda: find_masses(laid.labels)),
        "measures": seconds(lambda: measure(seen, laid, masses, picture.mask, before)),
        "types": seconds(lambda: type_degrees(facts_of(seen, laid, measures, picture.mask))),
        "words": seconds(lambda: describe(measures, masses)),
        "signature": seconds(lambda: signature(seen, laid)),
        "all of these": seconds(lambda: read_tone(picture)),
        "decoding, trimming": seconds(lambda: read_picture(file)),
    }


def large_jpeg(size: tuple[int, int], *, progressive: bool = False) -> bytes:
    """A sample enlarged, with grain so that it costs what a photograph costs."""
    with Image.open(next(iter(sorted(SAMPLES.iterdir())))) as opened:
        image = with_grain(opened.convert("RGB").resize(size, Image.Resampling.BICUBIC))
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=90, progressive=progressive)
    return buffer.getvalue()


def scaled_decode(data: bytes) -> None:
    """Pillow alone: the smallest scale at which the decoder still gives 960 pixels."""
    with Image.open(io.BytesIO(data)) as image:
        image.draft("RGB", (960, 960 * image.height // image.width))
        image.load()


def peak_of_reading(file: Path) -> float:
    """Peak resident memory in MB of a fresh process that reads one file."""
    found = subprocess.run([sys.executable, __file__, "--read", str(file)], capture_output=True, text=True, check=True)
    return float(found.stdout)


def report_peak(file: Path | None) -> None:
    from ingest.reading import read

    if file is not None and file.name != "nothing":
        read(file)
    # The process's own high-water mark; getrusage would include what its parent held when it was started.
    status = Path("/proc/self/status").read_text(encoding="ascii")
    print(int(status.split("VmHWM:")[1].split()[0]) / 1024)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--every", type=int, default=6, help="take every so many samples (default 6)")
    parser.add_argument("--read", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.read is not None:
        report_peak(options.read)
        return
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    files = sorted(SAMPLES.iterdir())[:: options.every]
    table = [steps_of(file) for file in files]
    print(f"load average {os.getloadavg()[0]:.1f}; {len(files)} samples, milliseconds of processor time each\n")
    print("| step | median | worst |\n|---|---:|---:|")
    for step in table[0]:
        spent = np.array([row[step] for row in table]) * 1000
        print(f"| {step} | {np.median(spent):.1f} | {spent.max():.1f} |")

    from ingest.reading import read
    from ingest.showing import show

    print("\n| JPEG | scaled decode | read | times | and its six pictures made | times |")
    print("|---|---:|---:|---:|---:|---:|")
    kinds = [(size, False) for size in SIZES] + [(LARGE, True)]
    for size, progressive in kinds:
        data = large_jpeg(size, progressive=progressive)
        alone, whole = seconds(partial(scaled_decode, data)), seconds(partial(read, data))
        shown = whole + seconds(partial(show, read(data)))
        name = f"{size[0]:,} px, {len(data) / 1e6:.1f} MB{', progressive' if progressive else ''}"
        times = " | ".join(f"{1000 * each:.0f} ms | {each / alone:.2f}" for each in (whole, shown))
        print(f"| {name} | {1000 * alone:.0f} ms | {times} |", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        print(f"\npeak memory of a process that reads nothing: {peak_of_reading(Path(folder) / 'nothing'):.0f} MB")
        for progressive in (False, True):
            file = Path(folder) / f"huge-{progressive}.jpg"
            file.write_bytes(large_jpeg(HUGE, progressive=progressive))
            print(
                f"that reads a {HUGE[0] * HUGE[1] / 1e6:.0f}-megapixel {'progressive ' if progressive else ''}JPEG: "
                f"{peak_of_reading(file):.0f} MB"
            )


if __name__ == "__main__":
    main()
