"""Serving an archive: Datasette embedded with our pages, one process, no configuration files."""

from __future__ import annotations

import asyncio
import mimetypes
import socket
from collections.abc import Callable
from pathlib import Path
from typing import Any

SETTINGS: dict[str, Any] = {
    "sql_time_limit_ms": 2000,
    "facet_time_limit_ms": 500,
    "default_page_size": 50,
    "max_returned_rows": 1000,
    "allow_signed_tokens": False,
    "default_cache_ttl": 5,
    "max_post_body_bytes": 256 * 1024,
    "truncate_cells_html": 400,
}
"""Datasette settings for one person or a class on a laptop: free to ask anything, but not for long."""

_LAST_WORD = 3
"""Seconds that answers under way get when the server is asked to stop."""


class ServingError(Exception):
    """The archive can't be served; the message is one clear sentence."""


def build_datasette(archive: Path) -> Any:
    """A `datasette.app.Datasette` that shows the archive in the folder `archive` with our pages.

    The database is opened immutable. Everybody who reaches the server may look, ask in SQL and show studies, and
    may make and change boards, which lie in a file of their own beside it. Datasette's internal database stays
    the temporary file it is by default and holds nothing that a person has made. Raises `ArchiveError` with one
    sentence when the folder is no archive.
    """
    from datasette.app import Datasette

    from archive.pages import tables
    from archive.pages.room import PICTURES_MOUNT, STUDIES_MOUNT, open_room
    from archive.store import DATABASE, PICTURES

    room = open_room(archive)
    # Python 3.11 and 3.12 know no WebP outside of the lists of the operating system.
    mimetypes.add_type("image/webp", ".webp")
    mounts = [(PICTURES_MOUNT, str(archive / PICTURES))]
    if room.studies:
        mounts.append((STUDIES_MOUNT, str(room.studies[0].file.parent)))
    datasette = Datasette(
        [],
        immutables=[str(archive / DATABASE)],
        static_mounts=mounts,
        settings=SETTINGS,
        config={"databases": {tables.DATABASE: {"tables": tables.CONFIG}}},
        metadata=tables.metadata(),
    )
    datasette.blotbook_room = room
    return datasette


def serve(
    archive: Path,
    host: str = "127.0.0.1",
    port: int = 8001,
    *,
    ready: Callable[[str], None] | None = None,
) -> None:
    """Serve the archive until interrupted; `ready` is called with the address once pages are answered.

    `port` 0 takes any free one. Raises `ServingError` when the address can't be used, `ArchiveError` when the
    folder is no archive.
    """
    listening = _listen(host, port)
    try:
        datasette = build_datasette(archive)
        asyncio.run(_serve(datasette, listening, _address(host, listening), ready))
    except KeyboardInterrupt:
        pass
    finally:
        listening.close()


async def _serve(datasette: Any, listening: socket.socket, address: str, ready: Callable[[str], None] | None) -> None:
    import uvicorn

    server = uvicorn.Server(
        uvicorn.Config(
            datasette.app(),
            lifespan="on",
            workers=1,
            log_level="warning",
            access_log=False,
            server_header=False,
            timeout_graceful_shutdown=_LAST_WORD,
        )
    )
    serving = asyncio.create_task(server.serve(sockets=[listening]))
    while not server.started and not serving.done():
        await asyncio.sleep(0.02)
    if server.started and ready is not None:
        ready(address)
    await serving
    if not server.started:
        message = "The server did not start; its messages are above."
        raise ServingError(message)


def _listen(host: str, port: int) -> socket.socket:
    """A bound socket, so that a taken port is known before anything else is done."""
    try:
        family, kind, protocol, _, place = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
    except (OSError, OverflowError) as error:
        message = f"{host} is no address of this computer."
        raise ServingError(message) from error
    listening = socket.socket(family, kind, protocol)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(place)
    except (OSError, OverflowError) as error:
        listening.close()
        raise ServingError(_why_not(host, port, error)) from error
    return listening


def _why_not(host: str, port: int, error: Exception) -> str:
    import errno

    number = getattr(error, "errno", None)
    if number == errno.EADDRINUSE:
        return f"Port {port} is taken by another program; choose another with --port."
    if number == errno.EACCES:
        return f"Port {port} may not be used by you; choose one from 1024 on with --port."
    if number == errno.EADDRNOTAVAIL:
        return f"{host} is no address of this computer."
    return f"Port {port} on {host} can't be used ({error})."


def _address(host: str, listening: socket.socket) -> str:
    port = listening.getsockname()[1]
    shown = {"0.0.0.0": "127.0.0.1", "::": "[::1]"}.get(host, f"[{host}]" if ":" in host else host)
    return f"http://{shown}:{port}/"
