"""The whole way from a photo of a sheet to its panels."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ingest.lightness import LUMINANCE_ROW, linear_from_srgb, srgb_from_linear
from ingest.picture import WORKING_SIDE, Picture, read_upright
from ingest.sheet.finding import find_panels
from ingest.sheet.geometry import Points, quads_of
from ingest.sheet.rectify import panel_size, straighten
from ingest.sheet.sheet import Corners, Panel, Sheet

WHITE = 95.0
"""L* that bare white paper is given in a flattened panel."""

PHOTO_SIDE = 1600
"""Longest side, in pixels, that a photo has at least when panels are cut from it, if the file has as many."""

FINDING_SIDE = 800
"""Longest side, in pixels, of the picture that panels are looked for in."""

INSET = 0.008
"""Share of each side left off a panel, so that no line of gutter or tape stands at its border."""

_LINEAR = linear_from_srgb(np.arange(256) / 255.0)


def read_sheet(
    source: Path | bytes,
    *,
    layout: tuple[int, int] | None = None,
    corners: Sequence[Sequence[float]] | Sequence[Sequence[Sequence[float]]] | None = None,
) -> Sheet:
    """Find the panels on a photographed sheet, straighten them and divide the light out.

    layout: (rows, columns) of panels, where it is known. corners: four (x, y) in pixels of the upright photo round the
    whole sheet, with a layout of more than one panel; or four round each panel, one panel after another. Raises
    UnreadablePicture when the file is no picture that can be read, ValueError in words when corners or layout make no
    sense; panels that cannot be found are no error, `Sheet.need_corners` then asks for corners.
    """
    rgb, (width, height) = read_upright(source, PHOTO_SIDE)
    scale = rgb.shape[1] / width
    if corners is not None:
        quads = [quad * scale for quad in quads_of(corners)]
    else:
        quads = _found(rgb)
    panels = tuple(_panel(rgb, quad, scale) for quad in quads)
    need = "" if panels else "The panels could not be found; give the four corners of each."
    return Sheet(width, height, panels, layout, None, False, 0.0, (), need)


def _found(rgb: NDArray[np.uint8]) -> list[Points]:
    scale = FINDING_SIDE / max(rgb.shape)
    size = (round(rgb.shape[1] * scale), round(rgb.shape[0] * scale))
    small = np.asarray(Image.fromarray(rgb).resize(size, Image.Resampling.BOX))
    found = find_panels(_LINEAR[small])
    return [] if found is None else [quad / scale for quad in found.quads]


def _panel(rgb: NDArray[np.uint8], quad: Points, scale: float) -> Panel:
    linear = _LINEAR[rgb]
    size = panel_size(quad, (rgb.shape[1], rgb.shape[0]))
    flat = straighten(linear, quad, size, INSET)
    shown = np.rint(255 * srgb_from_linear(flat)).astype(np.uint8)
    return Panel(corners_of(quad / scale), shown, None, 0.5, ())


def corners_of(quad: Points) -> Corners:
    """A quadrilateral as plain numbers."""
    a, b, c, d = ((float(x), float(y)) for x, y in quad)
    return a, b, c, d


def panel_picture(panel: Panel) -> Picture:
    """A panel as a picture for `ingest.reading.read_tone`: nothing is trimmed, and what shine hides is masked."""
    height, width = panel.rgb.shape[:2]
    luminance = _LINEAR[panel.rgb] @ np.asarray(LUMINANCE_ROW, dtype=np.float32)
    scale = min(1.0, WORKING_SIDE / max(height, width))
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    field = np.asarray(Image.fromarray(luminance).resize(size, Image.Resampling.BOX))
    mask = None
    if panel.mask is not None:
        seen = Image.fromarray(panel.mask.astype(np.float32)).resize(size, Image.Resampling.BOX)
        mask = np.asarray(seen) > 0.99
    return Picture(panel.rgb, field, mask, width, height, (0, 0, width, height), (), "sRGB")
