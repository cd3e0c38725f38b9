"""Islands: what is drawn on a sheet beside the panels that were found.

Paper or tape goes on around the panels. What lies enclosed in it, is of another tone and belongs to no panel found is,
if it is as large as a panel, one more of them, or a part of one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import LIGHT_OF_CODE, LUMINANCE_ROW, FloatArray, lightness_CIE1976
from ingest.sheet.frame import Frame
from ingest.sheet.light import Light
from ingest.sheet.order import Box
from ingest.sheet.rectangles import Rectangle

_CELL = 8
"""Pixels of the frame, down and across, whose mean tones are looked at."""

_LIKE, _LIGHTER, _LIT = 8.0, 22.0, 10.0
"""Difference in chroma up to which a cell is of the gutters' material, and in L*: as light falls off over the sheet,
and where the light is known."""

_LEVEL = 0.88
"""Linear light of the gutters, their own light divided out, at which L* are told apart."""

_RIM, _CLOSE = 1, 2
"""Cells around a panel that may show a part of it, and within which its gutter lies."""

_AREA, _SIDE = 0.3, 0.5
"""Area of an island, and its shorter side, against those of the smallest panel, from which it may be a panel."""


def islands(frame: Frame, chosen: list[Rectangle], light: Light | None = None) -> list[Box]:
    """Boxes, in pixels of the frame, round what else is drawn on the sheet that holds some panels.

    light: on the sheet, where it is known; pale drawings stand out from their paper only then.
    """
    tall, wide = (side // _CELL for side in frame.inside.shape)
    parts = frame.colour[: tall * _CELL, : wide * _CELL].reshape(tall, _CELL, wide, _CELL, 3)
    tone, *tint = (parts[..., channel].mean(axis=(1, 3)) for channel in range(3))
    gutter = np.median([each.gutter for each in chosen], axis=0)
    like = np.hypot(tint[0] - gutter[1], tint[1] - gutter[2]) < _LIKE
    if light is None:
        like &= np.abs(tone - gutter[0]) < _LIGHTER
    else:
        even = _lit(frame, light, (tall, wide))
        like &= np.abs(even - float(lightness_CIE1976(_LEVEL))) < _LIT
    panels, close = np.zeros(like.shape, dtype=bool), np.zeros(like.shape, dtype=bool)
    for each in chosen:
        _cover(panels, each, _RIM)
        _cover(close, each, _CLOSE)
    like &= ~panels
    marks, count = ndimage.label(like)
    touching = np.zeros(count + 1, dtype=bool)
    touching[marks[close & like]] = True
    material = touching[marks] & like
    enclosed = ndimage.binary_fill_holes(material | panels) & ~material & ~panels
    # Edges of tape, notes and smudges are thin or small.
    marks, _ = ndimage.label(ndimage.binary_opening(enclosed, np.ones((3, 3))))
    area = min(each.area for each in chosen) / _CELL**2
    side = min(min(each.box[2] - each.box[0], each.box[3] - each.box[1]) for each in chosen) / _CELL
    found: list[Box] = []
    for mark, (rows, columns) in enumerate(ndimage.find_objects(marks), 1):
        least = min(rows.stop - rows.start, columns.stop - columns.start)
        if least >= _SIDE * side and (marks[rows, columns] == mark).sum() >= _AREA * area:
            left, top, right, bottom = (
                float(_CELL * edge) for edge in (columns.start, rows.start, columns.stop, rows.stop)
            )
            found.append((left, top, right, bottom))
    return found


def _lit(frame: Frame, light: Light, shape: tuple[int, int]) -> FloatArray:
    """L* of each cell of `shape` (down, across), the light divided out; that of `_LEVEL` is the gutters' own."""
    tall, wide = shape
    linear = LIGHT_OF_CODE.take(frame.rgb[: tall * _CELL, : wide * _CELL])
    means = linear.reshape(tall, _CELL, wide, _CELL, 3).mean(axis=(1, 3))
    down, across = np.indices(shape, dtype=np.float64)
    own = light.at((np.stack([across, down], axis=-1) + 0.5) * _CELL)
    return lightness_CIE1976(_LEVEL * (means / np.maximum(own, 1e-3)) @ np.asarray(LUMINANCE_ROW))


def _cover(cells: NDArray[np.bool_], panel: Rectangle, reach: int) -> None:
    left, top, right, bottom = (edge / _CELL for edge in panel.box)
    rows = slice(max(0, int(top) - reach), int(np.ceil(bottom)) + reach)
    cells[rows, max(0, int(left) - reach) : int(np.ceil(right)) + reach] = True
