"""Whether a file that came is the picture of the work, and whole.

The picture is decoded at an eighth to a whole of its size, as its format allows, so that one that was cut short is
found out at once.  A placeholder ('no picture yet') is told in three ways: it is all but one colour, it has not the
shape that the record states, or the very same file comes for a third work (that is for the journal to see).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image, UnidentifiedImageError

from ingest.colour import plain_rgb
from ingest.picture_file import (
    ENDINGS,
    TooSmallPicture,
    UnreadablePicture,
    picture_size,
    reduce_decoding,
    set_upright,
    with_opened,
)

__all__ = ["ENDINGS", "LEAST_SIDE", "MOST_PIXELS", "PLAIN", "SHAPE", "NoPicture", "check_picture"]

LEAST_SIDE = 200
"""Pixels of the longer side below which a picture is too small to study."""

MOST_PIXELS = 100_000_000
"""More pixels, as decoded, are no picture of the size that was asked for, and would cost too much memory."""

PLAIN = 0.9
"""The share of pixels of exactly one colour from which a picture is taken for a placeholder: photographs have grain."""

SHAPE = 0.04
"""By how much the ratio of the sides may differ from that of the record, as a share."""

_PROBE = 512


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
    try:
        width, height, kind = picture_size(file)
        if max(width, height) < LEAST_SIDE:
            message = f"the picture is only {width} x {height} pixels"
            raise NoPicture(message, placeholder=True)
        looked = with_opened(file, _look)
    except UnreadablePicture as problem:
        if isinstance(problem.__cause__, UnidentifiedImageError):
            message = "what came is no picture"
            raise NoPicture(message) from problem
        reason = str(problem).removesuffix(".")
        message = reason[0].lower() + reason[1:]
        raise NoPicture(message, placeholder=isinstance(problem, TooSmallPicture)) from problem
    if looked is None:
        message = f"the picture is {width} x {height} pixels, far more than was asked for"
        raise NoPicture(message)
    turned, plain = looked
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
    return ENDINGS[kind]


def _look(opened: Image.Image) -> tuple[bool, float] | None:
    """Whether its EXIF turns a picture on its side, and how plain it is, 0 to 1; of a huge one, nothing."""
    reduce_decoding(opened, _PROBE / min(opened.size))
    if opened.width * opened.height > MOST_PIXELS:
        return None
    stored = opened.size
    set_upright(opened)
    return opened.size != stored, _plainness(np.asarray(plain_rgb(opened)))


def _plainness(rgb: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> float:
    """The share of the most frequent colour of an (h, w, 3) uint8 picture, 0 to 1."""
    codes = rgb[::2, ::2].astype(np.uint32)
    packed = (codes[..., 0] << 16) | (codes[..., 1] << 8) | codes[..., 2]
    return float(np.unique(packed, return_counts=True)[1].max() / packed.size)
