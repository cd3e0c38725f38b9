"""Waiting: between requests to one host, and after a server that is busy."""

from __future__ import annotations

import email.utils
import random
import time
from collections.abc import Callable
from datetime import UTC, datetime

FIRST_WAIT, LONGEST_WAIT = 1.0, 60.0
"""Seconds before the second try, which double with each further one up to the longest."""


class Pace:
    """Keeps requests to one host apart.  ``clock`` and ``sleep`` are in seconds and can be replaced in tests."""

    def __init__(
        self, least: float, *, sleep: Callable[[float], None] = time.sleep, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._least = least
        self._sleep = sleep
        self._clock = clock
        self._last: dict[str, float] = {}
        self._slower: dict[str, float] = {}

    def slow_down(self, host: str, seconds: float) -> None:
        """Keep at least so many seconds between requests to a host, as its robots.txt asks."""
        self._slower[host] = max(seconds, self._slower.get(host, 0.0))

    def wait(self, host: str) -> None:
        """Return when the host may be asked again, and count that as asked."""
        apart = max(self._least, self._slower.get(host, 0.0))
        if host in self._last:
            left = self._last[host] + apart - self._clock()
            if left > 0:
                self._sleep(left)
        self._last[host] = self._clock()

    def rest(self, seconds: float) -> None:
        """Wait after a try that failed."""
        if seconds > 0:
            self._sleep(seconds)


def back_off(tried: int, chance: Callable[[], float] = random.random) -> float:
    """Seconds to wait after the ``tried``-th try (from 1): twice as long each time, and half of it by chance, so that
    many programs that were turned away together do not come back together."""
    longest = min(LONGEST_WAIT, FIRST_WAIT * 2.0 ** (tried - 1))
    return longest / 2 + chance() * longest / 2


def retry_after(value: str | None, now: datetime | None = None) -> float | None:
    """The seconds that a ``Retry-After`` asks for, as a number or a date (RFC 9110, 10.2.3); None for neither."""
    if value is None:
        return None
    if value.strip().isdigit():
        return float(value.strip())
    try:
        until = email.utils.parsedate_to_datetime(value)
    except ValueError:
        return None
    if until.tzinfo is None:
        until = until.replace(tzinfo=UTC)
    return max(0.0, (until - (now or datetime.now(UTC))).total_seconds())
