"""``blotbook arrange``."""

from __future__ import annotations

from pathlib import Path

import click

from archive.commands.options import archive_option


@click.command()
@archive_option
def arrange(archive: Path) -> None:
    """Group the works of an archive again by how they are laid out.

    An ingest that changes anything does this by itself. The groups are found from the works as they are and
    named after the tonal layout that sets their members apart; the command says what changed.
    """
    from archive.arranging import arrange as fit
    from archive.store import Archive

    for sentence in fit(archive) or ["nothing has changed."]:
        click.echo(f"Arrangement {sentence}" if sentence.startswith("“") else sentence.capitalize())
    with Archive.open(archive) as opened:
        for group in opened.arrangements():
            click.echo(f"{group['members']:7,}  {group['name']}")
        click.echo(f"{opened.counts()['unarranged']:7,}  of no clear arrangement")
