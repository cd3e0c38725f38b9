"""Opening a picture file: which formats and sizes are taken, and what goes wrong said in one sentence."""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pillow_heif
from PIL import Image, UnidentifiedImageError

MAX_PIXELS = 400_000_000
MAX_SIDE = 29_999
MIN_SIDE = 16

_Read = TypeVar("_Read")
_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "AVIF", "HEIF", "GIF", "BMP", "PPM")

pillow_heif.register_heif_opener()
# Sizes are checked here from the header, against MAX_PIXELS, before anything is decoded.
Image.MAX_IMAGE_PIXELS = None


class UnreadablePicture(ValueError):
    """The file can't be read as a picture; the message is one clear sentence without the file's path."""


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


def _check(opened: Image.Image) -> None:
    _check_size(*opened.size)
    if opened.format in ("GIF", "WEBP", "PNG", "AVIF") and getattr(opened, "n_frames", 1) > 1:
        message = "The picture is animated; Blotbook reads still pictures."
        raise UnreadablePicture(message)


def _check_size(width: int, height: int) -> None:
    if min(width, height) < MIN_SIDE:
        message = f"The picture is {width} x {height} pixels, too small to hold a pattern of values."
        raise UnreadablePicture(message)
    if max(width, height) > MAX_SIDE or width * height > MAX_PIXELS:
        message = (
            f"The picture is {width} x {height} pixels; Blotbook reads up to {MAX_SIDE} a side "
            f"and {MAX_PIXELS // 1_000_000} million in all."
        )
        raise UnreadablePicture(message)
