"""One leaf of a board in its cell of a page: pictures at one size, captions with the credit, question and note."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from archive.press import words
from archive.press.caption import Left, Type, caption_height, cut, number
from archive.press.caption import caption as set_caption
from archive.press.content import Piece, PressedLeaf
from archive.press.document import Paper
from archive.press.grid import Box, side_by_side
from archive.press.pictures import for_print

GAP = 3.0
_LABEL = 3.6
_LEAST_PICTURES = 0.46
"""Share of a cell's height that belongs to the pictures, however much there is to say."""

LEAST_DPI = 120.0
"""No painting is printed coarser than this; it stays smaller instead."""

_SMALLER = (1.0, 0.94, 0.88, 0.82, 0.76)
FINE = 200.0
"""Dots an inch from which a picture counts as fine."""


def lay(paper: Paper, leaf: PressedLeaf, box: Box, kind: Type, left: Left) -> None:
    """Lay a leaf into a cell; nothing goes beyond it."""
    columns = _columns(box, len(leaf.pieces))
    room = box.height * (1 - _LEAST_PICTURES)
    for factor in _SMALLER:
        type_ = kind.scaled(factor)
        caption = max(
            caption_height(paper, leaf, piece, column.width, type_)
            for piece, column in zip(leaf.pieces, columns, strict=True)
        )
        said = _said_height(paper, leaf, box.width, type_)
        if caption + said <= room:
            break
    caption = min(caption, room if not said else max(room - said, room * 0.6))
    pictures = box.height - caption - min(said, room - caption) - 1.0
    below = 0.0
    for at, (piece, column) in enumerate(zip(leaf.pieces, columns, strict=True)):
        below = max(below, _pictures(paper, leaf, at, piece, replace(column, height=pictures), type_, left))
    y = box.y + below
    for at, (piece, column) in enumerate(zip(leaf.pieces, columns, strict=True)):
        set_caption(paper, leaf, at, piece, Box(column.x, y, column.width, caption), type_, left)
    _said(paper, leaf, Box(box.x, y + caption, box.width, box.y + box.height - y - caption), type_, left)


def _columns(box: Box, count: int) -> list[Box]:
    gap = 6.0
    width = (box.width - gap * (count - 1)) / count
    return [replace(box, x=box.x + at * (width + gap), width=width) for at in range(count)]


def _pictures(paper: Paper, leaf: PressedLeaf, at: int, piece: Piece, box: Box, type_: Type, left: Left) -> float:
    """Pictures from the top of the box; the height they took."""
    if not piece.plates:
        return _empty(paper, piece, box, type_)
    count = len(piece.plates)
    largest = piece.width / LEAST_DPI * 25.4
    places = side_by_side(piece.aspect, count, box.width, box.height, largest, gap=GAP, under=_LABEL)
    for plate, place in zip(piece.plates, places, strict=True):
        x, y = box.x + place.x, box.y + place.y
        content, size = for_print(plate, max(place.width, place.height))
        paper.picture(content, x, y, place.width, place.height, plate.alt)
        paper.words(
            paper.one_line(plate.label, place.width, type_.label), x, y + place.height + 0.5, place.width, type_.label
        )
        dpi = round(size[0] / place.width * 25.4)
        if dpi < FINE and plate.showing != "squint":
            called = number(leaf, at)
            left.coarse[called] = min(dpi, left.coarse.get(called, dpi))
    return max(place.y + place.height for place in places) + _LABEL + 1.0


def _empty(paper: Paper, piece: Piece, box: Box, type_: Type) -> float:
    width = min(box.width, 90.0)
    height = min(box.height, width * 0.5)
    with paper.beside_the_text():
        paper.frame(box.x, box.y, width, height)
    paper.words(piece.missing, box.x + 4, box.y + 4, width - 8, type_.by, room=height - 6)
    return height + 2.0


def _said_height(paper: Paper, leaf: PressedLeaf, width: float, type_: Type) -> float:
    width = min(width, 150.0)
    height = paper.height(leaf.question, width, type_.question) + paper.height(leaf.note, width, type_.note)
    return height + (1.5 if leaf.question else 0.0) + (1.5 if leaf.note else 0.0)


def _said(paper: Paper, leaf: PressedLeaf, box: Box, type_: Type, left: Left) -> None:
    width, y, bottom = min(box.width, 150.0), box.y, box.y + box.height
    for text, face in ((leaf.question, type_.question), (leaf.note, type_.note)):
        if text:
            y += 1.5
            y += cut(paper, text, Box(box.x, y, width, bottom - y), face, str(leaf.number), left)


def least_dpi(coarse: dict[str, int]) -> Sequence[str]:
    """Pictures that printed coarsely, in words."""
    return [words.COARSE_ONE.format(number=called, dpi=dpi) for called, dpi in coarse.items()]
