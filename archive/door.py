"""The teacher's way in: a code that is printed where the server was started, and holds once."""

from __future__ import annotations

import hmac
import secrets
import threading
import time
from collections.abc import Callable

LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""No two of them look alike on a projector (common practice)."""

LENGTH = 8
"""31 letters to the power of 8 are about 850 thousand million codes."""

TRIES, MINUTE = 5, 60.0
"""Wrong codes that one address may give in so many seconds; all together may give `TRIES_OF_ALL`."""

TRIES_OF_ALL = 60

HOURS = 12
"""How long a teacher stays signed in."""


class TooManyTries(Exception):
    """Wrong codes came too fast; `seconds` says how long to wait."""

    def __init__(self, seconds: int) -> None:
        super().__init__(f"Too many wrong codes. Wait {seconds} seconds, then try again.")
        self.seconds = seconds


class Door:
    """Lets in whoever knows the code. ``announce`` is told each new code, the first one at once."""

    def __init__(self, announce: Callable[[str], None], clock: Callable[[], float] = time.monotonic) -> None:
        self._announce = announce
        self._clock = clock
        self._guard = threading.Lock()
        self._wrong: list[tuple[float, str]] = []
        self._code = self._new()

    def enter(self, given: str, address: str) -> bool:
        """Whether the code is right; it then holds no more, and the next one is announced.

        Raises `TooManyTries` after too many wrong ones, whatever is given.
        """
        with self._guard:
            now = self._clock()
            self._wrong = [(when, who) for when, who in self._wrong if now - when < MINUTE]
            own = [when for when, who in self._wrong if who == address]
            for times, most in ((own, TRIES), ([when for when, _ in self._wrong], TRIES_OF_ALL)):
                if len(times) >= most:
                    raise TooManyTries(int(MINUTE - (now - times[-most])) + 1)
            # In constant time, so that the time of an answer tells nothing of the code.
            if not hmac.compare_digest(plain(given).encode(), self._code.encode()):
                self._wrong.append((now, address))
                return False
            self._code = self._new()
            return True

    def _new(self) -> str:
        code = "".join(secrets.choice(LETTERS) for _ in range(LENGTH))
        self._announce(f"{code[:4]}-{code[4:]}")
        return code


def plain(given: str) -> str:
    """A code as it was typed, without what people put between its letters."""
    return "".join(letter for letter in given.lower()[:64] if letter in LETTERS)
