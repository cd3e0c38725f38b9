"""What a worker may be asked.  Runs in the worker alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from ingest.picture import UnreadablePicture, picture_size, read_upright
from ingest.reading import Reading, read
from ingest.sheet import Corners, Sheet, read_sheet

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

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


def sheet(data: bytes, layout: tuple[int, int] | None, corners: Corners | list[Corners] | None) -> Sheet:
    """The panels of a photographed sheet.  Raises `UnreadablePicture`, ValueError when they are not found as asked."""
    _check(data)
    return read_sheet(data, layout=layout, corners=corners)


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
