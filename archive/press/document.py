"""A PDF to lay words, pictures and greys on, in millimetres from the top left; every thing on it is tagged.

The library behind it is fpdf2.  What this class adds: the book face with further fonts as letters need them (a letter
that no font has becomes the replacement character and is noted, never left out in silence), text that says how high it
is and what did not fit, tags for paragraphs and headings as well as pictures, and the same bytes for the same contents.

**What the greys mean.**  Greys are written as plain DeviceGray codes, and the file's output intent is sRGB: a code g
then means the sRGB colour (g, g, g), whose L* is known.  A calibrated grey would say the same on screen, but printer
drivers lay plain greys with black ink alone and calibrated ones often with coloured inks, which tints the steps; and
pictures would have to be tagged one by one.
"""

from __future__ import annotations

import contextlib
import datetime
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from fpdf import FPDF
from fpdf.bidi import auto_detect_base_direction
from fpdf.enums import MethodReturnValue, OutputIntentSubType, TextDirection
from fpdf.output import PDFICCProfile
from fpdf.prefs import ViewerPreferences
from PIL import ImageCms

from archive.press.codes import dark_runs
from archive.press.letters import FACES, FOLDER, JOINERS, Font, book_has, font_for, language_of, without_ghosts
from ingest.lightness import grey_code

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height in mm, upright."""

LACKING = "\ufffd"
"""What is printed for a letter that no font has: the replacement character of Unicode."""

_FAMILY = "book"
_LEFT_TO_RIGHT, _RIGHT_TO_LEFT = "\u200e", "\u200f"
_NO_DATE = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)
_MM = 25.4 / 72

INK, SOFT, FAINT = 8.0, 36.0, 62.0
"""L* of words, of lesser words, and of rules."""


@dataclass(frozen=True)
class Face:
    """How words are set: size in pt, style ('', 'I' or 'B'), leading as a multiple of the size, L* of the ink."""

    size: float
    style: str = ""
    leading: float = 1.24
    ink: float = INK

    def scaled(self, factor: float, least: float = 6.0) -> Face:
        """The same face, smaller, but not under ``least`` pt."""
        return replace(self, size=max(min(least, self.size), self.size * factor))

    @property
    def line(self) -> float:
        """Height of a line, mm."""
        return self.size * self.leading * _MM


@dataclass(frozen=True)
class _Line:
    """A line of a paragraph, and which way all of that paragraph runs: as its first letter that has a direction does
    (Unicode Standard Annex 9, rules P2 and P3), also where this line begins with a word that runs the other way."""

    text: str
    runs: TextDirection

    def alone(self) -> str:
        """The line as a paragraph of its own that still runs that way, by a mark where its letters do not say so."""
        if auto_detect_base_direction(self.text) is self.runs:
            return self.text
        return (_RIGHT_TO_LEFT if self.runs is TextDirection.RTL else _LEFT_TO_RIGHT) + self.text


class Paper(FPDF):
    """Sheets of one size; see the module."""

    def __init__(
        self, page: str, *, landscape: bool, title: str, subject: str, language: str = "en", one_sided: bool = False
    ) -> None:
        super().__init__("landscape" if landscape else "portrait", "mm", PAPERS[page])
        self.missing: dict[str, None] = {}
        self._joined = ""
        self._broken: dict[tuple[str, float, Face], list[_Line]] = {}
        self.alias_nb_pages("")
        self.set_auto_page_break(False)
        self.set_margin(0)
        self.c_margin = 0
        self.set_title(title)
        self.set_subject(subject)
        self.set_lang(language)
        self.set_creator("Blotbook")
        self.set_creation_date(_NO_DATE)
        self.viewer_preferences = ViewerPreferences(
            display_doc_title=True, print_scaling="None", duplex="Simplex" if one_sided else None
        )
        self.add_output_intent(
            OutputIntentSubType.PDFA, "sRGB IEC61966-2.1", registry_name="http://www.color.org",
            dest_output_profile=PDFICCProfile(_srgb(), 3, "DeviceRGB"), info="sRGB",
        )  # fmt: skip
        for style, file in FACES.items():
            self.add_font(_FAMILY, style, FOLDER / file)
            font: Any = self.fonts[_FAMILY + style]
            # The library names all three alike, and a printer that keeps fonts by name would mix them up.
            font.name = file.removesuffix(".ttf").removesuffix("-Regular")
            # Notes of the font's makers to another program; the subsetting library complains of it.
            del font.ttfont["Silt"]
            for joiner in JOINERS:
                # They belong to the letters beside them, whichever font these come from.
                font.cmap.pop(joiner, None)
        # Ligatures of 'fi' and the like are hard to read aloud and to search for.
        self.set_text_shaping(True, features={"liga": False, "kern": True})
        self.set_font(_FAMILY, size=10)

    # -- words -------------------------------------------------------------------------------------------

    def height(self, text: str, width: float, face: Face) -> float:
        """How high a text stands in a column of ``width`` mm, in mm; 0 for no text."""
        return len(self._lines(text, width, face)) * face.line if text else 0.0

    def width_of(self, text: str, face: Face) -> float:
        """How wide a line of text is, mm."""
        self._set(face)
        return float(self.get_string_width(self._lettered(text)))

    def words(
        self,
        text: str,
        x: float,
        y: float,
        width: float,
        face: Face,
        *,
        tag: str = "P",
        align: str = "L",
        link: str = "",
        room: float | None = None,
    ) -> tuple[float, str]:
        """Set a text in a column; what height it took, mm, and what of it did not fit into ``room`` mm.

        A paragraph that runs from right to left keeps to the right side of the column.  ``tag`` is '' for words within
        something that is tagged already, or that are not to be read aloud.
        """  # fmt: skip
        if not text:
            return 0.0, ""
        lines = self._lines(text, width, face)
        fitting = len(lines) if room is None else max(0, int((room + 1e-6) / face.line))
        rest = "\n".join(line.alone() for line in lines[fitting:])
        if fitting:
            self._set(face)
            self.set_text_color(grey_code(face.ink))
            with self.tagged(tag) if tag else contextlib.nullcontext():
                for number, line in enumerate(lines[:fitting]):
                    side = "R" if align == "L" and line.runs is TextDirection.RTL else align
                    self.set_xy(x, y + number * face.line)
                    with self._running(line.runs):
                        self.cell(width, face.line, line.text, align=side, link=link or "")
        return min(fitting, len(lines)) * face.line, rest

    def one_line(self, text: str, width: float, face: Face) -> str:
        """As much of a text as fits on one line, with '…' where it was cut."""
        text = " ".join(text.split())
        if self.width_of(text, face) <= width:
            return text
        while text and self.width_of(text + " …", face) > width:
            text = text[: max(0, min(len(text) - 1, int(len(text) * 0.95)))].rstrip()
        return f"{text} …"

    def _lines(self, text: str, width: float, face: Face) -> list[_Line]:
        asked = (text, width, face)
        if asked not in self._broken:
            self._set(face)
            lines: list[_Line] = []
            for paragraph in text.removesuffix("\n").split("\n"):
                runs = auto_detect_base_direction(paragraph)
                lines += (_Line(line, runs) for line in self._wrapped(self._lettered(paragraph), width, face))
            self._broken[asked] = lines
        return self._broken[asked]

    def _wrapped(self, paragraph: str, width: float, face: Face) -> list[str]:
        # Shaping letter by letter takes most of the time; where letters only stand side by side, their own widths
        # break the lines as well, since kerning draws them closer and hardly ever apart.
        shaping = self.text_shaping
        if _plain(paragraph):
            self.text_shaping = None
        found: Any = self.multi_cell(
            width, face.line, paragraph, align="L", dry_run=True, output=MethodReturnValue.LINES
        )
        self.text_shaping = shaping
        return [line.rstrip() for line in found] or [""]

    @contextlib.contextmanager
    def _running(self, direction: TextDirection) -> Iterator[None]:
        """What is set here is of a paragraph that runs in this direction, whatever letters it begins with."""
        shaping: Any = self.text_shaping
        shaping["direction"] = direction
        yield
        shaping["direction"] = None

    def _set(self, face: Face) -> None:
        self.set_font(_FAMILY, face.style, face.size)
        if self.page and not self.current_font_is_set_on_page and self.current_font is not None:
            # The library would set it with the first line; where that line begins in another font, it sets it within a
            # state that is taken back after the line, and the next line would have no font and not be seen.
            self._out(self._set_font_for_page(self.current_font, self.font_size_pt))

    def _lettered(self, text: str) -> str:
        """The text with a box for each letter that no font has; fonts that it needs are opened."""
        if text.isascii() and "\t" not in text:
            return text
        language = language_of(text)
        letters = []
        for character in without_ghosts(text):
            if character in "\n " or ord(character) in JOINERS or book_has(character):
                letters.append(character)
            elif (font := font_for(character, language)) is not None:
                self._open(font)
                letters.append(character)
            else:
                self.missing[character] = None
                letters.append(LACKING)
        return "".join(letters)

    def _open(self, font: Font) -> None:
        family = f"{font.file.stem.lower()}-{font.face}".replace(" ", "-")
        if family not in self.fonts:
            self.add_font(family, "", font.file, collection_font_number=font.face)
            self.set_fallback_fonts([*self._fallback_font_ids, family], exact_match=False)

    def get_fallback_font(self, char: str, style: str = "") -> str | None:
        """The font for a letter that the book face lacks; joiners keep to the font before them."""
        before: Any = self.fonts.get(self._joined)
        if ord(char) in JOINERS and before is not None and ord(char) in before.cmap:
            return self._joined
        self._joined = super().get_fallback_font(char, style) or ""
        return self._joined or None

    # -- tags --------------------------------------------------------------------------------------------

    @contextlib.contextmanager
    def tagged(self, kind: str) -> Iterator[None]:
        """What is laid here is one element of the reading order: 'P', 'H1', 'H2' …"""
        with self._marked_sequence() as element:
            element.s = f"/{kind}"
            yield

    @contextlib.contextmanager
    def beside_the_text(self) -> Iterator[None]:
        """What is laid here is decoration, or is repeated on every page; it is not read aloud."""
        self._out("/Artifact BMC")
        yield
        self._out("EMC")

    def heading(self, text: str, x: float, y: float, width: float, face: Face, level: int = 1) -> float:
        """A heading, which also stands in the outline of the document; its height, mm."""
        self.set_y(y)
        self.start_section(" ".join(text.split()) or "–", level=min(level - 1, len(self._outline) and 1), strict=False)
        return self.words(text, x, y, width, face, tag=f"H{level}")[0]

    # -- greys, rules, pictures --------------------------------------------------------------------------

    def patch(self, x: float, y: float, width: float, height: float, lightness: float) -> None:
        """A rectangle filled with a grey of L* 0..100, to the nearest of 256 codes."""
        self.set_fill_color(grey_code(lightness))
        self.rect(x, y, width, height, style="F")

    def frame(self, x: float, y: float, width: float, height: float, line: float = 0.15, ink: float = FAINT) -> None:
        """An empty rectangle, drawn outside of the edges given."""
        self.set_draw_color(grey_code(ink))
        self.set_line_width(line)
        self.rect(x - line / 2, y - line / 2, width + line, height + line, style="D")

    def rule(self, x0: float, y0: float, x1: float, y1: float, *, ink: float = FAINT, line: float = 0.15) -> None:
        """A straight line."""
        self.set_draw_color(grey_code(ink))
        self.set_line_width(line)
        self.line(x0, y0, x1, y1)

    def picture(self, content: bytes, x: float, y: float, width: float, height: float, alt: str) -> None:
        """A picture in a hairline frame, with words that stand in for it."""
        self.image(content, x, y, width, height, alt_text=alt)
        with self.beside_the_text():
            self.frame(x, y, width, height)

    def square_code(self, address: str, x: float, y: float, side: float, alt: str) -> None:
        """The QR code of an address, which is also a link; ``side`` in mm."""
        count, runs = dark_runs(address)
        module = side / count
        with self.tagged_figure(alt):
            self.set_fill_color(0)
            for start, down, length in runs:
                # A trifle higher than a module, so that no hairline shows between rows.
                self.rect(x + start * module, y + down * module, length * module, module * 1.01, style="F")
        self.link(x, y, side, side, address)

    @contextlib.contextmanager
    def tagged_figure(self, alt: str) -> Iterator[None]:
        """What is drawn here is one figure, with words that stand in for it."""
        with self._marked_sequence(alt_text=alt):
            yield

    def finish(self) -> bytes:
        """The whole file."""
        return bytes(self.output())


def _plain(text: str) -> bool:
    """Whether a text is of letters that stand side by side from left to right: Latin, Greek, Cyrillic, signs."""
    return all(
        code < 0x0300 or 0x0370 <= code < 0x0590 or (0x1E00 <= code < 0x20D0 and code not in JOINERS)
        for code in map(ord, text)
    )


@cache
def _srgb() -> bytes:
    """An ICC profile of sRGB without the moment of its making (bytes 24 to 35 of the header, ICC.1:2022, 7.2)."""
    profile: Any = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    made = bytearray(profile.tobytes())
    made[24:36] = bytes(12)
    return bytes(made)
