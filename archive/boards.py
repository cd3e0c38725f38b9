"""Boards: making them, changing them, and never losing what another person wrote.

    boards = Boards(BoardsFile.open(folder))
    board = boards.make("Light out of the dark", aim="See the one light mass first.")
    board = boards.add(board.board, [leaf_of(archive, "met-436532")])
    board = boards.reword(board.board, board.version, aim="…")

Whoever changes words or leaves names the version that was read.  If somebody else has changed the same text of the same
leaf since, `BoardConflict` is raised: the other version stands, and what was asked for is kept on a board of its own
beside it.  Changes to different things go together.  Adding, moving and removing are asked for by what is meant, not by
a version, and hold however many people do it at once.  A change is on the disk when the method returns.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from archive.board import (
    MOST_LEAVES,
    PLAIN_SHOWING,
    Board,
    BoardsError,
    Leaf,
    Shown,
    checked,
    checked_leaf,
    new_id,
    record_of,
)
from archive.board_beside import kept_already, version_beside
from archive.board_edits import at_least, ordered, titled, with_fields, without
from archive.board_rows import (
    ORDER,
    fields_of,
    insert_board,
    place_of_removed,
    read_board,
    removed_leaves,
    stood_there,
    write_changed,
)
from archive.board_studies import brought_back, is_whole
from archive.boards_file import BoardsFile

if TYPE_CHECKING:
    from archive.store import Archive

MOST_BOARDS = 5000
"""Boards that one file may have."""


def is_on_a_board(file: BoardsFile, study: str) -> bool:
    """Whether a kept study stands on a board."""
    with file.reading() as connection:
        found = connection.execute("SELECT 1 FROM shown_on_boards WHERE study = ? LIMIT 1", (study,)).fetchone()
    return found is not None


class BoardConflict(BoardsError):
    """Two people changed the same; ``current`` is the board as it stands, ``kept`` the board that holds what was asked
    for, ``leaf`` the leaf of it that does, '' where it is not about one."""

    def __init__(self, current: Board, kept: Board, leaf: str = "") -> None:
        super().__init__(
            f"While you wrote, somebody else changed the same on the board “{current.title}”. "
            f"Theirs stands there; yours is kept as the board “{kept.title}”."
        )
        self.current = current
        self.kept = kept
        self.leaf = leaf


@dataclass(frozen=True)
class Summary:
    """A board in a list: how many leaves it has, when it was last changed (UTC), which board it was parted from."""

    board: str
    title: str
    aim: str
    leaves: int
    version: int
    archived: bool
    beside: str
    changed_at: str
    first: tuple[Leaf, ...]


class Boards:
    """All boards of one file; safe to use from several threads."""

    def __init__(self, file: BoardsFile) -> None:
        self._file = file

    # -- looking -----------------------------------------------------------------------------------------

    def count(self, *, archived: bool = False) -> int:
        """How many boards are in use, or put away."""
        with self._file.reading() as connection:
            (count,) = connection.execute("SELECT count(*) FROM boards WHERE archived = ?", (archived,)).fetchone()
        return int(count)

    def summaries(
        self, *, archived: bool = False, first: int = 0, start: int = 0, size: int = MOST_BOARDS
    ) -> list[Summary]:
        """The boards in use, or those put away, the last changed first, with their ``first`` leaves.

        ``start`` leaves out so many of the first ones, ``size`` is how many are given at most.
        """
        with self._file.reading() as connection:
            rows = connection.execute(
                "SELECT boards.*, (SELECT count(*) FROM leaves WHERE leaves.board = boards.board "
                "AND removed_in IS NULL) AS leaves FROM boards WHERE archived = ? "
                "ORDER BY changed_at DESC, board LIMIT ? OFFSET ?",
                (archived, size, start),
            ).fetchall()
            return [
                Summary(
                    row["board"], row["title"], row["aim"], row["leaves"], row["version"], bool(row["archived"]),
                    row["beside"] or "", row["changed_at"],
                    read_board(connection, row["board"]).leaves[:first] if first else (),
                )
                for row in rows
            ]  # fmt: skip

    def summary(self, board: str) -> Summary:
        """One board as it stands in a list.  Raises `NotThereError` when there is none."""
        found = self.get(board)
        with self._file.reading() as connection:
            row = connection.execute("SELECT beside, changed_at FROM boards WHERE board = ?", (board,)).fetchone()
        return Summary(
            found.board, found.title, found.aim, len(found.leaves), found.version, found.archived,
            row["beside"] or "", row["changed_at"], (),
        )  # fmt: skip

    def get(self, board: str) -> Board:
        """The board of that name.  Raises `NotThereError` when there is none."""
        with self._file.reading() as connection:
            return read_board(connection, board)

    def removed(self, board: str) -> list[Leaf]:
        """The leaves that were taken off a board, the last one first; `put_back` takes them in again.

        Those of studies that are deleted are not among them.
        """
        with self._file.reading() as connection:
            return [leaf for leaf in removed_leaves(connection, board) if is_whole(connection, leaf)]

    # -- whole boards ------------------------------------------------------------------------------------

    def make(self, title: str, *, aim: str = "", notes: str = "", task: str = "", leaves: Sequence[Leaf] = ()) -> Board:
        """A new board.  Raises `BoardsError` when a text is too long or the title is empty."""
        return self.take_in(Board(new_id(), title, aim, notes, task, tuple(leaves)))

    def take_in(self, board: Board) -> Board:
        """Keep a board from outside, such as an export; one whose name is taken gets a name of its own."""
        board = checked(board)
        with self._file.writing() as connection:
            taken = connection.execute("SELECT 1 FROM boards WHERE board = ?", (board.board,)).fetchone()
            if taken is not None:
                board = replace(board, board=new_id())
            self._insert(connection, board)
        return board

    def duplicate(self, board: str) -> Board:
        """A copy of a board under the same title, said to be a copy; in use, whether or not the other is."""
        with self._file.writing() as connection:
            there = read_board(connection, board)
            copy = replace(there, board=new_id(), title=titled(there.title, "copy"), version=1, archived=False)
            self._insert(connection, copy)
        return copy

    def put_away(self, board: str, archived: bool = True) -> Board:
        """Take a board out of the list of those in use, or back into it."""
        return self._change(board, lambda there, _: replace(there, archived=archived))

    # -- words -------------------------------------------------------------------------------------------

    def reword(self, board: str, version: int, **texts: str) -> Board:
        """Change title, aim, notes or task; what is not named stays.  Raises `BoardConflict`."""
        return self._reword(board, version, dict(texts), None)

    def change_leaf(self, board: str, leaf: str, version: int, **fields: Any) -> Board:
        """Change note, question, showing or shown of a leaf; what is not named stays.  Raises `BoardConflict`."""
        return self._reword(board, version, fields, leaf)

    # -- leaves ------------------------------------------------------------------------------------------

    def add(self, board: str, leaves: Sequence[Leaf]) -> Board:
        """Put leaves at the end of a board, in their order."""
        fresh = tuple(checked_leaf(leaf) for leaf in leaves)

        def changed(there: Board, _: sqlite3.Connection) -> Board:
            if len(there.leaves) + len(fresh) > MOST_LEAVES:
                message = (
                    f"A board holds up to {MOST_LEAVES} leaves; there is room for {MOST_LEAVES - len(there.leaves)}."
                )
                raise BoardsError(message)
            return replace(there, leaves=there.leaves + fresh)

        return self._change(board, changed)

    def remove(self, board: str, leaf: str) -> Board:
        """Take a leaf off a board; it can be put back.  One that is off already stays off."""
        return self._change(board, lambda there, _: without(there, leaf))

    def put_back(self, board: str, leaf: str) -> Board:
        """Undo a removal: the leaf comes back to where it stood.  Raises `NotThereError` when its study is deleted."""

        def changed(there: Board, connection: sqlite3.Connection) -> Board:
            if place_of_removed(connection, board, leaf) is None:
                return there
            if len(there.leaves) >= MOST_LEAVES:
                message = f"A board holds up to {MOST_LEAVES} leaves, and this one is full."
                raise BoardsError(message)
            return brought_back(connection, there, leaf)

        return self._change(board, changed)

    def move(self, board: str, leaf: str, place: int) -> Board:
        """Move a leaf to a place, counted from 0; a place beyond the ends is the end."""

        def changed(there: Board, _: sqlite3.Connection) -> Board:
            moved = [each for each in there.leaves if each.leaf == leaf]
            others = [each for each in there.leaves if each.leaf != leaf]
            at = max(0, min(place, len(others)))
            return replace(there, leaves=(*others[:at], *moved, *others[at:]))

        return self._change(board, changed)

    def reorder(self, board: str, version: int, order: Sequence[str]) -> Board:
        """Bring the leaves into an order, given by their names as they were at ``version``.

        Leaves that have come since stay at the end.  Raises `BoardConflict` when somebody else has reordered since.
        """
        with self._file.writing() as connection:
            there = at_least(read_board(connection, board), version)
            now = [leaf.leaf for leaf in there.leaves]
            before = stood_there(connection, board, version, ORDER, now)
            wanted = replace(there, leaves=ordered(there.leaves, order))
            touched = [leaf for leaf in order if leaf in before] != [leaf for leaf in before if leaf in order]
            if not touched or wanted == there:
                return there
            if before == now:
                return write_changed(connection, there, wanted)
            kept, _ = self._keep_beside(connection, there, wanted, None)
        raise BoardConflict(there, kept)

    # -- shared ------------------------------------------------------------------------------------------

    def _change(self, board: str, changed: Callable[[Board, sqlite3.Connection], Board]) -> Board:
        with self._file.writing() as connection:
            there = read_board(connection, board)
            return write_changed(connection, there, changed(there, connection))

    def _reword(self, board: str, version: int, fields: Mapping[str, Any], leaf: str | None) -> Board:
        prefix = "" if leaf is None else f"{leaf}/"
        with self._file.writing() as connection:
            there = at_least(read_board(connection, board), version)
            whole = brought_back(connection, there, leaf)
            wanted = with_fields(whole, fields, leaf)
            here, asked = fields_of(whole), fields_of(wanted)
            touched, clash = {}, False
            for name in fields:
                what = prefix + name
                base = stood_there(connection, board, version, what, here[what])
                if asked[what] in (base, here[what]):
                    continue
                touched[name] = fields[name]
                clash = clash or base != here[what]
            if not touched:
                return there
            wanted = with_fields(whole, touched, leaf)
            if not clash:
                done = write_changed(connection, there, wanted)
                # Words for a leaf that was taken off meanwhile are written on it, and it stays off.
                return done if whole is there else write_changed(connection, done, without(done, leaf))
            kept, late = self._keep_beside(connection, there, wanted, leaf)
        raise BoardConflict(there, kept, late)

    def _keep_beside(
        self, connection: sqlite3.Connection, there: Board, wanted: Board, leaf: str | None
    ) -> tuple[Board, str]:
        kept = version_beside(wanted)
        already = kept_already(connection, there.board, kept, leaf)
        if already is not None:
            return already
        self._insert(connection, kept, there.board)
        return kept, leaf or ""

    def _insert(self, connection: sqlite3.Connection, board: Board, beside: str | None = None) -> None:
        (count,) = connection.execute("SELECT count(*) FROM boards").fetchone()
        if count >= MOST_BOARDS:
            message = f"There is room for {MOST_BOARDS:,} boards, and all of it is taken."
            raise BoardsError(message)
        insert_board(connection, board, beside)


def leaf_of(
    archive: Archive,
    work: str,
    *,
    part: tuple[float, float, float, float] | None = None,
    showing: Sequence[str] = PLAIN_SHOWING,
    note: str = "",
    question: str = "",
) -> Leaf:
    """A fresh leaf of a work, or of a part of it, with its source record.  Raises `BoardsError` for an unknown work."""
    return checked_leaf(Leaf(new_id(), (shown_of(archive, work, part),), tuple(showing), note, question))


def shown_of(archive: Archive, work: str, part: tuple[float, float, float, float] | None = None) -> Shown:
    """A work, or a part of it, to be shown on a leaf.  Raises `BoardsError` for an unknown work."""
    found = archive.work(work)
    if found is None:
        message = f"The archive has no work “{work[:80]}”."
        raise BoardsError(message)
    return Shown(work=work, part=part, record=record_of(found))
