"""Small ICC profiles written by hand, so that tests need no files of others and depend on no reader of profiles.

Layout after ICC.1:2022: header, tag table, tags 'desc', 'cprt', 'wtpt', then primaries and tone curves, or one grey
curve, or a table from inks to L*a*b*.
"""

from __future__ import annotations

import itertools
import struct

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

D50 = (0.9642, 1.0, 0.8249)
D50_XY = (0.3457, 0.3585)
D65_XY = (0.3127, 0.3290)
_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])

P3_PRIMARIES = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
"""SMPTE RP 431-2; Display P3 joins them to the white of D65 and the curve of sRGB."""

ADOBE_PRIMARIES = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))
"""Adobe RGB (1998) Color Image Encoding, May 2005; its curve is the power 563/256."""

SRGB_PRIMARIES = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
"""IEC 61966-2-1:1999."""

PROPHOTO_PRIMARIES = ((0.7347, 0.2653), (0.1596, 0.8404), (0.0366, 0.0001))
"""ISO 22028-2 (ROMM RGB), under the white D50."""

PROPHOTO_CURVE = (1.8, 1.0, 0.0, 1 / 16, 1 / 32)
"""The same standard: a power of 1.8 with a straight toe, as parameters of the 'para' curve of kind 3."""

SRGB_CURVE = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
"""Parameters g, a, b, c, d of the 'para' curve of kind 3 (IEC 61966-2-1:1999)."""


def rgb_profile(
    name: str, primaries: tuple[tuple[float, float], ...], curve: bytes, white_xy: tuple[float, float] = D65_XY
) -> bytes:
    """A display profile of three primaries under a white, carried over to D50 by the Bradford transform."""
    columns = np.array([_xyz(x, y) for x, y in primaries]).T
    white = _xyz(*white_xy)
    columns = columns * np.linalg.solve(columns, white)
    cone = _BRADFORD @ np.array(D50) / (_BRADFORD @ white)
    columns = np.linalg.inv(_BRADFORD) @ np.diag(cone) @ _BRADFORD @ columns
    tags = {tag: _xyz_tag(columns[:, at]) for at, tag in enumerate((b"rXYZ", b"gXYZ", b"bXYZ"))}
    tags |= {tag: curve for tag in (b"rTRC", b"gTRC", b"bTRC")}
    return _profile(name, b"mntr", b"RGB ", b"XYZ ", tags)


def grey_profile(name: str, gamma: float) -> bytes:
    """A profile of one grey channel with a power curve."""
    return _profile(name, b"mntr", b"GRAY", b"XYZ ", {b"kTRC": power_curve(gamma)})


def ink_profile(name: str, corners: dict[tuple[int, int, int, int], tuple[float, float, float]]) -> bytes:
    """A CMYK input profile: L*a*b* for each of the sixteen ways of laying full inks over one another, the rest
    between them."""
    table = [_lab16(*corners[inks]) for inks in itertools.product((0, 1), repeat=4)]
    ramp = struct.pack(">2H", 0, 65535)
    identity = struct.pack(">9i", *(65536 if at % 4 == 0 else 0 for at in range(9)))
    head = struct.pack(">4s4x3Bx", b"mft2", 4, 3, 2) + identity + struct.pack(">2H", 2, 2)
    lut = head + 4 * ramp + struct.pack(f">{3 * len(table)}H", *itertools.chain(*table)) + 3 * ramp
    return _profile(name, b"scnr", b"CMYK", b"Lab ", {b"A2B0": lut})


def power_curve(gamma: float) -> bytes:
    """A 'curv' tag of one power, kept in 256ths."""
    return struct.pack(">4s4xIH", b"curv", 1, round(gamma * 256))


def parametric_curve(*parameters: float) -> bytes:
    """A 'para' tag of kind 3: a power above d, a straight line below."""
    return struct.pack(">4s4xHxx5i", b"para", 3, *(round(value * 65536) for value in parameters))


def display_p3() -> bytes:
    return rgb_profile("Display P3", P3_PRIMARIES, parametric_curve(*SRGB_CURVE))


def adobe_rgb() -> bytes:
    return rgb_profile("Adobe RGB (1998)", ADOBE_PRIMARIES, power_curve(563 / 256))


def prophoto() -> bytes:
    return rgb_profile("ProPhoto RGB", PROPHOTO_PRIMARIES, parametric_curve(*PROPHOTO_CURVE), D50_XY)


def srgb() -> bytes:
    return rgb_profile("sRGB IEC61966-2.1", SRGB_PRIMARIES, parametric_curve(*SRGB_CURVE))


def _xyz(x: float, y: float) -> Floats:
    return np.array([x / y, 1.0, (1 - x - y) / y])


def _fixed(values: Floats | tuple[float, ...]) -> bytes:
    return struct.pack(">3i", *(round(float(value) * 65536) for value in values))


def _xyz_tag(values: Floats | tuple[float, ...]) -> bytes:
    return b"XYZ \0\0\0\0" + _fixed(values)


def _lab16(lightness: float, a: float, b: float) -> tuple[int, int, int]:
    """The 16-bit code of the older L*a*b* tables, in which 65280 is L* 100."""
    return round(lightness * 652.8), round((a + 128) * 256), round((b + 128) * 256)


def _profile(name: str, kind: bytes, space: bytes, connection: bytes, tags: dict[bytes, bytes]) -> bytes:
    said = name.encode("ascii") + b"\0"
    every = {
        b"desc": struct.pack(">4s4xI", b"desc", len(said)) + said + bytes(4 + 4 + 2 + 1 + 67),
        b"cprt": b"text\0\0\0\0No rights reserved\0",
        b"wtpt": _xyz_tag(D50),
        **tags,
    }
    at = 128 + 4 + 12 * len(every)
    index, body = struct.pack(">I", len(every)), b""
    for tag, data in every.items():
        index += struct.pack(">4sII", tag, at + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    head = struct.pack(
        ">II I4s4s4s 12s4s4s I4s4s 8sI 12s4s 44x", at + len(body), 0, 0x02400000, kind, space, connection,
        bytes(12), b"acsp", bytes(4), 0, bytes(4), bytes(4), bytes(8), 1, _fixed(D50), bytes(4),
    )  # fmt: skip
    return head + index + body
