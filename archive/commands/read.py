"""``blotbook read``."""

from __future__ import annotations

import dataclasses
import io
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from archive.commands.output import write_file

if TYPE_CHECKING:
    from ingest.part import Part
    from ingest.reading import Reading

_DIGITS = 4
_NAMES = {
    2: ("dark", "light"),
    3: ("dark", "middle", "light"),
    5: ("dark", "half dark", "middle", "half light", "light"),
}
"""What the values of a map are called, darkest first (after Burnet 1826)."""

_DOUBTFUL = 0.1
"""Share of the picture near a threshold from which the words say that the border could as well be drawn elsewhere."""

_SOFT, _SHARP = 1 / 3, 2 / 3
_EXPLAINED = 0.5
"""How much one even grade must explain to be called one."""


def _part_option(_context: click.Context, _parameter: click.Parameter, value: str | None) -> Part | None:
    from ingest.part import read_part

    try:
        return None if value is None else read_part(value)
    except ValueError as error:
        message = f"{value!r} {error}."
        raise click.BadParameter(message) from None


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
    "--squint",
    type=float,
    metavar="SHARE",
    default=0.02,
    show_default=True,
    help="How hard to squint: the radius of the blur as a share of the diagonal, from 0.002, which keeps much detail, "
    "to 0.08, a blot.",
)
@click.option(
    "--part",
    callback=_part_option,
    metavar="X0,Y0,X1,Y1|whole",
    help="What of the file is the picture, in pixels from its upper left corner, or 'whole' for all of it; nothing is "
    "trimmed then.",
)
@click.option(
    "--map",
    "map_file",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="OUT.png",
    help="Write the value map of the picture as a PNG.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line for each picture.")
def read(
    pictures: tuple[Path, ...], values: str, squint: float, part: Part | None, map_file: Path | None, as_json: bool
) -> None:
    """Read pictures as a painter squints at them, and say how they are laid out.

    Says for each picture how much of it is light, middle and dark, in which register and scale it is, and
    which shapes it is made of; a margin of paper or a frame about it is trimmed first. The sentence and the
    shapes are always those of the three-value map. A picture that cannot be read is named with the reason and
    costs the others nothing; the exit code then is 1.
    """
    from ingest.picture_file import UnreadablePicture
    from ingest.reading import read as read_picture

    _check_use(pictures, squint, part, map_file)
    failed = False
    for picture in pictures:
        try:
            reading = read_picture(picture, part=part, share=squint)
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
            click.echo(json.dumps(_facts(picture, reading, int(values), squint), ensure_ascii=False))
        else:
            click.echo(_words(picture, reading, int(values)))
    if failed:
        raise click.exceptions.Exit(1)


def _check_use(pictures: tuple[Path, ...], squint: float, part: Part | None, map_file: Path | None) -> None:
    from ingest.squint import SHARE_RANGE

    low, high = SHARE_RANGE
    if not low <= squint <= high:
        message = f"--squint takes a share of the diagonal between {low} and {high}, not {squint:g}."
        raise click.UsageError(message)
    if len(pictures) == 1 or (map_file is None and part in (None, "whole")):
        pass
    elif map_file is not None:
        message = f"--map takes one picture at a time, and {len(pictures)} are named."
        raise click.UsageError(message)
    else:
        message = f"--part with a rectangle takes one picture at a time, and {len(pictures)} are named."
        raise click.UsageError(message)
    if map_file is not None and map_file.suffix.lower() != ".png":
        message = f"--map writes a PNG, so its name must end in .png, not {map_file.name!r}."
        raise click.UsageError(message)


def _write_map(reading: Reading, values: int, map_file: Path) -> None:
    from ingest.showing import MAP_SIDE
    from ingest.value_map import map_picture

    content = io.BytesIO()
    map_picture(reading.maps[values].labels, values, MAP_SIDE).save(content, "PNG")
    write_file(map_file, content.getvalue())


def _facts(picture: Path, reading: Reading, values: int, squint: float) -> dict[str, Any]:
    """What ``--json`` prints; shares, places and degrees are 0 to 1, ``trimmed`` is in pixels of the file.

    ``map`` is the map of as many values as were asked for, its lists from the darkest value to the lightest; ``sure``
    says how firm the three-value map is: gaps between the values in L*, and how much lies within 3 L* of a threshold.
    """
    measures = {name: _plain(value) for name, value in dataclasses.asdict(reading.measures).items()}
    laid = reading.maps[values]
    return {
        "file": str(picture),
        "width": reading.picture.width,
        "height": reading.picture.height,
        "trimmed": list(reading.picture.trimmed),
        "trims": list(reading.picture.trims),
        "profile": reading.picture.profile,
        "squint": squint,
        "proportions": {name: measures[name] for name in ("light", "mid", "dark")},
        "register": measures["register"],
        "scale": measures["scale"],
        "sure": {
            name: measures[name]
            for name in ("values_present", "gap_light_mid", "gap_mid_dark", "unsure_light", "unsure_dark")
        },
        "map": {
            "values": values,
            "shares": [_plain(share) for share in laid.shares()],
            "thresholds": [_plain(edge) for edge in laid.thresholds],
            "lightness": [_plain(mean) for mean in laid.means],
            "unsure": [_plain(share) for share in laid.unsure],
        },
        "masses": [
            {name: _plain(value) for name, value in dataclasses.asdict(mass).items()} for mass in reading.masses
        ],
        "types": {slug: _plain(degree) for slug, degree in reading.types.items()},
        "measures": measures,
        "sentence": reading.sentence,
    }


def _plain(value: Any) -> Any:
    return round(float(value), _DIGITS) if isinstance(value, float) else value


def _words(picture: Path, reading: Reading, values: int) -> str:
    from ingest.words import place

    measures = reading.measures
    lines = [f"{picture}: {reading.sentence}", f"    {_values(reading, values)}"]
    if measures.values_present > 1:
        sharp = measures.contrast_sharpness
        edge = "sharp" if sharp > _SHARP else "soft" if sharp < _SOFT else "firm"
        where = place(measures.contrast_x, measures.contrast_y)
        lines.append(f"    strongest contrast {where}: a step of {measures.contrast_step:.0f} L*, its edge {edge}")
    if measures.gradation >= _EXPLAINED and measures.values_present > 1:
        lines.append(f"    grows lighter {_towards(measures.gradation_direction)}")
    doubts = _doubts(reading)
    if doubts:
        lines.append(f"    {doubts}")
    picture_read = reading.picture
    x0, y0, x1, y1 = picture_read.trimmed
    if picture_read.trims:
        kept = f"read from {x0},{y0} to {x1},{y1} of {picture_read.width} x {picture_read.height} pixels"
        lines.append(f"    {_together(picture_read.trims)}: {kept}")
    return "\n".join(lines)


def _values(reading: Reading, values: int) -> str:
    """'light 22 % (L* 88), middle …': each value from the lightest to the darkest, as the map with so many shows it."""
    laid = reading.maps[values]
    told = [
        f"{name} {share:.0%} (L* {mean:.0f})" if share else f"{name} 0%"
        for name, share, mean in zip(_NAMES[values], laid.shares(), laid.means, strict=True)
    ]
    return ", ".join(reversed(told))


def _together(trims: tuple[str, ...]) -> str:
    """Trims in one phrase; margins of one tone are named together: 'dark margin at the top and the left'."""
    sides: dict[str, list[str]] = {}
    for trim in trims:
        what, at, side = trim.partition(" at the ")
        sides.setdefault(what, []).extend([f"the {side}"] if at else [])
    return "; ".join(
        f"{what} on all sides" if len(found) == 4 else f"{what} at {' and '.join(found)}" if found else what
        for what, found in sides.items()
    )


def _towards(direction: float) -> str:
    """Where a grade of that direction, in degrees (0 right, 90 up), leads to."""
    names = ("to the right", "to the upper right", "upwards", "to the upper left",
             "to the left", "to the lower left", "downwards", "to the lower right")  # fmt: skip
    return names[round(direction / 45) % 8]


def _doubts(reading: Reading) -> str:
    measures = reading.measures
    if measures.values_present < 3:
        return ""
    unsure = [
        words
        for words, share in (("light", measures.unsure_light), ("dark", measures.unsure_dark))
        if share >= _DOUBTFUL
    ]
    if not unsure:
        return ""
    return f"where the {' and the '.join(unsure)} begin{'s' if len(unsure) == 1 else ''} is not clear-cut"
