"""``blotbook ingest``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from archive.commands.options import archive_option, workers_option
from archive.commands.progress import Progress

if TYPE_CHECKING:
    from archive.ingesting import Summary

_MOST_LINES = 20


@click.command()
@click.argument("records", type=click.Path(exists=True, dir_okay=False, path_type=Path), metavar="RECORDS.csv")
@archive_option
@workers_option
def ingest(records: Path, archive: Path, workers: int) -> None:
    """Take the paintings of a records file into an archive.

    RECORDS.csv has a row for each picture, with at least the columns 'file', a path beside or below the
    records, and 'rights', a statement that places the work in the public domain. Works under other rights are
    refused and counted. The archive is made if there is none.

    Only what is new is read: the same command again finishes what was stopped, brings changed records up to
    date, and takes out works whose rights are now refused. A picture that cannot be read is named with the
    reason and costs the others nothing. The exit code is 1 if no work came of the records at all.
    """
    summary = run_ingest(records, archive, workers)
    say_summary(summary)
    if not summary.works_named and (summary.unread or summary.refused):
        raise click.exceptions.Exit(1)


def run_ingest(records: Path, archive: Path, workers: int) -> Summary:
    """Ingest with a line of progress."""
    from archive.errors import ArchiveError
    from archive.ingesting import ingest as take
    from ingest.provenance import read_records

    read = read_records(records)
    try:
        with Progress("reading") as progress:
            return take(read, archive, workers=workers, on_progress=progress)
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
