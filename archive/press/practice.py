"""Practice sheets with empty panels, and study sheets with a painting beside an empty panel of its format."""

from __future__ import annotations

from collections.abc import Sequence

from archive.errors import ArchiveError
from archive.press import words
from archive.press.caption import TYPES, Left, caption, caption_height
from archive.press.content import Pressed, PressedLeaf
from archive.press.document import FAINT, SOFT, Face, Paper
from archive.press.flow import Flow
from archive.press.grey_steps import said
from archive.press.grid import Box, cells, fitted
from archive.press.panels import TAPE, Format, edge, panel, read_format
from archive.press.paper import FOOT, GAP, MARGIN, TOP, check, foot, letters_note
from archive.press.pictures import for_print
from ingest.value_map import MAP_LIGHTNESS

USUAL = ("4:3", "3:4", "3:2", "2:3", "1:1", "5:4")
"""Formats of a sheet for which none are asked; the first as often as there are panels when there are few."""

_NOTE_LINE = 7.0
_MOST_NOTES = 8
_NARROWEST_NOTES = 38.0
"""Width from which a column beside the panel is ruled for notes, mm."""

_TITLE, _TEXT = Face(9.5, "B"), Face(9)
_LABEL = Face(7.5, "I", ink=SOFT)


def sheet(
    formats: Sequence[Format] = (),
    *,
    page: str = "a4",
    landscape: bool = False,
    per_page: int = 4,
    language: str = "en",
    values: int = 3,
) -> bytes:
    """Empty panels as a PDF, 1, 2, 4 or 6 to a page, of the formats given; see `archive.press.panels.formats_of`.

    With none given, one page of usual formats.  Every page has the steps in brief for so many ``values``, 2 or 3, a
    scale to match, room for notes and cautions.  Raises `ArchiveError` for another page or number.
    """
    check(page, per_page)
    wanted = list(formats) or [read_format(USUAL[at if per_page == 6 else 0]) for at in range(per_page)]
    told = words.PRACTICE_SUBJECT[values]
    paper = Paper(page, landscape=landscape, title=words.PRACTICE_TITLE, subject=told, language=language)
    for start in range(0, len(wanted), per_page):
        paper.add_page()
        body = _body(paper)
        top = _head(paper, body, words.PRACTICE_TITLE, first=start == 0)
        care = _cautions(paper, body)
        inner = Box(body.x, body.y + top, body.width, body.height - top - care)
        room = (_beside if landscape else _between)(paper, inner, words.STEPS[values])
        places = cells(room, per_page, landscape=landscape, gap=3.0)
        for cell, format_ in zip(places, wanted[start : start + per_page], strict=False):
            panel(paper, cell, format_, _LABEL)
    _rest(paper, Left())
    foot(paper, words.PRACTICE_TITLE)
    return paper.finish()


def study_sheets(
    pressed: Pressed, *, page: str = "a4", landscape: bool = True, per_page: int = 1, language: str = "en"
) -> bytes:
    """Each work of a board beside an empty panel of its format and size, as a PDF; 1 or 2 to a page.

    What stands at the side to be studied is the first of the leaf's ways of showing.  Raises `ArchiveError` for another
    page or number, or when the board shows no work with a picture.
    """
    check(page, per_page)
    if per_page > 2:
        message = f"Study sheets have 1 or 2 works to a page, not {per_page}."
        raise ArchiveError(message)
    wanted = [
        PressedLeaf(number, leaf.leaf, (piece,), leaf.note, leaf.question)
        for number, (leaf, piece) in enumerate(((leaf, piece) for leaf, piece in pressed.pieces() if piece.plates), 1)
    ]
    if not wanted:
        message = "There is no picture to make a study sheet of."
        raise ArchiveError(message)
    paper = Paper(page, landscape=landscape, title=pressed.title, subject=words.STUDY_SUBJECT, language=language)
    left = Left()
    for start in range(0, len(wanted), per_page):
        paper.add_page()
        body = _body(paper)
        top = _head(paper, body, pressed.title, first=start == 0)
        care = _cautions(paper, body)
        room = Box(body.x, body.y + top, body.width, body.height - top - care)
        # Two works lie one above the other on either page, since each is wide with its panel beside it.
        shares = cells(room, per_page, landscape=False, gap=GAP)
        for cell, leaf in zip(shares, wanted[start : start + per_page], strict=False):
            _study(paper, cell, leaf, per_page, left)
    _rest(paper, left)
    foot(paper, pressed.title)
    return paper.finish()


def _head(paper: Paper, body: Box, title: str, *, first: bool) -> float:
    """Title, and room for a name and the day; the height it took, mm."""
    face, small = Face(15, "B", 1.1), Face(9, ink=SOFT)
    width = body.width * 0.55
    line = paper.one_line(title, width, face)
    if first:
        height = paper.heading(line, body.x, body.y, width, face)
    else:
        height = paper.words(line, body.x, body.y, width, face)[0]
    x = body.x + body.width * 0.58
    base = body.y + height - 1.2
    for label, span in ((words.NAME, 0.27), (words.DAY, 0.15)):
        wide = body.width * span - 2.0
        paper.words(label, x, base - small.line + 0.9, wide, small)
        start = x + paper.width_of(label, small) + 1.5
        with paper.beside_the_text():
            paper.rule(start, base, x + wide, base)
        x += wide + 2.0
    return height + 4.0


def _between(paper: Paper, inner: Box, steps: Sequence[str]) -> Box:
    """Steps and scale above, notes below; what is free between them."""
    top = max(
        _steps(paper, inner.x, inner.y, inner.width * 0.56, steps),
        _scale(paper, inner.x + inner.width * 0.6, inner.y, inner.width * 0.4),
    )
    notes = _NOTE_LINE * 3
    _lines(paper, Box(inner.x, inner.y + inner.height - notes, inner.width, notes))
    return Box(inner.x, inner.y + top + 2.0, inner.width, inner.height - top - notes - 3.0)


def _beside(paper: Paper, inner: Box, steps: Sequence[str]) -> Box:
    """Steps, scale and notes in a column at the left; what is free at the right."""
    column, gap = 66.0, 6.0
    y = inner.y + _steps(paper, inner.x, inner.y, column, steps) + 4.0
    y += _scale(paper, inner.x, y, column) + 4.0
    _lines(paper, Box(inner.x, y, column, inner.y + inner.height - y))
    return Box(inner.x + column + gap, inner.y - 2.0, inner.width - column - gap, inner.height + 2.0)


def _steps(paper: Paper, x: float, y: float, width: float, steps: Sequence[str]) -> float:
    """The steps in brief; the height they took, mm."""
    top = y
    y += paper.words(words.STEPS_TITLE, x, y, width, _TITLE, tag="H2")[0]
    for number, step in enumerate(steps, 1):
        paper.words(str(number), x, y, 4.0, _TEXT, tag="")
        y += paper.words(step, x + 4.0, y, width - 4.0, _TEXT)[0]
    return y - top


def _scale(paper: Paper, x: float, y: float, width: float) -> float:
    """Printed greys with empty fields below to match them in; the height they took, mm."""
    top = y
    y += paper.words(words.SCALE_TITLE, x, y, width, _TITLE, tag="H2")[0] + 0.6
    patch = width / len(MAP_LIGHTNESS[5])
    with paper.tagged_figure(words.SCALE_ALT):
        for at, lightness in enumerate(MAP_LIGHTNESS[5]):
            paper.patch(x + at * patch, y, patch, 7, lightness)
            paper.frame(x + at * patch, y, patch, 7)
            paper.frame(x + at * patch, y + 7, patch, 8)
    for at, lightness in enumerate(MAP_LIGHTNESS[5]):
        paper.words(said(lightness), x + at * patch, y + 15.4, patch, Face(6.5, ink=SOFT), align="C")
    y += 18.4
    return y + paper.words(words.SCALE_SAY, x, y, width, Face(7, ink=SOFT))[0] - top


def _lines(paper: Paper, box: Box) -> None:
    """Ruled lines to write on, as many as the box has room for, the first with its name."""
    label = Face(9, ink=SOFT)
    count = int(box.height / _NOTE_LINE + 0.01)
    if count < 1:
        return
    paper.words(words.NOTES, box.x, box.y + _NOTE_LINE - label.line, box.width, label)
    start = paper.width_of(words.NOTES, label) + 2.0
    with paper.beside_the_text():
        for number in range(count):
            down = box.y + (number + 1) * _NOTE_LINE
            left = box.x + (start if number == 0 else 0.0)
            paper.rule(left, down, box.x + box.width, down, ink=FAINT + 12, line=0.12)


def _body(paper: Paper) -> Box:
    return Box(MARGIN, TOP, paper.w - 2 * MARGIN, paper.h - TOP - MARGIN - FOOT + 2)


def _cautions(paper: Paper, body: Box) -> float:
    """The cautions at the very foot of the body; the height they took with the space above them, mm."""
    face = Face(7, ink=SOFT)
    text = f"{words.CAUTIONS_TITLE}. {words.CAUTIONS}"
    height = paper.height(text, body.width, face)
    paper.words(text, body.x, body.y + body.height - height, body.width, face)
    return height + 3.0


def _study(paper: Paper, cell: Box, leaf: PressedLeaf, per_page: int, left: Left) -> None:
    """The picture, the empty panel at its side (or below it, where both are larger so), caption, room for notes."""
    piece, plate = leaf.pieces[0], leaf.pieces[0].plates[0]
    kind = TYPES[2 if per_page == 1 else 4]
    under = min(caption_height(paper, leaf, piece, cell.width, kind), cell.height * 0.4)
    question = min(paper.height(leaf.question, cell.width, kind.question), cell.height * 0.15)
    height = cell.height - under - question - 2 * TAPE - 3.0
    beside = fitted(piece.aspect, (cell.width - 4 * TAPE) / 2, height)
    above = fitted(piece.aspect, cell.width - 2 * TAPE, (height - 2 * TAPE) / 2)
    wide, high = max(beside, above)
    # One above the other they begin at one line, so that a plumb line down the picture goes on in the drawing.
    x, y = cell.x + (TAPE if above > beside else 0.0), cell.y + TAPE
    content, _ = for_print(plate, max(wide, high))
    paper.picture(content, x, y, wide, high, plate.alt)
    across, down = (x, y + high + 2 * TAPE) if above > beside else (x + wide + 3 * TAPE, y)
    with paper.tagged_figure(words.PANEL_ALT.format(format=words.DRAW_HERE)):
        edge(paper, across, down, wide, high)
    free = across + wide + TAPE + 6.0
    if cell.x + cell.width - free >= _NARROWEST_NOTES:
        _lines(paper, Box(free, y, cell.x + cell.width - free, high))
    x, y = cell.x, down + high + TAPE + 1.0
    y += paper.words(leaf.question, x, y, cell.width, kind.question, room=question)[0] + 1.0
    caption(paper, leaf, 0, piece, Box(x, y, cell.width, under), kind, left)
    y += under + 1.0
    if cell.x + cell.width - free < _NARROWEST_NOTES:
        _lines(paper, Box(x, y, cell.width, min(cell.y + cell.height - y, _MOST_NOTES * _NOTE_LINE)))


def _rest(paper: Paper, left: Left) -> None:
    """What of the captions did not fit, and which letters no font has."""
    note = letters_note(paper)
    if left.texts or note:
        paper.add_page()
        flow = Flow(paper, Box(MARGIN, TOP, paper.w - 2 * MARGIN, paper.h - TOP - MARGIN - FOOT))
        flow.heading(words.CONTINUED if left.texts else words.NOTES, Face(13, "B"))
        for called, whole in left.texts:
            flow.words(f"{called}\u2002{whole}", Face(9))
            flow.space(2)
        flow.words(note, Face(8, ink=SOFT))
