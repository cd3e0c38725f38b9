"""The program of a worker: limits itself, then answers one task after the other until the server is gone."""

from __future__ import annotations

import contextlib
import os
import sys
from typing import IO

MEMORY = 2_500 * 1024 * 1024
"""Bytes of address space that a worker may take; reading a photo of 12 megapixels takes about a third of it."""

SECONDS = 20
"""Processor time for one picture."""

_NICE = 10


def main() -> None:
    """Answer tasks from standard input on standard output."""
    tasks_in, answers = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    # Whatever a library prints must not run into the answers.
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    from archive.desk import tasks, wire

    _limit()
    wire.send(answers, ("ready", os.getpid()))
    import pickle

    while True:
        try:
            # From the server, which started us.
            name, values = pickle.loads(wire.receive(tasks_in))
        except EOFError:
            return
        _more_seconds()
        _answer(answers, tasks, name, values)


def _answer(answers: IO[bytes], tasks: object, name: str, values: tuple[object, ...]) -> None:
    from archive.desk import wire
    from ingest.picture_file import UnreadablePicture

    try:
        done = tasks.TASKS[name](*values)  # type: ignore[attr-defined]
    except UnreadablePicture as error:
        wire.send(answers, ("unreadable", str(error)))
    except ValueError as error:
        wire.send(answers, ("refused", str(error)))
    except MemoryError:
        wire.send(answers, ("unreadable", "The picture needs more memory than there is."))
    except Exception as error:  # a fault of ours: the server says so in its own words
        wire.send(answers, ("fault", type(error).__name__))
    else:
        wire.send(answers, ("done", done))


def _limit() -> None:
    with contextlib.suppress(AttributeError, OSError):
        os.nice(_NICE)
    try:
        import resource
    except ImportError:  # not on this operating system: the time that the server waits is the only bound
        return
    for which, most in (
        (resource.RLIMIT_AS, MEMORY),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
    ):
        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(which, (most, most))


def _more_seconds() -> None:
    """Processor time is counted over a worker's whole life; each task gets its own."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        used = resource.getrusage(resource.RUSAGE_SELF)
        _, hard = resource.getrlimit(resource.RLIMIT_CPU)
        resource.setrlimit(resource.RLIMIT_CPU, (int(used.ru_utime + used.ru_stime) + SECONDS, hard))


if __name__ == "__main__":
    main()
