"""A board in every form in which it can leave Blotbook, each with its source records."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING

from archive.board import Board, BoardsError, as_json

if TYPE_CHECKING:
    from archive.boards_file import BoardsFile
    from archive.press.content import Pressed
    from archive.store import Archive

PAGES = ("a4", "letter")
PER_PAGE = (1, 2, 4, 6)


@dataclass(frozen=True)
class Paper:
    """How a board is laid on paper: one of `PAGES`, upright or landscape, one of `PER_PAGE` leaves to a page."""

    page: str = "a4"
    landscape: bool = False
    per_page: int = 2


@dataclass(frozen=True)
class Export:
    """A finished file: its bytes, media type, the ending of its name, and sentences to be said about it."""

    data: bytes
    media_type: str
    ending: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Asked:
    board: Board
    pressed: Callable[[], Pressed]
    paper: Paper = field(default_factory=Paper)
    base_url: str = ""


def export(
    archive: Archive,
    board: Board,
    form: str,
    *,
    boards_file: BoardsFile | None = None,
    paper: Paper | None = None,
    base_url: str = "",
    handout: bool = False,
) -> Export:
    """The board in one of `FORMS`.

    ``handout`` leaves out the notes of the board and of its leaves, which are the teacher's and may hold the answers;
    the board itself, as 'json', keeps them.

    ``base_url`` is the address of the archive's pages, with a slash at its end, for what names pictures by address.
    Raises `BoardsError` when there is no such form, `ArchiveError` when the board has nothing to make it of.
    """
    if form not in FORMS:
        message = f"A board can leave as {', '.join(FORMS)}, and not as “{form[:40]}”."
        raise BoardsError(message)

    def pressed() -> Pressed:
        from archive.press.content import resolve

        return resolve(archive, without_notes(board) if handout else board, boards_file)

    make, media_type, ending = _MAKERS[form]
    made = make(_Asked(board, pressed, paper or Paper(), base_url))
    data, notes = made if isinstance(made, tuple) else (made, ())
    return Export(data, media_type, ending, notes)


def without_notes(board: Board) -> Board:
    """The board as a class is given it: its aim, questions and task, and no notes."""
    return replace(board, notes="", leaves=tuple(replace(leaf, note="") for leaf in board.leaves))


def file_name(board: Board, ending: str) -> str:
    """A name for the file of a board: small ASCII letters, digits and hyphens."""
    from ingest.provenance import slug

    return f"{slug(board.title)[:80].strip('-') or 'board'}.{ending}"


def _pdf(asked: _Asked) -> tuple[bytes, tuple[str, ...]]:
    from archive.press.paper import printed

    done = printed(asked.pressed(), **asdict(asked.paper))
    return done.content, done.notes


def _panels(asked: _Asked) -> bytes:
    from archive.press.panels import formats_of, values_of
    from archive.press.practice import sheet

    pressed = asked.pressed()
    return sheet(formats_of(pressed), values=values_of(pressed), **asdict(asked.paper))


def _studies(asked: _Asked) -> bytes:
    from archive.press.practice import study_sheets

    return study_sheets(asked.pressed(), **asdict(asked.paper))


def _cards(asked: _Asked) -> bytes:
    from archive.press.sorting import pdf

    return pdf(asked.pressed(), page=asked.paper.page, landscape=asked.paper.landscape)


def _html(asked: _Asked) -> bytes:
    from archive.press.page import html

    return html(asked.pressed()).encode()


def _png(asked: _Asked) -> bytes:
    from archive.press.contact import png

    return png(asked.pressed())


def _iiif(asked: _Asked) -> bytes:
    from archive.press.iiif import manifest

    return _json(manifest(asked.pressed(), asked.base_url))


def _csv(asked: _Asked) -> bytes:
    from archive.press.table import csv

    return csv(asked.pressed()).encode()


def _own(asked: _Asked) -> bytes:
    return _json(as_json(asked.board))


def _json(value: object) -> bytes:
    return json.dumps(value, ensure_ascii=False, indent=1).encode() + b"\n"


_Made = bytes | tuple[bytes, tuple[str, ...]]

_MAKERS: dict[str, tuple[Callable[[_Asked], _Made], str, str]] = {
    "pdf": (_pdf, "application/pdf", "pdf"),
    "panels": (_panels, "application/pdf", "panels.pdf"),
    "studies": (_studies, "application/pdf", "studies.pdf"),
    "cards": (_cards, "application/pdf", "cards.pdf"),
    "html": (_html, "text/html; charset=utf-8", "html"),
    "png": (_png, "image/png", "png"),
    "iiif": (_iiif, 'application/ld+json;profile="http://iiif.io/api/presentation/3/context.json"', "manifest.json"),
    "csv": (_csv, "text/csv; charset=utf-8", "csv"),
    "json": (_own, "application/json", "json"),
}

FORMS = tuple(_MAKERS)
"""The forms: pages to print, empty panels, study sheets and cards to sort; one page for a browser, a contact sheet, a
IIIF manifest, records, and our own export."""

ON_PAPER = tuple(form for form, (_, media_type, _) in _MAKERS.items() if media_type == "application/pdf")
"""The forms that heed `Paper`."""
