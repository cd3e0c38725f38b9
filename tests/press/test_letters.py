"""Fonts: where they come from, which letters they have, and that letters are shaped."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import numpy as np
import pytest
from press.pdf_reading import needs_pdftoppm, opened, rendered

from archive.press import letters
from archive.press.document import Face, Paper

# One word each; the scripts are those that README.md beside the fonts names.
SCRIPTS = {
    "Latin": "Đặng Łódź Ærø Āčņ", "Greek": "Ἑλένη", "Cyrillic": "Айвазовский", "Armenian": "Հայ", "Georgian": "ქართ",
    "Arabic": "منظر", "Hebrew": "נוף", "Syriac": "ܐܪܡ", "Thaana": "ދިވ", "Devanagari": "क्षेत्र", "Bengali": "বাংলা",
    "Gurmukhi": "ਪੰਜਾਬੀ", "Gujarati": "ગુજ", "Tamil": "தமிழ்", "Telugu": "తెలుగు", "Kannada": "ಕನ್ನಡ",
    "Malayalam": "മലയാളം", "Sinhala": "සිංහල", "Thai": "ไทย", "Lao": "ລາວ", "Tibetan": "བོད", "Myanmar": "မြန်မာ",
    "Khmer": "ខ្មែរ", "Ethiopic": "አማርኛ", "Mongolian": "ᠮᠣᠩ", "Cherokee": "ᏣᎳᎩ",
}  # fmt: skip


@pytest.mark.parametrize("script", SCRIPTS)
def test_our_own_fonts_have_the_letters(script: str) -> None:
    for letter in SCRIPTS[script].replace(" ", ""):
        font = letters.font_for(letter)
        assert letters.book_has(letter) or (font is not None and font.file.parent == letters.FOLDER), letter


def test_fonts_are_the_files_that_their_readme_names() -> None:
    told = (letters.FOLDER / "README.md").read_text(encoding="utf-8")
    named = dict(re.findall(r"^\| `([\w-]+\.ttf)` \| `[\w-]+` \| `([0-9a-f]{64})` \|$", told, re.MULTILINE))
    found = {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in sorted(letters.FOLDER.glob("*.ttf"))}
    assert found == named
    assert "SIL OPEN FONT LICENSE Version 1.1" in (letters.FOLDER / "OFL.txt").read_text(encoding="utf-8")


def test_a_font_that_is_named_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # A script that none of ours has is stood in for by a font of ours under another name, with ours out of the way.
    (tmp_path / "mine.ttf").write_bytes((letters.FOLDER / "NotoSansCherokee-Regular.ttf").read_bytes())
    monkeypatch.setattr(letters, "FOLDER", tmp_path / "none")
    monkeypatch.setenv(letters.NAMED_FONTS, str(tmp_path))
    letters.font_for.cache_clear()
    try:
        found = letters.font_for("Ꮳ")
        assert found is not None
        assert found.file == tmp_path / "mine.ttf"
    finally:
        monkeypatch.undo()
        letters.font_for.cache_clear()


def test_a_broken_font_has_no_letters(tmp_path: Path) -> None:
    broken = tmp_path / "broken.ttf"
    broken.write_bytes(b"no font at all")
    assert letters.letters_of(letters.Font(broken)) == frozenset()


@pytest.mark.parametrize(("text", "language"), [("富嶽三十六景", "zh"), ("日本の絵", "ja"), ("한국 그림", "ko")])
def test_the_language_chooses_among_shapes(text: str, language: str) -> None:
    assert letters.language_of(text) == language


def _paper() -> Paper:
    paper = Paper("a4", landscape=False, title="Letters", subject="")
    paper.add_page()
    return paper


def test_arabic_letters_join() -> None:
    paper = _paper()
    # Joined, seen and beh are narrower than apart (U+200C parts letters, Unicode 23.2).
    assert paper.width_of("سببس", Face(20)) < paper.width_of("س\u200cب\u200cب\u200cس", Face(20)) * 0.9


def test_devanagari_makes_one_cluster_of_a_conjunct() -> None:
    paper = _paper()
    apart = sum(paper.width_of(letter, Face(20)) for letter in "कष")
    assert paper.width_of("क्ष", Face(20)) < apart * 0.95


@needs_pdftoppm
@pytest.mark.parametrize("size", [14, 9])
def test_a_line_after_one_in_another_script_is_seen(size: float) -> None:
    paper = _paper()
    paper.words("منظر", 20, 20, 100, Face(14))
    paper.words("A landscape", 20, 40, 100, Face(size))
    page = rendered(paper.finish(), 1, 100).min(axis=2)
    assert (page[int(35 * 100 / 25.4) :] < 100).any()


@needs_pdftoppm
def test_text_from_right_to_left_keeps_to_the_right() -> None:
    paper = _paper()
    paper.words("منظر طبيعي", 20, 20, 100, Face(14))
    paper.words("A landscape", 20, 40, 100, Face(14))
    page = rendered(paper.finish(), 1, 100).min(axis=2) < 200
    mm = 100 / 25.4
    upper, lower = page[: int(35 * mm)], page[int(35 * mm) :]
    inked = [np.flatnonzero(part.any(axis=0)) / mm for part in (upper, lower)]
    assert inked[0].max() == pytest.approx(120, abs=1.5)
    assert inked[0].min() > 60
    assert inked[1].min() == pytest.approx(20, abs=1.5)


_MIXED = {
    # Unicode Standard Annex 9, P2 and P3: a paragraph runs as its first letter with a direction does.
    "Hebrew": ("נוף רחב מאוד של", "Rembrandt", True),
    "Arabic": ("منظر طبيعي واسع", "Rembrandt", True),
    "English": ("A wide and quiet view", "נוף רך", False),
}


@needs_pdftoppm
@pytest.mark.parametrize("carried", [False, True], ids=["whole", "carried to another column"])
@pytest.mark.parametrize("kind", _MIXED)
def test_every_line_runs_as_its_paragraph_does(kind: str, carried: bool) -> None:
    paper, face = _paper(), Face(14)
    first, last, backward = _MIXED[kind]
    text, width = f"{first} {last}", paper.width_of(first, face) + 8
    assert paper.height(text, width, face) == pytest.approx(2 * face.line)
    if carried:
        height, rest = paper.words(text, 20, 20, width, face, room=face.line)
        assert paper.words(rest, 20, 20 + height, width, face) == (pytest.approx(face.line), "")
    else:
        paper.words(text, 20, 20, width, face)
    mm = 100 / 25.4
    page = rendered(paper.finish(), 1, 100).min(axis=2) < 200
    second = page[int((20 + face.line) * mm) + 2 : int((20 + 2 * face.line) * mm)]
    inked = np.flatnonzero(second.any(axis=0)) / mm
    assert inked.max() - inked.min() < width - 3
    assert (inked.max() if backward else inked.min()) == pytest.approx(20 + width if backward else 20, abs=1.0)


@needs_pdftoppm
def test_a_stop_after_a_latin_word_stands_on_its_left_in_hebrew() -> None:
    face = Face(14)
    pages = []
    for line in ("Rembrandt.", "Rembrandt"):
        paper = _paper()
        width = paper.width_of("Rembrandt.", face) + 1
        assert paper.height(f"נוף של {line}", width, face) == pytest.approx(2 * face.line)
        paper.words(f"נוף של {line}", 20, 20, width, face)
        page = rendered(paper.finish(), 1, 100).min(axis=2) < 200
        inked = page[int((20 + face.line) * 100 / 25.4) + 2 :]
        pages.append(np.flatnonzero(inked.any(axis=0)))
    stopped, plain = pages
    assert stopped.max() == pytest.approx(plain.max(), abs=1)
    assert stopped.min() < plain.min() - 2


def test_no_font_is_opened_that_no_letter_needs() -> None:
    paper = _paper()
    paper.words("Łódź, Ἑλένη", 20, 20, 100, Face(14))
    fonts = opened(paper.finish()).pages[0]["/Resources"]["/Font"]
    assert all("Gentium" in str(font.get_object()["/BaseFont"]) for font in fonts.values())


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("one\ttwo", "one two"),
        ("one\u2028two", "one two"),
        ("to\u202ethe\u200f right", "tothe right"),
        ("heart\ufe0f", "heart"),
        ("می\u200cخواهم", "می\u200cخواهم"),
    ],
)
def test_signs_without_a_shape_leave_no_box(text: str, expected: str) -> None:
    assert letters.without_ghosts(text) == expected
