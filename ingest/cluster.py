"""Reads pictures on the workers of a Dask cluster, which somebody has set up; see docs/scale.md.

The workers need Blotbook and the same versions of the libraries that decode and measure, since the same picture must
read the same everywhere: a worker that differs is named and nothing is taken from it.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Executor, Future
from functools import cache
from pathlib import Path
from types import TracebackType
from typing import Any

from ingest.engines import EngineFault

_PATIENCE = 30
"""Seconds in which the scheduler must answer, and in which it must have a worker."""

_LIBRARIES = ("numpy", "scipy", "pillow", "pillow-heif")
"""What a reading is computed with."""


class Cluster:
    """The cluster whose scheduler is at ``address`` ('tcp://10.0.0.1:8786'); use it as a context manager.

    Raises `EngineFault` when the library is missing, nobody answers, or the workers cannot read as we would.
    """

    def __init__(self, address: str) -> None:
        try:
            from distributed import Client
        except ImportError:
            message = "Reading on a cluster needs the library Dask; install Blotbook with 'blotbook[distributed]'."
            raise EngineFault(message) from None
        self._address = address
        try:
            self._client = Client(address, timeout=_PATIENCE, set_as_default=False)
        except (OSError, ValueError) as error:
            message = f"No scheduler answers at {address} ({error})."
            raise EngineFault(message) from error
        try:
            self._client.wait_for_workers(1, timeout=_PATIENCE)
        except TimeoutError:
            self._client.close()
            message = f"The scheduler at {address} has no workers; start some and give the same command again."
            raise EngineFault(message) from None
        except BaseException:
            self._client.close()
            raise

    def __enter__(self) -> Cluster:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._client.close()

    @property
    def at_once(self) -> int:
        """How many threads all workers have together just now."""
        try:
            threads: dict[str, int] = self._client.nthreads()
        except (OSError, TimeoutError) as error:
            raise self._gone() from error
        return max(1, sum(threads.values()))

    @contextlib.contextmanager
    def pool(self, *, alone: bool = False) -> Iterator[Executor]:  # noqa: ARG002 (the cluster places single calls)
        """The cluster's workers; they stay when the context ends."""
        pool: Executor = self._client.get_executor(pure=False)
        try:
            yield pool
        finally:
            with contextlib.suppress(OSError, TimeoutError, CancelledError):
                pool.shutdown(wait=False)

    def submit(self, pool: Executor, read: Callable[..., Any], *arguments: Any) -> Future[Any] | None:
        """See `ingest.engines.Engine.submit`."""
        return pool.submit(_read_there, read, arguments, libraries())

    def result(self, future: Future[Any] | None) -> Any | None:
        """See `ingest.engines.Engine.result`: a picture with which several workers died comes to nothing."""
        from distributed import KilledWorker

        try:
            return None if future is None else future.result()
        except KilledWorker:
            return None
        except (CancelledError, OSError) as error:
            raise self._gone() from error
        except ImportError as error:
            message = f"A worker of the cluster lacks Blotbook or a library of it ({error})."
            raise EngineFault(message) from error

    def see(self, folder: Path) -> None:
        """Raises `EngineFault` unless every worker has ``folder`` under the same name."""
        seen = self._client.run(Path.is_dir, folder)
        blind = sorted(str(worker) for worker, there in seen.items() if there is not True)
        if blind:
            message = (
                f"The worker at {blind[0]} does not see the folder {folder}: share it with every worker under the "
                "same name, or say with --pictures at which address the pictures lie."
            )
            raise EngineFault(message)

    def _gone(self) -> EngineFault:
        return EngineFault(
            f"The scheduler at {self._address} went away; what was finished is kept, and the same command goes on."
        )


@cache
def libraries() -> tuple[tuple[str, str], ...]:
    """Name and version of what a reading depends on, here."""
    from importlib.metadata import version

    from PIL import features

    from ingest.pipeline import street_version

    named = [(name, version(name)) for name in _LIBRARIES]
    decoders = [(name, features.version(name) or "none") for name in ("jpg", "webp", "littlecms2")]
    return (("the way of reading", street_version()), *named, *decoders)


def _read_there(read: Callable[..., Any], arguments: tuple[Any, ...], ours: tuple[tuple[str, str], ...]) -> Any:
    """What a worker runs."""
    _keep_to_one_thread()
    for (name, here), (_, wanted) in zip(libraries(), ours, strict=True):
        if here != wanted:
            message = (
                f"A worker of the cluster has {name} {here} and this computer {wanted}, so that they could read "
                "pictures differently; install the same versions."
            )
            raise EngineFault(message)
    return read(*arguments)


@cache
def _keep_to_one_thread() -> None:
    """The pictures share the processors out; threads of the algebra libraries would only be in their way."""
    import numpy as np  # noqa: F401 (loads the libraries that are then held to one thread)
    from threadpoolctl import threadpool_limits

    threadpool_limits(1)
