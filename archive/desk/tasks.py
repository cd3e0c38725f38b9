"""What a worker may be asked.  Runs in the worker alone."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from archive.desk.seen import SeenSheet
from ingest.picture import read_upright
from ingest.picture_file import UnreadablePicture, picture_size
from ingest.reading import Reading, read, read_tone
from ingest.sheet import panel_picture, read_sheet

MEGAPIXELS = 64
"""Largest picture, million pixels, that is taken from a form.  Photos of larger sensors that are JPEG are decoded at a
fraction of their size, and are taken up to `MEGAPIXELS_JPEG`."""

MEGAPIXELS_JPEG = 220


def study(data: bytes, trim: bool) -> Reading:
    """The whole street for one picture.  Raises `UnreadablePicture`."""
    _check(data)
    return read(data, trim=trim)


def upright(data: bytes, side: int) -> tuple[NDArray[np.uint8], tuple[int, int]]:
    """A picture upright and in sRGB, as `ingest.picture.read_upright` gives it.  Raises `UnreadablePicture`."""
    _check(data)
    return read_upright(data, side)


def sheet(
    data: bytes,
    side: int,
    layout: tuple[int, int] | None,
    quads: Sequence[Sequence[tuple[float, float]]],
    of_sheet: bool,
    most: int,
) -> SeenSheet:
    """A photographed sheet, its first ``most`` panels read; with 0 the photo alone.

    side: longest side, px, of the photo that is sent back. quads: corners given by hand, in shares of the photo.
    of_sheet: whether the first are those of the whole sheet.  Raises `UnreadablePicture`.
    """
    _check(data)
    rgb, _ = read_upright(data, side)
    picture = Image.fromarray(rgb)
    picture.thumbnail((side, side), Image.Resampling.LANCZOS)
    photo = np.asarray(picture)
    if not most:
        return SeenSheet(photo, None, (), "")
    try:
        if quads:
            corners = [[(x * picture.width, y * picture.height) for x, y in quad] for quad in quads]
            found = read_sheet(
                _encoded(picture), layout=layout if of_sheet else None, corners=corners[0] if of_sheet else corners
            )
        else:
            found = read_sheet(data, layout=layout)
    except UnreadablePicture:
        raise
    except ValueError as error:
        return SeenSheet(photo, None, (), str(error))
    return SeenSheet(photo, found, tuple(read_tone(panel_picture(panel)) for panel in found.panels[:most]), "")


def _encoded(picture: Image.Image) -> bytes:
    held = io.BytesIO()
    picture.save(held, "JPEG", quality=95, subsampling=0)
    return held.getvalue()


def _check(data: bytes) -> None:
    width, height, kind = picture_size(data)
    most = MEGAPIXELS_JPEG if kind in ("JPEG", "MPO") else MEGAPIXELS
    if width * height > most * 1_000_000:
        message = (
            f"The picture has {width * height / 1e6:.0f} million pixels; here it may have up to {most}. "
            "Make it smaller and send it again."
        )
        raise UnreadablePicture(message)


TASKS: Mapping[str, Callable[..., Any]] = {"study": study, "upright": upright, "sheet": sheet}
