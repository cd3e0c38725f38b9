"""Fonts for every letter: our own, then those that the computer has, and a plain word where none has it."""

from __future__ import annotations

import os
import sys
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from fontTools.ttLib import TTFont, TTLibError

FOLDER = Path(__file__).resolve().parent / "fonts"
FACES = {"": "GentiumBookPlus-Regular.ttf", "I": "GentiumBookPlus-Italic.ttf", "B": "GentiumBookPlus-Bold.ttf"}
"""The book face, by the style letters of the PDF library: Latin, Greek and Cyrillic."""

NAMED_FONTS = "BLOTBOOK_FONTS"
"""Environment variable that names fonts or folders of fonts to look in first."""

JOINERS = (0x200C, 0x200D)

_SYSTEM = (
    "NotoSerifCJK-Regular.ttc", "NotoSansCJK-Regular.ttc", "NotoSerifCJKsc-Regular.otf", "NotoSerifCJKjp-Regular.otf",
    "NotoSansCJKsc-Regular.otf", "NotoSansCJKjp-Regular.otf", "NotoSerifSC-Regular.otf", "NotoSerifJP-Regular.otf",
    "NotoSansSC-Regular.otf", "NotoSansJP-Regular.otf", "NotoSerifKR-Regular.otf", "NotoSansKR-Regular.otf",
    "SourceHanSerif-Regular.ttc", "SourceHanSans-Regular.ttc", "DroidSansFallbackFull.ttf", "DroidSansFallback.ttf",
    "ipaexm.ttf", "ipam.ttf", "uming.ttc", "wqy-microhei.ttc", "wqy-zenhei.ttc", "UnBatang.ttf", "NanumMyeongjo.ttf",
    "Songti.ttc", "ヒラギノ明朝 ProN.ttc", "PingFang.ttc", "AppleSDGothicNeo.ttc", "Arial Unicode.ttf",
    "msmincho.ttc", "yumin.ttf", "simsun.ttc", "batang.ttc", "msyh.ttc", "malgun.ttf", "meiryo.ttc",
)  # fmt: skip
"""Files of Chinese, Japanese and Korean letters as systems name them, in the order in which they are tried."""

# Within one collection of Noto or Source Han, Japanese, Korean, and simplified Chinese shapes of the same characters.
_COLLECTED = {"ja": 0, "ko": 1, "zh": 2}


@dataclass(frozen=True)
class Font:
    """A font file; ``face`` counts the fonts of a collection from 0."""

    file: Path
    face: int = 0


@lru_cache(maxsize=128)
def letters_of(font: Font) -> frozenset[int]:
    """The code points that a font has letters for; empty when it cannot be read or may not be embedded."""
    try:
        with TTFont(font.file, fontNumber=font.face, lazy=True) as read:
            embedding = read["OS/2"].fsType if "OS/2" in read else 0
            return frozenset() if embedding & 0x0002 else frozenset(read.getBestCmap() or ())
    except (OSError, TTLibError, KeyError, AssertionError):
        return frozenset()


def book_has(character: str) -> bool:
    """Whether the book face has a letter."""
    return ord(character) in letters_of(Font(FOLDER / FACES[""]))


@lru_cache(maxsize=4096)
def font_for(character: str, language: str = "zh") -> Font | None:
    """The first font that has a character which the book face lacks, or None when there is none.

    ``language`` ('ja', 'ko' or 'zh') chooses among the shapes of a collection of Chinese, Japanese and Korean letters.
    """
    for font in _fonts(language):
        if ord(character) in letters_of(font):
            return font
    return None


def without_ghosts(text: str) -> str:
    """The text with plain spaces for all kinds that the book face lacks, and without signs that have no shape of their
    own (of direction, of variation), unless they join letters."""
    kept = []
    for character in text:
        kind = unicodedata.category(character)
        if character == "\t" or kind in ("Zl", "Zp") or (kind == "Zs" and not book_has(character)):
            kept.append(" ")
        elif (
            (kind in ("Cc", "Cs") and character != "\n")
            or (kind == "Cf" and ord(character) not in JOINERS)
            or 0xFE00 <= ord(character) <= 0xFE0F
            or 0xE0100 <= ord(character) <= 0xE01EF
        ):
            continue
        else:
            kept.append(character)
    return "".join(kept)


def language_of(text: str) -> str:
    """'ja' where a text has kana, 'ko' where it has hangul, 'zh' otherwise."""
    if any(0x3040 <= ord(character) <= 0x30FF for character in text):
        return "ja"
    return "ko" if any(0xAC00 <= ord(character) <= 0xD7AF for character in text) else "zh"


def _fonts(language: str) -> Iterator[Font]:
    for file in sorted(FOLDER.glob("Noto*.ttf")):
        yield Font(file)
    for file in _named():
        yield Font(file, _face(file, language))
    for file in _installed():
        yield Font(file, _face(file, language))


def _face(file: Path, language: str) -> int:
    gathered = file.suffix.lower() == ".ttc" and ("CJK" in file.name or "SourceHan" in file.name)
    return _COLLECTED[language] if gathered else 0


def _named() -> Iterator[Path]:
    for place in filter(None, os.environ.get(NAMED_FONTS, "").split(os.pathsep)):
        path = Path(place).expanduser()
        found = sorted(path.rglob("*")) if path.is_dir() else [path]
        yield from (file for file in found if file.suffix.lower() in (".ttf", ".otf", ".ttc"))


@lru_cache(maxsize=1)
def _installed() -> tuple[Path, ...]:
    places: dict[str, Path] = {}
    for folder in _system_folders():
        if folder.is_dir():
            for base, _, files in os.walk(folder):
                for name in files:
                    places.setdefault(name, Path(base) / name)
    return tuple(places[name] for name in _SYSTEM if name in places)


def _system_folders() -> tuple[Path, ...]:
    home = Path.home()
    if sys.platform == "darwin":
        return home / "Library/Fonts", Path("/Library/Fonts"), Path("/System/Library/Fonts")
    if sys.platform == "win32":
        return (Path(os.environ.get("WINDIR", r"C:\Windows")) / "Fonts",)
    return home / ".local/share/fonts", home / ".fonts", Path("/usr/local/share/fonts"), Path("/usr/share/fonts")
