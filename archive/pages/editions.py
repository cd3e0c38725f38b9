"""A new edition of the archive is taken up while it is being served: the room and Datasette's database together.

Whoever is being answered keeps the edition that the answer was begun with; whoever asks next gets the new one.
"""

from __future__ import annotations

import asyncio
import time
from pathlib import Path
from typing import Any

from datasette.database import Database

from archive.errors import ArchiveError
from archive.pages.room import Room, open_room, room_of
from archive.pages.tables import DATABASE
from archive.store import DATABASE as FILE
from archive.store import file_mark

EVERY = 0.5
"""Seconds between two looks at the file."""

_TRIES = 5


class EditionReplacedError(Exception):
    """The edition that an answer was begun with is gone from the disk; asked again, there is the next one."""


class EditionDatabase(Database):  # type: ignore[misc]  # Datasette brings no types
    """Datasette's database of one edition: never opens another one that was put in its place."""

    def __init__(self, datasette: Any, file: Path) -> None:
        self._mark = file_mark(file)
        super().__init__(datasette, str(file), is_mutable=False)

    def connect(self, write: bool = False) -> Any:
        """A connection to this edition.  Raises `EditionReplacedError`."""
        before = file_mark(Path(self.path))
        connection = super().connect(write)
        if not before == self._mark == file_mark(Path(self.path)):
            raise EditionReplacedError
        return connection


def open_edition(folder: Path, before: Room | None = None) -> Room:
    """The archive in ``folder``, all of it of one edition, with the desk and the boards of the room before.

    Raises `ArchiveError`.
    """
    for _ in range(_TRIES):
        try:
            room = open_room(folder)
        except ArchiveError:
            # It may just be changing.
            time.sleep(EVERY)
            room = open_room(folder)
        if not room.archive.replaced:
            break
    return room if before is None else room.following(before)


async def follow(datasette: Any) -> None:
    """Begin to take up a newer edition where there is one; whoever asks now may still see the one before."""
    room = room_of(datasette)
    now = time.monotonic()
    if room is None or now - getattr(datasette, "blotbook_looked", 0.0) < EVERY:
        return
    datasette.blotbook_looked = now
    task = getattr(datasette, "blotbook_following", None)
    if (task is None or task.done()) and room.archive.replaced and (room.archive.folder / FILE).exists():
        datasette.blotbook_following = asyncio.create_task(_take_up(datasette, room))


async def _take_up(datasette: Any, room: Room) -> None:
    try:
        new = await asyncio.to_thread(open_edition, room.archive.folder, room)
        await asyncio.to_thread(new.warm)
    except ArchiveError:
        # A file that is no archive, or not a whole one: the edition in use stays.
        return
    database = EditionDatabase(datasette, new.archive.folder / FILE)
    database.name = database.route = DATABASE
    # Between these two nobody else's turn comes.
    datasette.databases = {**datasette.databases, DATABASE: database}
    datasette.blotbook_room = new
