"""What a board shows, looked up in an archive and among kept studies."""

from __future__ import annotations

import datetime
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from painting import paint
from PIL import Image
from press.pdf_reading import opened, pictures, squeezed, text

from archive.board import Board, Leaf, Shown
from archive.boards_file import BoardsFile
from archive.errors import ArchiveError
from archive.practice import Kept, Practice
from archive.press import contact, iiif, page, paper, table, words
from archive.press import pictures as press_pictures
from archive.press.content import resolve, resolve_works
from archive.store import Archive
from ingest.reading import read


@pytest.fixture(scope="module")
def boards_file(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BoardsFile]:
    """A file of boards with nothing in it yet."""
    with BoardsFile.open(tmp_path_factory.mktemp("boards")) as kept:
        yield kept


@pytest.fixture(scope="module")
def study(boards_file: BoardsFile, tmp_path_factory: pytest.TempPathFactory) -> Kept:
    """A kept study of one day."""
    drawn = tmp_path_factory.mktemp("study") / "study.png"
    paint("light-mass", 7).convert("L").save(drawn)
    day = datetime.date(2024, 2, 29)
    return Practice(boards_file).keep(read(drawn), nickname="Wren", title="Second try", day=day)


def test_a_work_has_its_record_and_a_plate_for_each_way(archive: Archive) -> None:
    work = archive.work_ids()[0]
    board = Board("b", "One", leaves=(Leaf("l", (Shown(work),), ("two", "painting")),))
    (piece,) = resolve(archive, board).leaves[0].pieces
    found = archive.work(work)
    assert found is not None
    assert piece.record["credit"] == found["credit"]
    assert [plate.showing for plate in piece.plates] == ["two", "painting"]
    assert [plate.name for plate in piece.plates] == [found["map2"], found["painting"]]
    assert (piece.width, piece.height) == (found["display_width"], found["display_height"])
    assert found["sentence"] in piece.plates[0].alt


def test_a_part_is_cut_out_of_every_plate(archive: Archive) -> None:
    shown = Shown(archive.work_ids()[0], part=(0.5, 0.0, 1.0, 0.5))
    (piece,) = resolve(archive, Board("b", "One", leaves=(Leaf("l", (shown,)),))).leaves[0].pieces
    whole = archive.work(shown.work)
    assert whole is not None
    assert (piece.width, piece.height) == (round(whole["display_width"] / 2), round(whole["display_height"] / 2))
    for plate in piece.plates:
        cut = press_pictures.opened(plate)
        assert cut.width / cut.height == pytest.approx(piece.aspect, rel=0.02)
        assert "50" in plate.alt


def test_a_kept_study_goes_on_paper_and_into_the_page_but_not_into_the_manifest(
    archive: Archive, boards_file: BoardsFile, study: Kept
) -> None:
    leaf = Leaf("l", (Shown(study=study.study), Shown(archive.work_ids()[0])), ("painting", "squint", "three"))
    pressed = resolve(archive, Board("b", "Mine and theirs", leaves=(leaf,)), boards_file)
    mine, _ = pressed.leaves[0].pieces
    assert [plate.showing for plate in mine.plates] == ["painting", "three"]
    printed = paper.pdf(pressed)
    assert squeezed("Second try") in text(printed)
    assert squeezed("Wren, 2024-02-29") in text(printed)
    assert len(pictures(opened(printed).pages[0])) == 2 + 3
    assert "Second try" in page.html(pressed)
    assert "data:image/jpeg;base64," in page.html(pressed)
    assert Image.open(io.BytesIO(contact.png(pressed))).format == "PNG"
    assert study.study in table.csv(pressed)
    assert "Wren" not in str(iiif.manifest(pressed, "http://127.0.0.1/"))


def test_what_is_gone_says_so(archive: Archive, boards_file: BoardsFile) -> None:
    record = {"title": "Left", "credit": "Somebody, Left."}
    leaves = (Leaf("a", (Shown("gone-1", record=record),)), Leaf("b", (Shown(study="gone-2"),)))
    gone, forgotten = (
        leaf.pieces[0] for leaf in resolve(archive, Board("b", "Gone", leaves=leaves), boards_file).leaves
    )
    assert (gone.missing, dict(gone.record)) == (words.WITHDRAWN, record)
    assert forgotten.missing == words.NO_STUDY


def test_works_are_asked_for_by_their_ids(archive: Archive) -> None:
    ids = archive.work_ids()[:2]
    assert [piece.work for _, piece in resolve_works(archive, ids, "Two").pieces()] == ids
    with pytest.raises(ArchiveError, match="no work “nobody”"):
        resolve_works(archive, ["nobody"], "None")


def test_a_map_is_redrawn_in_its_own_greys(archive: Archive, small_archive: Path) -> None:
    leaf = Leaf("l", (Shown(archive.work_ids()[0]),), ("three",))
    plate = resolve(archive, Board("b", "One", leaves=(leaf,))).leaves[0].pieces[0].plates[0]
    assert plate.file is not None
    assert plate.file.is_relative_to(small_archive)
    small = press_pictures.opened(plate)
    content, size = press_pictures.for_print(plate, 180.0)
    assert max(size) == round(180 / 25.4 * press_pictures.PRINT_DPI)
    with Image.open(io.BytesIO(content)) as large:
        assert {code for _, code in large.getcolors() or []} <= {code for _, code in small.getcolors() or []}
