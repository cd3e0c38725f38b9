"""How near what is read from a made photo of a sheet comes to the truth.

Geometry is judged as in the SmartDoc 2015 competition, challenge 1 (Burie et al., ICDAR 2015): both quadrilaterals are
taken into the sheet's own frame by the true homography, and the Jaccard index is taken there.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from drawn_tone import png_of
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage
from sheet_maker import BARE_PAPER, MadePanel, MadePhoto

from ingest.lightness import srgb_lightness
from ingest.reading import read, read_tone
from ingest.sheet import WHITE, Panel, Sheet, panel_picture

FOUND = 0.5
"""Jaccard index from which a panel counts as found."""

Field = NDArray[np.float64]


@dataclass(frozen=True)
class Compared:
    """jaccard: of each true panel with the panel read there, 0 if none. pairs: true and read panels that belong
    together. extra: how many panels were read where there is none. in_order: whether the found ones come in order."""

    jaccard: list[float]
    pairs: list[tuple[MadePanel, Panel]]
    extra: int
    in_order: bool


def through(matrix: Field, points: Field) -> Field:
    """Points (..., 2) taken through a homography (3, 3)."""
    flat = np.concatenate([points, np.ones((*points.shape[:-1], 1))], axis=-1) @ matrix.T
    return np.asarray(flat[..., :2] / flat[..., 2:])


def jaccard(first: Field, second: Field, steps: int = 600) -> float:
    """Intersection over union of two convex quadrilaterals (4, 2), counted on a grid of `steps` a side."""
    both = np.concatenate([first, second])
    low, high = both.min(axis=0), both.max(axis=0)
    axis = (np.arange(steps) + 0.5) / steps
    x, y = np.meshgrid(low[0] + axis * (high[0] - low[0]), low[1] + axis * (high[1] - low[1]))

    def covers(quad: Field) -> NDArray[np.bool_]:
        inside = np.ones(x.shape, dtype=bool)
        for (ax, ay), (bx, by) in zip(quad, np.roll(quad, -1, axis=0), strict=True):
            inside &= (bx - ax) * (y - ay) - (by - ay) * (x - ax) >= 0
        return inside

    a, b = covers(first), covers(second)
    return float((a & b).sum() / max(1, (a | b).sum()))


def compare(made: MadePhoto, sheet: Sheet) -> Compared:
    """The panels read held against those drawn."""
    truth = [through(made.to_sheet, panel.corners) for panel in made.panels]
    seen = [through(made.to_sheet, np.array(panel.corners)) for panel in sheet.panels]
    index = np.array([[jaccard(a, b, 150) for b in seen] for a in truth]).reshape(len(truth), len(seen))
    best, pairs, order = [], [], []
    for at, panel in enumerate(made.panels):
        to = int(index[at].argmax()) if len(seen) else -1
        if to < 0 or index[at, to] <= FOUND:
            best.append(0.0)
            continue
        best.append(jaccard(truth[at], seen[to]))
        pairs.append((panel, sheet.panels[to]))
        order.append(to)
    extra = sum(bool(not len(truth) or index[:, to].max() <= FOUND) for to in range(len(seen)))
    return Compared(best, pairs, extra, order == sorted(order))


def rotated(made: MadePhoto, quarters: int) -> bytes:
    """The photo turned counter-clockwise by quarters, without loss."""
    image = np.rot90(np.asarray(Image.open(io.BytesIO(made.jpeg))), quarters)
    buffer = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(image)).save(buffer, "PNG", compress_level=1)
    return buffer.getvalue()


def turned_back(corners: Field, quarters: int, width: int, height: int) -> Field:
    """Corners in a photo that was turned by quarters, in the photo of `width` and `height` as it was."""
    x, y = corners[..., 0], corners[..., 1]
    x, y = ((x, y), (width - y, x), (width - x, height - y), (y, height - x))[quarters % 4]
    return np.stack([x, y], axis=-1)


def wash_error(made: MadePanel, panel: Panel) -> tuple[float, float]:
    """How far an even wash on white paper comes out from what it is, in L*: its middle, and the farthest that a twelfth
    of the panel strays. Truth and reading are both put to paper at `WHITE`."""

    def light(lightness: float) -> float:
        return float(((lightness + 16) / 116) ** 3)

    true = 116 * float(np.cbrt(light(float(np.median(made.lightness))) / light(BARE_PAPER) * light(WHITE))) - 16
    seen = srgb_lightness(panel.rgb)
    step = max(3, min(seen.shape) // 12)
    local = ndimage.uniform_filter(seen, step)[step // 2 :: step, step // 2 :: step]
    return float(np.median(seen)) - true, float(np.abs(local - true).max())


def proportions(made: MadePanel, panel: Panel) -> tuple[Field, Field]:
    """Light, middle and dark of the scan and of the photo, each (3,)."""
    scan = read(png_of(made.lightness), part="whole").measures
    photo = read_tone(panel_picture(panel)).measures
    return np.array([scan.light, scan.mid, scan.dark]), np.array([photo.light, photo.mid, photo.dark])
