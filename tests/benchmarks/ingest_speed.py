"""What an ingest costs: processor time and clock against a scaled decode alone, one worker and two, memory, disk.

    PYTHONPATH=tests:tests/benchmarks:. python tests/benchmarks/ingest_speed.py --table 5472:300 1600:120 [--grain]
    PYTHONPATH=… python tests/benchmarks/ingest_speed.py --scaling 5472:60 1600:120 [--grain]
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
from ingest.provenance import Records, read_records


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


def load_fitting(_: str) -> int:
    """Loads what finding arrangements needs."""
    import sklearn.cluster
    import sklearn.manifold
    import sklearn.metrics

    return len(sklearn.cluster.__name__) + len(sklearn.manifold.__name__) + len(sklearn.metrics.__name__)


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


def table(folder: Path, wanted: list[str], quality: int, *, grain: bool) -> None:
    """Print one line for each size and number of works ('5472:300'), everything that is taken once counted.

    Decoding alone is timed before and after, and the mean taken, since a busy computer changes its pace. What an ingest
    of any size takes once is starting, loading, finding arrangements and writing the edition.
    """
    print(f"load average {os.getloadavg()[0]:.1f}; two workers; milliseconds of processor time a work")
    print(
        "| JPEG files | works | scaled decode | read and its pictures made | whole ingest | times | by the clock "
        "| times, without what is taken once | the process that writes | archive, kB a work |"
    )
    print("|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|")
    for each in wanted:
        place = folder / each.replace(":", "-")
        made = _Made.at(place, each, quality, grain=grain)
        start, loading = decoding(made.files[:2], 2, nothing), decoding(made.files[:2], 2, load_street)
        fitting = decoding(made.files[:1], 1, load_fitting)
        before = decoding(made.files, 2)
        reading = made.reading(2)
        writing: list[float] = []

        def look(done: int, total: int, into: list[float] = writing) -> None:
            if done in (1, total):
                into.append(time.process_time())

        with spending() as whole:
            assert ingest(made.records, place / "archive", workers=2, on_progress=look).new == made.works
        after = decoding(made.files, 2)
        with spending() as again:
            ingest(made.records, place / "archive", workers=2)
        with spending() as arranging:
            arrange(place / "archive")
        alone, clock = (before.all + after.all) / 2, (before.clock + after.clock) / 2
        # What the workers did the second time is to hash every file, which is not taken once.
        once = again.own + arranging.all + loading.all + fitting.all - start.all / 2
        costs = (f"{1000 * spent / made.works:.1f}" for spent in (alone, reading.all, whole.all))
        print(
            f"| {made.name} | {made.works} | {' | '.join(costs)} | {whole.all / alone:.2f} "
            f"| {whole.clock / clock:.2f} | {(whole.all - once) / (alone - start.all):.2f} "
            f"| {1000 * (writing[-1] - writing[0]) / made.works:.1f} "
            f"| {sum(disk_of(place / 'archive').values()) / made.works:.0f} |",
            flush=True,
        )
        shutil.rmtree(place)


def scaling(folder: Path, wanted: list[str], quality: int, *, grain: bool) -> None:
    """Print how much faster two workers read than one, for each size and number of works, in turns: one, two, two, one.

    What is read is not kept: neither the disk nor the process that writes has a part in it.
    """
    print(f"load average {os.getloadavg()[0]:.1f}; reading, and making the pictures that are kept")
    print("| JPEG files | works | one worker, s | two workers, s | times as fast | processor time a work |")
    print("|---|---:|---:|---:|---:|---:|")
    for each in wanted:
        place = folder / each.replace(":", "-")
        made = _Made.at(place, each, quality, grain=grain)
        turns = [made.reading(workers) for workers in (1, 2, 2, 1)]
        one, two = (sum(turns[at].clock for at in pair) / 2 for pair in ((0, 3), (1, 2)))
        more = (turns[1].all + turns[2].all) / (turns[0].all + turns[3].all)
        print(
            f"| {made.name} | {made.works} | {one:.1f} | {two:.1f} | {one / two:.2f} | {more:.2f} times |", flush=True
        )
        shutil.rmtree(place)


@dataclass
class _Made:
    """Files that were made to be read, and their records."""

    name: str
    records: Records
    files: list[str]

    @classmethod
    def at(cls, place: Path, wanted: str, quality: int, *, grain: bool) -> _Made:
        """`wanted` is a size and a number of works, as '5472:300'."""
        side, works = (int(number) for number in wanted.split(":"))
        records = read_records(write_transformed(place / "made", works, side, quality, grain=grain))
        files = [str(Path(records.folder) / record.file) for record in records.records]
        size = sum(Path(file).stat().st_size for file in files) / works / 1e6
        return cls(f"{side:,} px, {size:.2g} MB", records, files)

    @property
    def works(self) -> int:
        return len(self.files)

    def reading(self, workers: int) -> Spent:
        """What reading them and making their pictures takes."""
        with spending() as spent:
            assert sum(1 for _ in reduce(self.records.records, self.records.folder, workers=workers)) == self.works
        return spent


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
    parser.add_argument("--works", type=int, default=20000, help="of --memory")
    parser.add_argument("--side", type=int, default=400, help="of --memory")
    parser.add_argument("--grain", action="store_true", help="files as large as those of a camera")
    parser.add_argument("--quality", type=int, default=90, help="of the JPEG files")
    asked = parser.add_mutually_exclusive_group(required=True)
    asked.add_argument("--memory", action="store_true")
    asked.add_argument("--table", nargs="+", metavar="SIDE:WORKS", help="a line for each size")
    asked.add_argument("--scaling", nargs="+", metavar="SIDE:WORKS", help="a line for each size")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        if options.memory:
            memory(Path(name), options.works, options.side)
        elif options.table:
            table(Path(name), options.table, options.quality, grain=options.grain)
        else:
            scaling(Path(name), options.scaling, options.quality, grain=options.grain)


if __name__ == "__main__":
    main()
