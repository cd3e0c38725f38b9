"""Many pictures down the whole street, by several processes or computers, one outcome for each and none lost.

Nothing that loads NumPy is imported here before it is needed: a worker process sets its number of threads
first, and that counts only before NumPy is loaded.
"""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator, Mapping
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from ingest.engines import Engine, EngineFault, Processes
from ingest.fetching import NotFetched, fetch, is_address
from ingest.provenance import SourceRecord

if TYPE_CHECKING:
    from ingest.masses import Mass
    from ingest.measures import Measures
    from ingest.showing import Shown

MOST_BYTES = 1 << 30
"""Larger files are not read: no picture that can be shown needs as much."""

_ALONE = "The process that read it broke down, which damaged or very large pictures can cause."
_LARGE = "The file is larger than one gigabyte."
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

    work: its name. path: its file, or the address of it. stated: the hash that its record gives ('' for none).
    known: the hash of the bytes that were read before in today's way ('' for none). part: what of the file its
    record says is the picture, see `ingest.part` ('' leaves it to trimming).
    """

    work: str
    path: Path | str
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
    folder: Path | str,
    *,
    known: Callable[[SourceRecord], str] | None = None,
    workers: int = 1,
    engine: Engine | None = None,
    on_progress: Callable[[int], None] | None = None,
) -> Generator[Outcome, None, None]:
    """Read the pictures of ``records``, whose files lie under ``folder``; one outcome for each, in order.

    ``folder`` is a folder or an address; a record's own address needs neither.  ``known`` gives the hash of the bytes
    that were read of a work before in today's way, as the part that its record now names ('' for none): when the file
    still has them the outcome is `Unchanged`, and when the record states that very hash, the file is not even opened.
    ``workers`` processes read at the same time (1 or more), or else ``engine``; the outcomes do not depend on either.
    A process that breaks down costs the one picture that it was at.  ``on_progress`` is called with the number of
    pictures done so far.  Raises `EngineFault` when no picture at all can be read there.
    """
    tasks = (
        Task(record.work, _place(folder, record.file), record.sha256, known(record) if known else "", record.part)
        for record in records
    )
    for done, outcome in enumerate(_reduce(tasks, engine or Processes(workers)), 1):
        yield outcome
        if on_progress is not None:
            on_progress(done)


def _place(folder: Path | str, file: str) -> Path | str:
    if is_address(file):
        return file
    if isinstance(folder, Path):
        return folder / file
    # A name with a sign that means something in addresses of the web would otherwise be cut there.
    web = folder.startswith(("http:", "https:"))
    return f"{folder.rstrip('/')}/{quote(file) if web else file}"


def reduce_one(task: Task) -> Outcome:
    """Read one picture; whatever goes wrong with it is a `Failed` with the reason.

    Raises `EngineFault` when none could be read here.
    """
    try:
        return _read(task)
    except EngineFault:
        raise
    except MemoryError:
        return Failed(task.work, "It needs more memory than there is.")
    except OSError as error:
        return Failed(task.work, f"The file could not be opened: {error.strerror or error}.")
    except Exception as error:
        fault = f"{type(error).__name__}: {error}"
        return Failed(task.work, f"A fault in Blotbook kept it from being read ({fault}).")


def _read(task: Task) -> Outcome:
    from ingest.part import read_part
    from ingest.picture_file import UnreadablePicture
    from ingest.reading import read
    from ingest.showing import show

    if isinstance(task.path, Path):
        if not task.path.is_file():
            return Failed(task.work, "There is no such file.")
        if task.path.stat().st_size > MOST_BYTES:
            return Failed(task.work, _LARGE)
        content = task.path.read_bytes()
    else:
        try:
            content = fetch(task.path, MOST_BYTES)
        except NotFetched as error:
            return Failed(task.work, str(error))
        if len(content) > MOST_BYTES:
            return Failed(task.work, _LARGE)
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


def _reduce(tasks: Iterator[Task], engine: Engine) -> Iterator[Outcome]:
    waiting: deque[tuple[Task, Future[Outcome] | None]] = deque()
    more = True
    while more:
        at_once = engine.at_once
        with engine.pool() as pool:
            handed_out = 0
            while True:
                while handed_out < _RENEWED_AFTER * at_once and len(waiting) < _AHEAD * at_once:
                    task = next(tasks, None)
                    if task is None:
                        more = False
                        break
                    waiting.append((task, _submit(engine, pool, task)))
                    handed_out += 1
                if not waiting:
                    break
                task, future = waiting.popleft()
                outcome = engine.result(future)
                if outcome is None:
                    # Which of those handed out brought the workers down cannot be told, so each that is not
                    # back is read again with a process to itself.
                    yield _alone(engine, task)
                    for task, future in waiting:
                        yield engine.result(future) or _alone(engine, task)
                    waiting.clear()
                    break
                yield outcome


def _submit(engine: Engine, pool: Executor, task: Task) -> Future[Outcome] | None:
    if task.known and task.known == task.stated:
        settled: Future[Outcome] = Future()
        settled.set_result(Unchanged(task.work))
        return settled
    return engine.submit(pool, reduce_one, task)


def _alone(engine: Engine, task: Task) -> Outcome:
    with engine.pool(alone=True) as pool:
        outcome: Outcome | None = engine.result(engine.submit(pool, reduce_one, task))
    return outcome or Failed(task.work, _ALONE)
