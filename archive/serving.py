"""Serving an archive: Datasette embedded with our pages, one process, no configuration files."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import mimetypes
import socket
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from archive.modes import ALONE, CLASSROOM, House, is_loopback

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

IN_CLASS: dict[str, Any] = {
    "sql_time_limit_ms": 1000,
    "facet_time_limit_ms": 250,
    "max_returned_rows": 500,
    # Looking for columns worth counting by takes a query for each, and the page of works has thirty.
    "suggest_facets": False,
}
"""What is shorter where many ask at once."""

_LAST_WORD = 3
"""Seconds that answers under way get when the server is asked to stop."""


_TURN = 0.001
"""Seconds after which a thread that computes lets others go on."""

_SERVER_LOG = "uvicorn.error"
"""The log of what serves, which prints to the terminal."""

_MOST_CONNECTIONS = 600
"""Browsers hold up to six connections each; whoever comes when there are more is asked to come again."""


class ServingError(Exception):
    """The archive can't be served; the message is one clear sentence."""


def build_datasette(archive: Path, house: House | None = None, announce: Callable[[str], None] | None = None) -> Any:
    """A `datasette.app.Datasette` that shows the archive in the folder `archive` with our pages.

    The database is opened immutable; a new edition that is put in its place is taken up. ``house`` says who may do
    what; without it, everybody who reaches the server may do everything, as a person alone on a laptop does. In a
    classroom ``announce`` is told the code that lets the teacher in, and each next one. Datasette's internal database
    stays the temporary file it is by default and holds nothing that a person has made. Raises `ArchiveError` with one
    sentence when the folder is no archive.
    """
    from datasette.app import Datasette

    from archive.door import Door
    from archive.pages import tables
    from archive.pages.editions import EditionDatabase, open_edition
    from archive.pages.questions import questions
    from archive.pages.room import PICTURES_MOUNT, STUDIES_MOUNT
    from archive.store import DATABASE, PICTURES

    house = house or House()
    room = open_edition(archive)
    # Python 3.11 and 3.12 know no WebP outside of the lists of the operating system.
    mimetypes.add_type("image/webp", ".webp")
    mounts = [(PICTURES_MOUNT, str(archive / PICTURES))]
    if room.studies:
        mounts.append((STUDIES_MOUNT, str(room.studies[0].file.parent)))
    datasette = Datasette(
        [],
        immutables=[str(archive / DATABASE)],
        static_mounts=mounts,
        settings=SETTINGS if house.mode == ALONE else SETTINGS | IN_CLASS,
        config={"databases": {tables.DATABASE: {"tables": tables.CONFIG, "queries": questions()}}},
        metadata=tables.metadata(),
    )
    database = EditionDatabase(datasette, archive / DATABASE)
    database.name = database.route = tables.DATABASE
    datasette.databases = {tables.DATABASE: database}
    datasette.blotbook_room = room
    datasette.blotbook_house = house
    if house.mode == CLASSROOM:
        datasette.blotbook_door = Door(announce or (lambda _: None))
    return datasette


def serve(
    archive: Path,
    host: str = "127.0.0.1",
    port: int = 8001,
    *,
    mode: str = ALONE,
    class_board: str = "",
    ready: Callable[[str], None] | None = None,
    announce: Callable[[str], None] | None = None,
) -> None:
    """Serve the archive until interrupted; `ready` is called with the address once pages are answered.

    `port` 0 takes any free one. mode: of `archive.modes`; alone, only this computer is answered. class_board: title of
    the board that students may add to, made if there is none. announce: told the code that lets the teacher in, and
    each next one. Raises `ServingError` when the address can't be used, or not in this mode, `ArchiveError` when the
    folder is no archive.
    """
    if mode == ALONE and not is_loopback(host):
        message = (
            f"At {host} everybody in the network could change your boards; add --mode classroom, or --mode kiosk, "
            "to serve there."
        )
        raise ServingError(message)
    listening = _listen(host, port)
    try:
        board = _class_board(archive, class_board) if class_board else ""
        datasette = build_datasette(archive, House(mode, board), announce)
        asyncio.run(_serve(datasette, listening, _address(host, listening), ready))
    except KeyboardInterrupt:
        pass
    finally:
        listening.close()


def _class_board(archive: Path, title: str) -> str:
    """The id of the board of that title that is in use and was changed last; made when there is none."""
    from archive.boards import Boards
    from archive.boards_file import BoardsFile
    from archive.store import Archive

    Archive.open(archive).close()
    with BoardsFile.open(archive) as file:
        boards = Boards(file)
        found = next((board.board for board in boards.summaries() if board.title == title.strip()), None)
        return found or boards.make(title).board


async def _serve(datasette: Any, listening: socket.socket, address: str, ready: Callable[[str], None] | None) -> None:
    import uvicorn

    from archive.patience import PatientProtocol

    await datasette.invoke_startup()
    # Whoever leafs through pages is not to wait long for whoever has a study matched.
    sys.setswitchinterval(_TURN)
    logging.getLogger(_SERVER_LOG).addFilter(_is_fault)
    server = uvicorn.Server(
        uvicorn.Config(
            datasette.app(),
            lifespan="on",
            workers=1,
            log_level="warning",
            access_log=False,
            server_header=False,
            # No page speaks over a socket of its own.
            ws="none",
            http=PatientProtocol,
            limit_concurrency=_MOST_CONNECTIONS,
            backlog=512,
            timeout_graceful_shutdown=_LAST_WORD,
        )
    )
    serving = asyncio.create_task(server.serve(sockets=[listening]))
    while not server.started and not serving.done():
        await asyncio.sleep(0.02)
    if server.started and ready is not None:
        ready(address)
    warming = asyncio.create_task(asyncio.to_thread(datasette.blotbook_room.warm))
    await serving
    await warming
    if not server.started:
        message = "The server did not start; its messages are above."
        raise ServingError(message)


def _is_fault(record: logging.LogRecord) -> bool:
    """Whether something went wrong: answers that are broken off because the server was asked to stop did not."""
    kind = record.exc_info[0] if record.exc_info else None
    return not (kind is not None and issubclass(kind, asyncio.CancelledError))


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
    shown = _own_address(host) if host in ("0.0.0.0", "::") else f"[{host}]" if ":" in host else host
    return f"http://{shown}:{port}/"


def _own_address(host: str) -> str:
    """An address by which others in the network reach this computer, as far as it knows one."""
    family, elsewhere, own = (
        (socket.AF_INET6, "2001:db8::1", "::1") if host == "::" else (socket.AF_INET, "192.0.2.1", "127.0.0.1")
    )
    # Nothing is sent: the system only says which of our addresses it would use (addresses of RFC 5737 and RFC 3849).
    with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as asking:
        asking.connect((elsewhere, 9))
        own = str(asking.getsockname()[0])
    return f"[{own}]" if ":" in own else own
