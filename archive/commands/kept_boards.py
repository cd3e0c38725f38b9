"""What the parts of ``blotbook board`` share: the opened boards, and the board that is named."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from archive.board import Board
    from archive.boards import Boards
    from archive.boards_file import BoardsFile
    from archive.store import Archive

_Function = TypeVar("_Function", bound=Callable[..., Any])


def board_argument(function: _Function) -> _Function:
    """``BOARD``."""
    return click.argument("board", metavar="BOARD")(function)


@contextlib.contextmanager
def opened_boards(archive: Path) -> Iterator[tuple[Archive, Boards, BoardsFile]]:
    """The archive in a folder, its boards and their file.  Raises `ArchiveError`."""
    from archive.boards import Boards
    from archive.boards_file import BoardsFile
    from archive.store import Archive

    with Archive.open(archive) as store, BoardsFile.open(archive) as file:
        yield store, Boards(file), file


def _called(boards: Boards, title: str) -> list[str]:
    """The short names of the boards of that title, put away or not."""
    wanted = title.casefold()
    everything = [*boards.summaries(), *boards.summaries(archived=True)]
    return [each.board for each in everything if each.title.casefold() == wanted]


def say_namesakes(boards: Boards, there: Board) -> None:
    """Say when a board that was just made has the title of another, by which neither can be named then."""
    if len(_called(boards, there.title)) > 1:
        words = "Another board is called “{}” too; name this one by its short name, {}, or give it another title."
        click.echo(f"Note: {words.format(there.title, there.board)}", err=True)


def the_board(boards: Boards, named: str) -> Board:
    """The board of that short name or title.  Raises `BoardsError` when there is none, or two have the title."""
    from archive.board import BoardsError, NotThereError

    with contextlib.suppress(NotThereError):
        return boards.get(named)
    found = _called(boards, named)
    if len(found) == 1:
        return boards.get(found[0])
    if found:
        message = f"{len(found)} boards are called “{named}”; name one by its short name: {', '.join(found)}."
        raise BoardsError(message)
    message = f"There is no board “{named}”; 'blotbook board list' names them."
    raise BoardsError(message)
