"""``blotbook panels``."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from ingest.sheet import Panel, Sheet
    from ingest.sheet.sheet import Corners

Quad = tuple[tuple[float, float], ...]

_NUMBER = r"-?\d{1,6}(?:\.\d{1,3})?"


def _layout_option(_context: click.Context, _parameter: click.Parameter, value: str | None) -> tuple[int, int] | None:
    if value is None:
        return None
    found = re.fullmatch(r"\s*([1-8])\s*[x×X]\s*([1-8])\s*", value)
    if found is None:
        message = f"{value!r} is not rows x columns, each from 1 to 8, as in 2x3."
        raise click.BadParameter(message)
    return int(found[1]), int(found[2])


def _corners_option(_context: click.Context, _parameter: click.Parameter, value: tuple[str, ...]) -> list[Quad] | None:
    return [_quad(text) for text in value] or None


def _quad(text: str) -> Quad:
    pairs = re.findall(rf"({_NUMBER})\s*,\s*({_NUMBER})", text)
    if len(pairs) != 4 or not re.fullmatch(rf"\s*(?:{_NUMBER}\s*,\s*{_NUMBER}[\s;]*){{4}}", text):
        message = f"{text!r} is not four corners x,y in pixels, as in '120,80 900,95 880,610 110,600'."
        raise click.BadParameter(message)
    return tuple((float(x), float(y)) for x, y in pairs)


@click.command()
@click.argument("photo", type=click.Path(path_type=Path), metavar="PHOTO")
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    required=True,
    help="The folder for the panels, one PNG each; it is made if need be.",
)
@click.option(
    "--layout",
    callback=_layout_option,
    metavar="RxC",
    help="How many rows and columns of panels there are, where that is known, as in 2x3.",
)
@click.option(
    "--corners",
    callback=_corners_option,
    multiple=True,
    metavar="'X,Y X,Y X,Y X,Y'",
    help="Four corners in pixels of the upright photo: of the whole sheet, together with --layout; or of one panel, "
    "and then once for each panel.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def panels(photo: Path, out: Path, layout: tuple[int, int] | None, corners: list[Quad] | None, as_json: bool) -> None:
    """Cut the panels from a photo of a sheet, each straightened and with the light divided out.

    The panels are numbered row by row as the photo is seen upright. Light is judged by the paper or tape
    around them alone, so that a wash stays a wash; what shines too much to be read is marked in a second
    PNG, black there. If the panels cannot be found nothing is written, the exit code is 1, and corners are
    asked for. Neither place nor camera is taken over from the photo.
    """
    from ingest.picture_file import UnreadablePicture
    from ingest.sheet import SheetError, read_sheet

    try:
        sheet = read_sheet(photo, layout=layout, corners=corners)
    except UnreadablePicture as error:
        message = f"{photo}: {error}"
        raise click.ClickException(message) from error
    except SheetError as error:
        raise click.UsageError(str(error)) from error
    files = _write(sheet, photo.stem, out) if sheet.found else []
    left = _left_over(photo.stem, out, files) if sheet.found else ""
    if as_json:
        click.echo(json.dumps(_facts(photo, sheet, files), ensure_ascii=False))
    elif sheet.found:
        click.echo(_words(photo, sheet, files, given=corners is not None))
    else:
        click.echo(f"blotbook: {photo}: {sheet.need_corners}", err=True)
    if left:
        click.echo(f"blotbook: {left}", err=True)
    if not sheet.found:
        raise click.exceptions.Exit(1)


def _write(sheet: Sheet, stem: str, out: Path) -> list[dict[str, str]]:
    from PIL import Image

    out.mkdir(parents=True, exist_ok=True)
    files = []
    for number, panel in enumerate(sheet.panels, 1):
        names = {"file": str(out / f"{stem}-panel-{number}.png")}
        Image.fromarray(panel.rgb).save(names["file"], "PNG", compress_level=3)
        if panel.mask is not None:
            names["mask"] = str(out / f"{stem}-panel-{number}-mask.png")
            Image.fromarray(panel.mask).save(names["mask"], "PNG")
        files.append(names)
    return files


def _left_over(stem: str, out: Path, files: list[dict[str, str]]) -> str:
    """A sentence on panels of an earlier reading that lie beside those written, '' if there are none."""
    written = {Path(name).name for names in files for name in names.values()}
    pattern = re.compile(rf"{re.escape(stem)}-panel-\d+(-mask)?\.png")
    left = sum(pattern.fullmatch(each.name) is not None and each.name not in written for each in out.iterdir())
    if not left:
        return ""
    which = "one more file" if left == 1 else f"{left} more files"
    return f"{out} holds {which} of panels of {stem} that are not of this reading, but of an earlier one."


def _facts(photo: Path, sheet: Sheet, files: list[dict[str, str]]) -> dict[str, Any]:
    """What ``--json`` prints; corners are x, y in pixels of the upright photo, clockwise from the panel's top left, and
    confidences are 0 to 1."""
    facts: dict[str, Any] = {
        "photo": str(photo),
        "width": sheet.width,
        "height": sheet.height,
        "layout": None if sheet.layout is None else list(sheet.layout),
        "toned": sheet.toned,
        "light_confidence": sheet.light_confidence,
        "notes": list(sheet.notes),
        "panels": [_panel(panel, names) for panel, names in zip(sheet.panels, files, strict=True)],
    }
    if sheet.need_corners:
        facts["need_corners"] = sheet.need_corners
    if sheet.doubtful:
        facts["doubtful"] = [_plain(corners) for corners in sheet.doubtful]
    return facts


def _panel(panel: Panel, names: dict[str, str]) -> dict[str, Any]:
    return {
        "corners": _plain(panel.corners),
        **names,
        "confidence": panel.confidence,
        "notes": list(panel.notes),
    }


def _plain(corners: Corners) -> list[list[float]]:
    return [[round(x, 1), round(y, 1)] for x, y in corners]


def _words(photo: Path, sheet: Sheet, files: list[dict[str, str]], *, given: bool) -> str:
    count = len(sheet.panels)
    laid = f", {sheet.layout[0]} x {sheet.layout[1]}" if sheet.layout and count > 1 else ""
    lines = [f"{photo}: {'one panel' if count == 1 else f'{count} panels'}{laid}"]
    lines += [f"    {note}" for note in sheet.notes]
    for panel, names in zip(sheet.panels, files, strict=True):
        height, width = panel.rgb.shape[:2]
        sides = "by the corners given" if given else f"sides seen {panel.confidence:.0%}"
        lines.append(f"    {names['file']}: {width} x {height} pixels, {sides}")
        lines += [f"        {note}" for note in panel.notes]
    return "\n".join(lines)
