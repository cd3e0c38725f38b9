"""Finding the panels of a sheet in a photo."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ingest.lightness import FloatArray
from ingest.sheet.choosing import choose, weight
from ingest.sheet.frame import Frame, square_on
from ingest.sheet.geometry import Points, transform
from ingest.sheet.lines import Segments, lab, segments
from ingest.sheet.pose import Pose, poses, settle
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
    seen = segments(colour)
    best: _Look | None = None
    for pose in poses(seen, (colour.shape[1], colour.shape[0]), _POSES):
        look = _look(colour, pose)
        best = look if best is None or look.value > best.value else best
        if look.chosen and min(each.quality for each in look.chosen) > _PLENTY:
            break
    if best is None or not best.chosen:
        return None
    best = _closer(colour, seen, best)
    return Found([_quad(best.frame, each) for each in best.chosen], [np.array(each.support) for each in best.chosen],
                 best.pose)  # fmt: skip


@dataclass(frozen=True)
class _Look:
    pose: Pose
    frame: Frame
    chosen: list[Rectangle]
    value: float


def _look(colour: FloatArray, pose: Pose, roi: Points | None = None) -> _Look:
    frame = square_on(colour, pose, roi)
    chosen = choose(frame, rectangles(frame))
    # Weighed in pixels of the photo, so that looks at different scales can be compared.
    return _Look(pose, frame, chosen, weight(chosen) * frame.scale)


def _closer(colour: FloatArray, seen: Segments, first: _Look) -> _Look:
    """A second look at where panels were seen, with the pose that the edges there tell."""
    corners = np.concatenate([_quad(first.frame, each) for each in first.chosen])
    low, high = corners.min(axis=0), corners.max(axis=0)
    reach = 0.5 * (high - low)
    size = np.array([colour.shape[1], colour.shape[0]], dtype=np.float64)
    low, high = np.maximum(low - reach, 0), np.minimum(high + reach, size)
    near = seen.within(low, high)
    if len(near.weights) < 4:
        return first
    roi = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    second = _look(colour, settle(first.pose, near), roi)
    return second if second.value >= first.value else first


def _quad(frame: Frame, rectangle: Rectangle) -> Points:
    x0, y0, x1, y1 = (edge + 0.5 for edge in rectangle.box)
    return transform(frame.to_photo, np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
