"""A line that says how far a long job is; on a terminal it stays one line, elsewhere a line for each tenth."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from types import TracebackType
from typing import TextIO

_EVERY = 0.1
_BAR = 24


class Progress:
    """Use as a context manager and call with how many are done and how many there are.

    ``doing`` is the first word of the line ('reading').  Writes to standard error unless ``stream`` is given.
    """

    def __init__(self, doing: str, stream: TextIO | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self._doing = doing
        self._stream = stream or sys.stderr
        self._clock = clock
        self._live = self._stream.isatty()
        self._begun = self._shown = clock()
        self._tenth = 0
        self._width = 0

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._live and self._width:
            self._stream.write("\r" + " " * self._width + "\r" if kind is None else "\n")
            self._stream.flush()

    def __call__(self, done: int, total: int) -> None:
        """Say that ``done`` of ``total`` are done."""
        now = self._clock()
        if self._live:
            if done < total and now - self._shown < _EVERY:
                return
            filled = _BAR * done // max(total, 1)
            line = f"{'▪' * filled}{'·' * (_BAR - filled)} {self._line(done, total, now)}"
            self._stream.write("\r" + line.ljust(self._width))
            self._width = len(line)
        else:
            tenth = 10 * done // max(total, 1)
            if tenth == self._tenth:
                return
            self._tenth = tenth
            self._stream.write(self._line(done, total, now) + "\n")
        self._shown = now
        self._stream.flush()

    def _line(self, done: int, total: int, now: float) -> str:
        passed = max(now - self._begun, 1e-9)
        rate = done / passed
        line = f"{self._doing} {done} of {total}, {rate:.1f} a second"
        return line + (f", {_duration((total - done) / rate)} left" if 0 < done < total else "")


def _duration(seconds: float) -> str:
    whole = max(1, round(seconds))
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02} s"
    return f"{whole // 3600} h {whole % 3600 // 60:02} min"
