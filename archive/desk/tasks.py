"""What a worker may be asked.  Runs in the worker alone."""

from __future__ import annotations

import dataclasses
import io
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from archive.desk.seen import SeenPlace, SeenSheet
from archive.placing import Placer
from archive.proposals import Part, crop, propose
from ingest.picture import read_upright
from ingest.picture_file import UnreadablePicture, picture_size
from ingest.reading import Reading, read, read_tone
from ingest.sheet import SheetError, panel_picture, read_sheet

MEGAPIXELS = 64
"""Largest picture, million pixels, that is taken from a form.  Photos of larger sensors that are JPEG are decoded at a
fraction of their size, and are taken up to `MEGAPIXELS_JPEG`."""

MEGAPIXELS_JPEG = 220


def study(data: bytes, trim: bool) -> Reading:
    """The whole street for one picture.  Raises `UnreadablePicture`."""
    _check(data)
    return read(data, trim=trim)


def sheet(
    data: bytes,
    side: int,
    layout: tuple[int, int] | None,
    quads: Sequence[Sequence[tuple[float, float]]],
    of_sheet: bool,
    most: int,
    unmoved: Sequence[bool] = (),
) -> SeenSheet:
    """A photographed sheet, its first ``most`` panels read, with a note where there are more; with 0 the photo alone.

    side: longest side, px, of the photo that is sent back. quads: corners given by hand, in shares of the photo.
    of_sheet: whether the first are those of the whole sheet. unmoved: as `read_sheet` takes it.
    Raises `UnreadablePicture`.
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
                _encoded(picture),
                layout=layout if of_sheet else None,
                corners=corners[0] if of_sheet else corners,
                unmoved=() if of_sheet else unmoved,
            )
        else:
            found = read_sheet(data, layout=layout)
    except SheetError as error:
        return SeenSheet(photo, None, (), str(error))
    if len(found.panels) > most:
        note = f"The photo shows more than {most} panels. The first {most} are read here; photograph the others apart."
        found = dataclasses.replace(found, notes=(*found.notes, note))
    return SeenSheet(photo, found, tuple(read_tone(panel_picture(panel)) for panel in found.panels[:most]), "")


def place(
    data: bytes,
    side: int,
    aspect: float,
    at: tuple[float, float, float],
    most: int,
    placer: Placer | None,
    like: tuple[str, NDArray[np.float32]] | None,
) -> SeenPlace:
    """A photo of a place through a viewfinder of the format ``aspect``, width to height; ``most`` crops are looked for.

    side: longest side, px, of the photo that is sent back. at: how far across and down of the room there is, and its
    size as a share of the largest crop of its format; 0..1. placer, like: as `archive.proposals.propose` takes them.
    Raises `UnreadablePicture`.
    """
    _check(data)
    rgb, _ = read_upright(data, side)
    picture = Image.fromarray(rgb)
    picture.thumbnail((side, side), Image.Resampling.LANCZOS)
    photo = np.asarray(picture)
    part = _framed(picture.width / picture.height, aspect, at)
    proposals = propose(photo, aspect, count=most, placer=placer, like=like) if most else None
    return SeenPlace(photo, part, read_tone(crop(photo, part)), proposals)


def _framed(photo: float, aspect: float, at: tuple[float, float, float]) -> Part:
    """The crop that `place` is asked for, in 0..1 of a photo of so much width to height."""
    across, down, size = at
    width, height = min(1.0, aspect / photo) * size, min(1.0, photo / aspect) * size
    x, y = (1 - width) * across, (1 - height) * down
    return x, y, x + width, y + height


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


TASKS: Mapping[str, Callable[..., Any]] = {"study": study, "sheet": sheet, "place": place}
