"""Practice sheets, study sheets and cards to sort."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from press.pdf_reading import Drawn, elements, opened, pictures, rectangles, size, squeezed, text

from archive.command import main
from archive.errors import ArchiveError
from archive.press import practice, sorting, words
from archive.press.content import Pressed, resolve_works
from archive.press.panels import formats_of, in_words, read_format, values_of
from archive.store import Archive


def outlines(content: bytes, at: int = 0) -> list[Drawn]:
    """The panels of a page: the outlined rectangles that are higher than a field of the scale."""
    return [each for each in rectangles(opened(content).pages[at], filled=False) if each.height > 20]


@pytest.mark.parametrize("per_page", [1, 2, 4, 6])
@pytest.mark.parametrize("landscape", [False, True])
def test_a_sheet_has_as_many_panels_as_asked_for(per_page: int, landscape: bool) -> None:
    content = practice.sheet(page="letter", landscape=landscape, per_page=per_page)
    reader = opened(content)
    assert len(reader.pages) == 1
    assert size(reader.pages[0]) == pytest.approx((279.4, 215.9) if landscape else (215.9, 279.4), abs=0.1)
    panels = outlines(content)
    assert len(panels) == per_page
    for one in panels:
        for other in panels:
            apart = (
                one is other or one.x + one.width + 11 < other.x or other.x + other.width + 11 < one.x
                or one.y + one.height + 11 < other.y or other.y + other.height + 11 < one.y
            )  # fmt: skip
            assert apart, "the tapes of two panels overlap"


@pytest.mark.parametrize("values", [2, 3])
def test_a_sheet_says_the_steps_and_the_cautions(values: int) -> None:
    found = text(practice.sheet(values=values))
    for told in (*words.STEPS[values], words.CAUTIONS, words.SCALE_SAY, words.NOTES):
        assert squeezed(told) in found


def test_a_board_in_two_values_is_practised_in_two(archive: Archive) -> None:
    pressed = resolve_works(archive, archive.work_ids()[:2], "Two")

    def shown(*ways: str) -> Pressed:
        (plate, *_) = pressed.leaves[0].pieces[0].plates
        piece = replace(pressed.leaves[0].pieces[0], plates=tuple(replace(plate, showing=way) for way in ways))
        return replace(pressed, leaves=(replace(pressed.leaves[0], pieces=(piece,)),))

    assert values_of(shown("painting", "two")) == 2
    assert values_of(shown("painting", "squint", "three", "two")) == 3
    assert values_of(shown("painting")) == 3


def test_panels_have_the_formats_of_works(archive: Archive) -> None:
    pressed = resolve_works(archive, archive.work_ids()[:3], "Three")
    content = practice.sheet(formats_of(pressed), per_page=4)
    aspects = [piece.aspect for _, piece in pressed.pieces()]
    assert [panel.width / panel.height for panel in outlines(content)] == pytest.approx(aspects, rel=0.01)
    for _, piece in pressed.pieces():
        assert squeezed(words.whole_credit(piece.record)) in text(content)


@pytest.mark.parametrize(
    ("written", "aspect", "said"),
    [
        ("4:3", 4 / 3, "4 : 3"),
        ("2x3", 2 / 3, "2 : 3"),
        ("1.5", 1.5, "3 : 2"),
        ("5/4", 1.25, "5 : 4"),
        ("1", 1.0, "1 : 1"),
        ("16:9", 16 / 9, "16 : 9"),
        ("2.35", 2.35, "≈ 7 : 3"),
    ],
)
def test_formats_are_read_as_people_write_them(written: str, aspect: float, said: str) -> None:
    assert read_format(written).aspect == pytest.approx(aspect)
    assert read_format(written).label == said


@pytest.mark.parametrize("written", ["", "wide", "4:0", "9:1", "-4:3", "nan"])
def test_what_is_no_format_is_refused_in_words(written: str) -> None:
    with pytest.raises(ArchiveError, match="format"):
        read_format(written)


def test_a_format_that_is_only_near_whole_numbers_says_so() -> None:
    assert in_words(1.35).startswith("≈")


@pytest.mark.parametrize("landscape", [False, True])
def test_a_study_sheet_has_a_panel_as_large_as_the_painting(pressed: Pressed, landscape: bool) -> None:
    content = practice.study_sheets(pressed, landscape=landscape)
    pages = list(opened(content).pages)
    shown = [piece for _, piece in pressed.pieces() if piece.plates]
    for at, piece in enumerate(shown):
        (painting,) = pictures(pages[at])
        alike = [
            each
            for each in outlines(content, at)
            if (each.width, each.height) == pytest.approx((painting.width, painting.height), abs=0.3)
        ]
        # The frame of the painting, and the empty panel apart from it.
        assert any(
            abs(each.x - painting.x) > painting.width or abs(each.y - painting.y) > painting.height for each in alike
        )
        assert painting.width / painting.height == pytest.approx(piece.aspect, rel=0.01)
    found = text(content)
    for piece in shown[:2]:
        assert squeezed(words.holding(piece.record)) in found


def test_a_drawing_below_its_painting_begins_at_the_same_line(archive: Archive) -> None:
    wide = max(archive.work_ids(), key=lambda work: resolve_works(archive, [work], "W").leaves[0].pieces[0].aspect)
    content = practice.study_sheets(resolve_works(archive, [wide], "Wide"), landscape=False)
    (painting,) = pictures(opened(content).pages[0])
    below = [each for each in outlines(content) if each.y > painting.y + painting.height]
    assert [each.x for each in below] == pytest.approx([painting.x], abs=0.1)


def test_study_sheets_have_one_or_two_works_to_a_page(pressed: Pressed) -> None:
    two = opened(practice.study_sheets(replace(pressed, leaves=pressed.leaves[3:6]), per_page=2, landscape=False))
    assert [len(pictures(page)) for page in two.pages] == [2, 1]
    with pytest.raises(ArchiveError, match="1 or 2"):
        practice.study_sheets(pressed, per_page=4)
    with pytest.raises(ArchiveError, match="no picture"):
        practice.study_sheets(replace(pressed, leaves=pressed.leaves[-1:]))


def test_cards_keep_their_answers_for_the_last_page(archive: Archive) -> None:
    pressed = resolve_works(archive, archive.work_ids(), "All")
    content = sorting.pdf(pressed)
    pages = list(opened(content).pages)
    laid = sorting.cards(pressed)
    cards = [page for page in pages if pictures(page)]
    assert sum(len(pictures(page)) for page in cards) == len(archive.work_ids())
    before = squeezed(" ".join(page.extract_text() for page in cards))
    after = squeezed(" ".join(page.extract_text() for page in pages[len(cards) :]))
    for card in laid:
        assert squeezed(card.piece.record["title"]) not in before
        assert squeezed(words.whole_credit(card.piece.record)) in after
    said = " ".join(str(each.get("/Alt", "")) for each in elements(content))
    assert all(f"Card {card.letter}. {card.piece.sentence}" in said for card in laid)
    for name, pile in sorting.heaps(laid):
        assert {card.piece.arrangement for card in pile} == {name}
        told = words.SORT_HEAP.format(name=name or words.SORT_ALONE, letters=", ".join(card.letter for card in pile))
        assert squeezed(told) in after


def test_cards_ask_to_be_printed_on_one_side(archive: Archive) -> None:
    content = sorting.pdf(resolve_works(archive, archive.work_ids(), "All"))
    # ISO 32000-1, table 150: what a print dialogue begins with.
    assert opened(content).trailer["/Root"]["/ViewerPreferences"]["/Duplex"] == "/Simplex"
    assert "one side of the paper only" in opened(content).pages[0].extract_text().replace("\n", " ")
    assert "/Duplex" not in opened(practice.sheet()).trailer["/Root"]["/ViewerPreferences"]


def test_cards_are_shuffled_and_always_alike(archive: Archive) -> None:
    ids = archive.work_ids()
    order = [card.piece.work for card in sorting.cards(resolve_works(archive, ids, "All"))]
    assert sorted(order) == sorted(ids)
    assert order != ids
    assert order == [card.piece.work for card in sorting.cards(resolve_works(archive, ids[::-1], "All"))]
    with pytest.raises(ArchiveError, match="nothing to sort"):
        sorting.pdf(resolve_works(archive, ids[:1], "One"))


def test_a_letter_that_no_font_has_is_named_on_every_kind_of_sheet(pressed: Pressed) -> None:
    leaves = [
        replace(leaf, pieces=tuple(replace(piece, record={"title": "Odd \ue123"}) for piece in leaf.pieces))
        for leaf in pressed.leaves[:2]
    ]
    odd = replace(pressed, leaves=tuple(leaves))
    for content in (practice.sheet(formats_of(odd)), practice.study_sheets(odd), sorting.pdf(odd)):
        assert "U+E123" in text(content)


def test_letters_go_on_after_z() -> None:
    assert [sorting._letter(at) for at in (0, 25, 26, 27, 52)] == ["A", "Z", "AA", "AB", "BA"]


def test_the_command_writes_sheets(small_archive: Path, archive: Archive, tmp_path: Path) -> None:
    first, second, *_ = archive.work_ids()
    for asked in (
        ["panels", "--format", "3:2", "--per-page", "2"],
        ["panels", first, "--archive", str(small_archive)],
        ["study", first, "--archive", str(small_archive), "--landscape"],
        ["sort", first, second, "--archive", str(small_archive), "--page", "letter"],
    ):
        made = CliRunner().invoke(main, ["practice", *asked, "-o", str(tmp_path / "sheet.pdf")])
        assert made.exit_code == 0, made.output
        assert opened((tmp_path / "sheet.pdf").read_bytes()).pages


@pytest.mark.parametrize(
    ("asked", "code", "told"),
    [
        (["panels", "--format", "much"], 1, "is no format"),
        (["panels", "somebody"], 2, "--archive is needed"),
        (["study", "nobody", "--archive", "{archive}"], 1, "no work “nobody”"),
    ],
)
def test_the_command_says_what_is_wrong(
    small_archive: Path, tmp_path: Path, asked: list[str], code: int, told: str
) -> None:
    written = [each.format(archive=small_archive) for each in asked]
    made = CliRunner().invoke(main, ["practice", *written, "-o", str(tmp_path / "sheet.pdf")])
    assert made.exit_code == code
    assert told in made.output
    assert "Traceback" not in made.output
    assert not (tmp_path / "sheet.pdf").exists()
