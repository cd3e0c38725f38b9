"""Boards as PDFs, read by another library and rendered by another program."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from press.conftest import LONG, PAPERS
from press.pdf_reading import (
    elements,
    needs_pdftoppm,
    opened,
    pictures,
    rendered,
    size,
    squeezed,
    text,
)  # fmt: skip

from archive.errors import ArchiveError
from archive.press import words
from archive.press.content import Pressed
from archive.press.paper import FOOT, MARGIN, Printed, pdf, printed
from archive.press.pictures import opened as as_image
from ingest.lightness import grey_code
from ingest.value_map import MAP_LIGHTNESS

Papers = dict[tuple[int, bool], Printed]

# ISO 216 for A4; ANSI/ASME Y14.1 for Letter, 8.5 by 11 inches.
SIZES = {"a4": (210.0, 297.0), "letter": (8.5 * 25.4, 11 * 25.4)}


@pytest.mark.parametrize("page", ["a4", "letter"])
@pytest.mark.parametrize("landscape", [False, True])
def test_pages_are_of_the_size_that_is_asked_for(pressed: Pressed, page: str, landscape: bool) -> None:
    few = replace(pressed, leaves=pressed.leaves[3:4])
    reader = opened(pdf(few, page=page, landscape=landscape, per_page=1))
    expected = SIZES[page][::-1] if landscape else SIZES[page]
    assert all(size(each) == pytest.approx(expected, abs=0.1) for each in reader.pages)


@pytest.mark.parametrize("way", PAPERS)
def test_as_many_leaves_are_on_a_page_as_are_asked_for(papers: Papers, pressed: Pressed, way: tuple[int, bool]) -> None:
    pages = list(opened(papers[way].content).pages)
    wanted = [sum(len(piece.plates) for piece in leaf.pieces) for leaf in pressed.leaves]
    count = way[0]
    expected = [sum(wanted[start : start + count]) for start in range(0, len(wanted), count)]
    assert [len(pictures(page)) for page in pages[: len(expected)]] == expected


def test_a_board_without_leaves_says_so_and_names_no_sources(pressed: Pressed) -> None:
    found = text(pdf(replace(pressed, leaves=())))
    assert squeezed(words.NO_LEAVES) in found
    assert squeezed(words.SOURCES) not in found
    assert squeezed(words.PRINTER_TITLE) in found


def test_another_page_or_number_is_refused_in_words(pressed: Pressed) -> None:
    with pytest.raises(ArchiveError, match="not 'a3'"):
        pdf(pressed, page="a3")
    with pytest.raises(ArchiveError, match="not 3"):
        pdf(pressed, per_page=3)


@pytest.mark.parametrize("way", PAPERS)
def test_every_word_and_every_credit_line_is_there(papers: Papers, pressed: Pressed, way: tuple[int, bool]) -> None:
    found = text(papers[way].content)
    asked = [pressed.title, pressed.aim, *pressed.notes.split("\n"), pressed.task]
    for leaf, piece in pressed.pieces():
        # Letters that are drawn from right to left, or joined, come back in another order from any reader.
        if all(ord(char) < 0x0590 or 0x2000 <= ord(char) < 0x2100 for char in piece.title):
            asked += [words.whole_credit(piece.record), words.holding(piece.record), piece.title]
        asked += [piece.record.get("object_url", ""), leaf.question, leaf.note]
    missing = [each for each in asked if squeezed(each) not in found]
    assert missing == []


def test_a_work_that_is_gone_keeps_its_record(on_paper: Printed) -> None:
    found = text(on_paper.content)
    assert squeezed(words.WITHDRAWN) in found
    assert "BoLeaver,Gone." in found


def test_museum_pages_are_linked(on_paper: Printed, pressed: Pressed) -> None:
    links = {
        note.get_object()["/A"]["/URI"] for page in opened(on_paper.content).pages for note in page.get("/Annots", [])
    }
    wanted = {piece.record["object_url"] for _, piece in pressed.pieces() if piece.record.get("object_url")}
    assert wanted
    assert wanted <= links
    assert all(link.startswith(("http://", "https://")) for link in links)


def test_all_fonts_are_embedded(on_paper: Printed) -> None:
    embedded = set()
    for page in opened(on_paper.content).pages:
        for font in page["/Resources"]["/Font"].values():
            descriptor = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
            assert "/FontFile2" in descriptor or "/FontFile3" in descriptor
            embedded.add(str(font.get_object()["/BaseFont"]).split("+")[-1])
    # The scripts of the board: Latin in three faces, Arabic, Devanagari.
    assert {"GentiumBookPlus", "GentiumBookPlus-Bold", "GentiumBookPlus-Italic"} <= embedded
    assert {"NotoNaskhArabic", "NotoSerifDevanagari"} <= embedded


def test_it_says_its_title_and_language_and_what_its_greys_mean(on_paper: Printed, pressed: Pressed) -> None:
    reader = opened(on_paper.content)
    root = reader.trailer["/Root"]
    assert reader.metadata is not None
    assert reader.metadata.title == pressed.title
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    intent = root["/OutputIntents"][0]
    assert intent["/OutputConditionIdentifier"] == "sRGB IEC61966-2.1"
    # The signature of every ICC profile stands at byte 36 of its header (ICC.1:2022, 7.2).
    assert intent["/DestOutputProfile"].get_data()[36:40] == b"acsp"


def test_every_picture_is_a_figure_with_words_that_stand_for_it(on_paper: Printed, pressed: Pressed) -> None:
    kinds = elements(on_paper.content)
    said = [str(each["/Alt"]) for each in kinds if each["/S"] == "/Figure"]
    wanted = [plate.alt for _, piece in pressed.pieces() for plate in piece.plates]
    assert [alt for alt in said if alt in wanted] == wanted
    assert all(said)
    three = next(plate for plate in pressed.leaves[0].pieces[0].plates if plate.showing == "three")
    assert pressed.leaves[0].pieces[0].sentence in three.alt
    names = [str(each["/S"]) for each in kinds]
    assert names[0] == "/H1"
    assert names.count("/H2") >= sum(len(leaf.pieces) for leaf in pressed.leaves)
    assert "/P" in names


def test_each_mark_on_a_page_belongs_to_one_element(on_paper: Printed) -> None:
    # ISO 32000-1, 14.7.4.4: the parent tree's array of a page is looked up by the marks' numbers, from 0 on.
    reader = opened(on_paper.content)
    numbers = reader.trailer["/Root"]["/StructTreeRoot"]["/ParentTree"]["/Nums"]
    parents = {int(numbers[at]): numbers[at + 1].get_object() for at in range(0, len(numbers), 2)}
    for page in reader.pages:
        for mark, element in enumerate(parents[int(page["/StructParents"])]):
            assert list(element.get_object()["/K"]) == [mark]


def test_the_same_board_gives_the_same_bytes(pressed: Pressed) -> None:
    few = replace(pressed, leaves=pressed.leaves[:2])
    assert pdf(few) == pdf(few)


def test_value_maps_keep_their_plain_greys_and_print_fine(on_paper: Printed, pressed: Pressed) -> None:
    greys = {grey_code(tone) for values in MAP_LIGHTNESS.values() for tone in values}
    maps = 0
    for page in opened(on_paper.content).pages:
        for drawn in pictures(page):
            stored = page["/Resources"]["/XObject"][drawn.name].get_object()
            if stored["/ColorSpace"] != "/DeviceGray" or stored["/Filter"] == "/DCTDecode":
                continue
            codes = np.frombuffer(_lossless(page, drawn.name), dtype=np.uint8)
            if not set(np.unique(codes).tolist()) <= greys:
                continue  # a squinted picture has all greys
            maps += 1
            assert int(stored["/Width"]) / drawn.width * 25.4 >= 200
    showings = [plate.showing for _, piece in pressed.pieces() for plate in piece.plates]
    wanted = sum(1 for showing in showings if showing in ("two", "three", "five"))
    assert maps == wanted


def _lossless(page: object, name: str) -> bytes:
    image = next(image for image in page.images if image.name.startswith(name.strip("/")))  # type: ignore[attr-defined]
    return np.asarray(image.image.convert("L")).tobytes()


def test_paintings_are_printed_as_finely_as_the_archive_has_them(on_paper: Printed, pressed: Pressed) -> None:
    kept = sorted(
        as_image(plate).size for _, piece in pressed.pieces() for plate in piece.plates if plate.showing == "painting"
    )
    found, coarsest = [], 1000.0
    for page in opened(on_paper.content).pages:
        for drawn in pictures(page):
            stored = page["/Resources"]["/XObject"][drawn.name].get_object()
            if stored["/Filter"] == "/DCTDecode":
                assert stored["/ColorSpace"] == "/DeviceRGB"
                found.append((int(stored["/Width"]), int(stored["/Height"])))
                coarsest = min(coarsest, found[-1][0] / drawn.width * 25.4)
                # Its proportions are those of the painting.
                assert drawn.width / drawn.height == pytest.approx(found[-1][0] / found[-1][1], rel=0.01)
    assert sorted(found) == kept
    # The made pictures are 240 px wide; none is blown up beyond 120 dots an inch, and what is under 200 is named.
    assert coarsest >= 119.9
    assert any("120 dpi" in note for note in on_paper.notes)


def test_pictures_of_a_leaf_are_of_one_size(pressed: Pressed) -> None:
    page = opened(pdf(replace(pressed, leaves=pressed.leaves[:1]), per_page=1)).pages[0]
    drawn = pictures(page)
    assert len(drawn) == 5
    assert np.ptp([each.width for each in drawn]) < 0.05
    assert np.ptp([each.height for each in drawn]) < 0.05


@needs_pdftoppm
@pytest.mark.parametrize("way", PAPERS)
def test_nothing_runs_over_the_margins_or_the_foot(papers: Papers, way: tuple[int, bool]) -> None:
    content = papers[way].content
    dpi = 50
    mm = dpi / 25.4
    for number in range(1, len(opened(content).pages) + 1):
        page = rendered(content, number, dpi).min(axis=2)
        side, below = int((MARGIN - 1) * mm), int(9 * mm)
        assert (page[:, :side] == 255).all()
        assert (page[:, -side:] == 255).all()
        assert (page[:below] == 255).all()
        assert (page[-below:] == 255).all()
        # Between the body and the rule of the foot.
        foot = page.shape[0] - int((MARGIN + FOOT - 1) * mm)
        assert (page[foot : foot + int(4 * mm)] == 255).all()


def test_a_letter_that_no_font_has_is_named(pressed: Pressed) -> None:
    # U+E123 is for private use; nobody's font has it.
    odd = replace(pressed, leaves=(), aim="Before \ue123 after")
    made = printed(odd)
    assert any("U+E123" in note for note in made.notes)
    assert "U+E123" in text(made.content)
    assert "Before\ufffdafter" in text(made.content)


def test_text_that_did_not_fit_is_set_in_full_at_the_end(papers: Papers) -> None:
    content = papers[6, False].content
    last = squeezed(" ".join(page.extract_text() for page in list(opened(content).pages)[2:]))
    assert squeezed(LONG.strip(", ")) in last
    assert squeezed("Compare. " * 200) in last


def test_an_empty_board_is_a_page_too() -> None:
    content = pdf(Pressed("b", "Nothing yet"))
    assert "Nothingyet" in text(content)
