"""``blotbook compare``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from archive.commands.options import archive_option

if TYPE_CHECKING:
    from archive.beside import Beside


@click.command()
@click.argument("study", type=click.Path(path_type=Path))
@archive_option
@click.option("--work", metavar="ID", help="The work to lay it beside; without it, the one that is built most like it.")
@click.option("--whole", is_flag=True, help="Beside the whole work, not the part of it that answers.")
@click.option(
    "--mirrored/--no-mirrored",
    default=True,
    show_default=True,
    help="Whether the work may be turned over, to face as the study does.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def compare(study: Path, archive: Path, work: str | None, whole: bool, mirrored: bool, as_json: bool) -> None:
    """Lay a study beside a work and say what to try next.

    Both are squinted at alike and brought to one size, and one is laid straight over the other; a match lets
    shapes shift and bend a little first, so its shares differ. Said are the agreement value by value, what is
    joined in the work and broken in the STUDY or the other way round, whether its values are definite, and up to
    three things to try, each with works of the archive that show it. Nothing is a mark.
    """
    from archive.beside import lay_beside
    from archive.match import Gallery
    from archive.store import Archive
    from ingest.picture_file import UnreadablePicture
    from ingest.reading import read

    opened = Archive.open(archive)
    gallery = Gallery(opened)
    try:
        reading = read(study)
        if work is None:
            found = gallery.match(reading, count=1, whole=whole, mirrored=mirrored)
            if not found.matches:
                raise click.ClickException(found.note)
            work = found.matches[0].work
        laid = lay_beside(opened, gallery, reading, work, whole=whole, mirrored=mirrored)
    except UnreadablePicture as error:
        message = f"{study}: {error}"
        raise click.ClickException(message) from error
    click.echo(
        json.dumps({"study": str(study), **laid.facts()}, ensure_ascii=False) if as_json else _words(study, laid)
    )


def _words(study: Path, laid: Beside) -> str:
    work, compared, advice = laid.work, laid.comparison, laid.advice
    named = ", ".join(part for part in (work["artist"], work["title"]) if part) or work["work"]
    falls = ", ".join(
        f"{share:.0%} of the {'middle' if value == 'mid' else value}" for value, share in compared.agreement.items()
    )
    lines = [
        f"{study} beside {named} ({work['work']}{', turned over' if laid.turned else ''})",
        f"  Laid straight over the work, {falls} of the study fall on the same value; "
        f"{compared.same:.0%} of the frame agrees.",
        *(f"  {line}" for line in advice.holds),
        f"  {advice.values.seen} {advice.values.ask}".rstrip(),
    ]
    if advice.next:
        lines.append("What to try next:")
    for said in advice.next:
        lines += [f"  - {said.seen}", f"    {said.ask}"]
        shown = [f"{laid.examples[name]['title'] or name} ({name})" for name in said.works if name in laid.examples]
        if shown:
            lines.append(f"    Works that show it: {'; '.join(shown)}.")
    return "\n".join(lines)
