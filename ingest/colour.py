"""What colours mean: a decoded picture of any mode and profile as sRGB to show and as luminance in linear light."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ingest import profile as profiles
from ingest.lightness import FloatArray

_AT_ONCE = 1 << 16
"""Pixels whose luminance is looked up at once."""

_PAPER = 255

_BITS, _MEANING, _WHITE_IS_ZERO, _NUMBERS, _SIGNED = 258, 262, 0, 339, 2
"""Of TIFF 6.0: the tags BitsPerSample, PhotometricInterpretation and SampleFormat, with a value of each of the last."""

_BRIGHT = 99.0
"""The percentile that tells the scale of values: a stray light or a few are not to make all the rest dark."""

_OVERSHOOT = 2.0
"""By how much values may pass their white: sharpening, and grain about white paper, do so at more than a few pixels."""

_DIMMEST = 1 / 16
"""The share of all that whole numbers can hold from which they are taken to be meant for all of it."""


def colour_managed(image: Image.Image, icc: bytes | None) -> tuple[Image.Image, FloatArray, str]:
    """The picture in sRGB for showing, its luminance (h, w) float32 0..1, and the profile used, in words.

    image: of any mode that a decoder gives. icc: the profile embedded in its file; without a readable one, sRGB.
    """
    image = _on_paper(image)
    if image.mode not in ("L", "RGB", "CMYK", "F"):
        image = image.convert("RGB")
    if image.mode == "F":
        codes = np.asarray(image)
        curves = _curves_or_assumed(icc, grey=True)
        luminance = np.interp(codes, np.arange(256), curves.curves[0]).astype(np.float32)
        return _rounded(image).convert("RGB"), luminance, curves.name
    if icc is not None:
        try:
            embedded = profiles.tone_curves(icc)
            shown = image if image.mode == "RGB" and _is_srgb(embedded) else profiles.to_srgb(image, icc)
            if embedded is not None and len(embedded.row) == len(image.getbands()):
                return shown, _luminance(image, embedded), f"embedded: {embedded.name}"
            return shown, profiles.to_luminance(image, icc), f"embedded: {profiles.profile_name(icc)}"
        except profiles.ProfileProblem:
            shown, luminance, assumed = colour_managed(image, None)
            return shown, luminance, f"{assumed.split(',')[0]}, assumed: the embedded profile can't be read"
    if image.mode == "L":
        return image.convert("RGB"), _luminance(image, profiles.SRGB_GREY), profiles.SRGB_GREY.name
    if image.mode == "CMYK":
        shown = image.convert("RGB")
        return shown, _luminance(shown, profiles.SRGB), "CMYK without a profile, read by plain subtraction"
    return image, _luminance(image, profiles.SRGB), profiles.SRGB.name


def plain_rgb(image: Image.Image) -> Image.Image:
    """A decoded picture of any mode in RGB, on paper and whole in its tones, without heed of profiles: for counting
    colours and not for judging them."""
    image = _on_paper(image)
    return (_rounded(image) if image.mode == "F" else image).convert("RGB")


def _rounded(image: Image.Image) -> Image.Image:
    return Image.fromarray(np.rint(np.asarray(image)).astype(np.uint8))


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
    if image.mode in ("I;16", "I;16L", "I;16B", "I", "F"):
        return Image.fromarray(_deep_codes(image))
    if image.mode in ("RGBA", "LA", "PA", "RGBa", "La") or "transparency" in image.info:
        layer = image.convert("RGBA")
        paper = Image.new("RGBA", layer.size, (_PAPER, _PAPER, _PAPER, 255))
        return Image.alpha_composite(paper, layer).convert("RGB")
    return image.convert("L") if image.mode == "1" else image


def _deep_codes(image: Image.Image) -> FloatArray:
    """Greys of more than eight bits as (h, w) float32 codes 0..255. What is no number is black, as nothing is there."""
    values = np.asarray(image)
    tags = getattr(image, "tag_v2", {})
    bits = int(tags.get(_BITS, (16,))[0])
    signed = tags.get(_NUMBERS, (1,))[0] == _SIGNED
    if image.mode == "I" and bits == 32 and not signed:
        # The decoder keeps the bits, but has no mode for numbers without a sign.
        values = values.view(np.uint32)
    full = _white_of(values) if image.mode == "F" or bits == 32 else 2.0 ** (bits - signed) - 1
    codes = values.astype(np.float32)
    codes *= np.float32(255 / full)
    np.clip(codes, 0, 255, out=codes)
    if tags.get(_MEANING) == _WHITE_IS_ZERO:
        # The decoder turns such greys round up to eight bits, and leaves deeper ones to us.
        np.subtract(255, codes, out=codes)
    if isinstance(image.info.get("transparency"), int):
        # PNG, 11.3.1.1 tRNS: the one grey that is transparent, in all of its bits.
        codes[values == image.info["transparency"]] = _PAPER
    return np.nan_to_num(codes, copy=False)


def _white_of(values: NDArray[np.float32] | NDArray[np.int32] | NDArray[np.uint32]) -> float:
    """The value of white among (h, w) values whose file does not tell it: 1, 255, 65535, or else the brightest that is
    more than a stray light; for whole numbers that come near it, all that they can hold."""
    step = max(1, math.isqrt(values.size >> 20))
    some = values[::step, ::step].astype(np.float64)
    some = some[np.isfinite(some)]
    bright = float(np.percentile(some, _BRIGHT)) if some.size else 0.0
    for white in (1.0, 255.0):
        if bright <= _OVERSHOOT * white:
            return white
    most = float(np.iinfo(values.dtype.char).max) if values.dtype.kind in "iu" else math.inf
    return most if bright > _DIMMEST * most else max(65535.0, bright)


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
