"""Finding the panels of a sheet in a photo."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ingest.lightness import FloatArray
from ingest.sheet.choosing import choose, weight
from ingest.sheet.frame import Frame, square_on
from ingest.sheet.geometry import Points, transform
from ingest.sheet.lines import lab, segments
from ingest.sheet.pose import Pose, poses
from ingest.sheet.rectangles import Rectangle, rectangles

_POSES = 3
_PLENTY = 0.93
"""Quality of panels from which no other pose of the sheet is tried."""


@dataclass(frozen=True)
class Found:
    """quads: panels (4, 2) in pixels of the picture given. supports: share of each side that was seen, (4,) each."""

    quads: list[Points]
    supports: list[Points]
    pose: Pose


def find_panels(linear: FloatArray) -> Found | None:
    """Panels in a photo in linear sRGB (h, w, 3), some 800 pixels on its longer side; None when none are seen."""
    colour = lab(linear)
    size = (colour.shape[1], colour.shape[0])
    best: tuple[float, Frame, list[Rectangle], Pose] | None = None
    for pose in poses(segments(colour), size, _POSES):
        frame = square_on(colour, pose)
        chosen = choose(frame, rectangles(frame))
        value = weight(chosen) * pose.score**0.25
        if chosen and (best is None or value > best[0]):
            best = value, frame, chosen, pose
        if chosen and min(each.quality for each in chosen) > _PLENTY:
            break
    if best is None:
        return None
    _, frame, chosen, pose = best
    quads, supports = [], []
    for each in chosen:
        x0, y0, x1, y1 = (edge + 0.5 for edge in each.box)
        quads.append(transform(frame.to_photo, np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])))
        supports.append(np.array(each.support))
    return Found(quads, supports, pose)
