"""``blotbook demo``."""

from __future__ import annotations

import os
import shlex
from pathlib import Path

import click

from archive.commands.options import port_option, workers_option
from archive.demo import FOLDER


@click.command()
@click.option(
    "--archive",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    default=FOLDER,
    show_default=True,
    help="The folder to make the archive in.",
)
@port_option
@workers_option
@click.option("--no-serve", is_flag=True, help="Only make the archive; do not show it.")
def demo(archive: Path, port: int, workers: int, no_serve: bool) -> None:
    """Make an archive of the paintings that come with Blotbook, and show it in the browser.

    It takes about half a minute on two processors; when the archive is there already, only a moment. The address
    of the pages is printed at the end. Try the studies on the page 'Find', or one of your own.

    The pages can be reached from this computer alone. To show them to a class, make the archive with --no-serve and
    use 'blotbook serve --mode classroom'.
    """
    from archive.commands.ingest import run_ingest, say_summary
    from archive.commands.serve import run_server
    from archive.demo import sample_records, sample_studies

    summary = run_ingest([sample_records()], archive, workers)
    say_summary(summary)
    study = next(iter(sample_studies()), None)
    if study is not None:
        path = os.path.relpath(study.file) if study.file.is_relative_to(Path.cwd()) else str(study.file)
        click.echo("To match a study from here:")
        click.echo(f"    blotbook match {shlex.quote(path)} --archive {shlex.quote(str(archive))} --count 5")
    if no_serve:
        click.echo("To look at the archive in a browser:")
        click.echo(f"    blotbook serve --archive {shlex.quote(str(archive))}")
    else:
        run_server(archive, "127.0.0.1", port)
