"""``blotbook serve``."""

from __future__ import annotations

from pathlib import Path

import click

from archive.commands.options import archive_option, host_option, port_option


@click.command()
@archive_option
@host_option
@port_option
def serve(archive: Path, host: str, port: int) -> None:
    """Show an archive in the browser.

    Prints the address of its pages and serves them until you press Ctrl-C. Nothing that you do there changes
    the archive. Boards, and studies that you ask to keep, lie in boards.db beside it; any other study that you
    show is forgotten.
    """
    run_server(archive, host, port)


def run_server(archive: Path, host: str, port: int) -> None:
    """Serve until interrupted, printing the address when the pages are there."""
    from archive.serving import serve as run

    run(archive, host, port, ready=_say_address)


def _say_address(address: str) -> None:
    click.echo(f"The archive is at {address} (Ctrl-C ends it).")
