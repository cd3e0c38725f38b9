"""A board as a PDF to print and hand out."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from archive.errors import ArchiveError
from archive.press import grey_steps, sources, words
from archive.press.caption import TYPES, Left, number
from archive.press.content import Pressed
from archive.press.document import FAINT, PAPERS, SOFT, Face, Paper
from archive.press.flow import Flow
from archive.press.grid import PER_PAGE, Box, cells
from archive.press.leaf import lay, least_dpi

MARGIN = 14.0
TOP = 13.0
FOOT = 12.0
GAP = 7.0
_MOST_FRONT = 0.4
"""Share of a page that the board's own words may take before the leaves begin on the next one."""


@dataclass(frozen=True)
class Printed:
    """A PDF, and what is to be said about it: letters that no font has, pictures that print coarsely."""

    content: bytes
    notes: tuple[str, ...]


def pdf(
    pressed: Pressed, *, page: str = "a4", landscape: bool = False, per_page: int = 2, language: str = "en"
) -> bytes:
    """The board as a PDF; see `printed`."""
    return printed(pressed, page=page, landscape=landscape, per_page=per_page, language=language).content


def printed(
    pressed: Pressed, *, page: str = "a4", landscape: bool = False, per_page: int = 2, language: str = "en"
) -> Printed:
    """The board as a PDF with what is to be said about it.

    ``page`` is 'a4' or 'letter'; ``per_page`` is 1, 2, 4 or 6 leaves; ``language`` is that of the board's words, as in
    BCP 47.  The same board gives the same bytes.  Raises `ArchiveError` for another page or number.
    """
    check(page, per_page)
    paper = Paper(page, landscape=landscape, title=pressed.title, subject=pressed.aim, language=language)
    left = Left()
    body = Box(MARGIN, TOP, paper.w - 2 * MARGIN, paper.h - TOP - MARGIN - FOOT)
    paper.add_page()
    used = _front(paper, pressed, body)
    if used > body.height * _MOST_FRONT and pressed.leaves:
        paper.add_page()
        used = 0.0
    leaves = list(pressed.leaves)
    if not leaves:
        paper.words(words.NO_LEAVES, body.x, body.y + used, body.width, Face(10.5))
    while leaves:
        room = Box(body.x, body.y + used, body.width, body.height - used)
        for cell in cells(room, per_page, landscape=landscape, gap=GAP)[: len(leaves)]:
            lay(paper, leaves.pop(0), cell, TYPES[per_page], left)
        used = 0.0
        if leaves:
            paper.add_page()
    notes = _after(paper, pressed, body, left)
    foot(paper, pressed.title)
    return Printed(paper.finish(), notes)


def check(page: str, per_page: int) -> None:
    """Raise `ArchiveError` for a page or a number that is not known."""
    if page not in PAPERS:
        message = f"Paper is {' or '.join(PAPERS)}, not '{page}'."
        raise ArchiveError(message)
    if per_page not in PER_PAGE:
        message = f"A page has 1, 2, 4 or 6 to it, not {per_page}."
        raise ArchiveError(message)


def foot(paper: Paper, title: str) -> None:
    """Title, greys and page number at the foot of every page."""
    face, name = Face(7.5, ink=SOFT), Face(7.5, "I", ink=SOFT)
    last = paper.page
    for page in range(1, last + 1):
        paper.page = page
        paper.current_font_is_set_on_page = False
        y = paper.h - MARGIN - 1.5
        width = paper.w / 2 - MARGIN - 12
        count = words.PAGE_OF.format(page=page, pages=last)
        with paper.beside_the_text():
            paper.rule(MARGIN, y - 2, paper.w - MARGIN, y - 2, ink=FAINT, line=0.1)
            paper.words(paper.one_line(title, width, name), MARGIN, y, width, name, tag="")
            paper.words(count, paper.w - MARGIN - 30, y, 30, face, tag="", align="R")
            grey_steps.key(paper, paper.w / 2 - 8, y + 0.2)
    paper.page = last


def _front(paper: Paper, pressed: Pressed, body: Box) -> float:
    """Title, aim and notes; the height they took on the page that is open now, mm."""
    flow = Flow(paper, body)
    size = 22 if len(pressed.title) <= 60 else 18 if len(pressed.title) <= 120 else 15
    flow.y += paper.heading(pressed.title, body.x, body.y, body.width, Face(size, "B", 1.1)) + 1.5
    for text, face in ((pressed.aim, Face(12.5, "I")), (pressed.notes, Face(10.5))):
        for paragraph in text.split("\n"):
            flow.words(paragraph, face, width=min(body.width, 160.0))
        flow.space(1.5 if text else 0.0)
    paper.rule(body.x, flow.y + 1, body.x + body.width, flow.y + 1)
    return flow.y - body.y + 5.0


def _after(paper: Paper, pressed: Pressed, body: Box, left: Left) -> tuple[str, ...]:
    """The task, what did not fit, every record in full, the printer's steps; what is to be said of it all."""
    paper.add_page()
    flow = Flow(paper, body)
    section, text, small = Face(13, "B"), Face(10.5), Face(8, ink=SOFT)
    if pressed.task:
        flow.heading(words.TASK, section)
        for paragraph in pressed.task.split("\n"):
            flow.words(paragraph, text, width=min(body.width, 160.0))
        flow.space(1)
        flow.words(f"{words.CAUTIONS_TITLE}. {words.CAUTIONS}", small, width=min(body.width, 160.0))
        flow.space(6)
    if left.texts:
        flow.heading(words.CONTINUED, section)
        for called, whole in left.texts:
            flow.words(f"{called}\u2002{whole}", Face(9.5), width=min(body.width, 160.0))
            flow.space(2)
        flow.space(4)
    if pressed.leaves:
        flow.heading(words.SOURCES, section)
        flow.words(words.SOURCES_SAY, Face(9, "I", ink=SOFT))
        flow.space(2)
    flow.columns(2)
    for leaf in pressed.leaves:
        for at, piece in enumerate(leaf.pieces):
            sources.record(flow, number(leaf, at), piece, code=number(leaf, at) in left.codes)
    flow.columns(1)
    notes = _notes(paper, left)
    said = sum(flow.height(note, small) + 1 for note in notes)
    flow.space(5)
    flow.need(min(grey_steps.HEIGHT + said, body.height))
    flow.y += grey_steps.check(paper, body.x, flow.y, min(body.width, 190.0)) + 4
    for note in notes:
        flow.words(note, small)
        flow.space(1)
    return notes


def _notes(paper: Paper, left: Left) -> tuple[str, ...]:
    notes = []
    if left.coarse:
        notes.append(words.COARSE.format(listed=", ".join(least_dpi(left.coarse))))
    if paper.missing:
        notes.append(letters_note(paper))
    return tuple(notes)


def letters_note(paper: Paper) -> str:
    """Which letters of what is printed no font has; '' when there is none."""
    listed = ", ".join(f"U+{ord(each):04X} {unicodedata.name(each, '')}".strip() for each in paper.missing)
    return words.LETTERS_MISSING.format(listed=listed) if listed else ""
