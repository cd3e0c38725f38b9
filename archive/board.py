"""A board as pure data: leaves in order, each a work, a part of one, a kept study, or a pair of these to compare.

A board can leave Blotbook as JSON and come back without losing anything::

    written = as_json(board)            # a dict of plain JSON values, with the version of the format
    board == from_json(written)         # True for every board that `checked` lets pass

Everything that comes from outside goes through `checked`: text is composed (NFC) and free of control characters, and
nothing is longer than `LONGEST` says.
"""

from __future__ import annotations

import math
import re
import secrets
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from archive.errors import ArchiveError

SHOWINGS = ("painting", "squint", "five", "three", "two")
"""The ways a leaf can be shown, in the order in which detail falls away."""

PLAIN_SHOWING = ("painting", "three")
"""How a leaf is shown when nothing else is asked for."""

LONGEST = {"title": 200, "aim": 1000, "notes": 20000, "task": 4000, "note": 4000, "question": 1000}
"""Characters that each text of a board or a leaf may have."""

MOST_LEAVES = 200
"""Leaves that a board may have."""

RECORD_FIELDS = (
    "title", "artist", "artist_dates", "date", "medium", "culture", "collection", "accession_number", "object_url",
    "rights", "rights_basis", "credit_line", "credit", "obtained_from",
)  # fmt: skip
"""What of a work's source record goes along with a leaf."""

FORMAT = "blotbook board"
FORMAT_VERSION = 1

_LONGEST_RECORD = 4000
_MOST_RECORD_FIELDS = 40
_LONGEST_ID = 200
_NAME = re.compile(rf"[A-Za-z0-9_-]{{1,{_LONGEST_ID}}}")
"""What a board or a leaf may be called: it goes into addresses, lists with commas and names of changes as it is."""


class BoardsError(ArchiveError):
    """Something is wrong with a board or with what was asked of it; the message is one clear sentence."""


class NotThereError(BoardsError):
    """The board or the leaf that was asked for is not there."""


@dataclass(frozen=True)
class Shown:
    """What a leaf shows: a work (its id in the archive) or a kept study (its id), or a part of either.

    ``part`` is (x0, y0, x1, y1) in shares of the picture, 0..1; None is the whole.  ``record`` is the source record as
    it was when the leaf was made, by the names of `RECORD_FIELDS`, so that the credit stays when the work is withdrawn.
    """

    work: str = ""
    study: str = ""
    part: tuple[float, float, float, float] | None = None
    record: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Leaf:
    """One entry of a board: one picture, or two to compare; ``showing`` is a sequence of `SHOWINGS`."""

    leaf: str
    shown: tuple[Shown, ...]
    showing: tuple[str, ...] = PLAIN_SHOWING
    note: str = ""
    question: str = ""


@dataclass(frozen=True)
class Board:
    """Leaves gathered for a lesson; ``version`` counts its changes, from 1."""

    board: str
    title: str
    aim: str = ""
    notes: str = ""
    task: str = ""
    leaves: tuple[Leaf, ...] = ()
    version: int = 1
    archived: bool = False


def new_id() -> str:
    """A fresh name for a board or a leaf: twelve letters and digits."""
    return secrets.token_hex(6)


def as_json(board: Board) -> dict[str, Any]:
    """The board as plain JSON values."""
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "board": board.board,
        "title": board.title,
        "aim": board.aim,
        "notes": board.notes,
        "task": board.task,
        "version": board.version,
        "archived": board.archived,
        "leaves": [leaf_as_json(leaf) for leaf in board.leaves],
    }


def from_json(written: Any) -> Board:
    """The board that `as_json` wrote.  Raises `BoardsError` with a sentence that says what is wrong with it."""
    if not isinstance(written, Mapping) or written.get("format") != FORMAT:
        message = "This is no board that Blotbook wrote."
        raise BoardsError(message)
    version = written.get("format_version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        message = "The board does not say in which version of its format it is written."
        raise BoardsError(message)
    if version > FORMAT_VERSION:
        message = "The board was written by a newer Blotbook; this one cannot read it."
        raise BoardsError(message)
    leaves = written.get("leaves", [])
    if not isinstance(leaves, list):
        message = "The leaves of the board are no list."
        raise BoardsError(message)
    count = written.get("version", 1)
    if not isinstance(count, int) or isinstance(count, bool) or not 1 <= count < 2**53:
        message = "The version of the board is no whole number from 1 on."
        raise BoardsError(message)
    return checked(
        Board(
            board=_text(written, "board"),
            title=_text(written, "title"),
            aim=_text(written, "aim"),
            notes=_text(written, "notes"),
            task=_text(written, "task"),
            leaves=tuple(leaf_from_json(leaf, f"leaf {number}") for number, leaf in enumerate(leaves, 1)),
            version=count,
            archived=written.get("archived") is True,
        )
    )


def leaf_as_json(leaf: Leaf) -> dict[str, Any]:
    """A leaf as plain JSON values."""
    return {
        "leaf": leaf.leaf,
        "shown": [
            {
                "work": shown.work,
                "study": shown.study,
                "part": list(shown.part) if shown.part else None,
                "record": dict(shown.record),
            }
            for shown in leaf.shown
        ],
        "showing": list(leaf.showing),
        "note": leaf.note,
        "question": leaf.question,
    }


def leaf_from_json(written: Any, called: str = "the leaf") -> Leaf:
    """The leaf that `leaf_as_json` wrote; errors name it as it is ``called``.  It is not yet `checked_leaf`."""
    shown = written.get("shown") if isinstance(written, Mapping) else None
    if not isinstance(shown, list) or not all(isinstance(each, Mapping) for each in shown):
        message = f"In {called} it is not said what is shown."
        raise BoardsError(message)
    showing = written.get("showing", list(PLAIN_SHOWING))
    if not isinstance(showing, list):
        message = f"In {called} the ways of showing are no list."
        raise BoardsError(message)
    return Leaf(
        leaf=_text(written, "leaf"),
        shown=tuple(
            Shown(_text(each, "work"), _text(each, "study"), _part(each.get("part"), called), _record(each, called))
            for each in shown
        ),
        showing=tuple(str(way) for way in showing),
        note=_text(written, "note"),
        question=_text(written, "question"),
    )


def checked(board: Board) -> Board:
    """The board with its text cleaned.  Raises `BoardsError` when something in it is missing, wrong or too long."""
    if not _NAME.fullmatch(board.board):
        message = "The board has no name as Blotbook gives them, of letters and digits."
        raise BoardsError(message)
    if len(board.leaves) > MOST_LEAVES:
        message = f"A board holds up to {MOST_LEAVES} leaves, and this would be {len(board.leaves)}."
        raise BoardsError(message)
    if len({leaf.leaf for leaf in board.leaves}) < len(board.leaves):
        message = "Two leaves of the board have the same name."
        raise BoardsError(message)
    texts = {name: checked_text(name, getattr(board, name)) for name in ("title", "aim", "notes", "task")}
    return replace(board, **texts, leaves=tuple(checked_leaf(leaf) for leaf in board.leaves))  # type: ignore[arg-type]


def checked_leaf(leaf: Leaf) -> Leaf:
    """The leaf with its text cleaned.  Raises `BoardsError`, as `checked` does."""
    if not _NAME.fullmatch(leaf.leaf):
        message = "A leaf has no name as Blotbook gives them, of letters and digits."
        raise BoardsError(message)
    if not 1 <= len(leaf.shown) <= 2:
        message = "A leaf shows one picture, or two to compare."
        raise BoardsError(message)
    return replace(
        leaf,
        shown=tuple(_checked_shown(shown) for shown in leaf.shown),
        showing=checked_showing(leaf.showing),
        note=checked_text("note", leaf.note),
        question=checked_text("question", leaf.question),
    )


def checked_text(name: str, text: str) -> str:
    """A text of a board or leaf, cleaned.  A title is one line and is not empty; the others may be anything.

    Raises `BoardsError` when it is longer than `LONGEST` allows, or a title is empty.
    """
    clean = _clean(text)
    if name == "title":
        clean = " ".join(clean.split())
        if not clean:
            message = "A board needs a title."
            raise BoardsError(message)
    if len(clean) > LONGEST[name]:
        message = f"The {name} may have up to {LONGEST[name]:,} characters, and this has {len(clean):,}."
        raise BoardsError(message)
    return clean


def checked_showing(showing: Sequence[str]) -> tuple[str, ...]:
    """Ways of showing.  Raises `BoardsError` when there is none, one is unknown, or one comes twice."""
    unknown = next((way for way in showing if way not in SHOWINGS), None)
    if unknown is not None:
        message = f"A leaf can be shown as {', '.join(SHOWINGS)}, and not as “{unknown[:40]}”."
        raise BoardsError(message)
    if not showing or len(set(showing)) < len(showing):
        message = "A leaf is shown in at least one way, and in each way once."
        raise BoardsError(message)
    return tuple(showing)


def record_of(work: Mapping[str, Any]) -> dict[str, str]:
    """What a leaf keeps of a work's source record; ``work`` is a row as `archive.store.Archive.work` gives it."""
    return {name: str(work[name]) for name in RECORD_FIELDS if work.get(name)}


def _checked_shown(shown: Shown) -> Shown:
    if bool(shown.work) == bool(shown.study) or max(len(shown.work), len(shown.study)) > _LONGEST_ID:
        message = "What a leaf shows is either a work or a kept study."
        raise BoardsError(message)
    if any(unicodedata.category(char) in ("Cc", "Cs") for char in shown.work + shown.study):
        message = "What a leaf shows has a name that no work and no kept study has."
        raise BoardsError(message)
    if shown.part is not None:
        x0, y0, x1, y1 = shown.part
        if not (all(map(math.isfinite, shown.part)) and 0 <= x0 < x1 <= 1 and 0 <= y0 < y1 <= 1):
            message = "A part of a picture is given by left, top, right and bottom, each from 0 to 1."
            raise BoardsError(message)
    if len(shown.record) > _MOST_RECORD_FIELDS:
        message = f"A record has up to {_MOST_RECORD_FIELDS} fields."
        raise BoardsError(message)
    record = {_clean(name)[:_LONGEST_ID]: _clean(text) for name, text in shown.record.items()}
    if any(len(text) > _LONGEST_RECORD for text in record.values()):
        message = f"A field of a record may have up to {_LONGEST_RECORD:,} characters."
        raise BoardsError(message)
    return replace(shown, record=record)


def _clean(text: str) -> str:
    """Composed form, lines parted by a newline, no other control characters and no lone surrogates."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    kept = "".join(char for char in lines if char in "\n\t" or unicodedata.category(char) not in ("Cc", "Cs"))
    return unicodedata.normalize("NFC", kept).strip()


def _text(written: Mapping[str, Any], name: str) -> str:
    text = written.get(name, "")
    if not isinstance(text, str):
        message = f"In the board, {name} is no text."
        raise BoardsError(message)
    return text


def _part(part: Any, called: str) -> tuple[float, float, float, float] | None:
    if part is None:
        return None
    numbers = part if isinstance(part, (list, tuple)) else ()
    if len(numbers) != 4 or any(isinstance(n, bool) or not isinstance(n, (int, float)) for n in numbers):
        message = f"In {called} the part is not four numbers."
        raise BoardsError(message)
    try:
        x0, y0, x1, y1 = (float(number) for number in numbers)
    except OverflowError as error:
        # JSON sets no bound to a whole number.
        message = f"In {called} a number of the part is too large."
        raise BoardsError(message) from error
    return x0, y0, x1, y1


def _record(shown: Mapping[str, Any], called: str) -> dict[str, str]:
    record = shown.get("record") or {}
    if not isinstance(record, Mapping) or not all(isinstance(text, str) for text in record.values()):
        message = f"In {called} the record is not made of texts."
        raise BoardsError(message)
    return {str(name): text for name, text in record.items()}
