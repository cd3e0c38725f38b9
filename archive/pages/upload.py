"""A study as it comes in by the form: bounded, read outside of the server, never written to disk."""

from __future__ import annotations

import asyncio
import base64
import binascii
import contextlib
import io
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import dataclass
from typing import Any

from datasette.utils.asgi import BadRequest
from PIL import Image

from archive.board import BoardsError
from archive.desk import DeskFull, DeskProblem
from archive.modes import KEEP
from archive.pages.boards import board_problem
from archive.pages.frame import Problem, need
from archive.pages.language import later, say
from archive.pages.room import Room, Study, need_room
from archive.practice import Practice
from ingest.reading import Reading
from ingest.value_map import map_picture

MEGABYTES = 20
_LARGEST = MEGABYTES * 1024 * 1024
_CARRIED_SIDE = 640
"""Longest side, px, of the copy that the answering page carries, so that choices can be changed on it."""
_LARGEST_CARRIED = 600 * 1024
_LARGEST_WRITTEN = _LARGEST_CARRIED + 64 * 1024
"""A form without parts. Datasette takes it apart in one go, whatever its number of fields, while everybody waits."""
_DRAINED = 5 * _LARGEST
"""How many bytes of a refused upload are still taken in."""
_PATIENCE = 5.0
"""Seconds to wait for the next piece of a refused upload."""


@dataclass(frozen=True)
class Asked:
    """What a form asks for: a study with its name, and how to look.

    example: slug of a demo study, '' for a picture of the person's own. choices: on or off by name. only: what the
    works must be, by name, as `Archive.works` takes it. as_is: whether the picture is cut already, as a drawing of the
    pad or a panel of a sheet is, so that nothing of it may be taken for a margin.
    """

    name: str
    data: bytes
    example: str
    choices: dict[str, bool]
    only: dict[str, str]
    as_is: bool = False


ONLY = ("arrangement", "century", "artist", "collection")
"""By what the works to look at can be chosen, under ``only_…`` in the form."""

CHOICES = {
    "mirrored": (True, later("Look in the mirror too")),
    "whole": (False, later("Whole works only, no parts")),
    "heed_register": (False, later("Heed the register: dark pictures with dark, light with light")),
}
"""Ways of looking: whether on at first, and what they say."""


@contextlib.asynccontextmanager
async def open_form(
    request: Any, *, largest_field: int = _LARGEST_CARRIED, most_fields: int = 20
) -> AsyncIterator[Any]:
    """A posted form with at most one file, held in memory alone. Raises Problem when it is too large or broken."""
    in_parts = request.headers.get("content-type", "").lower().lstrip().startswith("multipart/")
    body = _Body(request.receive)
    request.receive = body.receive
    try:
        # Files stay in memory up to the full size, so that no copy of a study reaches the disk.
        form = await request.form(
            files=True,
            max_file_size=_LARGEST,
            max_request_size=_LARGEST + 2 * largest_field if in_parts else _LARGEST_WRITTEN,
            max_memory_file_size=_LARGEST + 1,
            max_field_size=largest_field,
            max_fields=most_fields,
            max_files=1,
            min_free_disk_bytes=0,
        )
    except BadRequest as error:
        await body.drain()
        if "large" not in str(error).lower():
            raise Problem(_broken()) from error
        raise Problem(
            _too_large() if in_parts else say("That is more than a form here may send, or it did not arrive whole.")
        ) from error
    async with contextlib.AsyncExitStack() as closing:
        closing.push_async_callback(form.aclose)
        yield form


async def picture_in(form: Any, file: str = "study") -> tuple[bytes, bool]:
    """The bytes of the file of a form, else of the copy that the page carried along; b'' when it has neither.

    Also whether the picture is cut already.
    """
    upload = form.get(file)
    if upload is not None and not isinstance(upload, str) and upload.size:
        return await upload.read(), _is_on(form.getlist("as_is"), False)
    carried = form.get("carried")
    if isinstance(carried, str) and carried:
        return _decode(carried), _is_on(form.getlist("as_is"), False)
    return b"", False


async def asked_by_form(datasette: Any, request: Any) -> Asked:
    """Read a posted form. Raises Problem with one clear sentence when there is no study in it."""
    async with open_form(request) as form:
        return await asked_in(datasette, request, form)


async def asked_in(datasette: Any, request: Any, form: Any) -> Asked:
    """What an opened form asks for. Raises Problem with one clear sentence when there is no study in it, or when it is
    a kept one and whoever asks may not look back on those."""
    room = need_room(datasette)
    choices = {name: _is_on(form.getlist(name), at_first) for name, (at_first, _) in CHOICES.items()}
    only = _only(form)
    example = str(form.get("example") or "")
    if example:
        return demo(room, example, choices, only)
    if kept := str(form.get("kept") or ""):
        # Its name alone is no permission: boards tell the names of the studies that they show.
        await need(datasette, request, KEEP)
        return await asyncio.to_thread(_kept, room, kept, choices, only)
    data, as_is = await picture_in(form)
    if not data:
        message = say("Choose a picture first: a photo or scan of your study.")
        raise Problem(message)
    return Asked(say("Your study"), data, "", choices, only, as_is)


def asked_by_address(request: Any, room: Room) -> Asked | None:
    """The demo study asked for by ?example=; None when none is."""
    example = request.args.get("example")
    if not example:
        return None
    choices = {name: _is_on(request.args.getlist(name), at_first) for name, (at_first, _) in CHOICES.items()}
    return demo(room, example, choices, _only(request.args))


def demo(room: Room, slug: str, choices: dict[str, bool], only: dict[str, str]) -> Asked:
    """A demo study by its slug. Raises Problem when there is none of that name."""
    study: Study | None = next((study for study in room.studies if study.slug == slug), None)
    if study is None:
        message = say("There is no example study of that name.")
        raise Problem(message, 404)
    return Asked(study.title, study.file.read_bytes(), slug, choices, only)


def _kept(room: Room, study: str, choices: dict[str, bool], only: dict[str, str]) -> Asked:
    """A kept study by its name. Raises Problem when there is none of that name."""
    try:
        log = Practice(room.boards_file)
        found, picture = log.get(study), log.picture(study)
    except BoardsError as error:
        raise board_problem(error) from error
    if found is None or picture is None:
        message = say("There is no kept study of that name; it may have been deleted.")
        raise Problem(message, 404)
    return Asked(found.title or say("Your study"), picture, "", choices, only, as_is=True)


def _only(form: Any) -> dict[str, str]:
    """What the form asks of the works; fields left at 'any' are not there."""
    asked = {name: form.get(f"only_{name}") for name in ONLY}
    return {name: value[:200] for name, value in asked.items() if isinstance(value, str) and value}


async def read_study(asked: Asked, room: Room) -> Reading:
    """Read a study at the desk. Raises Problem with the reader's own sentence."""
    if asked.example in room.examples:
        return room.examples[asked.example]
    reading: Reading = await at_desk(room, "study", asked.data, not asked.as_is)
    if asked.example:
        room.examples[asked.example] = reading
    return reading


async def at_desk(room: Room, task: str, *values: Any) -> Any:
    """Have a picture that came in worked on, outside of the server. Raises Problem with one clear sentence."""
    try:
        return await room.desk.ask(task, *values)
    except DeskFull as error:
        raise Problem(str(error), 503) from error
    except DeskProblem as error:
        raise Problem(str(error)) from error


def as_data_url(picture: Image.Image, kind: str) -> str:
    """A picture as a data: address, JPEG or PNG, without any of the file's own notes."""
    return f"data:image/{kind.lower()};base64,{_encoded(picture, kind)}"


def pictures_of(reading: Reading) -> dict[str, Image.Image]:
    """The study upright and trimmed, squinted at, and in three values; at most 640 px on the long side."""
    seen = Image.fromarray(reading.picture.rgb)
    seen.thumbnail((_CARRIED_SIDE, _CARRIED_SIDE), Image.Resampling.LANCZOS)
    return {"study": seen, "map3": map_picture(reading.maps[3].labels, 3, _CARRIED_SIDE)}


def carried(picture: Image.Image) -> str:
    """The copy that a page carries along in its form."""
    return _encoded(picture, "JPEG")


def _encoded(picture: Image.Image, kind: str) -> str:
    held = io.BytesIO()
    if kind == "JPEG":
        picture.save(held, "JPEG", quality=88, subsampling=0)
    else:
        picture.save(held, kind, optimize=True)
    return base64.b64encode(held.getvalue()).decode("ascii")


class _Body:
    """A request's body as it comes in, which can be taken to its end after an upload was refused."""

    def __init__(self, receive: Callable[[], Awaitable[dict[str, Any]]]) -> None:
        self._receive = receive
        self._ended = False

    async def receive(self) -> dict[str, Any]:
        """The next message of the body."""
        message = await self._receive()
        self._ended = message.get("type") != "http.request" or not message.get("more_body")
        return message

    async def drain(self) -> None:
        """Take in the rest and drop it: a browser that is cut off while it sends never hears the answer."""
        left = _DRAINED
        with contextlib.suppress(TimeoutError):
            while not self._ended and left > 0:
                message = await asyncio.wait_for(self.receive(), _PATIENCE)
                left -= len(message.get("body", b""))


def _decode(carried_text: str) -> bytes:
    try:
        return base64.b64decode(carried_text, validate=True)
    except (binascii.Error, ValueError) as error:
        raise Problem(_broken()) from error


def _is_on(values: list[str] | None, at_first: bool) -> bool:
    return "1" in values if values else at_first


def _too_large() -> str:
    return say("That file is too large; a study may have up to %(megabytes)d MB.", megabytes=MEGABYTES)


def _broken() -> str:
    return say("The upload did not arrive whole; please send the study again.")
