"""Products of matrices, taken by one thread each.

With several, sums are taken in another order: the same picture would be read differently by a hair in a process of many
threads and in one of a single thread, and a hair is enough to move the place of the strongest contrast. The products
here are small, or already shared out among processes, and threads that wait for one another cost more than they save.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from threading import Lock

from threadpoolctl import ThreadpoolController

_LIBRARIES = ThreadpoolController()


class _Limit:
    """The limit is one for the whole process, so the thread that asked for it first must not lift it under another's
    hands: the last one does. (Where the library does not let that thread lift it, it stays, and does no harm.)"""

    def __init__(self) -> None:
        self._lock, self._within, self._limits = Lock(), 0, ExitStack()

    @contextmanager
    def held(self) -> Iterator[None]:
        with self._lock:
            if not self._within:
                self._limits.enter_context(_LIBRARIES.limit(limits=1, user_api="blas"))
            self._within += 1
        try:
            yield
        finally:
            with self._lock:
                self._within -= 1
                if not self._within:
                    self._limits.close()


_LIMIT = _Limit()


def one_thread_a_product() -> AbstractContextManager[None]:
    """Within it, in however many threads, the libraries of linear algebra use one thread."""
    return _LIMIT.held()
