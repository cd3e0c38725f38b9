"""What a board shows, looked up in the archive: pictures, records and words, ready for any kind of output."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from archive.board import Board, Leaf, Shown, record_of
from archive.press import words
from archive.store import PICTURES, Archive

if TYPE_CHECKING:
    from archive.boards_file import BoardsFile

COLUMNS = {"painting": "painting", "squint": "squint", "five": "map5", "three": "map3", "two": "map2"}
"""The picture of a work that belongs to each way of showing."""

VALUES = {"five": 5, "three": 3, "two": 2}
"""How many values the maps have."""

STUDY_PICTURES: dict[str, Literal["picture", "map3"]] = {"painting": "picture", "three": "map3"}
"""What is kept of a study; it is shown in those ways alone."""

Part = tuple[float, float, float, float]


@dataclass(frozen=True)
class Plate:
    """One picture as one way of showing wants it.

    ``file`` is where it lies and ``name`` how it is named below ``pictures/``; the picture of a kept study lies in no
    file of its own and is ``held`` instead, with '' for its name.  ``part`` is what of it is shown, as (x0, y0, x1, y1)
    in shares of it, or None for the whole; ``label`` names the way of showing and ``alt`` says what is to be seen.
    """

    showing: str
    file: Path | None
    name: str
    part: Part | None
    label: str
    alt: str
    held: bytes = field(default=b"", repr=False)

    def read(self) -> bytes:
        """The whole picture as a file.  Raises OSError when it cannot be read."""
        return self.held if self.file is None else self.file.read_bytes()


@dataclass(frozen=True)
class Piece:
    """One work, or one kept study, on a leaf.

    ``record`` is its source record by the names of `archive.board.RECORD_FIELDS`; ``width`` and ``height`` are px of
    the display copy of the part that is shown (0 when there is no picture, and ``missing`` says why); ``plates`` follow
    the leaf's ways of showing; ``arrangement`` is the name of the group of works it belongs to, '' for none.
    """

    work: str
    study: str
    record: Mapping[str, str]
    part: Part | None
    width: int
    height: int
    plates: tuple[Plate, ...]
    sentence: str = ""
    arrangement: str = ""
    missing: str = ""

    @property
    def aspect(self) -> float:
        """Width over height; 4:3 when there is no picture."""
        return self.width / self.height if self.width and self.height else 4 / 3

    @property
    def title(self) -> str:
        """The title, or words that say there is none."""
        return self.record.get("title") or (words.STUDY if self.study else words.UNTITLED)


@dataclass(frozen=True)
class PressedLeaf:
    """One leaf, numbered from 1, with one piece or two to compare."""

    number: int
    leaf: str
    pieces: tuple[Piece, ...]
    note: str = ""
    question: str = ""


@dataclass(frozen=True)
class Pressed:
    """A board with everything that its outputs need."""

    board: str
    title: str
    aim: str = ""
    notes: str = ""
    task: str = ""
    leaves: tuple[PressedLeaf, ...] = field(default_factory=tuple)

    def pieces(self) -> Iterator[tuple[PressedLeaf, Piece]]:
        """Every piece with its leaf, in order."""
        for leaf in self.leaves:
            for piece in leaf.pieces:
                yield leaf, piece


def resolve(archive: Archive, board: Board, boards_file: BoardsFile | None = None) -> Pressed:
    """Look everything up that a board shows.

    A work that is no longer in the archive keeps the record that the leaf carries, and says that its picture is
    missing.  Kept studies are looked up in ``boards_file``; without it they are missing too.
    """
    leaves = tuple(
        PressedLeaf(number, leaf.leaf, _pieces(archive, leaf, boards_file), leaf.note, leaf.question)
        for number, leaf in enumerate(board.leaves, 1)
    )
    return Pressed(board.board, board.title, board.aim, board.notes, board.task, leaves)


def resolve_works(archive: Archive, works: Sequence[str], title: str) -> Pressed:
    """Works by their ids as though they were the leaves of a board.  Raises `ArchiveError` for one not known."""
    for work in works:
        archive.caption(work)
    leaves = tuple(Leaf(work, (Shown(work),), ("painting", "three")) for work in works)
    return resolve(archive, Board("works", title, leaves=leaves))


def _pieces(archive: Archive, leaf: Leaf, boards_file: BoardsFile | None) -> tuple[Piece, ...]:
    return tuple(
        _work(archive, shown, leaf.showing) if shown.work else _study(shown, leaf.showing, boards_file)
        for shown in leaf.shown
    )


def _work(archive: Archive, shown: Shown, showing: tuple[str, ...]) -> Piece:
    found = archive.work(shown.work)
    if found is None:
        return Piece(shown.work, "", dict(shown.record), shown.part, 0, 0, (), missing=words.WITHDRAWN)
    record = record_of(found)
    folder = archive.folder / PICTURES
    part = shown.part
    x0, y0, x1, y1 = part or (0.0, 0.0, 1.0, 1.0)
    title = words.named(record)
    plates = tuple(
        Plate(
            way, folder / found[COLUMNS[way]], found[COLUMNS[way]], part, words.WAYS[way], _alt(way, title, found, part)
        )
        for way in showing
        if (folder / found[COLUMNS[way]]).is_file()
    )
    return Piece(
        work=shown.work,
        study="",
        record=record,
        part=part,
        width=max(1, round((x1 - x0) * found["display_width"])),
        height=max(1, round((y1 - y0) * found["display_height"])),
        plates=plates,
        sentence=found["sentence"],
        arrangement=found["arrangement_name"] or "",
        missing="" if plates else words.NO_PICTURE,
    )


def _study(shown: Shown, showing: tuple[str, ...], boards_file: BoardsFile | None) -> Piece:
    from archive.practice import Practice

    practice = Practice(boards_file) if boards_file is not None else None
    kept = practice.get(shown.study) if practice is not None else None
    if practice is None or kept is None:
        return Piece("", shown.study, dict(shown.record), shown.part, 0, 0, (), missing=words.NO_STUDY)
    record = {"title": kept.title or words.STUDY, "artist": kept.nickname, "date": kept.kept_on}
    ways = [way for way in showing if way in STUDY_PICTURES] or ["painting"]
    x0, y0, x1, y1 = shown.part or (0.0, 0.0, 1.0, 1.0)
    plates = []
    for way in ways:
        held = practice.picture(shown.study, STUDY_PICTURES[way])
        if held:
            label = words.STUDY if way == "painting" else words.WAYS[way]
            told = words.ALTS[way].format(title=words.named(record))
            alt = f"{told} {words.part(shown.part) if shown.part else kept.sentence}"
            plates.append(Plate(way, None, "", shown.part, label, alt, held))
    return Piece(
        work="",
        study=shown.study,
        record=record,
        part=shown.part,
        width=max(1, round((x1 - x0) * kept.width)),
        height=max(1, round((y1 - y0) * kept.height)),
        plates=tuple(plates),
        sentence=kept.sentence,
        arrangement=kept.arrangement_name,
        missing="" if plates else words.NO_STUDY,
    )


def _alt(way: str, title: str, found: Mapping[str, Any], part: Part | None) -> str:
    told = words.ALTS[way].format(title=title)
    if part is not None:
        return f"{told} {words.part(part)}"
    return f"{told} {found['sentence']}" if way in VALUES else told
