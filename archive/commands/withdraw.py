"""``blotbook withdraw``."""

from __future__ import annotations

from pathlib import Path

import click

from archive.commands.options import archive_option


@click.command()
@click.argument("works", metavar="ID...", nargs=-1, required=True)
@archive_option
@click.option("--reason", default="Taken out by hand.", show_default=True, help="Why, as it is noted in the archive.")
@click.option("--undo", is_flag=True, help="Let the works in again, with the next ingest of their records.")
def withdraw(works: tuple[str, ...], archive: Path, reason: str, undo: bool) -> None:
    """Take works out of an archive, to stay out.

    ID is what stands at the end of the address of the work's page. Its pictures and all that was read from it
    go, and later ingests leave it out. A work whose record itself no longer places it in the public domain is
    taken out by 'blotbook ingest'. Boards keep their leaves with what they say of the work, without its picture.
    """
    from archive.withdrawing import boards_showing, let_in
    from archive.withdrawing import withdraw as take_out

    if undo:
        let_in(archive, works)
        click.echo("The next ingest of their records brings them back.")
        return
    gone = take_out(archive, works, reason)
    click.echo(f"{gone} work{'' if gone == 1 else 's'} taken out; later ingests leave {_them(len(set(works)))} out.")
    for title in boards_showing(archive, works):
        click.echo(f"A leaf of the board “{title}” keeps the record, without the picture.")


def _them(count: int) -> str:
    return "it" if count == 1 else "them"
