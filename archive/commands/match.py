"""``blotbook match``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from archive.commands.only import chosen_works
from archive.commands.options import archive_option

if TYPE_CHECKING:
    from archive.match import Match, Matches


@click.command()
@click.argument("studies", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="STUDY...")
@archive_option
@click.option(
    "--count",
    type=click.IntRange(1, 1000),
    default=12,
    show_default=True,
    metavar="N",
    help="How many works to name for each study.",
)
@click.option("--whole", is_flag=True, help="Compare with whole works only, not with parts of them.")
@click.option(
    "--mirrored/--no-mirrored",
    default=True,
    show_default=True,
    help="Whether the study may also be turned over, left for right.",
)
@click.option(
    "--heed-register",
    is_flag=True,
    help="Let it count how light or dark the whole is, not only how the values are laid out.",
)
@click.option(
    "--only",
    multiple=True,
    metavar="NAME=VALUE",
    # A terminal breaks lines at hyphens too; what stands first stays whole.
    help="arrangement=light-mass-on-dark-ground, century=17, 'artist=Berthe Morisot', collection=…, culture=French or "
    "register=lower: only works of which the records say so. May be given several times; all must hold.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line for each study.")
def match(
    studies: tuple[Path, ...],
    archive: Path,
    count: int,
    whole: bool,
    mirrored: bool,
    heed_register: bool,
    only: tuple[str, ...],
    as_json: bool,
) -> None:
    """Find the works in an archive that are built like a study.

    A STUDY is a picture of a small tonal drawing or painting; a photograph of the sheet will do. For each one
    the works are named that are laid out most like it, with the part that matches and the reason. A study
    that cannot be read, or that no work can be named for, is named with the reason and costs the others nothing;
    the exit code then is 1.
    """
    from archive.match import Gallery
    from archive.store import Archive
    from ingest.picture_file import UnreadablePicture
    from ingest.reading import read

    opened = Archive.open(archive)
    gallery = Gallery(opened)
    among = chosen_works(opened, only) if only else None
    failed = False
    for study in studies:
        try:
            reading = read(study)
        except UnreadablePicture as error:
            failed = True
            if as_json:
                click.echo(json.dumps({"study": str(study), "error": str(error)}, ensure_ascii=False))
            else:
                click.echo(f"blotbook: {study}: {error}", err=True)
            continue
        found = gallery.match(
            reading, count=count, whole=whole, mirrored=mirrored, heed_register=heed_register, among=among
        )
        failed = failed or not found.matches
        click.echo(json.dumps(_facts(study, found), ensure_ascii=False) if as_json else _words(study, found))
    if failed:
        raise click.exceptions.Exit(1)


def _facts(study: Path, found: Matches) -> dict[str, Any]:
    """What ``--json`` prints; ``part`` is (x0, y0, x1, y1) in shares of the work as it is shown."""
    facts: dict[str, Any] = {"study": str(study), "matches": [_match(each) for each in found.matches]}
    if found.note:
        facts["note"] = found.note
    return facts


def _match(match: Match) -> dict[str, Any]:
    return {
        "work": match.work,
        "accession_number": match.accession_number,
        "title": match.title,
        "artist": match.artist,
        "similarity": match.similarity,
        "part": list(match.part),
        "mirrored": match.mirrored,
        "sentence": match.sentence,
        "agreement": match.agreement,
        "shift": match.shift,
    }


def _words(study: Path, found: Matches) -> str:
    lines = [str(study)]
    if found.note:
        lines.append(f"    {found.note}")
    for place, match in enumerate(found.matches, 1):
        named = ", ".join(part for part in (match.artist, match.title) if part) or match.work
        lines += [f"{place:4}. {named} ({match.work}, likeness {match.similarity:.2f})", f"      {match.sentence}"]
    return "\n".join(lines)
