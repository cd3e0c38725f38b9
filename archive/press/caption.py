"""What stands under the pictures of a leaf: its number and title, the whole credit, the square code of its address."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from archive.press import words
from archive.press.content import Piece, PressedLeaf
from archive.press.document import SOFT, Face, Paper
from archive.press.grid import Box
from ingest.provenance import address

_NARROW = 52.0
"""Columns under this width, mm, are left to the words."""


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


def number(leaf: PressedLeaf, at: int) -> str:
    """What a piece is called in class: '3', or '3a' and '3b' where two are compared."""
    return f"{leaf.number}{'ab'[at]}" if len(leaf.pieces) > 1 else str(leaf.number)


def by_line(piece: Piece) -> str:
    """Who made it and when."""
    return words.study_by_line(piece.record) if piece.study else words.by_line(piece.record)


def web_address(piece: Piece) -> str:
    """The museum's page of a work, '' when there is none to link to."""
    url = piece.record.get("object_url", "")
    return url if url.startswith(("http://", "https://")) and len(url) <= 600 else ""


def _code(piece: Piece, width: float, type_: Type) -> float:
    """Side of the square code beside a caption, mm; 0 where there is no address, or the column is too narrow."""
    return type_.code if web_address(piece) and width >= _NARROW else 0.0


def caption_height(paper: Paper, leaf: PressedLeaf, piece: Piece, width: float, type_: Type) -> float:
    """How high a caption stands in a column of ``width`` mm, mm."""
    code = _code(piece, width, type_)
    beside = width - (code + 3.0 if code else 0.0)
    text = sum(paper.height(text, beside, face) for text, face, *_ in _caption_lines(leaf, 0, piece, type_))
    return max(code, text) + 2.0


def caption(paper: Paper, leaf: PressedLeaf, at: int, piece: Piece, box: Box, type_: Type, left: Left) -> None:
    """Set a caption into a box; what does not fit stands at the end as well, in full."""
    url, code = web_address(piece), _code(piece, box.width, type_)
    width = box.width - (code + 3.0 if code else 0.0)
    lines = _caption_lines(leaf, at, piece, type_)
    heights = [paper.height(text, width, face) for text, face, *_ in lines]
    fits = sum(heights) <= box.height + 0.01
    y, bottom = box.y, box.y + box.height
    for place, (text, face, tag, link) in enumerate(lines):
        later = sum(heights[place + 1 :])
        room = bottom - y if fits else max(face.line * 2, (bottom - y) - later)
        room = min(room, bottom - y)
        whole = piece.title if tag == "H2" else text
        y += cut(paper, text, Box(box.x, y, width, room), face, number(leaf, at), left, whole, tag=tag, link=link)
    if code:
        paper.square_code(url, box.x + box.width - code, box.y + 1.0, code, words.LINK_ALT.format(address=url))
    elif url:
        left.codes.add(number(leaf, at))


def _caption_lines(leaf: PressedLeaf, at: int, piece: Piece, type_: Type) -> list[tuple[str, Face, str, str]]:
    """Text, face, tag and link of each paragraph of a caption."""
    url = web_address(piece)
    lines = [
        (f"{number(leaf, at)}\u2002{piece.title}", type_.title, "H2", ""),
        (by_line(piece), type_.by, "P", ""),
        (words.part(piece.part) if piece.part else "", type_.holding, "P", ""),
        (words.holding(piece.record), type_.holding, "P", ""),
        (address(url), type_.holding, "P", url),
    ]
    return [line for line in lines if line[0]]


def cut(
    paper: Paper, text: str, box: Box, face: Face, called: str, left: Left, whole: str = "", *,
    tag: str = "P", link: str = "",
) -> float:  # fmt: skip
    """Set a text, or as much of it as there is room for with a line that says where all of it stands; its height, mm.

    ``called`` is what the leaf is called there, ``whole`` what stands there when it is not the text itself.
    """
    if paper.height(text, box.width, face) <= box.height + 0.01:
        return paper.words(text, box.x, box.y, box.width, face, tag=tag, link=link)[0]
    mark = Face(min(face.size, 7.0), "I", ink=SOFT)
    height, _ = paper.words(
        text, box.x, box.y, box.width, face, tag=tag, link=link, room=max(0.0, box.height - mark.line)
    )
    left.texts.append((called, whole or text))
    if box.height >= mark.line:
        line = paper.one_line(words.CONTINUES.format(number=called), box.width, mark)
        height += paper.words(line, box.x, box.y + height, box.width, mark)[0]
    return height
