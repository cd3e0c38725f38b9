"""One leaf of a board in its cell of a page: pictures at one size, captions with the credit, question and note."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from archive.press import words
from archive.press.content import Piece, PressedLeaf
from archive.press.document import SOFT, Face, Paper
from archive.press.grid import Box, side_by_side
from archive.press.pictures import for_print

GAP = 3.0
_LABEL = 3.6
_LEAST_PICTURES = 0.46
"""Share of a cell's height that belongs to the pictures, however much there is to say."""

_NARROW = 52.0
"""Columns under this width, mm, are left to the words."""

LEAST_DPI = 120.0
"""No painting is printed coarser than this; it stays smaller instead."""

_SMALLER = (1.0, 0.94, 0.88, 0.82, 0.76)
FINE = 200.0
"""Dots an inch from which a picture counts as fine."""


@dataclass(frozen=True)
class Type:
    """How the words of a leaf are set."""

    title: Face
    by: Face
    holding: Face
    question: Face
    note: Face
    label: Face
    code: float
    """Side of the square code, mm."""

    def scaled(self, factor: float) -> Type:
        """All of it smaller; the code stays, since a smaller one is not read by a telephone."""
        faces = {name: getattr(self, name).scaled(factor) for name in ("title", "by", "holding", "question", "note")}
        return replace(self, **faces)


TYPES = {
    1: Type(Face(14, "B", 1.16), Face(11), Face(8.5, ink=SOFT), Face(12, "I"), Face(11), Face(8, "I", ink=SOFT), 18),
    2: Type(Face(12, "B", 1.16), Face(10), Face(8, ink=SOFT), Face(10.5, "I"), Face(10), Face(7.5, "I", ink=SOFT), 16),
    4: Type(Face(10, "B", 1.16), Face(8.5), Face(7, ink=SOFT), Face(9, "I"), Face(8.5), Face(7, "I", ink=SOFT), 14),
    6: Type(Face(9, "B", 1.16), Face(8), Face(6.5, ink=SOFT), Face(8.2, "I"), Face(8), Face(6.5, "I", ink=SOFT), 12.5),
}
"""By the number of leaves on a page."""


@dataclass
class Left:
    """What did not fit, to be set in full at the end, what printed coarsely, and whose square codes found no room."""

    texts: list[tuple[str, str]] = field(default_factory=list)
    coarse: dict[str, int] = field(default_factory=dict)
    codes: set[str] = field(default_factory=set)


def lay(paper: Paper, leaf: PressedLeaf, box: Box, kind: Type, left: Left) -> None:
    """Lay a leaf into a cell; nothing goes beyond it."""
    columns = _columns(box, len(leaf.pieces))
    room = box.height * (1 - _LEAST_PICTURES)
    for factor in _SMALLER:
        type_ = kind.scaled(factor)
        caption = max(
            _caption_height(paper, leaf, piece, column.width, type_)
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
        _caption(paper, leaf, at, piece, Box(column.x, y, column.width, caption), type_, left)
    _said(paper, leaf, Box(box.x, y + caption, box.width, box.y + box.height - y - caption), type_, left)


def number(leaf: PressedLeaf, at: int) -> str:
    """What a piece is called in class: '3', or '3a' and '3b' where two are compared."""
    return f"{leaf.number}{'ab'[at]}" if len(leaf.pieces) > 1 else str(leaf.number)


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
    height = min(box.height, box.width * 0.5)
    with paper.beside_the_text():
        paper.frame(box.x, box.y, box.width, height)
    paper.words(piece.missing, box.x + 4, box.y + 4, box.width - 8, type_.by, room=height - 6)
    return height + 2.0


def _caption_lines(leaf: PressedLeaf, at: int, piece: Piece, type_: Type) -> list[tuple[str, Face, str, str]]:
    """Text, face, tag and link of each paragraph of a caption."""
    url = web_address(piece)
    lines = [
        (f"{number(leaf, at)}\u2002{piece.title}", type_.title, "H2", ""),
        (words.by_line(piece.record), type_.by, "P", ""),
        (words.part(piece.part) if piece.part else "", type_.holding, "P", ""),
        (words.holding(piece.record), type_.holding, "P", ""),
        (words.address(url), type_.holding, "P", url),
    ]
    return [line for line in lines if line[0]]


def web_address(piece: Piece) -> str:
    """The museum's page of a work, '' when there is none to link to."""
    url = piece.record.get("object_url", "")
    return url if url.startswith(("http://", "https://")) and len(url) <= 600 else ""


def _code(piece: Piece, width: float, type_: Type) -> float:
    """Side of the square code beside a caption, mm; 0 where there is no address, or the column is too narrow."""
    return type_.code if web_address(piece) and width >= _NARROW else 0.0


def _caption_height(paper: Paper, leaf: PressedLeaf, piece: Piece, width: float, type_: Type) -> float:
    code = _code(piece, width, type_)
    beside = width - (code + 3.0 if code else 0.0)
    text = sum(paper.height(text, beside, face) for text, face, *_ in _caption_lines(leaf, 0, piece, type_))
    return max(code, text) + 2.0


def _caption(paper: Paper, leaf: PressedLeaf, at: int, piece: Piece, box: Box, type_: Type, left: Left) -> None:
    url, code = web_address(piece), _code(piece, box.width, type_)
    width = box.width - (code + 3.0 if code else 0.0)
    lines = _caption_lines(leaf, at, piece, type_)
    if code:
        paper.square_code(url, box.x + box.width - code, box.y + 0.8, code, words.LINK_ALT.format(address=url))
    elif url:
        left.codes.add(number(leaf, at))
    heights = [paper.height(text, width, face) for text, face, *_ in lines]
    fits = sum(heights) <= box.height + 0.01
    y, bottom = box.y, box.y + box.height
    for place, (text, face, tag, link) in enumerate(lines):
        later = sum(heights[place + 1 :])
        room = bottom - y if fits else max(face.line * 2, (bottom - y) - later)
        room = min(room, bottom - y)
        y += _cut(paper, text, Box(box.x, y, width, room), face, number(leaf, at), left, tag=tag, link=link)


def _said_height(paper: Paper, leaf: PressedLeaf, width: float, type_: Type) -> float:
    width = min(width, 150.0)
    height = paper.height(leaf.question, width, type_.question) + paper.height(leaf.note, width, type_.note)
    return height + (1.5 if leaf.question else 0.0) + (1.5 if leaf.note else 0.0)


def _said(paper: Paper, leaf: PressedLeaf, box: Box, type_: Type, left: Left) -> None:
    width, y, bottom = min(box.width, 150.0), box.y, box.y + box.height
    for text, face in ((leaf.question, type_.question), (leaf.note, type_.note)):
        if text:
            y += 1.5
            y += _cut(paper, text, Box(box.x, y, width, bottom - y), face, str(leaf.number), left)


def _cut(
    paper: Paper, text: str, box: Box, face: Face, called: str, left: Left, *, tag: str = "P", link: str = ""
) -> float:
    """Set a text, or as much of it as there is room for with a line that says where all of it stands."""
    if paper.height(text, box.width, face) <= box.height + 0.01:
        return paper.words(text, box.x, box.y, box.width, face, tag=tag, link=link)[0]
    mark = Face(min(face.size, 7.0), "I", ink=SOFT)
    height, _ = paper.words(
        text, box.x, box.y, box.width, face, tag=tag, link=link, room=max(0.0, box.height - mark.line)
    )
    left.texts.append((called, text))
    if box.height >= mark.line:
        line = paper.one_line(words.CONTINUES.format(number=called), box.width, mark)
        height += paper.words(line, box.x, box.y + height, box.width, mark)[0]
    return height


def least_dpi(coarse: dict[str, int]) -> Sequence[str]:
    """Pictures that printed coarsely, in words."""
    return [words.COARSE_ONE.format(number=called, dpi=dpi) for called, dpi in coarse.items()]
