"""What colours mean: a decoded picture of any mode and profile as sRGB to show and as luminance in linear light."""

from __future__ import annotations

import numpy as np
from PIL import Image

from ingest import profile as profiles
from ingest.lightness import FloatArray

_AT_ONCE = 1 << 16
"""Pixels whose luminance is looked up at once."""

_PAPER = 255


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
            shown, luminance, assumed = colour_managed(image, None)
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
