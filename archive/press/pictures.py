"""Pictures as files of other kinds want them: cut to their part, re-encoded, and large enough for print."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from archive.press.content import VALUES, Plate
from ingest.lightness import grey_code
from ingest.value_map import MAP_LIGHTNESS, OUTSIDE, map_picture

PRINT_DPI = 220
"""Value maps are enlarged until they print at least this fine; paintings stay as the archive has them."""

_JPEG_QUALITY = 90


def opened(plate: Plate) -> Image.Image:
    """The plate's part as an image: mode RGB for a painting, L for the others.

    Raises OSError when the file is missing or damaged.
    """
    with Image.open(io.BytesIO(plate.read())) as image:
        image.load()
        whole = image.convert("RGB" if plate.showing == "painting" else "L")
    if plate.part is None:
        return whole
    x0, y0, x1, y1 = plate.part
    left, top = int(x0 * whole.width), int(y0 * whole.height)
    right, bottom = max(left + 1, round(x1 * whole.width)), max(top + 1, round(y1 * whole.height))
    return whole.crop((left, top, min(right, whole.width), min(bottom, whole.height)))


def for_print(plate: Plate, millimetres: float) -> tuple[bytes, tuple[int, int]]:
    """The plate as a file for a PDF, and its size in px, when its longer side is printed as long as that.

    A painting becomes a JPEG in sRGB at the size that the archive keeps.  A value map stays in its plain greys, without
    loss; its outlines are drawn anew at the size of the print, since shapes may be enlarged and paint may not.
    """
    image = opened(plate)
    if plate.showing == "painting":
        return _encoded(image, "JPEG", quality=_JPEG_QUALITY, subsampling=0), image.size
    wanted = round(millimetres / 25.4 * PRINT_DPI)
    if plate.showing in VALUES and wanted > max(image.size):
        image = _redrawn(image, VALUES[plate.showing], wanted)
    return _encoded(image, "PNG"), image.size


def for_screen(plate: Plate) -> tuple[bytes, str]:
    """The plate as a file for a web page, and its media type."""
    if plate.part is None:
        return plate.read(), "image/jpeg" if plate.file is None and plate.showing == "painting" else media_type(plate)
    if plate.showing == "painting":
        return _encoded(opened(plate), "WEBP", quality=_JPEG_QUALITY, method=4), "image/webp"
    return _encoded(opened(plate), "PNG"), "image/png"


def media_type(plate: Plate) -> str:
    """The media type of a plate's file."""
    return f"image/{plate.file.suffix.lstrip('.') if plate.file is not None else 'png'}"


def _redrawn(image: Image.Image, values: int, side: int) -> Image.Image:
    """A map at a larger size with smooth outlines and no other greys than before."""
    names = np.full(256, OUTSIDE, dtype=np.uint8)
    for value, lightness in enumerate(MAP_LIGHTNESS[values]):
        names[grey_code(lightness)] = value
    return map_picture(names[np.asarray(image)], values, side)


def _encoded(image: Image.Image, kind: str, **how: int) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, kind, **how)
    return buffer.getvalue()
