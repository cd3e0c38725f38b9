"""``blotbook gather``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from archive.commands.progress import Progress

if TYPE_CHECKING:
    from ingest.collections.source import Collection, Wanted
    from ingest.gather import Gathered

_MOST_REASONS = 6

_WHYS = {
    "rights": "their rights do not admit them",
    "kind": "another kind of work",
    "no picture": "no picture",
    "placeholder": "a placeholder in place of the picture",
    "record": "a record that cannot be used",
    "failed": "did not come; the same command tries them again",
}
"""What is said of each reason why a work is left out."""


@click.command()
@click.argument("collection", metavar="COLLECTION")
@click.option(
    "--into",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    required=True,
    help="The folder for pictures and records; made if there is none.",
)
@click.option("--query", default="", metavar="WORDS", help="Only works that the collection finds by these words.")
@click.option(
    "--limit", type=click.IntRange(min=1), metavar="N", help="Stop when so many works are there.  [default: all]"
)
@click.option(
    "--also",
    "also",
    multiple=True,
    metavar="KINDS",
    help="Other kinds of work than paintings: drawings, prints, or both with a comma.",
)
@click.option(
    "--contact",
    default="",
    metavar="ADDRESS",
    envvar="BLOTBOOK_CONTACT",
    help="A mail or web address by which the museum can reach you; it is sent with every request.  "
    "[environment: BLOTBOOK_CONTACT]",
)
@click.option(
    "--pace",
    type=click.FloatRange(min=0.0, max=3600.0),
    metavar="SECONDS",
    help="Seconds between two requests to one host, where that is slower than the collection's own rate.",
)
@click.option(
    "--side",
    type=click.IntRange(300, 6000),
    metavar="PIXELS",
    default=1200,
    show_default=True,
    help="The longest side of the pictures asked for, where the collection lets that be chosen.",
)
@click.option(
    "--data",
    "held",
    type=click.Path(exists=True, path_type=Path),
    metavar="PATH",
    help="The museum's data files, downloaded already, to list works from.",
)
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="OURS=THEIRS",
    help="A table's own name of a column, as in title=Bezeichnung. May be given several times.",
)
@click.option(
    "--again", is_flag=True, help="Ask for the list and the records once more, and for pictures that have changed."
)
def gather(
    collection: str,
    folder: Path,
    query: str,
    limit: int | None,
    also: tuple[str, ...],
    contact: str,
    pace: float | None,
    side: int,
    held: Path | None,
    columns: tuple[str, ...],
    again: bool,
) -> None:
    """Bring public-domain paintings of an open collection into a folder.

    COLLECTION is a museum (aic, cleveland, met, nga, rijksmuseum or smk), the web address of a IIIF manifest or
    collection, or a folder with pictures and a table of records. docs/collections.md tells of each.

    Only works come whose records place them in the public domain, each with its record and hash. The museum is
    asked slowly, as it wishes, for pictures no larger than needed. The same command goes on after any stop and asks
    for nothing twice. DIR/records.csv is then ready for 'blotbook ingest'. The exit code is 1 if nothing is there in
    the end or the collection stopped answering.
    """
    from ingest.collections import collection as find
    from ingest.collections.source import Wanted

    kinds = frozenset({"paintings", *_kinds(also)})
    found = find(collection, _columns(columns))
    wanted = Wanted(query=query.strip(), kinds=kinds, side=side, held=held)
    summary = run_gather(found, folder, wanted, limit=limit, contact=contact, pace=pace, again=again)
    say_gathered(found, summary)
    if summary.stopped or not summary.came + summary.there:
        raise click.exceptions.Exit(1)


def run_gather(
    collection: Collection,
    folder: Path,
    wanted: Wanted,
    *,
    limit: int | None,
    contact: str,
    pace: float | None,
    again: bool,
) -> Gathered:
    """Gather with a line of progress."""
    from archive.errors import ArchiveError
    from ingest.gather import gather as bring
    from ingest.gather_web import Web

    named = [collection.asked_of] if collection.name == "iiif" else []
    slowest = max(collection.manners.pace, pace or 0.0)
    try:
        with Web(pace=slowest, contact=contact.strip(), named=named) as web, Progress("gathering") as progress:
            # A table on this computer is read anew each time: that costs nobody anything.
            return bring(
                collection, folder, wanted, web,
                limit=limit, again=again or collection.name == "folder", on_progress=progress,
            )  # fmt: skip
    except KeyboardInterrupt:
        message = "Stopped; what came is kept, and the same command goes on from there."
        raise ArchiveError(message) from None


def say_gathered(collection: Collection, summary: Gathered) -> None:
    """Print what came, what did not, and why."""
    click.echo(f"{collection.title}: {collection.asked_of}" if collection.asked_of else collection.title)
    click.echo(f"{summary.came:7,}  came")
    click.echo(f"{summary.there:7,}  were there already")
    by_why: dict[str, list[tuple[str, int]]] = {}
    for why, reason, works in summary.reasons:
        by_why.setdefault(why, []).append((reason, works))
    for why, reasons in sorted(by_why.items(), key=lambda item: -sum(works for _, works in item[1])):
        click.echo(f"{sum(works for _, works in reasons):7,}  {_WHYS.get(why, why)}")
        for reason, works in reasons[:_MOST_REASONS]:
            click.echo(f"           {works:,} {reason}")
        if len(reasons) > _MOST_REASONS:
            click.echo(f"           and {len(reasons) - _MOST_REASONS:,} other reasons, in {summary.left_out}")
    if summary.stopped:
        click.echo(summary.stopped)
    if not summary.complete:
        click.echo("There is more; the same command goes on from here.")
    if summary.came + summary.there:
        click.echo(f"Take them into an archive with: blotbook ingest {summary.records} --archive DIR")


def _kinds(also: tuple[str, ...]) -> list[str]:
    from ingest.collections.source import KINDS

    kinds = [kind.strip().lower() for given in also for kind in given.split(",") if kind.strip()]
    for kind in kinds:
        if kind not in KINDS:
            message = f"there is no kind '{kind}'; those to choose from are {', '.join(KINDS[1:])}."
            raise click.BadParameter(message, param_hint="--also")
    return kinds


def _columns(given: tuple[str, ...]) -> dict[str, str]:
    columns = {}
    for pair in given:
        ours, equals, theirs = pair.partition("=")
        if not (ours.strip() and equals and theirs.strip()):
            message = f"'{pair}' is not of the form OURS=THEIRS."
            raise click.BadParameter(message, param_hint="--column")
        columns[ours.strip()] = theirs.strip()
    return columns
