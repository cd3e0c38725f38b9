"""'Which belong together?': value maps as cards to cut out and sort, and the answers on a page of their own."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from archive.errors import ArchiveError
from archive.press import sources, words
from archive.press.content import Piece, Plate, Pressed
from archive.press.document import FAINT, INK, SOFT, Face, Paper
from archive.press.flow import Flow
from archive.press.grid import Box, fitted
from archive.press.paper import FOOT, MARGIN, TOP, check, foot, letters_note
from archive.press.pictures import for_print

_ROWS, _COLUMNS = 4, 3
_LETTER = Face(11, "B")
_INSIDE = 4.0
"""Room between a card's cut and its map, mm."""


@dataclass(frozen=True)
class Card:
    """One card: its letter, and the work whose three-value map it shows."""

    letter: str
    piece: Piece
    plate: Plate


def cards(pressed: Pressed) -> list[Card]:
    """The works of a board that are shown in three values, each once, shuffled always alike for the same board.

    Letters run A to Z, then AA, AB and so on.
    """
    found: dict[str, tuple[Piece, Plate]] = {}
    for _, piece in pressed.pieces():
        plate = next((plate for plate in piece.plates if plate.showing == "three"), None)
        if piece.work and plate is not None and piece.part is None:
            found.setdefault(piece.work, (piece, plate))
    # The order must not give the answers away, and must be the same whenever the sheet is printed again.
    shuffled = sorted(found, key=lambda work: hashlib.sha256(f"{pressed.board} {work}".encode()).digest())
    return [Card(_letter(at), *found[work]) for at, work in enumerate(shuffled)]


def heaps(laid: Sequence[Card]) -> list[tuple[str, list[Card]]]:
    """The cards by the arrangement of their works, in the order in which these first come; '' for none."""
    piles: dict[str, list[Card]] = {}
    for card in laid:
        piles.setdefault(card.piece.arrangement, []).append(card)
    return list(piles.items())


def pdf(pressed: Pressed, *, page: str = "a4", landscape: bool = False, language: str = "en") -> bytes:
    """The cards, twelve to a page, and the answers with every record, to print on one side of the paper.

    Raises `ArchiveError` for another page, or when fewer than two works are shown in three values.
    """
    check(page, 1)
    laid = cards(pressed)
    if len(laid) < 2:
        message = "There is nothing to sort: the board shows fewer than two works in three values."
        raise ArchiveError(message)
    # Printed on both sides, the answers would come on the back of the cards and be cut apart with them.
    paper = Paper(
        page, landscape=landscape, title=words.SORT_TITLE, subject=words.SORT_SUBJECT, language=language, one_sided=True
    )
    body = Box(MARGIN, TOP, paper.w - 2 * MARGIN, paper.h - TOP - MARGIN - FOOT)
    columns, rows = (_ROWS, _COLUMNS) if landscape else (_COLUMNS, _ROWS)
    for start in range(0, len(laid), columns * rows):
        paper.add_page()
        top = _told(paper, body) if start == 0 else 0.0
        width, height = body.width / columns, (body.height - top) / rows
        for at, card in enumerate(laid[start : start + columns * rows]):
            _card(paper, Box(body.x + at % columns * width, body.y + top + at // columns * height, width, height), card)
    _answers(paper, body, laid)
    foot(paper, words.SORT_TITLE)
    return paper.finish()


def _told(paper: Paper, body: Box) -> float:
    height = paper.heading(words.SORT_TITLE, body.x, body.y, body.width, Face(18, "B", 1.1)) + 1.0
    return height + paper.words(words.SORT_SAY, body.x, body.y + height, body.width, Face(9.5))[0] + 4.0


def _card(paper: Paper, box: Box, card: Card) -> None:
    with paper.beside_the_text():
        paper.set_dash_pattern(dash=1.2, gap=1.2)
        paper.frame(box.x, box.y, box.width, box.height, 0.12, FAINT)
        paper.set_dash_pattern()
    under = _LETTER.line + 1.0
    wide, high = fitted(card.piece.aspect, box.width - 2 * _INSIDE, box.height - 2 * _INSIDE - under)
    x, y = box.x + (box.width - wide) / 2, box.y + _INSIDE + (box.height - 2 * _INSIDE - under - high) / 2
    content, _ = for_print(card.plate, max(wide, high))
    alt = words.SORT_ALT.format(letter=card.letter, sentence=card.piece.sentence)
    paper.picture(content, x, y, wide, high, alt)
    down = box.y + box.height - _INSIDE - _LETTER.line + 1.0
    paper.words(card.letter, box.x, down, box.width, _LETTER, align="C")


def _answers(paper: Paper, body: Box, laid: Sequence[Card]) -> None:
    paper.add_page()
    flow = Flow(paper, body)
    flow.heading(words.SORT_ANSWERS, Face(18, "B", 1.1), level=1)
    flow.words(words.SORT_ANSWERS_SAY, Face(9.5, "I", ink=SOFT))
    flow.space(3)
    for name, pile in heaps(laid):
        letters = ", ".join(card.letter for card in pile)
        flow.words(words.SORT_HEAP.format(name=name or words.SORT_ALONE, letters=letters), Face(11, ink=INK))
        flow.space(1)
    flow.space(4)
    flow.heading(words.SOURCES, Face(13, "B"))
    flow.columns(2)
    for card in laid:
        sources.record(flow, card.letter, card.piece)
    flow.columns(1)
    flow.space(3)
    flow.words(letters_note(paper), Face(8, ink=SOFT))


def _letter(at: int) -> str:
    first, second = divmod(at, 26)
    return (chr(ord("A") + first - 1) if first else "") + chr(ord("A") + second)
