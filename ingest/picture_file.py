"""Opening a picture file: which formats and sizes are taken, and what goes wrong said in one sentence."""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pillow_heif
from PIL import Image, ImageOps, UnidentifiedImageError

MAX_PIXELS = 400_000_000
MAX_SIDE = 29_999
MIN_SIDE = 16

MOST_LONG = 50
"""How many times as long as wide a picture may be: handscrolls are up to some forty times so, and beyond, what tone
is read from would be a few pixels wide."""

ENDINGS = {
    "JPEG": ".jpg",
    "MPO": ".jpg",
    "PNG": ".png",
    "TIFF": ".tif",
    "WEBP": ".webp",
    "AVIF": ".avif",
    "HEIF": ".heic",
    "GIF": ".gif",
    "BMP": ".bmp",
    "PPM": ".ppm",
}
"""The formats that are read, by the decoder's names, and the usual ending of each."""

_Read = TypeVar("_Read")
_FORMATS = tuple(name for name in ENDINGS if name != "MPO")
"""As they are asked for: what begins as a JPEG may turn out an MPO, which is no name to ask for."""

pillow_heif.register_heif_opener()
# Sizes are checked here from the header, against MAX_PIXELS, before anything is decoded.
Image.MAX_IMAGE_PIXELS = None


class UnreadablePicture(ValueError):
    """The file can't be read as a picture; the message is one clear sentence without the file's path."""


class TooSmallPicture(UnreadablePicture):
    """The picture has too few pixels a side to hold a pattern of values."""


def picture_size(source: Path | bytes) -> tuple[int, int, str]:
    """Width and height in pixels as stored, and the kind of file ('JPEG', 'PNG' …), from the head of a picture file
    alone: nothing is decoded. Errors are those of `with_opened`."""
    return with_opened(source, lambda opened: (opened.width, opened.height, str(opened.format)))


def with_opened(source: Path | bytes, read: Callable[[Image.Image], _Read]) -> _Read:
    """What `read` makes of an opened picture file, or of its bytes, before anything is decoded.

    Whatever goes wrong, here or in `read`, is raised as UnreadablePicture with one clear sentence.
    """
    try:
        data = source if isinstance(source, bytes) else source.read_bytes()
    except OSError as problem:
        message = f"The file can't be opened: {problem.strerror or problem}."
        raise UnreadablePicture(message) from problem
    if not data:
        message = "The file is empty."
        raise UnreadablePicture(message)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=_FORMATS) as opened:
                _check(opened)
                return read(opened)
    except UnidentifiedImageError as problem:
        message = (
            "The file is not a picture in a format that Blotbook reads (JPEG, PNG, TIFF, WebP, AVIF, HEIC, GIF, BMP)."
        )
        raise UnreadablePicture(message) from problem
    except UnreadablePicture:
        raise
    except MemoryError as problem:
        message = "The picture needs more memory than there is."
        raise UnreadablePicture(message) from problem
    except Exception as problem:  # decoders raise nearly anything on damaged bytes
        reason = str(problem).strip().rstrip(".") or type(problem).__name__
        message = f"The picture is damaged or cut short ({reason})."
        raise UnreadablePicture(message) from problem


def reduce_decoding(opened: Image.Image, scale: float) -> None:
    """Have a file decoded at no less than a scale, 0..1, of its size, where its format can do so."""
    if opened.format in ("JPEG", "MPO"):
        scale = min(1.0, scale)
        opened.draft(None, (int(opened.width * scale) or 1, int(opened.height * scale) or 1))


def set_upright(opened: Image.Image) -> None:
    """Decode an opened file and turn it in place by its EXIF Orientation; where that is broken, it stays as stored.

    Errors of decoding are those of its decoder.
    """
    opened.load()
    try:
        ImageOps.exif_transpose(opened, in_place=True)
    except MemoryError:
        raise
    except Exception:  # its readers raise nearly anything on damaged bytes
        # The pixels are whole, and how the camera was held is no reason to refuse them.
        return


def check_proportions(width: int, height: int, what: str = "picture") -> None:
    """Raise UnreadablePicture where a picture, or the `what` of it, is far longer one way than the other.

    width, height: in pixels, more than 0.
    """
    if max(width, height) > MOST_LONG * min(width, height):
        message = (
            f"The {what} is {width} x {height} pixels, so long and narrow that its values make no pattern; "
            f"Blotbook reads up to {MOST_LONG} times as long as wide."
        )
        raise UnreadablePicture(message)


def _check(opened: Image.Image) -> None:
    _check_size(*opened.size)
    if opened.format in ("GIF", "WEBP", "PNG", "AVIF") and getattr(opened, "n_frames", 1) > 1:
        message = "The picture is animated; Blotbook reads still pictures."
        raise UnreadablePicture(message)


def _check_size(width: int, height: int) -> None:
    if min(width, height) < MIN_SIDE:
        message = f"The picture is {width} x {height} pixels, too small to hold a pattern of values."
        raise TooSmallPicture(message)
    if max(width, height) > MAX_SIDE or width * height > MAX_PIXELS:
        message = (
            f"The picture is {width} x {height} pixels; Blotbook reads up to {MAX_SIDE} a side "
            f"and {MAX_PIXELS // 1_000_000} million in all."
        )
        raise UnreadablePicture(message)
    check_proportions(width, height)
