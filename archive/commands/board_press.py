"""``blotbook board press``."""

from __future__ import annotations

from pathlib import Path

import click

from archive.commands.kept_boards import board_argument, opened_boards, the_board
from archive.commands.options import archive_option
from archive.commands.output import check_ending, write_file
from archive.exporting import FORMS, ON_PAPER, PAGES, PER_PAGE


@click.command()
@board_argument
@archive_option
@click.option(
    "--form",
    type=click.Choice(FORMS),
    default="pdf",
    show_default=True,
    help="pdf: pages to print. panels: empty panels in the formats of its works. studies: each work beside an empty "
    "panel. cards: value maps to cut out and sort. html: one page for any browser, pictures inside. png: a contact "
    "sheet. iiif: a manifest of IIIF Presentation 3.0. csv: the records. json: the board itself, for 'import'.",
)
@click.option(
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="The file to write, in place of one that is there; without it, one named after the board, in this folder. "
    "'-' is the standard output.",
)
@click.option("--page", type=click.Choice(PAGES), default="a4", show_default=True, help="The paper of what is printed.")
@click.option("--landscape", is_flag=True, help="Turn the paper.")
@click.option(
    "--per-page",
    type=click.Choice([str(count) for count in PER_PAGE]),
    default="2",
    show_default=True,
    help="Leaves, panels or studies to a page; studies are 1 or 2.",
)
@click.option(
    "--handout",
    is_flag=True,
    help="To hand out: without the notes for whoever teaches and those of the leaves, which may hold the answers.",
)
@click.option(
    "--base-url",
    default="http://127.0.0.1:8001/",
    show_default=True,
    metavar="ADDRESS",
    help="Where the archive's pages are served; a manifest names its pictures there.",
)
def press(
    board: str,
    archive: Path,
    form: str,
    output: Path | None,
    page: str,
    landscape: bool,
    per_page: str,
    handout: bool,
    base_url: str,
) -> None:
    """Press a board: write it as a file to print, to show, or to take elsewhere.

    Every form carries the source record of each work. Prints the name of the file.
    """
    from archive.exporting import Paper, export, file_name

    if output is not None:
        check_ending(output, _ending(form), _advice(output))
    paper = Paper(page, landscape, int(per_page))
    with opened_boards(archive) as (store, boards, file):
        there = the_board(boards, board)
        base = base_url if base_url.endswith("/") else f"{base_url}/"
        done = export(store, there, form, boards_file=file, paper=paper, base_url=base, handout=handout)
    for note in done.notes:
        click.echo(f"Note: {note}", err=True)
    if output == Path("-"):
        click.echo(done.data, nl=False)
        return
    target = output or Path(file_name(there, done.ending))
    write_file(target, done.data)
    click.echo(str(target))


def _ending(form: str) -> str:
    return "pdf" if form in ON_PAPER else "json" if form == "iiif" else form


def _advice(output: Path) -> str:
    """Which form has the ending of that name."""
    named = output.suffix[1:].lower()
    found = next((form for form in FORMS if _ending(form) == named), "")
    return f"; what ends in .{named} is made with --form {found}" if found else ""
