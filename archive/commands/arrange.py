"""``blotbook arrange``."""

from __future__ import annotations

from pathlib import Path

import click

from archive.commands.options import archive_option


@click.command()
@archive_option
def arrange(archive: Path) -> None:
    """Group the works of an archive again by how they are laid out.

    An ingest gives new works their places in the groups there are, and finds the groups anew only when the
    archive has grown or shrunk by half. This command finds them anew at once, from the works as they are. A
    group that persists keeps its number, name and address; the command says what changed.
    """
    from archive.arranging import arrange as fit
    from archive.store import Archive

    for sentence in fit(archive) or ["nothing has changed."]:
        click.echo(f"Arrangement {sentence}" if sentence.startswith("“") else sentence.capitalize())
    with Archive.open(archive) as opened:
        for group in opened.arrangements():
            click.echo(f"{group['members']:7,}  {group['name']}")
        click.echo(f"{opened.counts()['unarranged']:7,}  of no clear arrangement")
