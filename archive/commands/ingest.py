"""``blotbook ingest``."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit
from urllib.request import url2pathname

import click

from archive.commands.options import archive_option, workers_option
from archive.commands.progress import Progress
from ingest.fetching import address_fault, is_address

if TYPE_CHECKING:
    from archive.ingesting import Chosen, Summary

_MOST_LINES = 20


@click.command()
@click.argument(
    "records",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="RECORDS.csv...",
    nargs=-1,
    required=True,
)
@archive_option
@workers_option
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    default="",
    help="Read on the workers of the Dask cluster whose scheduler is there, as in tcp://10.0.0.1:8786. "
    "Needs 'blotbook[distributed]'.",
)
@click.option(
    "--pictures",
    metavar="FOLDER|ADDRESS",
    default="",
    help="Below which folder or address (https://…, s3://…) the files lie that the records name, if not beside them.",
)
@click.option("--retry", is_flag=True, help="Take only what gave no work before.")
@click.option(
    "--work", "works", metavar="ID", multiple=True, help="Take only the work of this id; may be given many times."
)
def ingest(
    records: tuple[Path, ...],
    archive: Path,
    workers: int,
    scheduler: str,
    pictures: str,
    retry: bool,
    works: tuple[str, ...],
) -> None:
    """Take the paintings of records files into an archive.

    RECORDS.csv has a row for each picture, with at least the columns 'file', a path beside or below the
    records or an address, and 'rights', a statement that places the work in the public domain. Works under other
    rights are refused and counted. The archive is made if there is none.

    Only what is new is read: the same command again finishes what was stopped, brings changed records up to
    date, and takes out works whose rights are now refused. A picture that cannot be read is named with the
    reason and costs the others nothing. The exit code is 1 if no work came of the records at all.
    """
    from archive.ingesting import Chosen

    where = pictures if is_address(pictures) and not pictures.startswith("file://") else ""
    if where and (fault := address_fault(where)):
        message = f"--pictures {pictures}: {fault}."
        raise click.UsageError(message)
    folder = Path(url2pathname(urlsplit(pictures).path) if pictures.startswith("file://") else pictures)
    if pictures and not where and not folder.is_dir():
        message = f"--pictures {pictures}: there is no such folder."
        raise click.UsageError(message)
    summary = run_ingest(
        records,
        archive,
        workers,
        scheduler=scheduler,
        pictures=where or (folder if pictures else ""),
        chosen=Chosen(retry, works),
    )
    say_summary(summary)
    if not summary.works_named and (summary.unread or summary.refused):
        raise click.exceptions.Exit(1)


def run_ingest(
    records: Sequence[Path],
    archive: Path,
    workers: int,
    *,
    scheduler: str = "",
    pictures: Path | str = "",
    chosen: Chosen | None = None,
) -> Summary:
    """Ingest with a line of progress."""
    from archive.errors import ArchiveError
    from archive.ingesting import Chosen
    from archive.ingesting import ingest as take
    from ingest.provenance import read_records

    # The first is read before anything is made, so that a file that is no table of records leaves nothing behind.
    first = read_records(records[0], pictures=pictures)
    others = (read_records(each, pictures=pictures) for each in records[1:])
    try:
        with Progress("looking through") as progress:
            return take(
                itertools.chain([first], others),
                archive,
                workers=workers,
                scheduler=scheduler,
                chosen=chosen or Chosen(),
                on_progress=progress,
            )
    except KeyboardInterrupt:
        message = "Stopped; what was read is kept, and the same command goes on from there."
        raise ArchiveError(message) from None


def say_summary(summary: Summary) -> None:
    """Print what an ingest did."""
    rows = [
        ("came in", summary.new),
        ("read again", summary.again),
        ("records brought up to date", summary.updated),
        ("already there", summary.unchanged),
        ("taken out again", summary.withdrawn),
        ("stay out, as taken out by hand", summary.withheld),
        ("refused for their rights", sum(summary.refused.values())),
        ("could not be read", len(summary.unread)),
    ]
    always = {"came in", "already there"}
    for name, count in rows:
        if not count and name not in always:
            continue
        click.echo(f"{count:7,}  {name}")
        if name == "refused for their rights":
            for rights, refused in sorted(summary.refused.items(), key=lambda item: (-item[1], item[0])):
                click.echo(f"           {refused:,} {rights}")
        if name == "could not be read":
            _say_some([f"{file}: {reason}" for file, reason in summary.unread])
    if summary.remarks:
        click.echo(f"{len(summary.remarks):7,}  remarks on records")
        _say_some([f"line {remark.line}: {remark.reason}" for remark in summary.remarks])
    for sentence in summary.arranged:
        click.echo(f"Arrangement {sentence}")
    click.echo(f"The archive has {summary.works:,} work{'' if summary.works == 1 else 's'}.")


def _say_some(lines: list[str]) -> None:
    for line in lines[:_MOST_LINES]:
        click.echo(f"           {line}")
    if len(lines) > _MOST_LINES:
        click.echo(f"           and {len(lines) - _MOST_LINES:,} more")
