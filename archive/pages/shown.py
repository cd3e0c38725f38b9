"""What a board shows, as templates lay it on a page: pictures by way of showing, cut to their part, and words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from archive.board import Board
from archive.pages.language import say
from archive.pages.leaves import picture_url, shape_of, work_url
from archive.pages.room import Room
from archive.press import words
from archive.press.content import STUDY_PICTURES, Piece, Plate, PressedLeaf, resolve


@dataclass(frozen=True)
class Seen:
    """One picture in one way of showing: its address and size in px, and what of it is shown (x, y, width, height)."""

    way: str
    label: str
    url: str
    width: int
    height: int
    alt: str
    cut: tuple[float, float, float, float] | None

    @property
    def shape(self) -> int:
        """See `archive.pages.leaves.shape_of`: of what is seen of it."""
        return shape_of(*(self.cut[2:] if self.cut else (self.width, self.height)))


@dataclass(frozen=True)
class OnLeaf:
    """One work or study on a leaf, with its words; ``missing`` says why there is no picture."""

    work: str
    title: str
    by: str
    holding: str
    url: str
    object_url: str
    missing: str
    sentence: str
    wide: bool
    seen: tuple[Seen, ...]


@dataclass(frozen=True)
class ShownLeaf:
    """A leaf with its number from 1; ``showing`` is the sequence it asks for."""

    number: int
    leaf: str
    pieces: tuple[OnLeaf, ...]
    showing: tuple[str, ...]
    note: str
    question: str


def leaves_of(datasette: Any, room: Room, board: Board, ways: Sequence[str] = ()) -> list[ShownLeaf]:
    """The leaves of a board; each in its own ways of showing, or all in the given ``ways``."""
    asked = board
    if ways:
        asked = replace(board, leaves=tuple(replace(leaf, showing=tuple(ways)) for leaf in board.leaves))
    pressed = resolve(room.archive, asked, room.boards_file)
    return [_leaf(datasette, leaf, own.showing) for leaf, own in zip(pressed.leaves, board.leaves, strict=True)]


def sortable(leaves: Sequence[ShownLeaf]) -> bool:
    """Whether there are cards to sort on a board: two works at least, whole and in three values (`press.sorting`)."""
    shown = {
        piece.work
        for leaf in leaves
        for piece in leaf.pieces
        for seen in piece.seen
        if piece.work and seen.way == "three" and seen.cut is None
    }
    return len(shown) > 1


def way_words() -> dict[str, str]:
    """What each way of showing is called on a page."""
    return {
        "painting": say("Painting"),
        "squint": say("Squint"),
        "five": say("Five"),
        "three": say("Three"),
        "two": say("Two"),
    }


def theme_words() -> dict[str, str]:
    """What the themes of lessons are called on a page."""
    return {
        "two-values": say("Two values"),
        "one-middle-grey": say("One middle grey"),
        "high-key": say("In a high key"),
        "low-key": say("In a low key"),
        "lights-joined": say("Lights joined"),
        "edges-lost": say("Edges lost and found"),
    }


def _leaf(datasette: Any, leaf: PressedLeaf, showing: tuple[str, ...]) -> ShownLeaf:
    pieces = tuple(_piece(datasette, piece) for piece in leaf.pieces)
    return ShownLeaf(leaf.number, leaf.leaf, pieces, showing, leaf.note, leaf.question)


def _piece(datasette: Any, piece: Piece) -> OnLeaf:
    there = bool(piece.work) and not piece.missing
    page = str(piece.record.get("object_url", ""))
    return OnLeaf(
        work=piece.work,
        title=piece.title,
        by=words.by_line(piece.record) if piece.work else "",
        holding=words.holding(piece.record),
        url=work_url(datasette, piece.work) if there else "",
        object_url=page if page.startswith(("http://", "https://")) else "",
        missing=piece.missing,
        sentence=piece.sentence,
        wide=piece.aspect > 1.9,
        seen=tuple(_seen(datasette, piece, plate) for plate in piece.plates),
    )


def _seen(datasette: Any, piece: Piece, plate: Plate) -> Seen:
    width, height, cut = piece.width, piece.height, None
    if plate.part is not None:
        x0, y0, x1, y1 = plate.part
        width, height = round(piece.width / (x1 - x0)), round(piece.height / (y1 - y0))
        cut = (round(x0 * width, 2), round(y0 * height, 2), piece.width, piece.height)
    if piece.study:
        url = str(datasette.urls.path(f"/-/practice/{piece.study}/{STUDY_PICTURES[plate.showing]}"))
    else:
        url = picture_url(datasette, plate.name)
    return Seen(plate.showing, way_words()[plate.showing], url, width, height, plate.alt, cut)
