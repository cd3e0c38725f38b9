"""``blotbook serve``."""

from __future__ import annotations

from pathlib import Path

import click

from archive.commands.options import archive_option, port_option
from archive.modes import ALONE, CLASSROOM, MODES


@click.command()
@archive_option
@click.option(
    "--mode",
    type=click.Choice(MODES),
    default=ALONE,
    show_default=True,
    help="alone: for you, on this computer. classroom: for all in the network; students browse, search, draw and show "
    "studies without an account, and you sign in by the code that is printed to change boards and keep studies. "
    "kiosk: for all in the network, for looking alone.",
)
@click.option(
    "--class-board",
    metavar="TITLE",
    default="",
    help="In a classroom: one board that students may put works onto and write notes on; made if there is none of "
    "that title.",
)
@click.option(
    "--host",
    metavar="ADDRESS",
    default=None,
    help="The address to serve at. Alone it is 127.0.0.1, which reaches this computer alone; else 0.0.0.0, which "
    "everybody in the same network reaches.",
)
@port_option
def serve(archive: Path, mode: str, class_board: str, host: str | None, port: int) -> None:
    """Show an archive in the browser.

    Prints the address of its pages and serves them until you press Ctrl-C. Nothing that you do there changes
    the archive. Boards, and studies that you ask to keep, lie in boards.db beside it; any other study that you
    show is forgotten. A new edition of the archive is taken up while it is being served.
    """
    if class_board and mode != CLASSROOM:
        message = "--class-board goes with --mode classroom."
        raise click.UsageError(message)
    run_server(archive, host or ("127.0.0.1" if mode == ALONE else "0.0.0.0"), port, mode, class_board)


def run_server(archive: Path, host: str, port: int, mode: str = ALONE, class_board: str = "") -> None:
    """Serve until interrupted, printing the address when the pages are there."""
    from archive.serving import serve as run
    from archive.verify_boards import boards_damage

    if fault := boards_damage(archive):
        click.echo(f"blotbook: {fault} Until then there are no boards and no kept studies.", err=True)
    run(archive, host, port, mode=mode, class_board=class_board, ready=_say_address, announce=_say_code)


def _say_address(address: str) -> None:
    click.echo(f"The archive is at {address} (Ctrl-C ends it).")


def _say_code(code: str) -> None:
    click.echo(f"The teacher signs in at the foot of any page with {code} (it holds once).")
