"""Finding the panels of a sheet: a first reading by patches that leave the tone of the paper."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from ingest.lightness import srgb_lightness
from ingest.sheet.geometry import Points, area, in_order, is_convex


def find_panels(rgb: NDArray[np.uint8]) -> list[Points]:
    """Quadrilaterals in pixels of `rgb` (h, w, 3), in reading order."""
    scale = 640 / max(rgb.shape)
    small = Image.fromarray(rgb).resize((round(rgb.shape[1] * scale), round(rgb.shape[0] * scale)), Image.Resampling.BOX)
    lightness = srgb_lightness(np.asarray(small))
    paper = np.percentile(lightness, 90)
    patches, count = ndimage.label(ndimage.binary_opening(lightness < paper - 12, iterations=2))
    quads = []
    for part in range(1, count + 1):
        y, x = np.nonzero(patches == part)
        if len(x) < 0.01 * lightness.size:
            continue
        u, v = x + y, x - y
        corners = [(x[i], y[i]) for i in (u.argmin(), v.argmax(), u.argmax(), v.argmin())]
        quad = in_order(corners)
        if is_convex(quad) and len(x) > 0.85 * area(quad):
            quads.append((quad + 0.5) / scale)
    return sorted(quads, key=lambda quad: (round(quad[:, 1].mean() / rgb.shape[0] * 4), quad[:, 0].mean()))
