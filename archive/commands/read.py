"""``blotbook read``."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from ingest.reading import Reading

_DIGITS = 4


@click.command()
@click.argument("pictures", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="PICTURE...")
@click.option(
    "--values",
    type=click.Choice(["2", "3", "5"]),
    default="3",
    show_default=True,
    help="How many values the map has.",
)
@click.option(
    "--map",
    "map_file",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="OUT.png",
    help="Write the value map of the picture as a PNG.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line for each picture.")
def read(pictures: tuple[Path, ...], values: str, map_file: Path | None, as_json: bool) -> None:
    """Read pictures as a painter squints at them, and say how they are laid out.

    Says for each picture how much of it is light, middle and dark, in which register and scale it is, and
    which shapes it is made of; a margin of paper or a frame about it is trimmed first. The proportions are
    always those of the three-value map. A picture that cannot be read is named with the reason and costs the
    others nothing; the exit code then is 1.
    """
    from ingest.picture import UnreadablePicture
    from ingest.reading import read as read_picture

    if map_file is not None and len(pictures) > 1:
        message = "--map takes one picture at a time."
        raise click.UsageError(message)
    if map_file is not None and map_file.suffix.lower() != ".png":
        message = f"--map writes a PNG, so its name must end in .png, not {map_file.name!r}."
        raise click.UsageError(message)
    failed = False
    for picture in pictures:
        try:
            reading = read_picture(picture)
        except UnreadablePicture as error:
            failed = True
            if as_json:
                click.echo(json.dumps({"file": str(picture), "error": str(error)}, ensure_ascii=False))
            else:
                click.echo(f"blotbook: {picture}: {error}", err=True)
            continue
        if map_file is not None:
            _write_map(reading, int(values), map_file)
        if as_json:
            click.echo(json.dumps(_facts(picture, reading), ensure_ascii=False))
        else:
            click.echo(_words(picture, reading))
    if failed:
        raise click.exceptions.Exit(1)


def _write_map(reading: Reading, values: int, map_file: Path) -> None:
    from ingest.showing import MAP_SIDE
    from ingest.value_map import map_picture

    map_picture(reading.maps[values].labels, values, MAP_SIDE).save(map_file, "PNG")


def _facts(picture: Path, reading: Reading) -> dict[str, Any]:
    """What ``--json`` prints; shares, places and degrees are 0 to 1, ``trimmed`` is in pixels of the file."""
    measures = {name: _plain(value) for name, value in dataclasses.asdict(reading.measures).items()}
    return {
        "file": str(picture),
        "width": reading.picture.width,
        "height": reading.picture.height,
        "trimmed": list(reading.picture.trimmed),
        "trims": list(reading.picture.trims),
        "profile": reading.picture.profile,
        "proportions": {name: measures[name] for name in ("light", "mid", "dark")},
        "register": measures["register"],
        "scale": measures["scale"],
        "masses": [
            {name: _plain(value) for name, value in dataclasses.asdict(mass).items()} for mass in reading.masses
        ],
        "types": {slug: _plain(degree) for slug, degree in reading.types.items()},
        "measures": measures,
        "sentence": reading.sentence,
    }


def _plain(value: Any) -> Any:
    return round(float(value), _DIGITS) if isinstance(value, float) else value


def _words(picture: Path, reading: Reading) -> str:
    measures = reading.measures
    lines = [
        f"{picture}: {reading.sentence}",
        f"    light {measures.light:.0%}, middle {measures.mid:.0%}, dark {measures.dark:.0%}; "
        f"{measures.register} register, {measures.scale} scale",
    ]
    lines += [f"    {trim}" for trim in reading.picture.trims]
    return "\n".join(lines)
