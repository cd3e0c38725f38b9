"""``blotbook verify``."""

from __future__ import annotations

from pathlib import Path

import click

from archive.commands.options import archive_option
from archive.commands.progress import Progress


@click.command()
@archive_option
@click.option(
    "--repair",
    is_flag=True,
    help="Make again what can be made from the rest, and see to it that the next ingest reads again what cannot.",
)
def verify(archive: Path, repair: bool) -> None:
    """Check every file, row and signature of an archive.

    Compares each picture with the hash in its name, the rows with one another and with the pictures that they
    name, and the signatures with the rows, and lets SQLite check its own file. Says in words what it finds;
    the exit code is 1 when something is wrong.
    """
    from archive.verify import repair as mend
    from archive.verify import verify as check
    from archive.verify import way_out

    with Progress("checking") as progress:
        findings = check(archive, on_progress=progress)
    if repair and any(finding.wrong for finding in findings):
        for sentence in mend(archive, findings):
            click.echo(sentence)
        with Progress("checking") as progress:
            findings = check(archive, on_progress=progress)
    for finding in findings:
        click.echo(f"{'wrong' if finding.wrong else 'note'}: {finding.sentence}")
    if any(finding.wrong for finding in findings):
        if out := way_out(findings, repaired=repair):
            click.echo(out)
        raise click.exceptions.Exit(1)
    click.echo("The archive is in order.")
