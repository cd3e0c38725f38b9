"""``blotbook board``: boards from the command line."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from archive.commands.board_press import press
from archive.commands.kept_boards import board_argument, opened_boards, say_namesakes, the_board
from archive.commands.options import archive_option

if TYPE_CHECKING:
    from archive.board import Board, Leaf

_json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON.")
_ways = ("painting", "squint", "five", "three", "two")


@click.group()
def board() -> None:
    """Gather works for a lesson on boards, and press boards on paper.

    A board is named by its title, or by the short name that 'blotbook board list' shows. Boards lie in boards.db in
    the archive's folder; making the archive again does not touch them.
    """


@board.command("list")
@archive_option
@click.option("--put-away", is_flag=True, help="List the boards that were put away instead.")
@_json_option
def list_boards(archive: Path, put_away: bool, as_json: bool) -> None:
    """List the boards, the last changed first."""
    with opened_boards(archive) as (_, boards, _file):
        found = boards.summaries(archived=put_away)
    if as_json:
        _print([
            {
                "board": each.board, "title": each.title, "aim": each.aim, "leaves": each.leaves,
                "version": each.version, "archived": each.archived, "beside": each.beside or None,
                "changed_at": each.changed_at,
            }
            for each in found
        ])  # fmt: skip
        return
    for each in found:
        click.echo(f"{each.board}  {each.title} ({_count(each.leaves)}, {each.changed_at[:10]})")
    if not found:
        click.echo("There are no boards put away." if put_away else "There are no boards yet.")


@board.command()
@click.argument("works", nargs=-1, metavar="[WORK]...")
@archive_option
@click.option("--title", metavar="TEXT", help="Its title; the ready-made ones bring their own.")
@click.option("--aim", metavar="TEXT", help="What it is for.")
@click.option("--notes", metavar="TEXT", help="Notes for whoever teaches.")
@click.option("--task", metavar="TEXT", help="A task to practise.")
@click.option("--lesson", metavar="ARRANGEMENT", help="Build it from an arrangement: a spread of its works, questions, "
              "a task, and a work laid out the other way.")  # fmt: skip
@click.option("--theme", metavar="NAME", help="Build it on one thing to see: two-values, one-middle-grey, high-key, "
              "low-key, lights-joined or edges-lost.")  # fmt: skip
@click.option("--contrast", nargs=2, metavar="LEFT RIGHT", help="Build it from two arrangements, side by side.")
@click.option("--sort", multiple=True, metavar="ARRANGEMENT", help="Build an exercise, 'Which belong together?'; give "
              "it two to four times.")  # fmt: skip
@click.option(
    "--seed", type=click.IntRange(0), default=0, show_default=True, metavar="N", help="Shuffles the exercise."
)
@_json_option
def make(
    works: tuple[str, ...],
    archive: Path,
    title: str | None,
    aim: str | None,
    notes: str | None,
    task: str | None,
    lesson: str | None,
    theme: str | None,
    contrast: tuple[str, str] | None,
    sort: tuple[str, ...],
    seed: int,
    as_json: bool,
) -> None:
    """Make a board: empty, of some works, or ready for a lesson.

    Works and arrangements are named as in their pages' addresses. Prints the short name of the board.
    """
    from dataclasses import replace

    from archive import lessons, themes
    from archive.board import Board, new_id
    from archive.boards import leaf_of

    if sum((lesson is not None, theme is not None, bool(contrast), bool(sort))) > 1:
        message = "A board is built from --lesson, --theme, --contrast or --sort, from one of them at a time."
        raise click.UsageError(message)
    with opened_boards(archive) as (store, boards, _file):
        if lesson is not None:
            built = lessons.lesson(store, lesson)
        elif theme is not None:
            built = themes.lesson_on(store, theme)
        elif contrast:
            built = lessons.contrast(store, *contrast)
        elif sort:
            built = lessons.exercise(store, sort, seed=seed)
        elif title is None:
            message = "Give the board a title with --title."
            raise click.UsageError(message)
        else:
            built = Board(new_id(), title)
        given = {"title": title, "aim": aim, "notes": notes, "task": task}
        built = replace(built, **{name: text for name, text in given.items() if text is not None})  # type: ignore[arg-type]
        added = tuple(leaf_of(store, work) for work in works)
        made = boards.take_in(replace(built, leaves=built.leaves + added))
        _made(made, as_json)
        say_namesakes(boards, made)


@board.command()
@board_argument
@click.argument("works", nargs=-1, required=True, metavar="WORK...")
@archive_option
@click.option("--part", metavar="X0,Y0,X1,Y1", help="Only this part of the work, in shares of it from 0 to 1.")
@click.option("--as", "showing", multiple=True, type=click.Choice(_ways), help="How it is shown; may be given several "
              "times, for a sequence. Without it: painting, three.")  # fmt: skip
@click.option("--note", default="", metavar="TEXT", help="A note.")
@click.option("--question", default="", metavar="TEXT", help="A question for the class.")
@click.option("--pair", is_flag=True, help="Two works on one leaf, to compare.")
@_json_option
def add(
    board: str,
    works: tuple[str, ...],
    archive: Path,
    part: str | None,
    showing: tuple[str, ...],
    note: str,
    question: str,
    pair: bool,
    as_json: bool,
) -> None:
    """Put works at the end of a board, each on a leaf of its own."""
    from archive.board import PLAIN_SHOWING, Leaf, new_id
    from archive.boards import shown_of

    if pair and len(works) != 2:
        message = f"--pair takes two works, and {len(works)} are named."
        raise click.UsageError(message)
    cut = _part(part)
    with opened_boards(archive) as (store, boards, _file):
        there = the_board(boards, board)
        shown = [shown_of(store, work, cut) for work in works]
        ways = tuple(showing) or PLAIN_SHOWING
        groups = [tuple(shown)] if pair else [(each,) for each in shown]
        leaves: list[Leaf] = [Leaf(new_id(), group, ways, note, question) for group in groups]
        _made(boards.add(there.board, leaves), as_json)
        _say_twice(there, works)


@board.command()
@board_argument
@click.argument("leaves", nargs=-1, required=True, metavar="LEAF...")
@archive_option
@click.option("--undo", is_flag=True, help="Put leaves back that were taken off; they are named as 'show' lists them.")
@_json_option
def remove(board: str, leaves: tuple[str, ...], archive: Path, undo: bool, as_json: bool) -> None:
    """Take leaves off a board, by their numbers or short names; they can be put back."""
    with opened_boards(archive) as (_, boards, _file):
        there = the_board(boards, board)
        known = [leaf.leaf for leaf in (boards.removed(there.board) if undo else there.leaves)]
        chosen = [_leaf_named(leaf, known, numbered=not undo) for leaf in leaves]
        for leaf in chosen:
            there = boards.put_back(there.board, leaf) if undo else boards.remove(there.board, leaf)
        _made(there, as_json)


@board.command()
@board_argument
@archive_option
@_json_option
def show(board: str, archive: Path, as_json: bool) -> None:
    """Say what is on a board. With --json: the board as its own export, which 'import' takes in again."""
    from archive.board import as_json as written

    with opened_boards(archive) as (_, boards, _file):
        there = the_board(boards, board)
        removed = boards.removed(there.board)
    if as_json:
        _print(written(there))
    else:
        click.echo("\n".join(_told(there, removed)))


@board.command("import")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE")
@archive_option
@_json_option
def take_in(file: Path, archive: Path, as_json: bool) -> None:
    """Take in a board that Blotbook wrote, with 'show --json' or 'press --form json'.

    Nothing of it is lost. Where a board of its short name is there already, it becomes a board beside that one.
    """
    from archive.board import BoardsError, from_json

    try:
        written = json.loads(file.read_bytes())
    except (ValueError, RecursionError) as error:
        message = f"{file} is no board that Blotbook wrote."
        raise BoardsError(message) from error
    with opened_boards(archive) as (_, boards, _file):
        made = boards.take_in(from_json(written))
        _made(made, as_json)
        say_namesakes(boards, made)


board.add_command(press)


def _made(there: Board, as_json: bool) -> None:
    if as_json:
        from archive.board import as_json as written

        _print(written(there))
    else:
        click.echo(f"{there.board}  {there.title} ({_count(len(there.leaves))})")


def _say_twice(before: Board, works: tuple[str, ...]) -> None:
    """Say which of the works that were put onto a board were on it already."""
    for work in dict.fromkeys(works):
        on = [str(at) for at, leaf in enumerate(before.leaves, 1) if any(shown.work == work for shown in leaf.shown)]
        if on:
            leaves = f"{'leaf' if len(on) == 1 else 'leaves'} {', '.join(on)}"
            click.echo(f"Note: {work} was on the board already, on {leaves}; 'remove' takes a leaf off.", err=True)


def _told(there: Board, removed: list[Leaf]) -> Iterator[str]:
    yield f"{there.title} ({there.board}, version {there.version}{', put away' if there.archived else ''})"
    for text in (there.aim, there.notes, there.task and f"To practise: {there.task}"):
        if text:
            yield f"    {text}"
    for number, leaf in enumerate(there.leaves, 1):
        yield f"{number:4}. {_named(leaf)} ({leaf.leaf}; {', '.join(leaf.showing)})"
        yield from (f"      {text}" for text in (leaf.question, leaf.note) if text)
    if removed:
        yield "Taken off:"
        yield from (f"      {_named(leaf)} ({leaf.leaf})" for leaf in removed)


def _named(leaf: Leaf) -> str:
    return " | ".join(
        ", ".join(part for part in (shown.record.get("artist", ""), shown.record.get("title", "")) if part)
        or shown.work
        or "a kept study"
        for shown in leaf.shown
    )


def _leaf_named(leaf: str, known: list[str], *, numbered: bool) -> str:
    if numbered and leaf.isascii() and leaf.isdigit() and 1 <= int(leaf) <= len(known):
        return known[int(leaf) - 1]
    if leaf in known:
        return leaf
    message = f"The board has no leaf “{leaf}”; 'blotbook board show' lists them."
    raise click.UsageError(message)


def _part(text: str | None) -> tuple[float, float, float, float] | None:
    if text is None:
        return None
    with contextlib.suppress(ValueError):
        x0, y0, x1, y1 = (float(number) for number in text.split(","))
        return x0, y0, x1, y1
    message = "--part takes four numbers from 0 to 1, as in 0,0.5,1,1 for the lower half."
    raise click.UsageError(message)


def _count(leaves: int) -> str:
    return f"{leaves} {'leaf' if leaves == 1 else 'leaves'}"


def _print(value: Any) -> None:
    click.echo(json.dumps(value, ensure_ascii=False, indent=1))
