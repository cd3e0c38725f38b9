"""A contact sheet: all pictures of a board on one PNG, small, with number, title, artist and credit under each."""

from __future__ import annotations

import io
from bisect import bisect_left
from functools import lru_cache

from PIL import Image, ImageDraw, ImageFont
from PIL.PngImagePlugin import PngInfo

from archive.press import words
from archive.press.caption import by_line, number
from archive.press.content import Piece, Pressed
from archive.press.document import LACKING
from archive.press.letters import FACES, FOLDER, Font, book_has, font_for, letters_of, without_ghosts
from archive.press.pictures import opened
from ingest.lightness import grey_code

WIDTH = 1600
"""Width of the sheet, px."""

COLUMNS = 4
MARGIN = 48
GAP = 32
_FRAME = 300
"""Greatest height of a picture, px."""

_GROUND, _INK, _SOFT, _RULE = (grey_code(lightness) for lightness in (97.0, 10.0, 36.0, 70.0))


def png(pressed: Pressed) -> bytes:
    """The sheet, greys and paintings in sRGB; its text chunks carry the title and every whole credit line."""
    column = (WIDTH - 2 * MARGIN - (COLUMNS - 1) * GAP) // COLUMNS
    shown = [(number(leaf, at), piece) for leaf in pressed.leaves for at, piece in enumerate(leaf.pieces)]
    title = _wrapped(pressed.title, "B", 40, WIDTH - 2 * MARGIN)
    aim = _wrapped(pressed.aim, "I", 24, WIDTH - 2 * MARGIN)
    top = MARGIN + len(title) * 48 + len(aim) * 32 + 28
    rows = [shown[start : start + COLUMNS] for start in range(0, len(shown), COLUMNS)]
    cells = [[(_picture(piece, column), _caption(called, piece, column)) for called, piece in row] for row in rows]
    heights = [
        max((image.height if image else 0) + 10 + sum(size + 6 for _, _, size, _ in lines) for image, lines in row)
        for row in cells
    ]
    sheet = Image.new("RGB", (WIDTH, top + sum(heights) + GAP * len(heights) + MARGIN), (_GROUND,) * 3)
    draw = ImageDraw.Draw(sheet)
    y = MARGIN
    for line in title:
        _write(draw, line, MARGIN, y, "B", 40, _INK)
        y += 48
    for line in aim:
        _write(draw, line, MARGIN, y, "I", 24, _SOFT)
        y += 32
    y = top
    for row, height in zip(cells, heights, strict=True):
        for at, (image, lines) in enumerate(row):
            _cell(sheet, draw, MARGIN + at * (column + GAP), y, image, lines)
        y += height + GAP
    return _encoded(sheet, pressed)


_Line = tuple[str, str, int, int]
"""Text, style, size in px, grey code."""


def _picture(piece: Piece, width: int) -> Image.Image | None:
    if not piece.plates:
        return None
    image = opened(piece.plates[0]).convert("RGB")
    image.thumbnail((width, _FRAME), Image.Resampling.LANCZOS)
    return image


def _caption(called: str, piece: Piece, width: int) -> list[_Line]:
    lines: list[_Line] = [(line, "B", 20, _INK) for line in _wrapped(f"{called}  {piece.title}", "B", 20, width)]
    lines += [(line, "", 18, _INK) for line in _wrapped(by_line(piece), "", 18, width)]
    lines += [(line, "", 15, _SOFT) for line in _wrapped(words.holding(piece.record), "", 15, width)]
    lines += [(line, "I", 15, _SOFT) for line in _wrapped(piece.missing, "I", 15, width)]
    return lines


def _cell(
    sheet: Image.Image, draw: ImageDraw.ImageDraw, x: int, y: int, image: Image.Image | None, lines: list[_Line]
) -> None:
    if image is not None:
        sheet.paste(image, (x, y))
        draw.rectangle((x - 1, y - 1, x + image.width, y + image.height), outline=(_RULE,) * 3)
    below = y + (image.height if image else 0) + 10
    for text, style, size, ink in lines:
        _write(draw, text, x, below, style, size, ink)
        below += size + 6


def _wrapped(text: str, style: str, size: int, width: int) -> list[str]:
    """A text in lines of at most ``width`` px; a word that is longer alone is broken."""
    lines: list[str] = []
    line = ""
    for word in _lettered(text).split():
        while word:
            tried = f"{line} {word}".strip()
            if _fits(tried, style, size, width):
                line, word = tried, ""
            elif line:
                lines.append(line)
                line = ""
            else:
                most = min(len(word), width)
                kept = max(1, bisect_left(range(1, most), True, key=lambda n: not _fits(word[:n], style, size, width)))
                lines.append(word[:kept])
                word = word[kept:]
    return [*lines, line] if line else lines


def _fits(text: str, style: str, size: int, width: int) -> bool:
    # Hardly a letter is less than a pixel wide, and a text in signs may be one word of thousands.
    return len(text) <= width and _length(text, style, size) <= width


def _lettered(text: str) -> str:
    return "".join(
        char if char.isspace() or book_has(char) or font_for(char) is not None else LACKING
        for char in without_ghosts(text)
    )


def _runs(text: str, style: str) -> list[tuple[str, Font]]:
    """The text in stretches of one font; spaces and signs stay with the stretch before them where its font has them."""
    book = Font(FOLDER / FACES[style])
    runs: list[tuple[str, Font]] = []
    for char in text:
        needed = book if book_has(char) else font_for(char) or book
        if runs and not char.isalnum() and ord(char) in letters_of(runs[-1][1]):
            needed = runs[-1][1]
        if runs and runs[-1][1] == needed:
            runs[-1] = (runs[-1][0] + char, needed)
        else:
            runs.append((char, needed))
    return runs


@lru_cache(maxsize=64)
def _loaded(font: Font, size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(font.file), size, index=font.face)


def _length(text: str, style: str, size: int) -> float:
    return sum(_loaded(font, size).getlength(run) for run, font in _runs(text, style))


def _write(draw: ImageDraw.ImageDraw, text: str, x: float, y: float, style: str, size: int, ink: int) -> None:
    baseline = y + size
    for run, font in _runs(text, style):
        loaded = _loaded(font, size)
        draw.text((x, baseline), run, fill=(ink,) * 3, font=loaded, anchor="ls")
        x += loaded.getlength(run)


def _encoded(sheet: Image.Image, pressed: Pressed) -> bytes:
    info = PngInfo()
    info.add_itxt("Title", pressed.title)
    for leaf in pressed.leaves:
        for at, piece in enumerate(leaf.pieces):
            if piece.work:
                info.add_itxt("Source", f"{number(leaf, at)} {words.whole_credit(piece.record)}")
    buffer = io.BytesIO()
    sheet.save(buffer, "PNG", pnginfo=info)
    return buffer.getvalue()
