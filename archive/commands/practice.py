"""``blotbook practice``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from archive.commands.options import archive_option
from archive.commands.output import check_ending, write_file

if TYPE_CHECKING:
    from archive.press.content import Pressed


def paper_options(function: click.decorators.FC) -> click.decorators.FC:
    """``--page`` and ``--landscape``."""
    function = click.option("--landscape", is_flag=True, help="Lay the page on its long side.")(function)
    return click.option(
        "--page",
        type=click.Choice(["a4", "letter"]),
        default="a4",
        show_default=True,
        help="The paper: A4 or US Letter.",
    )(function)


def _pdf_name(_context: click.Context, _parameter: click.Parameter, value: Path) -> Path:
    check_ending(value, "pdf")
    return value


output_option = click.option(
    "--output",
    "-o",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    required=True,
    callback=_pdf_name,
    help="The PDF to write, in place of one that is there.",
)


@click.group()
def practice() -> None:
    """Print sheets to practise on: empty panels, a painting beside an empty panel, maps to sort.

    All greys are true, with their L* under sRGB written beside them, and every work keeps its credit line. Print at
    full size ('actual size', 100 %).
    """


@practice.command()
@click.argument("works", nargs=-1, metavar="[WORK]...")
@click.option(
    "--archive",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="The folder of the archive; needed when works are named.",
)
@click.option("--format", "formats", multiple=True, metavar="W:H", help="A format, as 4:3; may be given several times.")
@click.option(
    "--per-page",
    type=click.Choice(["1", "2", "4", "6"]),
    default="4",
    show_default=True,
    help="How many panels stand on a page.",
)
@click.option(
    "--values",
    type=click.Choice(["2", "3"]),
    default="3",
    show_default=True,
    help="In how many values to practise; the steps in brief are those for it.",
)
@paper_options
@output_option
def panels(
    works: tuple[str, ...],
    archive: Path | None,
    formats: tuple[str, ...],
    per_page: str,
    values: str,
    page: str,
    landscape: bool,
    output: Path,
) -> None:
    """Empty panels with margins for tape, a scale to match, the steps in brief and room for notes.

    Each WORK, named as in the archive, adds a panel of its own format, and each --format another. With neither, one
    page of usual formats is made.
    """
    from archive.press.panels import formats_of, read_format
    from archive.press.practice import sheet

    wanted = [read_format(each) for each in formats]
    if works:
        if archive is None:
            message = "--archive is needed when works are named."
            raise click.UsageError(message)
        wanted = [*formats_of(_works(archive, works, "")), *wanted]
    _write(output, sheet(wanted, page=page, landscape=landscape, per_page=int(per_page), values=int(values)))


@practice.command()
@click.argument("works", nargs=-1, required=True, metavar="WORK...")
@archive_option
@click.option("--title", default="Study sheet", show_default=True, help="What stands at the head of the sheets.")
@click.option(
    "--per-page",
    type=click.Choice(["1", "2"]),
    default="1",
    show_default=True,
    help="How many works stand on a page.",
)
@paper_options
@output_option
def study(
    works: tuple[str, ...], archive: Path, title: str, per_page: str, page: str, landscape: bool, output: Path
) -> None:
    """Each WORK beside an empty panel of its format and size."""
    from archive.press.practice import study_sheets

    pressed = _works(archive, works, title)
    _write(output, study_sheets(pressed, page=page, landscape=landscape, per_page=int(per_page)))


@practice.command()
@click.argument("works", nargs=-1, required=True, metavar="WORK...")
@archive_option
@paper_options
@output_option
def sort(works: tuple[str, ...], archive: Path, page: str, landscape: bool, output: Path) -> None:
    """The value map of each WORK as a card to cut out: which belong together? The answers stand on the last page."""
    from archive.press.sorting import pdf

    _write(output, pdf(_works(archive, works, ""), page=page, landscape=landscape))


def _works(archive: Path, works: tuple[str, ...], title: str) -> Pressed:
    from archive.press.content import resolve_works
    from archive.store import Archive

    with Archive.open(archive) as opened:
        return resolve_works(opened, list(works), title)


def _write(output: Path, content: bytes) -> None:
    write_file(output, content)
    click.echo(f"{output}: {max(1, round(len(content) / 1000)):,} kB")
