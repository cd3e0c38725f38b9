"""What an ingest costs: processor time and clock against a scaled decode alone, one worker and two, memory, disk.

    PYTHONPATH=tests:tests/benchmarks:. python tests/benchmarks/ingest_speed.py [--works 200] [--side 1600] [--grain]
    PYTHONPATH=… python tests/benchmarks/ingest_speed.py --table 5472:400 3200:200 1600:200 960:200 [--grain]
    PYTHONPATH=… python tests/benchmarks/ingest_speed.py --memory [--works 20000] [--side 400]

Targets: the whole ingest at most 2.5 times the scaled decode alone on the same files with the same two workers; two
workers at least 1.8 times one; memory flat.  The clock says what else the computer was doing; the processor time of all
processes hardly does, so both are printed.
"""

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import active_children, get_context
from pathlib import Path
from typing import Any

from transformed_samples import write_transformed

from archive.arranging import arrange
from archive.ingesting import ingest
from ingest.pipeline import reduce
from ingest.provenance import read_records


@dataclass
class Spent:
    """Seconds on the clock, and of processor time of this process and of those it started."""

    clock: float = 0.0
    own: float = 0.0
    others: float = 0.0

    @property
    def all(self) -> float:
        return self.own + self.others


@contextmanager
def spending() -> Iterator[Spent]:
    """Counts what the block takes; processes that it starts must end in it."""
    spent, clock, before = Spent(), time.perf_counter(), os.times()
    yield spent
    after = os.times()
    spent.clock = time.perf_counter() - clock
    spent.own = after.user + after.system - before.user - before.system
    spent.others = after.children_user + after.children_system - before.children_user - before.children_system


def decode(file: str) -> int:
    """Pillow's scaled decode of one file: the smallest scale at which the decoder still gives 960 pixels."""
    from PIL import Image

    with Image.open(file) as image:
        image.draft("RGB", (960 * image.width // max(image.size), 960 * image.height // max(image.size)))
        image.load()
        return image.width


def nothing(_: str) -> int:
    """Loads what decoding needs, and no more."""
    import PIL.JpegImagePlugin

    return len(PIL.JpegImagePlugin.__name__)


def load_street(_: str) -> int:
    """Loads what reading needs, and no more."""
    import ingest.reading
    import ingest.showing

    return len(ingest.reading.__name__) + len(ingest.showing.__name__)


def decoding(files: list[str], workers: int, work: Callable[[str], int] = decode) -> Spent:
    """What decoding alone takes, with as many processes."""
    with spending() as spent, ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        list(pool.map(work, files, chunksize=4))
    return spent


def rss(process: int) -> float:
    """Resident memory of a process, MB (proc(5), statm counts pages)."""
    try:
        pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    except (FileNotFoundError, ProcessLookupError):
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def disk_of(folder: Path) -> dict[str, float]:
    """Kilobytes of the parts of an archive."""
    pictures = sum(path.stat().st_size for path in (folder / "pictures").rglob("*") if path.is_file())
    parts = {name: (folder / name).stat().st_size / 1e3 for name in ("archive.db", "signatures.npy")}
    return {"pictures": pictures / 1e3, **parts}


def speed(folder: Path, works: int, side: int, *, grain: bool) -> None:
    """Print what reading and ingesting take beside decoding."""
    records = write_transformed(folder / "made", works, side, grain=grain)
    read = read_records(records)
    files = [str(read.folder / record.file) for record in read.records]  # type: ignore[operator]
    size = sum(Path(file).stat().st_size for file in files) / works / 1e3
    print(f"{works} JPEG files of {side} px, {size:.0f} kB each; load average {os.getloadavg()[0]:.1f}", flush=True)
    start, loading = decoding(files[:2], 2, nothing), decoding(files[:2], 2, load_street)
    rows: dict[str, Spent] = {}
    for workers in (1, 2):
        rows[f"decoding alone, {workers}"] = decoding(files, workers)
        with spending() as spent:
            assert sum(1 for _ in reduce(read.records, read.folder, workers=workers)) == works
        rows[f"reading, {workers}"] = spent
    with spending() as spent:
        summary = ingest(read, folder / "archive", workers=2)
    rows["whole ingest, 2"] = spent
    assert summary.new == works, summary.unread[:3]
    with spending() as spent:
        ingest(read, folder / "archive", workers=2)
    rows["once more, nothing to do, 2"] = spent
    with spending() as spent:
        arrange(folder / "archive")
    rows["finding arrangements alone"] = spent
    print(f"{'':30}{'clock s':>9}{'works/s':>9}{'cpu ms/work':>13}{'of it here':>11}")
    for name, each in rows.items():
        here = f"{1000 * each.own / works:.1f}"
        print(f"{name:30}{each.clock:9.1f}{works / each.clock:9.1f}{1000 * each.all / works:13.1f}{here:>11}")
    alone, whole = rows["decoding alone, 2"], rows["whole ingest, 2"]
    print(
        f"whole ingest to decoding alone: clock {whole.clock / alone.clock:.2f}, processor {whole.all / alone.all:.2f}"
    )
    # What an ingest of any size takes once, set aside on both sides.
    once = rows["once more, nothing to do, 2"].all + rows["finding arrangements alone"].all + loading.all
    print(
        f"  without starting ({start.all:.1f} s against {loading.all:.1f} s), arrangements and the edition: "
        f"processor {(whole.all - once) / (alone.all - start.all):.2f}"
    )
    one, two = rows["reading, 1"], rows["reading, 2"]
    print(
        f"one worker to two: clock {one.clock / two.clock:.2f}; "
        f"processor time a work {two.all / one.all:.3f} times as much"
    )
    print(f"  two workers kept busy: {two.all / two.clock:.2f} processors")
    for name, kilobytes in disk_of(folder / "archive").items():
        print(f"{name:16}{kilobytes / works:9.2f} kB a work")


def table(folder: Path, wanted: list[str], quality: int, *, grain: bool) -> None:
    """Print one line for each size and number of works ('5472:400'), everything that is taken once counted.

    Decoding alone is timed before and after, and the mean taken, since a busy computer changes its pace.
    """
    print(f"load average {os.getloadavg()[0]:.1f}; two workers; milliseconds of processor time a work")
    print("| JPEG files | works | scaled decode | read and its pictures made | whole ingest | times | by the clock |")
    print("|---|---:|---:|---:|---:|---:|---:|")
    for each in wanted:
        side, works = (int(number) for number in each.split(":"))
        place = folder / each.replace(":", "-")
        read = read_records(write_transformed(place / "made", works, side, quality, grain=grain))
        files = [str(read.folder / record.file) for record in read.records]  # type: ignore[operator]
        size = sum(Path(file).stat().st_size for file in files) / works / 1e6
        before = decoding(files, 2)
        with spending() as reading:
            assert sum(1 for _ in reduce(read.records, read.folder, workers=2)) == works
        with spending() as whole:
            assert ingest(read, place / "archive", workers=2).new == works
        after = decoding(files, 2)
        alone, clock = (before.all + after.all) / 2, (before.clock + after.clock) / 2
        costs = (f"{1000 * spent / works:.1f}" for spent in (alone, reading.all, whole.all))
        print(
            f"| {side:,} px, {size:.2f} MB | {works} | {' | '.join(costs)} | {whole.all / alone:.2f} "
            f"| {whole.clock / clock:.2f} |",
            flush=True,
        )
        shutil.rmtree(place)


def memory(folder: Path, works: int, side: int) -> None:
    """Print how memory goes along while many works are read."""
    records = write_transformed(folder / "made", works, side, quality=85)
    print(f"{works} JPEG files of {side} px")
    print(f"{'works':>8}{'this process MB':>17}{'each worker MB':>17}{'works/s':>10}{'cpu ms/work here':>18}")
    begun, used = time.perf_counter(), time.process_time()

    def look(done: int, total: int) -> None:
        if done % max(1, total // 10) == 0:
            workers = ", ".join(f"{rss(child.pid or 0):.0f}" for child in active_children())
            rate, here = done / (time.perf_counter() - begun), 1000 * (time.process_time() - used) / done
            print(f"{done:8}{rss(os.getpid()):17.0f}{workers:>17}{rate:10.1f}{here:18.2f}", flush=True)

    read: Any = read_records(records)
    summary = ingest(read, folder / "archive", workers=2, on_progress=look)
    took, here = time.perf_counter() - begun, 1000 * (time.process_time() - used) / works
    peak = [line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM")]
    print(
        f"in all {took:.0f} s for {summary.works} works, arranged and published, "
        f"{here:.1f} ms of processor time a work in this process; "
        f"peak of this process {int(peak[0].split()[1]) / 1000:.0f} MB"
    )
    for name, kilobytes in disk_of(folder / "archive").items():
        print(f"{name:16}{kilobytes / works:9.2f} kB a work")


def main() -> None:
    """Measure as the options say."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--works", type=int, default=200)
    parser.add_argument("--side", type=int, default=1600)
    parser.add_argument("--grain", action="store_true", help="files as large as those of a camera")
    parser.add_argument("--quality", type=int, default=90, help="of the JPEG files of --table")
    parser.add_argument("--memory", action="store_true")
    parser.add_argument("--table", nargs="+", metavar="SIDE:WORKS", help="a line for each size")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        if options.memory:
            memory(Path(name), options.works, options.side)
        elif options.table:
            table(Path(name), options.table, options.quality, grain=options.grain)
        else:
            speed(Path(name), options.works, options.side, grain=options.grain)


if __name__ == "__main__":
    main()
