"""Colour profiles: what the numbers in a tagged file mean in light.

Profiles built from three primaries and tone curves (Display P3, Adobe RGB, and nearly every camera and scanner
profile) and grey profiles with one curve are read exactly, so that lightness does not pass through eight bits
twice or lose what lies outside sRGB. Profiles built from tables (all CMYK ones) go through LittleCMS.

Sources: ICC.1:2022 (tags rXYZ gXYZ bXYZ, rTRC gTRC bTRC, kTRC; types 'XYZ ', 'curv', 'para'); the Bradford
transform between the profile connection white D50 and D65, ICC.1:2022 annex E.
"""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from ingest.lightness import LIGHT_OF_CODE, LUMINANCE_ROW, FloatArray, luminance_CIE1976

# D50 to D65, Bradford (values as published by B. Lindbloom for the ASTM E308 whites).
_D50_TO_D65 = np.array(
    [
        [0.9555766, -0.0230393, 0.0631636],
        [-0.0282895, 1.0099416, 0.0210077],
        [0.0122982, -0.0204830, 1.3299098],
    ]
)


class ProfileProblem(ValueError):
    """The embedded profile can't be understood; the sentence says so."""


@dataclass(frozen=True)
class ToneCurves:
    """How coded values become light.

    row: luminance of the three primaries (sums to 1), or (1,) for grey.
    curves: tuple of tables, each (256,) float64 linear light 0..1 over the coded values 0..255/255.
    """

    name: str
    row: tuple[float, ...]
    curves: tuple[NDArray[np.float64], ...]


def _srgb_curve() -> NDArray[np.float64]:
    return LIGHT_OF_CODE.astype(np.float64)


SRGB = ToneCurves("sRGB, assumed: the file carries no profile", LUMINANCE_ROW, (_srgb_curve(),) * 3)
SRGB_GREY = ToneCurves("sRGB grey, assumed: the file carries no profile", (1.0,), (_srgb_curve(),))


def profile_name(data: bytes) -> str:
    """The profile's own description, for the record."""
    try:
        described = ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(io.BytesIO(data)))
    except (ImageCms.PyCMSError, OSError) as problem:
        raise ProfileProblem(str(problem)) from problem
    return " ".join(described.split()) or "unnamed"


@lru_cache(maxsize=32)
def tone_curves(data: bytes) -> ToneCurves | None:
    """Curves and luminance row of a profile made of primaries and curves, or of grey; None for a table profile.

    Raises ProfileProblem when the bytes are no profile at all.
    """
    name = profile_name(data)
    try:
        space = data[16:20]
        tags = _tags(data)
        if space == b"GRAY" and b"kTRC" in tags:
            return ToneCurves(name, (1.0,), (_curve(tags[b"kTRC"]),))
        if space == b"RGB " and b"A2B0" not in tags and b"rXYZ" in tags:
            primaries = np.array([_xyz(tags[tag]) for tag in (b"rXYZ", b"gXYZ", b"bXYZ")]).T
            row = (_D50_TO_D65 @ primaries)[1]
            curves = tuple(_curve(tags[tag]) for tag in (b"rTRC", b"gTRC", b"bTRC"))
            return ToneCurves(name, tuple(float(part) for part in row / row.sum()), curves)
    except (struct.error, KeyError, IndexError, ValueError) as problem:
        message = f"its tags can't be read ({problem})"
        raise ProfileProblem(message) from problem
    return None


def to_srgb(image: Image.Image, data: bytes) -> Image.Image:
    """The picture in sRGB, through LittleCMS, relative colorimetric with black-point compensation.

    Raises ProfileProblem when the profile does not fit the picture's mode.
    """
    try:
        return _transform(data, image.mode).apply(image)
    except (ImageCms.PyCMSError, OSError, ValueError) as problem:
        raise ProfileProblem(str(problem)) from problem


def to_luminance(image: Image.Image, data: bytes) -> FloatArray:
    """Luminance (h, w), 0..1, through LittleCMS and CIE L*, so that what lies outside sRGB keeps its lightness.

    L* comes in 255 steps. Raises ProfileProblem when the profile does not fit the picture's mode.
    """
    try:
        lab = _transform(data, image.mode, "LAB").apply(image)
    except (ImageCms.PyCMSError, OSError, ValueError) as problem:
        raise ProfileProblem(str(problem)) from problem
    return np.take(luminance_CIE1976(np.arange(256) * (100 / 255)), np.asarray(lab)[..., 0])


@lru_cache(maxsize=32)
def _transform(data: bytes, mode: str, into: str = "RGB") -> ImageCms.ImageCmsTransform:
    return ImageCms.buildTransform(
        ImageCms.ImageCmsProfile(io.BytesIO(data)),
        ImageCms.createProfile("sRGB" if into == "RGB" else "LAB"),
        mode,
        into,
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION if into == "RGB" else ImageCms.Flags.NONE,
    )


def _tags(data: bytes) -> dict[bytes, bytes]:
    (count,) = struct.unpack_from(">I", data, 128)
    if count > 200:
        message = "too many tags"
        raise ValueError(message)
    found = {}
    for number in range(count):
        signature, offset, size = struct.unpack_from(">4sII", data, 132 + 12 * number)
        found[signature] = data[offset : offset + size]
    return found


def _xyz(tag: bytes) -> tuple[float, float, float]:
    x, y, z = struct.unpack_from(">iii", tag, 8)
    return x / 65536, y / 65536, z / 65536


def _curve(tag: bytes) -> NDArray[np.float64]:
    coded = np.arange(256) / 255.0
    if tag[:4] == b"curv":
        (count,) = struct.unpack_from(">I", tag, 8)
        if count == 0:
            return coded
        points = np.array(struct.unpack_from(f">{count}H", tag, 12), dtype=np.float64)
        if count == 1:
            return np.asarray(coded ** float(points[0] / 256), dtype=np.float64)
        return np.asarray(np.interp(coded, np.linspace(0, 1, count), points / 65535))
    if tag[:4] == b"para":
        (kind,) = struct.unpack_from(">H", tag, 8)
        wanted = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}[kind]
        read = [value / 65536 for value in struct.unpack_from(f">{wanted}i", tag, 12)]
        return _parametric(kind, coded, *read)
    message = "a tone curve of an unknown kind"
    raise ValueError(message)


def _parametric(
    kind: int,
    coded: NDArray[np.float64],
    g: float,
    a: float = 1.0,
    b: float = 0.0,
    c: float = 0.0,
    d: float = 0.0,
    e: float = 0.0,
    f: float = 0.0,
) -> NDArray[np.float64]:
    """The five parametric curves of ICC.1:2022, table 68."""
    powered: NDArray[np.float64] = np.maximum(a * coded + b, 0.0) ** g
    if kind == 0:
        return powered
    if kind in (1, 2):
        return np.where(coded >= -b / a, powered + c, c)
    return np.where(coded >= d, powered + e, c * coded + f)
