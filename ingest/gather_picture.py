"""Whether a file that came is the picture of the work, and whole.

The picture is decoded at an eighth to a whole of its size, as its format allows, so that one that was cut short is
found out at once.  A placeholder ('no picture yet') is told in three ways: it is all but one colour, it has not the
shape that the record states, or the very same file comes for a third work (that is for the journal to see).
"""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np

ENDINGS = {
    "JPEG": ".jpg",
    "MPO": ".jpg",
    "PNG": ".png",
    "TIFF": ".tif",
    "WEBP": ".webp",
    "AVIF": ".avif",
    "GIF": ".gif",
}
"""The formats that are taken, and the ending each is given."""

LEAST_SIDE = 200
"""Pixels of the longer side below which a picture is too small to study."""

MOST_PIXELS = 100_000_000
"""More pixels, as decoded, are no picture of the size that was asked for, and would cost too much memory."""

PLAIN = 0.9
"""The share of pixels of exactly one colour from which a picture is taken for a placeholder: photographs have grain."""

SHAPE = 0.04
"""By how much the ratio of the sides may differ from that of the record, as a share."""

_PROBE = 512
_FORMATS = tuple(name for name in ENDINGS if name != "MPO")
"""As Pillow opens them: what begins as a JPEG may turn out an MPO, which is no name to ask for."""


class NoPicture(ValueError):
    """The file is not the picture of the work; the message is a part of a sentence.

    ``placeholder`` tells whether something stands in its place on purpose.
    """

    def __init__(self, reason: str, *, placeholder: bool = False) -> None:
        super().__init__(reason)
        self.placeholder = placeholder


def check_picture(file: Path, shape: tuple[int, int] | None = None) -> str:
    """The ending for a file that is a whole picture of (width, height) proportions ``shape``, if that is known.

    Raises `NoPicture`.
    """
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(file, formats=_FORMATS) as image:
                width, height = image.size
                ending = ENDINGS[image.format or ""]
                if max(width, height) < LEAST_SIDE:
                    message = f"the picture is only {width} x {height} pixels"
                    raise NoPicture(message, placeholder=True)
                image.draft("RGB", (_PROBE, _PROBE))
                if image.width * image.height > MOST_PIXELS:
                    message = f"the picture is {width} x {height} pixels, far more than was asked for"
                    raise NoPicture(message)
                turned = image.getexif().get(0x0112, 1) in (5, 6, 7, 8)
                plain = _plainness(np.asarray(image.convert("RGB")))
    except NoPicture:
        raise
    except UnidentifiedImageError as error:
        message = "what came is no picture"
        raise NoPicture(message) from error
    except Exception as error:  # decoders raise nearly anything on damaged bytes
        message = f"the picture is damaged or cut short ({str(error).rstrip('.') or type(error).__name__})"
        raise NoPicture(message) from error
    if plain >= PLAIN:
        message = "the picture is all but one colour, as a placeholder is"
        raise NoPicture(message, placeholder=True)
    if shape is not None:
        stated = shape[0] / shape[1]
        found = [width / height] + ([height / width] if turned else [])
        if min(abs(ratio / stated - 1) for ratio in found) > SHAPE:
            message = (
                f"the picture is {width} x {height} pixels but the record speaks of {shape[0]} x {shape[1]}, "
                "which is another shape"
            )
            raise NoPicture(message, placeholder=True)
    return ending


def _plainness(rgb: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> float:
    """The share of the most frequent colour of an (h, w, 3) uint8 picture, 0 to 1."""
    codes = rgb[::2, ::2].astype(np.uint32)
    packed = (codes[..., 0] << 16) | (codes[..., 1] << 8) | codes[..., 2]
    return float(np.unique(packed, return_counts=True)[1].max() / packed.size)
