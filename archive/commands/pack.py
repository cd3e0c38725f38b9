"""``blotbook pack`` and ``blotbook unpack``."""

from __future__ import annotations

from pathlib import Path

import click

from archive.commands.progress import Progress
from archive.works import works_in_words


def _no_archive_option(context: click.Context, _parameter: click.Parameter, value: str | None) -> None:
    if value is not None:
        named = [each.metavar or "" for each in context.command.params if isinstance(each, click.Argument)]
        message = f"Here the archive is named without --archive: '{context.command_path} {' '.join(named)}'."
        raise click.UsageError(message)


_archive_option = click.option(
    "--archive",
    "misplaced",
    hidden=True,
    is_eager=True,
    expose_value=False,
    callback=_no_archive_option,
    help="Named without it, unlike elsewhere.",
)


@click.command()
@click.argument("archive", type=click.Path(exists=True, file_okay=False, path_type=Path), metavar="ARCHIVE")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path), metavar="FILE.zip")
@click.option("--boards", is_flag=True, help="Pack the boards too, without leaves that show a kept study.")
@_archive_option
@click.option("--studies", is_flag=True, help="With --boards: pack the kept studies too. Ask those whose they are.")
def pack(archive: Path, file: Path, boards: bool, studies: bool) -> None:
    """Make one file of an archive, to hand on.

    The same archive always gives the same file, byte for byte. It is a plain ZIP file; the SHA-256 of everything
    in it stands in its SHA256SUMS. Boards stay behind unless they are asked for, and kept studies also then.
    """
    from archive.packing import pack as make

    if studies and not boards:
        message = "--studies is for --boards: kept studies lie with the boards."
        raise click.UsageError(message)
    with Progress("packing") as progress:
        works = make(archive, file, boards=boards, studies=studies, on_progress=progress)
    click.echo(f"{file}: {works_in_words(works)}, {file.stat().st_size / 1e6:,.1f} MB.")


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path), metavar="FILE.zip")
@click.argument("archive", type=click.Path(file_okay=False, path_type=Path), metavar="ARCHIVE")
@_archive_option
def unpack(file: Path, archive: Path) -> None:
    """Open a file that 'blotbook pack' made, as an archive in a new folder.

    Every name, size and hash in it is checked, and the archive is verified before it appears; a file that is not
    in order is refused with the reason and leaves nothing behind.
    """
    from archive.unpacking import unpack as open_packed

    with Progress("unpacking") as progress:
        works = open_packed(file, archive, on_progress=progress)
    click.echo(f"{archive}: {works_in_words(works)}, all in order.")
