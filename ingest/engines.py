"""Where pictures are read: in processes of this computer, or on the many computers of a Dask cluster.

Both give `concurrent.futures.Executor`, so that what hands out the pictures is the same for one computer and for many.
A worker has its number of threads in its environment, where it counts only before NumPy is loaded.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import AbstractContextManager
from multiprocessing.connection import wait
from pathlib import Path
from typing import Any, Protocol

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""What tells the algebra libraries how many threads to start."""

_KEPT = {
    "MALLOC_MMAP_THRESHOLD_": str(32 << 20),
    "MALLOC_TRIM_THRESHOLD_": str(128 << 20),
    "GLIBC_TUNABLES": "glibc.malloc.hugetlb=1",
}
"""What tells glibc (mallopt(3), and its manual on tunables) to keep the memory of one picture for the next instead of
giving it back to the system and asking for it anew, which takes about 10 ms of the system's time a picture, and to ask
for it in large pages, which spares a picture of twenty megapixels about 3 % of its time. Pieces above 32 MB still go
back."""


class EngineFault(Exception):
    """Pictures cannot be read there at all, whichever they are; the message is one sentence for people."""


class Engine(Protocol):
    """A place where pictures are read."""

    @property
    def at_once(self) -> int:
        """How many are read at the same time, at least 1."""

    def see(self, folder: Path) -> None:
        """Raises `EngineFault` unless the folder can be seen from there."""

    def pool(self, *, alone: bool = False) -> AbstractContextManager[Executor]:
        """An executor, for one picture at a time when ``alone``; on leaving, what waits in it is given up."""

    def submit(self, pool: Executor, read: Callable[..., Any], *arguments: Any) -> Future[Any] | None:
        """Hand out one call; None when the workers have broken down."""

    def result(self, future: Future[Any] | None) -> Any | None:
        """What the call gave; None when the workers broke down before it was done."""


class Processes:
    """``workers`` processes (1 or more) of this computer."""

    def __init__(self, workers: int) -> None:
        self._workers = max(1, workers)

    @property
    def at_once(self) -> int:
        """The number of processes."""
        return self._workers

    def see(self, folder: Path) -> None:
        """See `Engine.see`: what this computer has not got, single pictures are named for."""

    @contextlib.contextmanager
    def pool(self, *, alone: bool = False) -> Iterator[Executor]:
        """New processes, which end with the context."""
        # 'spawn' is the one way of starting processes that every system has and that no thread of ours can upset.
        context = multiprocessing.get_context("spawn")
        pool = ProcessPoolExecutor(1 if alone else self._workers, mp_context=context, initializer=_begin_worker)
        with _surroundings():
            try:
                yield pool
            finally:
                pool.shutdown(wait=True, cancel_futures=True)

    def submit(self, pool: Executor, read: Callable[..., Any], *arguments: Any) -> Future[Any] | None:
        """See `Engine.submit`."""
        try:
            return pool.submit(read, *arguments)
        except BrokenProcessPool:
            return None

    def result(self, future: Future[Any] | None) -> Any | None:
        """See `Engine.result`."""
        try:
            return None if future is None else future.result()
        except BrokenProcessPool:
            return None


@contextlib.contextmanager
def _surroundings() -> Iterator[None]:
    """Processes that are started meanwhile inherit it, so that it holds in them before anything is loaded."""
    wanted = {**dict.fromkeys(THREADS, "1"), **{name: os.environ.get(name, value) for name, value in _KEPT.items()}}
    before = {name: os.environ.get(name) for name in wanted}
    os.environ.update(wanted)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _begin_worker() -> None:
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
