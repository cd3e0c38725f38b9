"""What the pages work with: the archive, the gallery that matches, the studies offered for a first try."""

from __future__ import annotations

import asyncio
import contextvars
import csv
import dataclasses
import functools
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from archive.apart import apart
from archive.arrangement_counts import counts_of
from archive.boards_file import BoardsFile
from archive.catalogue import Catalogue, Wanted
from archive.desk import Desk
from archive.field import Window, look
from archive.field_marks import pack
from archive.match import Gallery
from archive.placing import Placer
from archive.store import Archive
from archive.works import WorksPage, offset
from ingest.reading import Reading

Answer = TypeVar("Answer")

_WRITERS = 32
"""A class, all of it writing; they take turns, and nearly all that they do is wait."""

STUDIES_MOUNT = "studies"
PICTURES_MOUNT = "pictures"


@dataclass(frozen=True)
class Study:
    """A demo study: its slug in addresses, its title, what it is made with, and its file."""

    slug: str
    title: str
    medium: str
    file: Path
    sha256: str
    width: int
    height: int


@dataclass
class Presses:
    """Those who have a board made into a file, one after the other; standing: how many they are, all in all."""

    turn: asyncio.Semaphore = field(default_factory=lambda: asyncio.Semaphore(1))
    standing: int = 0


@dataclass(frozen=True)
class Room:
    """One archive opened for showing.

    readers: how many studies are worked with in threads at the same time; more would only keep pages waiting.
    presses: who has a board made into a file. writers: the threads of those who write boards, apart
    from those that pages are made in, so that nobody waits for a page while another program holds the file of boards.
    desk: where pictures that come in are read. examples: the demo studies that were read, by their slugs.
    """

    archive: Archive
    gallery: Gallery
    studies: tuple[Study, ...]
    readers: asyncio.Semaphore = field(default_factory=lambda: asyncio.Semaphore(1))
    presses: Presses = field(default_factory=Presses)
    writers: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(_WRITERS, "boards"))
    desk: Desk = field(default_factory=Desk)
    examples: dict[str, Reading] = field(default_factory=dict)

    @functools.cached_property
    def boards_file(self) -> BoardsFile:
        """What people have made with the archive; opened, and made if need be, when it is first asked for.

        Raises `BoardsError` when the folder of the archive cannot be written.
        """
        return BoardsFile.open(self.archive.folder)

    def following(self, before: Room) -> Room:
        """This room with the desk, the boards and the readers of the one before, which go on."""
        room = dataclasses.replace(
            self,
            readers=before.readers,
            presses=before.presses,
            writers=before.writers,
            desk=before.desk,
            examples=before.examples,
        )
        if "boards_file" in before.__dict__:
            room.__dict__["boards_file"] = before.boards_file
        return room

    async def written(self, work: Callable[..., Answer], *values: Any) -> Answer:
        """What ``work`` answers, which writes boards or kept studies and may have to wait for its turn."""
        running = functools.partial(contextvars.copy_context().run, work, *values)
        return await asyncio.get_running_loop().run_in_executor(self.writers, running)

    @property
    def catalogue(self) -> Catalogue:
        """What all works can be chosen by, read when the first list is asked for."""
        return self.archive.remember(("catalogue",), lambda: Catalogue.of(self.archive))

    def clearest(self, arrangement: str, token: str, size: int) -> WorksPage:
        """Works of an arrangement by its slug, the clearest first, as `Archive.works` would give them; raises
        `ArchiveError` for a token that is none."""
        start = offset(token)
        wanted = Wanted(chosen={"arrangement": arrangement}, sort="clearest")
        total, works = self.catalogue.page(wanted, start, size)
        return WorksPage(self.archive.named(works), total, str(start + size) if start + size < total else None)

    def warm(self) -> None:
        """Count once what the pages count over all works, so that nobody waits for it."""
        self.catalogue.prepare()
        for row in self.archive.arrangements()[:1]:
            apart(self.archive, row["slug"])
            counts_of(self.archive, row["slug"])
        look(self.archive, Window.about(0.5, 0.5, 1))
        for count in (self.archive.counts, self.archive.sources, self.archive.rights, self.archive.types):
            count()

    @property
    def marks(self) -> bytes:
        """All works as the small marks of the field."""
        return self.archive.remember(("marks",), lambda: pack(self.archive))

    @functools.cached_property
    def placer(self) -> Placer:
        """What says to which arrangements a study belongs."""
        return Placer.of(self.archive)


def open_room(folder: Path) -> Room:
    """Open the archive in `folder` with its gallery. Raises `ArchiveError`."""
    archive = Archive.open(folder)
    return Room(archive, Gallery(archive), demo_studies())


def room_of(datasette: Any) -> Room | None:
    """The room that `archive.serving` gave this Datasette; None in any other Datasette."""
    found = getattr(datasette, "blotbook_room", None)
    return found if isinstance(found, Room) else None


def need_room(datasette: Any) -> Room:
    """The room of a Datasette that has one; our routes exist only there."""
    room = room_of(datasette)
    if room is None:
        message = "This Datasette was not built by archive.serving."
        raise RuntimeError(message)
    return room


def demo_studies() -> tuple[Study, ...]:
    """The demo studies in the order of their table; none when the samples are not installed."""
    from PIL import Image

    try:
        from public_domain_samples import STUDIES

        with STUDIES.open(newline="", encoding="utf-8") as table:
            rows = list(csv.DictReader(table))
    except (ModuleNotFoundError, FileNotFoundError):
        return ()
    folder = STUDIES.parent
    found = []
    for row in rows:
        file = folder / row["file"]
        with Image.open(file) as picture:
            width, height = picture.size
        found.append(Study(file.stem, row["title"], row["medium"], file, row["sha256"], width, height))
    return tuple(found)
