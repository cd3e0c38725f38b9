"""Empty panels to draw in: the picture's edge, and round it the margin that tape or a ruler keeps clean."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from archive.errors import ArchiveError
from archive.press import words
from archive.press.content import Pressed
from archive.press.document import FAINT, INK, SOFT, Face, Paper
from archive.press.grid import Box, fitted
from archive.press.words import whole_credit

TAPE = 6.0
"""Width of the margin round a panel, mm: what a strip of tape needs to hold."""

_TICK = 4.0


@dataclass(frozen=True)
class Format:
    """The proportions of a panel, width over height; ``label`` names them, ``credit`` the work they are of, if any."""

    aspect: float
    label: str
    credit: str = ""


def read_format(text: str) -> Format:
    """A format as people write it: '4:3', '3x2', '1.5'.  Raises `ArchiveError` for what is none, or is over 5 to 1."""
    first, _, second = text.strip().lower().replace("×", ":").replace("x", ":").replace("/", ":").partition(":")
    try:
        aspect = float(first) / float(second or 1)
    except (ValueError, ZeroDivisionError) as error:
        message = f"'{text}' is no format; write width and height, as in 4:3."
        raise ArchiveError(message) from error
    if not 0.2 <= aspect <= 5.0:
        message = f"'{text}' is no format to draw in; it goes from 1:5 to 5:1."
        raise ArchiveError(message)
    whole = first.strip().isdecimal() and second.strip().isdecimal()
    return Format(aspect, f"{int(first)} : {int(second)}" if whole else in_words(aspect))


def formats_of(pressed: Pressed) -> list[Format]:
    """The formats of the works of a board, in order, each with the work that it is of."""
    return [
        Format(piece.aspect, in_words(piece.aspect), whole_credit(piece.record))
        for _, piece in pressed.pieces()
        if piece.work
    ]


def values_of(pressed: Pressed) -> int:
    """In how many values a class practises beside a board: two where its leaves are shown in two and none in three."""
    shown = {plate.showing for _, piece in pressed.pieces() for plate in piece.plates}
    return 2 if "two" in shown and "three" not in shown else 3


def in_words(aspect: float) -> str:
    """A format in small whole numbers, width first: '4 : 3'; '≈' when it is only near them."""
    near = Fraction(aspect).limit_denominator(8)
    sign = "" if abs(float(near) / aspect - 1) < 0.004 else "≈ "
    return f"{sign}{near.numerator} : {near.denominator}"


def panel(paper: Paper, cell: Box, format_: Format, label: Face) -> None:
    """The largest panel of a format that a cell has room for with its margin and label, in the middle of it."""
    credit = Face(6.5, ink=SOFT)
    below = label.line + (paper.height(format_.credit, cell.width, credit) if format_.credit else 0.0) + 1.0
    width, height = fitted(format_.aspect, cell.width - 2 * TAPE, cell.height - 2 * TAPE - below)
    x = cell.x + (cell.width - width) / 2
    y = cell.y + TAPE
    with paper.tagged_figure(words.PANEL_ALT.format(format=format_.label)):
        edge(paper, x, y, width, height)
    top = y + height + TAPE + 0.6
    paper.words(format_.label, cell.x, top, cell.width, label, align="C")
    paper.words(format_.credit, cell.x, top + label.line, cell.width, credit, align="C")


def edge(paper: Paper, x: float, y: float, width: float, height: float) -> None:
    """The edge of a panel, and ticks where the outer edge of a tape lies."""
    paper.frame(x, y, width, height, 0.2, FAINT)
    outer = Box(x - TAPE, y - TAPE, width + 2 * TAPE, height + 2 * TAPE)
    for left, right in ((outer.x, 1), (outer.x + outer.width, -1)):
        for up, down in ((outer.y, 1), (outer.y + outer.height, -1)):
            paper.rule(left, up, left + right * _TICK, up, ink=INK + 40, line=0.15)
            paper.rule(left, up, left, up + down * _TICK, ink=INK + 40, line=0.15)
