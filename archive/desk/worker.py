"""One worker as the server sees it: a process that is asked, waited for so long, and ended when it breaks."""

from __future__ import annotations

import atexit
import contextlib
import os
import re
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

from archive.desk import wire

WAIT = 60.0
"""Seconds on the clock that one picture may take, longer than its processor time since the computer may be busy."""

_TASKS = 200
"""Tasks after which a worker is replaced, so that nothing adds up."""

_START = 60.0

_PATH = re.compile(r"(?:[A-Za-z]:)?(?:[/\\][\w.+-]+){2,}")

_BROKE = "Reading that picture broke off: it is damaged, or needs more memory than one picture may have here."
_TOO_LONG = "Reading that picture took too long and was stopped."
_FAULT = "That picture could not be read."


class DeskProblem(Exception):
    """A picture could not be read; the message is one clear sentence.  ``refused``: it could, but not as asked."""

    def __init__(self, sentence: str, *, refused: bool = False) -> None:
        super().__init__(_PATH.sub("…", sentence))
        self.refused = refused


class Worker:
    """A process of `archive.desk.bench`.  Used by one thread at a time; `kill` may come from any."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "archive.desk.bench"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            cwd=Path(os.sep).resolve(),
            env=_environment(),
            # Ctrl-C at the terminal is for the server, which ends its workers itself.
            start_new_session=True,
        )
        self._tasks = 0
        self._late = self._broken = False
        try:
            with self._no_longer_than(_START):
                self._receive()
        except DeskProblem as error:
            self.kill()
            message = "No picture can be read just now; the server could not start what reads them."
            raise DeskProblem(message) from error

    @property
    def pid(self) -> int:
        """The process."""
        return self._process.pid

    @property
    def usable(self) -> bool:
        """Whether it may be asked once more."""
        return self._process.poll() is None and self._tasks < _TASKS and not (self._late or self._broken)

    def ask(self, task: str, values: tuple[Any, ...], seconds: float = WAIT) -> Any:
        """Have a task of `archive.desk.tasks` done.  Raises `DeskProblem`; the worker may have ended then."""
        self._tasks += 1
        # Until its answer is here: a process that has just died may look alive for a moment.
        self._broken = True
        with self._no_longer_than(seconds):
            try:
                wire.send(self._stdin, (task, values))
            except OSError as error:
                raise DeskProblem(_BROKE) from error
            kind, value = self._receive()
        self._broken = False
        if kind == "done":
            return value
        if kind in ("unreadable", "refused"):
            raise DeskProblem(str(value), refused=kind == "refused")
        self.kill()
        raise DeskProblem(_FAULT)

    def kill(self) -> None:
        """End it, whatever it does."""
        with contextlib.suppress(OSError):
            self._process.kill()
        self._process.wait()
        for stream in (self._process.stdin, self._process.stdout):
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()

    @property
    def _stdin(self) -> Any:
        return self._process.stdin

    def _receive(self) -> tuple[str, Any]:
        try:
            assert self._process.stdout is not None
            kind, value = wire.plain(wire.receive(self._process.stdout))
        except (EOFError, OSError, ValueError) as error:
            raise DeskProblem(_TOO_LONG if self._late else _BROKE) from error
        except (wire.NotPlain, TypeError) as error:
            self.kill()
            raise DeskProblem(_FAULT) from error
        return str(kind), value

    @contextlib.contextmanager
    def _no_longer_than(self, seconds: float) -> Any:
        def late() -> None:
            self._late = True
            self._process.kill()

        timer = threading.Timer(seconds, late)
        timer.daemon = True
        timer.start()
        try:
            yield
        finally:
            timer.cancel()


_TOLD = ("PATH", "LANG", "LC_ALL", "SYSTEMROOT", "TEMP", "OPENBLAS_CORETYPE", "MKL_CBWR")
"""Of our surroundings: where things are, and how the libraries of linear algebra are told to compute. With another of
their ways of adding up, a worker would read a picture otherwise than this process, by a hair."""


def _environment() -> dict[str, str]:
    """What a worker is told of our surroundings, and nothing else."""
    kept = {name: os.environ[name] for name in _TOLD if name in os.environ}
    one = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    return kept | one | {"PYTHONPATH": os.pathsep.join(str(Path(path).resolve()) for path in sys.path)}


class Stand:
    """The workers of this process that are idle; those that are asked have been taken from it."""

    def __init__(self) -> None:
        self._idle: list[Worker] = []
        self._guard = threading.Lock()
        atexit.register(self.clear)

    def take(self) -> Worker:
        """An idle worker, or a new one."""
        while True:
            with self._guard:
                worker = self._idle.pop() if self._idle else None
            if worker is None:
                return Worker()
            if worker.usable:
                return worker
            worker.kill()

    def give_back(self, worker: Worker, most: int) -> None:
        """Keep a worker for the next task, if it is still good for one and there are not too many."""
        with self._guard:
            if worker.usable and len(self._idle) < most:
                self._idle.append(worker)
                return
        worker.kill()

    def clear(self) -> None:
        """End all that are idle."""
        with self._guard:
            idle, self._idle = self._idle, []
        for worker in idle:
            worker.kill()


STAND = Stand()
"""One for the whole process, so that several archives shown by it share their workers."""
