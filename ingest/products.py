"""Products of matrices, taken by one thread each.

With several, sums are taken in another order: the same picture would be read differently by a hair in a process of many
threads and in one of a single thread, and a hair is enough to move the place of the strongest contrast. The products
here are small, or already shared out among processes, and threads that wait for one another cost more than they save.
"""

from __future__ import annotations

from contextlib import AbstractContextManager
from typing import cast

from threadpoolctl import ThreadpoolController

_LIBRARIES = ThreadpoolController()


def one_thread_a_product() -> AbstractContextManager[object]:
    """Within it, the libraries of linear algebra use one thread."""
    return cast("AbstractContextManager[object]", _LIBRARIES.limit(limits=1, user_api="blas"))
