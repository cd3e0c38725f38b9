"""Boards: round trips, changes that go together, changes that clash, removals that are undone, bounds."""

from __future__ import annotations

import itertools
import json
import sqlite3
import string
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive import board_rows
from archive.board import (
    FORMAT_VERSION,
    LONGEST,
    MOST_LEAVES,
    SHOWINGS,
    Board,
    BoardsError,
    Leaf,
    Shown,
    as_json,
    checked,
    from_json,
    new_id,
)
from archive.boards import BoardConflict, Boards, leaf_of
from archive.boards_file import BOARDS, BoardsFile
from archive.boards_schema import VERSION
from archive.store import Archive

TEXT = st.text(st.characters(exclude_categories=("Cs",)), max_size=60)
RECORD = {"title": "Größe „Ä“", "artist": "王翬", "credit": "Somebody.", "rights": "https://example.org/free"}


def a_leaf(work: str = "made-00", **fields: Any) -> Leaf:
    return replace(Leaf(new_id(), (Shown(work=work, record=RECORD),)), **fields)


@st.composite
def some_board(draw: st.DrawFn) -> Board:
    def part() -> tuple[float, float, float, float] | None:
        x = sorted(draw(st.lists(st.floats(0, 1), min_size=2, max_size=2, unique=True)))
        y = sorted(draw(st.lists(st.floats(0, 1), min_size=2, max_size=2, unique=True)))
        return draw(st.sampled_from([None, (x[0], y[0], x[1], y[1])]))

    def shown() -> Shown:
        name = draw(st.text(string.ascii_lowercase, min_size=1, max_size=9))
        record = draw(st.dictionaries(st.sampled_from(sorted(RECORD)), TEXT))
        return Shown(name, "", part(), record) if draw(st.booleans()) else Shown("", name, part(), record)

    leaves = tuple(
        Leaf(
            f"{number:x}",
            tuple(shown() for _ in range(draw(st.integers(1, 2)))),
            tuple(draw(st.lists(st.sampled_from(SHOWINGS), min_size=1, max_size=5, unique=True))),
            draw(TEXT),
            draw(TEXT),
        )
        for number in range(draw(st.integers(0, 3)))
    )
    title = "T" + draw(TEXT)
    return Board("b", title, draw(TEXT), draw(TEXT), draw(TEXT), leaves, draw(st.integers(1, 99)), draw(st.booleans()))


@pytest.fixture
def boards(tmp_path: Path) -> Iterator[Boards]:
    with BoardsFile.open(tmp_path) as file:
        yield Boards(file)


@given(some_board())
def test_a_board_comes_back_from_its_export_as_it_was(board: Board) -> None:
    kept = checked(board)
    assert checked(kept) == kept
    assert from_json(json.loads(json.dumps(as_json(kept)))) == kept


def test_a_board_comes_back_from_the_file_as_it_was(boards: Boards) -> None:
    pair = Leaf(
        new_id(), (Shown(work="a", part=(0.25, 0, 1, 0.5)), Shown(study="s")), ("two", "painting"), "n\nm", "q?"
    )
    board = boards.take_in(Board(new_id(), "Licht · ひかり", "aim", "notes", "task", (a_leaf(), pair), 7, True))
    assert boards.get(board.board) == board
    again = boards.take_in(board)
    assert again.board != board.board
    assert replace(again, board=board.board) == board


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"format": "other"}, "no board"),
        ({"format_version": FORMAT_VERSION + 1}, "newer"),
        ({"format_version": True}, "version"),
        ({"version": 0}, "version"),
        ({"title": 7}, "title"),
        ({"title": " "}, "title"),
        ({"title": "x" * (LONGEST["title"] + 1)}, "200"),
        ({"board": ""}, "name"),
        ({"leaves": {}}, "list"),
        ({"leaves": [{"leaf": "a"}]}, "leaf 1"),
        ({"leaves": [{"leaf": "a", "shown": []}]}, "two to compare"),
        ({"leaves": [{"leaf": "a", "shown": [{"work": "w", "study": "s"}]}]}, "either"),
        ({"leaves": [{"leaf": "a", "shown": [{"work": "w", "part": [0, 0, 2, 1]}]}]}, "0 to 1"),
        ({"leaves": [{"leaf": "a", "shown": [{"work": "w", "part": [0, 0, True, 1]}]}]}, "four numbers"),
        ({"leaves": [{"leaf": "a", "shown": [{"work": "w", "part": [0, 0, float("nan"), 1]}]}]}, "0 to 1"),
        ({"leaves": [{"leaf": "a", "shown": [{"work": "w", "part": [0, 0, 10**400, 1]}]}]}, "too large"),
        ({"leaves": [{"leaf": "a", "shown": [{"work": "w", "record": {"title": 3}}]}]}, "texts"),
        ({"leaves": [{"leaf": "a", "shown": [{"work": "w"}], "showing": ["four"]}]}, "four"),
        ({"leaves": [{"leaf": "a", "shown": [{"work": "w"}], "showing": []}]}, "at least one"),
        ({"leaves": [{"leaf": "a", "shown": [{"work": "w"}]}] * 2}, "same name"),
        # Pages of these could not be reached, or the file of boards not hold them.
        *(({"board": name}, "letters and digits") for name in ("..", "a.json", "a/b", "a\n", "\x00", "\ud800")),
        *(
            ({"leaves": [{"leaf": name, "shown": [{"work": "w"}]}]}, "letters and digits")
            for name in ("a,b", "a/note", "a\r\nb", "\ud800")
        ),
        ({"leaves": [{"leaf": "a", "shown": [{"work": "\ud800"}]}]}, "no work and no kept study"),
        ({"leaves": [{"leaf": "a", "shown": [{"study": "s\x00"}]}]}, "no work and no kept study"),
    ],
)
def test_what_is_no_board_is_said_in_a_sentence(change: dict[str, Any], said: str) -> None:
    written = as_json(Board("b", "A board")) | change
    with pytest.raises(BoardsError, match=said) as caught:
        from_json(written)
    assert str(caught.value).endswith(".")


@pytest.mark.parametrize("written", [None, 3, "board", [], {}, {"format": "blotbook board"}])
def test_other_json_is_no_board(written: Any) -> None:
    with pytest.raises(BoardsError):
        from_json(written)


def test_changes_to_different_things_go_together(boards: Boards) -> None:
    board = boards.make("Evening class", leaves=[a_leaf(), a_leaf()])
    first, second = (leaf.leaf for leaf in board.leaves)
    boards.reword(board.board, board.version, aim="See the large shapes")
    boards.change_leaf(board.board, first, board.version, note="the gate")
    boards.change_leaf(board.board, first, board.version, question="Where is the light?")
    boards.change_leaf(board.board, second, board.version, showing=("two",))
    # A form sends all of its fields; what its writer did not touch must not take back what others wrote.
    after = boards.reword(board.board, board.version, title=board.title, aim=board.aim, notes="Bring charcoal")
    assert (after.aim, after.notes) == ("See the large shapes", "Bring charcoal")
    assert [(leaf.note, leaf.question, leaf.showing) for leaf in after.leaves] == [
        ("the gate", "Where is the light?", board.leaves[0].showing),
        ("", "", ("two",)),
    ]
    assert len(boards.summaries()) == 1


def test_of_a_clash_both_versions_are_kept(boards: Boards) -> None:
    board = boards.make("Evening class", aim="old", leaves=[a_leaf()])
    theirs = boards.reword(board.board, board.version, aim="theirs")
    with pytest.raises(BoardConflict) as caught:
        boards.reword(board.board, board.version, aim="mine", notes="my notes")
    assert boards.get(board.board) == theirs == caught.value.current
    kept = boards.get(caught.value.kept.board)
    assert (kept.aim, kept.notes, kept.leaves) == ("mine", "my notes", board.leaves)
    assert {summary.board: summary.beside for summary in boards.summaries()}[kept.board] == board.board
    assert kept.title in str(caught.value)
    assert theirs.title in str(caught.value)


def test_two_who_write_the_same_do_not_clash(boards: Boards) -> None:
    board = boards.make("Evening class")
    boards.reword(board.board, 1, aim="the same")
    assert boards.reword(board.board, 1, aim="the same").version == 2


def test_words_for_a_leaf_that_somebody_removed_are_kept_on_it(boards: Boards) -> None:
    board = boards.make("Evening class", leaves=[a_leaf(), a_leaf(), a_leaf()])
    middle = board.leaves[1].leaf
    boards.remove(board.board, middle)
    written = boards.change_leaf(board.board, middle, board.version, note="but it is the best")
    assert [leaf.leaf for leaf in written.leaves] == [board.leaves[0].leaf, board.leaves[2].leaf]
    assert boards.count() == 1, "nobody wrote anything else there"
    assert boards.change_leaf(board.board, middle, board.version, note="but it is the best") == written
    # Who wrote something else on it clashes, as on a leaf that is there.
    with pytest.raises(BoardConflict) as caught:
        boards.change_leaf(board.board, middle, board.version, note="the worst")
    assert [leaf.note for leaf in caught.value.kept.leaves] == ["", "the worst", ""]
    assert caught.value.leaf == middle
    back = boards.put_back(board.board, middle)
    assert [leaf.note for leaf in back.leaves] == ["", "but it is the best", ""]


def test_words_that_come_too_late_for_leaves_are_gathered_on_one_board(
    boards: Boards, monkeypatch: pytest.MonkeyPatch
) -> None:
    board = boards.make("Evening class", leaves=[a_leaf(), a_leaf()])
    first, second = (leaf.leaf for leaf in board.leaves)
    boards.change_leaf(board.board, first, board.version, note="theirs")
    boards.change_leaf(board.board, second, board.version, note="theirs as well")

    def late(leaf: str, **fields: Any) -> BoardConflict:
        with pytest.raises(BoardConflict) as caught:
            boards.change_leaf(board.board, leaf, board.version, **fields)
        return caught.value

    clashes = [late(first, note=f"by {number}") for number in range(4)]
    clashes.append(late(second, note="on the other"))
    assert len({clash.kept.board for clash in clashes}) == 1
    assert boards.count() == 2
    kept = boards.get(clashes[0].kept.board)
    notes = {leaf.leaf: leaf.note for leaf in kept.leaves}
    assert list(notes.values()) == ["by 0", "by 1", "by 2", "by 3", "theirs as well", "on the other"]
    assert [notes[clash.leaf] for clash in clashes] == ["by 0", "by 1", "by 2", "by 3", "on the other"]
    assert late(first, note="by 2").leaf == clashes[2].leaf, "the very same is kept once"
    assert boards.get(kept.board) == kept
    # A leaf that has come since stands at the end of it.
    fresh = boards.add(board.board, [a_leaf()])
    third = fresh.leaves[-1].leaf
    boards.change_leaf(board.board, third, fresh.version, note="theirs")
    with pytest.raises(BoardConflict) as caught:
        boards.change_leaf(board.board, third, fresh.version, note="on the third")
    assert caught.value.kept.leaves[-1].note == "on the third"
    # A full one, and one that somebody has gone on with, are left alone.
    monkeypatch.setattr("archive.board_beside.MOST_LEAVES", 7)
    assert late(first, note="by 5").kept.board != kept.board
    monkeypatch.undo()
    gone_on = boards.reword(late(first, note="by 6").kept.board, 1, title="Ours now")
    assert late(first, note="by 7").kept.board not in (gone_on.board, board.board)


def test_leaves_are_removed_and_come_back_to_their_place(boards: Boards) -> None:
    board = boards.make("Evening class", leaves=[a_leaf(note=str(number)) for number in range(4)])
    names = [leaf.leaf for leaf in board.leaves]
    boards.remove(board.board, names[2])
    boards.remove(board.board, names[0])
    assert [leaf.leaf for leaf in boards.removed(board.board)] == [names[0], names[2]]
    assert boards.remove(board.board, names[0]).version == 3
    boards.put_back(board.board, names[0])
    assert boards.put_back(board.board, names[2]).leaves == board.leaves
    assert boards.removed(board.board) == []
    assert boards.put_back(board.board, names[2]).version == 5


def test_leaves_are_moved_and_reordered(boards: Boards) -> None:
    board = boards.make("Evening class", leaves=[a_leaf() for _ in range(4)])
    a, b, c, d = (leaf.leaf for leaf in board.leaves)

    def order(changed: Board) -> list[str]:
        return [leaf.leaf for leaf in changed.leaves]

    assert order(boards.move(board.board, a, 1)) == [b, a, c, d]
    assert order(boards.move(board.board, a, 99)) == [b, c, d, a]
    assert order(boards.move(board.board, a, -1)) == [a, b, c, d]
    now = boards.get(board.board)
    added = boards.add(board.board, [a_leaf()])
    new = added.leaves[-1].leaf
    assert order(boards.reorder(board.board, now.version, [d, c, b, a])) == [d, c, b, a, new]
    with pytest.raises(BoardConflict) as caught:
        boards.reorder(board.board, now.version, [b, a, c, d])
    assert order(boards.get(board.board)) == [d, c, b, a, new]
    assert order(boards.get(caught.value.kept.board)) == [b, a, c, d, new]
    count = boards.count()
    with pytest.raises(BoardConflict) as again:
        boards.reorder(board.board, now.version, [b, a, c, d])
    assert again.value.kept.board == caught.value.kept.board, "the very same is kept once"
    assert boards.count() == count
    with pytest.raises(BoardConflict) as other:
        boards.reorder(board.board, now.version, [b, a, d, c])
    assert order(boards.get(other.value.kept.board)) == [b, a, d, c, new]
    assert boards.count() == count + 1
    assert order(boards.reorder(board.board, now.version, [a, b, c, d])) == [d, c, b, a, new]
    assert [leaf.leaf for leaf in boards.get(board.board).leaves] == [d, c, b, a, new]


def test_boards_are_copied_and_put_away(boards: Boards, monkeypatch: pytest.MonkeyPatch) -> None:
    # The clock ticks in thousandths of a second, and changes of one thousandth have no order.
    ticks = itertools.count()
    monkeypatch.setattr(board_rows, "now", lambda: f"2026-01-01T00:00:{next(ticks):02}.000Z")
    board = boards.make("Evening class", leaves=[a_leaf(note="n")])
    copy = boards.duplicate(board.board)
    assert (copy.title, copy.leaves) == ("Evening class (copy)", board.leaves)
    boards.remove(copy.board, copy.leaves[0].leaf)
    assert boards.get(board.board) == board
    assert boards.put_away(board.board).archived
    assert [summary.board for summary in boards.summaries()] == [copy.board]
    assert [summary.board for summary in boards.summaries(archived=True)] == [board.board]
    assert not boards.put_away(board.board, False).archived
    assert boards.summaries(first=2)[0].first == board.leaves


def test_boards_have_bounds(boards: Boards, monkeypatch: pytest.MonkeyPatch) -> None:
    board = boards.make("Full", leaves=[a_leaf() for _ in range(MOST_LEAVES)])
    with pytest.raises(BoardsError, match="up to 200"):
        boards.add(board.board, [a_leaf()])
    boards.remove(board.board, board.leaves[3].leaf)
    boards.add(board.board, [a_leaf()])
    with pytest.raises(BoardsError, match="full"):
        boards.put_back(board.board, board.leaves[3].leaf)
    with pytest.raises(BoardsError, match="20,000"):
        boards.reword(board.board, 1, notes="x" * 20001)
    monkeypatch.setattr("archive.boards.MOST_BOARDS", 1)
    with pytest.raises(BoardsError, match="room"):
        boards.make("One more")


@pytest.mark.parametrize("version", [0, -1, 2, 2**70])
def test_a_version_that_never_was_is_refused(boards: Boards, version: int) -> None:
    board = boards.make("Evening class")
    with pytest.raises(BoardsError, match="no such version"):
        boards.reword(board.board, version, aim="x")


def test_unknown_boards_and_leaves_are_refused(boards: Boards) -> None:
    board = boards.make("Evening class")
    for ask in (
        lambda: boards.get("nothing"),
        lambda: boards.add("nothing", [a_leaf()]),
        lambda: boards.change_leaf(board.board, "nothing", 1, note="x"),
        lambda: boards.duplicate("nothing"),
    ):
        with pytest.raises(BoardsError, match="There is no"):
            ask()


def test_a_leaf_keeps_the_record_of_its_work(small_archive: Path, boards: Boards) -> None:
    with Archive.open(small_archive) as archive:
        (work, *_) = archive.work_ids()
        leaf = leaf_of(archive, work, part=(0, 0, 0.5, 0.5))
        found = archive.work(work)
        assert found is not None
        with pytest.raises(BoardsError, match="no work"):
            leaf_of(archive, "nothing")
    kept = boards.make("Evening class", leaves=[leaf]).leaves[0].shown[0]
    assert kept.record["credit"] == found["credit"]
    assert kept.record["rights"] == found["rights"]
    assert "object_url" not in kept.record, "the small archive has none, and what is not known is left out"


def test_a_file_of_a_newer_program_and_a_broken_one_are_refused(tmp_path: Path) -> None:
    BoardsFile.open(tmp_path).close()
    connection = sqlite3.connect(tmp_path / BOARDS)
    connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    connection.close()
    with pytest.raises(BoardsError, match="newer"):
        BoardsFile.open(tmp_path)
    (tmp_path / BOARDS).write_bytes(b"no database at all, but long enough to be looked at" * 40)
    with pytest.raises(BoardsError, match="is damaged"):
        BoardsFile.open(tmp_path)
    with pytest.raises(BoardsError, match="cannot be opened"):
        BoardsFile.open(tmp_path / "not there")


def test_a_change_that_fails_leaves_nothing_behind(tmp_path: Path) -> None:
    with BoardsFile.open(tmp_path) as file:
        boards = Boards(file)
        board = boards.make("Evening class")

        def spoil() -> None:
            with file.writing() as connection:
                connection.execute("UPDATE boards SET title = 'spoilt'")
                connection.execute("UPDATE boards SET archived = 7")

        with pytest.raises(sqlite3.IntegrityError):
            spoil()
        assert boards.get(board.board) == board


def test_every_commit_waits_for_the_disk(tmp_path: Path) -> None:
    """By SQLite's manual, in WAL mode only synchronous=FULL (2) outlasts a lost current, commit by commit."""
    with BoardsFile.open(tmp_path) as file, file.writing() as connection:
        assert connection.execute("PRAGMA synchronous").fetchone()[0] == 2
        assert connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert connection.execute("PRAGMA foreign_keys").fetchone()[0] == 1
