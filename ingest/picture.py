"""From the bytes of any picture file to an upright, colour-managed, margin-free picture in linear light."""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from ingest import profile as profiles
from ingest.lightness import FloatArray
from ingest.margins import Trim, find_picture
from ingest.part import Part

DISPLAY_SIDE = 960
"""Longest side, in pixels, of the picture as kept for showing."""

WORKING_SIDE = 288
"""Longest side, in pixels, of the field that tone is read from: seven times finer than the default squint."""

TRIM_SIDE = 512
"""Longest side, in pixels, of the field that margins are found in."""

MAX_PIXELS = 400_000_000
MAX_SIDE = 29_999
MIN_SIDE = 16

_AT_ONCE = 1 << 16
"""Pixels whose luminance is looked up at once."""

_Read = TypeVar("_Read")
_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "AVIF", "HEIF", "GIF", "BMP", "PPM")
_PAPER = 255

pillow_heif.register_heif_opener()
# Sizes are checked here from the header, against MAX_PIXELS, before anything is decoded.
Image.MAX_IMAGE_PIXELS = None


class UnreadablePicture(ValueError):
    """The file can't be read as a picture; the message is one clear sentence without the file's path."""


@dataclass(frozen=True)
class Picture:
    """A picture ready for reading tone.

    rgb: (h, w, 3) uint8, sRGB, trimmed, longest side <= DISPLAY_SIDE.
    luminance: (h, w) float32, relative luminance in linear light 0..1, trimmed, longest side <= WORKING_SIDE.
    mask: (h, w) bool, True inside the picture, the shape of `luminance`; None when the picture is a full rectangle.
    width, height: of the upright file in pixels.
    trimmed: rectangle (x0, y0, x1, y1) in those pixels that was kept.
    trims: what was taken off and why, in words.
    profile: the colour profile that was used.
    """

    rgb: NDArray[np.uint8]
    luminance: FloatArray
    mask: NDArray[np.bool_] | None
    width: int
    height: int
    trimmed: tuple[int, int, int, int]
    trims: tuple[str, ...]
    profile: str


def read_picture(source: Path | bytes, *, trim: bool = True, part: Part | None = None) -> Picture:
    """Read a picture file, or its bytes. Raises UnreadablePicture with one clear sentence.

    part: what of the upright file is the picture, if that is known; nothing is then trimmed by our own judgement.
    """
    return _opened(source, lambda opened: _read_opened(opened, trim=trim, part=part))


def read_upright(source: Path | bytes, side: int) -> tuple[NDArray[np.uint8], tuple[int, int]]:
    """A whole picture file, or its bytes, upright and in sRGB, for steps before the street such as finding panels.

    Returns rgb (h, w, 3) uint8, reduced while decoding where the file is more than twice `side` pixels long, and the
    file's own upright (width, height). Errors are those of `read_picture`.
    """

    def read(opened: Image.Image) -> tuple[NDArray[np.uint8], tuple[int, int]]:
        stored, icc = opened.size, opened.info.get("icc_profile") or None
        if opened.format in ("JPEG", "MPO"):
            scale = min(1.0, side / max(stored))
            opened.draft(None, (int(opened.width * scale) or 1, int(opened.height * scale) or 1))
        opened.load()
        image = ImageOps.exif_transpose(opened)
        shown, _, _ = _colour(image, icc)
        return np.asarray(shown), _upright(stored, image.size)

    return _opened(source, read)


def picture_size(source: Path | bytes) -> tuple[int, int, str]:
    """Width and height in pixels as stored, and the kind of file ('JPEG', 'PNG' …), from the head of a picture file
    alone: nothing is decoded. Errors are those of `read_picture`."""
    return _opened(source, lambda opened: (opened.width, opened.height, str(opened.format)))


def _opened(source: Path | bytes, read: Callable[[Image.Image], _Read]) -> _Read:
    """What `read` makes of the opened picture; whatever goes wrong is said as UnreadablePicture."""
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


def _check(opened: Image.Image) -> None:
    _check_size(*opened.size)
    if opened.format in ("GIF", "WEBP", "PNG", "AVIF") and getattr(opened, "n_frames", 1) > 1:
        message = "The picture is animated; Blotbook reads still pictures."
        raise UnreadablePicture(message)


def _read_opened(opened: Image.Image, *, trim: bool, part: Part | None) -> Picture:
    stored = opened.size
    icc = opened.info.get("icc_profile") or None
    if opened.format in ("JPEG", "MPO"):
        # The decoder halves and halves again while it decodes; twice the display side is left for our own averaging.
        kept = max(opened.size) if part is None or part == "whole" else max(1, part[2] - part[0], part[3] - part[1])
        scale = min(1.0, 1.25 * DISPLAY_SIDE / kept)
        opened.draft(None, (int(opened.width * scale) or 1, int(opened.height * scale) or 1))
    opened.load()
    ImageOps.exif_transpose(opened, in_place=True)
    width, height = _upright(stored, opened.size)
    told = None if part is None else _told(part, width, height)
    image, luminance, used = _colour(opened, icc)
    tone = Image.fromarray(luminance)
    whole = (0.0, 0.0, 1.0, 1.0)
    found = told or (_find(image, tone) if trim else Trim(whole, None, ()))
    return _cut(image, tone, found, (width, height), used)


def _find(image: Image.Image, tone: Image.Image) -> Trim:
    """The picture within its margins, looked for at a small size, in colour where there is any."""
    # Borders are to stay sharp here, whatever becomes of grain.
    small = _shrink(tone, TRIM_SIDE, Image.Resampling.BOX)
    if small.shape == tone.size[::-1]:
        return find_picture(small, np.asarray(image))
    # Hue is only looked at, so that it may be shrunk the quick way.
    shown = image.resize(small.shape[::-1], Image.Resampling.BOX, reducing_gap=1.0)
    return find_picture(small, np.asarray(shown))


def _told(part: Part, width: int, height: int) -> Trim:
    """The part that a person named, as a trim of a file of so many upright pixels."""
    if part == "whole":
        return Trim((0.0, 0.0, 1.0, 1.0), None, ("left whole, as asked",))
    x0, y0, x1, y1 = part
    if not (0 <= x0 < x1 <= width and 0 <= y0 < y1 <= height):
        message = f"The part {x0},{y0},{x1},{y1} does not lie within the picture, which is {width} x {height} pixels."
        raise UnreadablePicture(message)
    if min(x1 - x0, y1 - y0) < MIN_SIDE:
        message = f"The part is {x1 - x0} x {y1 - y0} pixels, too small to hold a pattern of values."
        raise UnreadablePicture(message)
    return Trim((x0 / width, y0 / height, x1 / width, y1 / height), None, ("cut to the part asked for",))


def _upright(stored: tuple[int, int], shown: tuple[int, int]) -> tuple[int, int]:
    """The file's size the way the (reduced) picture is shown; some decoders turn it themselves, some leave it to us."""
    width, height = stored
    as_shown = shown[0] * height
    straight, turned = abs(as_shown - shown[1] * width), abs(shown[0] * width - shown[1] * height)
    return (width, height) if straight <= turned else (height, width)


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


def _colour(image: Image.Image, icc: bytes | None) -> tuple[Image.Image, FloatArray, str]:
    """The picture in sRGB for showing, its luminance (h, w) float32 0..1, and the profile used, in words."""
    image = _on_paper(image)
    if image.mode not in ("L", "RGB", "CMYK", "F"):
        image = image.convert("RGB")
    if image.mode == "F":
        codes = np.asarray(image)
        curves = _curves_or_assumed(icc, grey=True)
        luminance = np.interp(codes, np.arange(256), curves.curves[0]).astype(np.float32)
        shown = Image.fromarray(np.rint(codes).astype(np.uint8)).convert("RGB")
        return shown, luminance, curves.name
    if icc is not None:
        try:
            embedded = profiles.tone_curves(icc)
            shown = image if image.mode == "RGB" and _is_srgb(embedded) else profiles.to_srgb(image, icc)
            if embedded is not None and len(embedded.row) == len(image.getbands()):
                return shown, _luminance(image, embedded), f"embedded: {embedded.name}"
            return shown, profiles.to_luminance(image, icc), f"embedded: {profiles.profile_name(icc)}"
        except profiles.ProfileProblem:
            shown, luminance, assumed = _colour(image, None)
            return shown, luminance, f"{assumed.split(',')[0]}, assumed: the embedded profile can't be read"
    if image.mode == "L":
        return image.convert("RGB"), _luminance(image, profiles.SRGB_GREY), profiles.SRGB_GREY.name
    if image.mode == "CMYK":
        shown = image.convert("RGB")
        return shown, _luminance(shown, profiles.SRGB), "CMYK without a profile, read by plain subtraction"
    return image, _luminance(image, profiles.SRGB), profiles.SRGB.name


def _curves_or_assumed(icc: bytes | None, *, grey: bool) -> profiles.ToneCurves:
    assumed = profiles.SRGB_GREY if grey else profiles.SRGB
    if icc is None:
        return assumed
    try:
        curves = profiles.tone_curves(icc)
    except profiles.ProfileProblem:
        return assumed
    return curves if curves is not None and len(curves.row) == len(assumed.row) else assumed


def _is_srgb(curves: profiles.ToneCurves | None) -> bool:
    """Whether a profile is sRGB in all but name, so that converting would only cost time and rounding."""
    if curves is None or len(curves.row) != 3:
        return False
    near_row = np.allclose(curves.row, profiles.SRGB.row, atol=2e-3)
    near_curve = np.allclose(curves.curves[0], profiles.SRGB.curves[0], atol=2e-3)
    return bool(near_row and near_curve)


def _on_paper(image: Image.Image) -> Image.Image:
    """Deep and palette pictures made plain; transparency laid on white paper."""
    if image.mode in ("I;16", "I;16L", "I;16B", "I"):
        deep = np.asarray(image).astype(np.float32)
        return Image.fromarray(deep * np.float32(255 / 65535))
    if image.mode == "F":
        deep = np.asarray(image)
        top = float(np.nanmax(deep)) if deep.size else 0.0
        full = 1.0 if top <= 1.0 else 255.0 if top <= 255.0 else 65535.0
        return Image.fromarray(np.nan_to_num(np.clip(deep / full, 0, 1) * 255).astype(np.float32))
    if image.mode == "1":
        return image.convert("L")
    if image.mode in ("RGBA", "LA", "PA", "RGBa", "La") or "transparency" in image.info:
        layer = image.convert("RGBA")
        paper = Image.new("RGBA", layer.size, (_PAPER, _PAPER, _PAPER, 255))
        return Image.alpha_composite(paper, layer).convert("RGB")
    return image


def _luminance(image: Image.Image, curves: profiles.ToneCurves) -> FloatArray:
    # Codes are bytes and the tables have 256 places or 65536: 'clip' only keeps the look-up from checking each of them.
    tables = [(part * curve).astype(np.float32) for part, curve in zip(curves.row, curves.curves, strict=True)]
    if len(tables) == 1:
        return np.take(tables[0], np.asarray(image), mode="clip")
    # Red and green lie side by side in four bytes a pixel, so that their light is looked up at once, by both codes.
    pairs = np.frombuffer(image.tobytes("raw", "RGBX"), dtype="<u2").reshape(image.height, image.width, 2)
    blues = pairs.view(np.uint8)[..., 2]
    red_and_green = np.add.outer(tables[1], tables[0]).ravel()
    luminance = np.empty(blues.shape, dtype=np.float32)
    # Some lines at a time stay in the processor's cache from one table to the next.
    lines = max(1, _AT_ONCE // image.width)
    for top in range(0, image.height, lines):
        here = luminance[top : top + lines]
        np.take(red_and_green, pairs[top : top + lines, :, 0], mode="clip", out=here)
        here += np.take(tables[2], blues[top : top + lines], mode="clip")
    return luminance


def _shrink(tone: Image.Image, side: int, weights: Image.Resampling = Image.Resampling.HAMMING) -> FloatArray:
    """Averages in linear light, (h, w), longest side at most `side`.

    They overlap, by the weights of a soft window. Boxes side by side count whole pixels alone: at three pixels for two
    every other one counts twice, and what is hatched or grained reads differently by the size of its file.
    """
    width, height = tone.size
    scale = side / max(height, width)
    if scale >= 1.0:
        return np.asarray(tone)
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    return np.asarray(tone.resize(size, weights))


def _cut(image: Image.Image, tone: Image.Image, found: Trim, size: tuple[int, int], used: str) -> Picture:
    width, height = size
    left, top, right, bottom = found.part
    columns, rows = tone.size
    x0, y0 = round(left * columns), round(top * rows)
    x1, y1 = max(x0 + 1, round(right * columns)), max(y0 + 1, round(bottom * rows))
    if (x0, y0, x1, y1) != (0, 0, columns, rows):
        image, tone = image.crop((x0, y0, x1, y1)), tone.crop((x0, y0, x1, y1))
    field = _shrink(tone, WORKING_SIDE)
    image.thumbnail((DISPLAY_SIDE, DISPLAY_SIDE), Image.Resampling.HAMMING)
    mask = None
    if found.mask is not None:
        inside = Image.fromarray(found.mask).resize(field.shape[::-1], Image.Resampling.NEAREST)
        mask = np.asarray(inside).astype(bool)
    return Picture(
        rgb=np.asarray(image),
        luminance=field,
        mask=mask,
        width=width,
        height=height,
        trimmed=(round(left * width), round(top * height), round(right * width), round(bottom * height)),
        trims=found.reasons,
        profile=used,
    )
