"""Many pictures down the whole street, by several processes, one outcome for each and none lost.

Nothing that loads NumPy is imported here before it is needed: a worker process sets its number of threads
first, and that counts only before NumPy is loaded.
"""

from __future__ import annotations

import contextlib
import hashlib
import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator, Mapping
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing.connection import wait
from pathlib import Path
from typing import TYPE_CHECKING

from ingest.provenance import SourceRecord

if TYPE_CHECKING:
    from ingest.masses import Mass
    from ingest.measures import Measures
    from ingest.showing import Shown

MOST_BYTES = 1 << 30
"""Larger files are not read: no picture that can be shown needs as much."""

_ALONE = "The process that read it broke down, which damaged or very large pictures can cause."
_TOLD = ("as the record says",)
"""What is kept as the reason of a trim that the record names."""

_AHEAD = 4
"""Pictures handed out for each worker before the first of them is back."""

_RENEWED_AFTER = 2000
"""Pictures after which a worker makes way for a new one, which gives back what decoders leave in memory."""


@dataclass(frozen=True)
class Reduced:
    """A picture that was read: what `ingest.reading.read` found, without the arrays, and the pictures of it.

    sha256: of the file's bytes. width, height: of the upright file, px. trimmed: (x0, y0, x1, y1) in those
    px. display: (width, height) of the display copy, px. signature: its bytes. pictures: by name, see
    `ingest.showing.show`.
    """

    work: str
    sha256: str
    width: int
    height: int
    trimmed: tuple[int, int, int, int]
    trims: tuple[str, ...]
    profile: str
    display: tuple[int, int]
    measures: Measures
    masses: tuple[Mass, ...]
    types: Mapping[str, float]
    signature: bytes
    sentence: str
    pictures: Mapping[str, Shown]


@dataclass(frozen=True)
class Unchanged:
    """A picture whose bytes are those that were read before."""

    work: str


@dataclass(frozen=True)
class Failed:
    """A picture that could not be read; reason: one sentence for people."""

    work: str
    reason: str


Outcome = Reduced | Unchanged | Failed


@dataclass(frozen=True)
class Task:
    """One picture to read.

    work: its name. path: its file. stated: the hash that its record gives ('' for none). known: the hash of
    the bytes that were read before in today's way ('' for none). part: what of the file its record says is the
    picture, see `ingest.part` ('' leaves it to trimming).
    """

    work: str
    path: Path
    stated: str = ""
    known: str = ""
    part: str = ""


def street_version() -> str:
    """What is stored with a reading: the same bytes and version give the same reading and pictures."""
    from ingest.reading import READING_VERSION
    from ingest.showing import SHOWING_VERSION

    return f"{READING_VERSION}-{SHOWING_VERSION}"


def reduce(
    records: Iterable[SourceRecord],
    folder: Path,
    *,
    known: Mapping[str, str] | None = None,
    workers: int = 1,
    on_progress: Callable[[int], None] | None = None,
) -> Generator[Outcome, None, None]:
    """Read the pictures of ``records``, whose files lie under ``folder``; one outcome for each, in order.

    ``known`` maps works to the hash of the bytes that were read before in today's way, as the part that the
    record now names: when the file still has them the outcome is `Unchanged`.  ``workers`` processes read at
    the same time (1 or more); the outcomes do not depend on how many.  A process that breaks down costs the one
    picture that it was at.
    ``on_progress`` is called with the number of pictures done so far.
    """
    before = known or {}
    tasks = (
        Task(record.work, folder / record.file, record.sha256, before.get(record.work, ""), record.part)
        for record in records
    )
    for done, outcome in enumerate(_reduce(tasks, max(1, workers)), 1):
        yield outcome
        if on_progress is not None:
            on_progress(done)


def reduce_one(task: Task) -> Outcome:
    """Read one picture; whatever goes wrong with it is a `Failed` with the reason."""
    try:
        return _read(task)
    except MemoryError:
        return Failed(task.work, "It needs more memory than there is.")
    except OSError as error:
        return Failed(task.work, f"The file could not be opened: {error.strerror or error}.")
    except Exception as error:
        fault = f"{type(error).__name__}: {error}"
        return Failed(task.work, f"A fault in Blotbook kept it from being read ({fault}).")


def _read(task: Task) -> Outcome:
    from ingest.part import read_part
    from ingest.picture import UnreadablePicture
    from ingest.reading import read
    from ingest.showing import show

    if not task.path.is_file():
        return Failed(task.work, "There is no such file.")
    if task.path.stat().st_size > MOST_BYTES:
        return Failed(task.work, "The file is larger than one gigabyte.")
    content = task.path.read_bytes()
    digest = hashlib.sha256(content).hexdigest()
    if task.stated and task.stated != digest:
        return Failed(task.work, "The file is not the one that its record names: its sha256 differs.")
    if task.known == digest:
        return Unchanged(task.work)
    try:
        reading = read(content, part=read_part(task.part) if task.part else None)
    except UnreadablePicture as error:
        return Failed(task.work, str(error))
    picture = reading.picture
    height, width = picture.rgb.shape[:2]
    return Reduced(
        work=task.work,
        sha256=digest,
        width=picture.width,
        height=picture.height,
        trimmed=picture.trimmed,
        trims=_TOLD if task.part else picture.trims,
        profile=picture.profile,
        display=(width, height),
        measures=reading.measures,
        masses=reading.masses,
        types=reading.types,
        signature=reading.signature.tobytes(),
        sentence=reading.sentence,
        pictures=show(reading),
    )


def _reduce(tasks: Iterator[Task], workers: int) -> Iterator[Outcome]:
    waiting: deque[tuple[Task, Future[Outcome] | None]] = deque()
    more = True
    while more:
        pool = _pool(workers)
        handed_out = 0
        try:
            while True:
                while handed_out < _RENEWED_AFTER * workers and len(waiting) < _AHEAD * workers:
                    task = next(tasks, None)
                    if task is None:
                        more = False
                        break
                    waiting.append((task, _submit(pool, task)))
                    handed_out += 1
                if not waiting:
                    break
                task, future = waiting.popleft()
                outcome = _result(future)
                if outcome is None:
                    # Which of those handed out brought the workers down cannot be told, so each that is not
                    # back is read again with a process to itself.
                    yield _alone(task)
                    for task, future in waiting:
                        yield _result(future) or _alone(task)
                    waiting.clear()
                    break
                yield outcome
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _submit(pool: ProcessPoolExecutor, task: Task) -> Future[Outcome] | None:
    try:
        return pool.submit(reduce_one, task)
    except BrokenProcessPool:
        return None


def _result(future: Future[Outcome] | None) -> Outcome | None:
    """The outcome; None when the processes broke down before there was one."""
    try:
        return None if future is None else future.result()
    except BrokenProcessPool:
        return None


def _alone(task: Task) -> Outcome:
    with _pool(1) as pool:
        return _result(_submit(pool, task)) or Failed(task.work, _ALONE)


def _pool(workers: int) -> ProcessPoolExecutor:
    # 'spawn' is the one way of starting processes that every system has and that no thread of ours can upset.
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(workers, mp_context=context, initializer=_begin_worker)


def _begin_worker() -> None:
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
        os.environ[name] = "1"
    # The interrupt key is for the process that hands out the work.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    """Ends this worker when its parent is gone: killed outright, the parent cannot tell it to."""
    with contextlib.suppress(OSError):
        wait([sentinel])
    os._exit(1)
