"""Finding the panels of a sheet in a photo."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.sheet.choosing import choose
from ingest.sheet.crossing import Crossings
from ingest.sheet.filling import in_grid
from ingest.sheet.frame import Frame, View, square_on
from ingest.sheet.geometry import UNIT, Points, area, homography, overlap, proportion, transform
from ingest.sheet.grids import best_grid
from ingest.sheet.ground import is_blank
from ingest.sheet.lines import Segments, lab, segments
from ingest.sheet.order import missing_cells
from ingest.sheet.packing import evidence, weight
from ingest.sheet.pose import Pose, alike, poses, settle
from ingest.sheet.rectangles import Rectangle, Survey, with_others
from ingest.sheet.sides import corners

_POSES = 3
_DOUBTFUL = 0.6
"""Mean quality of panels below which it is better to ask."""

_UNPLAIN = 0.35
_STRAIGHTENINGS = 3
_LEAN = 3.5
"""Pixels by which panels may lean in the frame without another look."""

_BESIDE = 0.25
"""How far beyond the panels, in widths and heights of the largest, edges tell how the sheet lies."""

_MUCH_FINER = 1.3
"""How much finer a closer look is from which edges are looked for in it once more."""

_GAIN = 1.05
"""Value of a straighter look, against the one before it, from which yet another may show more."""

_AS_GOOD = 0.98
"""Value of a straighter look, against the best before it, from which it is taken."""

_SMALLER, _A_LITTLE_SMALLER = (0.5, 0.95), 0.7
"""Area of a panel, against that of the outer edge of tape around it; and when others are as large as before."""

_LESS_SURE, _DARKER = 0.1, 4.0
"""Mean quality, and L* of the gutters, by which panels may be less than what is drawn around them."""

_EVEN = 0.05
"""Share of an even part of a sheet that is left off each of its sides as gutter."""

_FAIR, _PLENTY = 0.8, 0.92
"""Least and mean quality of panels from which they are seen for sure."""

_ENOUGH, _WELL = 1000.0, 0.75
"""Value of a look, and mean quality of its panels, from which no other pose of the sheet is tried."""


@dataclass(frozen=True)
class Found:
    """A frame of the photo, and the panels in it, in reading order. layout: (rows, columns) of a full grid, or None."""

    frame: Frame
    chosen: list[Rectangle]
    layout: tuple[int, int] | None

    def quads(self) -> list[Points]:
        """Corners (4, 2) of each panel in pixels of the photo."""
        return [transform(self.frame.to_photo, corners(self.frame, each)) for each in self.chosen]


Closer = Callable[[tuple[int, int, int, int]], NDArray[np.uint8]]
"""Gives a part of the photo (left, top, right, bottom in pixels of it), as fine as there is."""


def find_panels(
    rgb: NDArray[np.uint8], layout: tuple[int, int] | None = None, closer: Closer | None = None
) -> Found | None:
    """Panels in a photo (h, w, 3) uint8, sRGB, some 800 pixels on its longer side; None when none are seen plainly.

    layout: (rows, columns) where it is known. closer: for a finer look at where the panels are.
    """
    size = (rgb.shape[1], rgb.shape[0])
    view = View(rgb, size)
    seen = segments(lab(rgb))
    best: tuple[_Look, Pose] | None = None
    tried: list[Pose] = []
    for pose in poses(seen, size, _POSES):
        if any(alike(pose, other) for other in tried):
            continue
        tried.append(pose)
        look = _look(view, pose.to_photo)
        best = (look, pose) if best is None or _better(look, best[0]) else best
        if best[0].sure or best[0].plain:
            break
    if best is None or not best[0].chosen:
        return None
    look = _closer(view, seen, *best, closer)
    found = Found(look.frame, *in_grid(look.frame, look.chosen, layout))
    if float(np.mean([each.quality for each in found.chosen])) < _DOUBTFUL:
        return None
    return found


def find_within(rgb: NDArray[np.uint8], sheet: Points, layout: tuple[int, int]) -> Found:
    """Panels within the corners of a sheet (4, 2) that a person gave; where they are not seen, even parts of it."""
    size = (rgb.shape[1], rgb.shape[0])
    ratio = proportion(sheet, size)
    long = float(np.hypot(*(np.roll(sheet, -1, axis=0) - sheet).T).max())
    width, height = (long, long / ratio) if ratio >= 1 else (long * ratio, long)
    plane = homography(UNIT * [width, height], sheet)
    frame = square_on(View(rgb, size), plane, sheet)
    found = Found(frame, *in_grid(frame, _chosen(frame), layout))
    if found.layout == layout:
        return found
    rows, columns = layout
    corner = transform(np.linalg.inv(frame.to_photo), sheet)
    left, top = corner.min(axis=0)
    across, down = (corner.max(axis=0) - corner.min(axis=0)) / [columns, rows]
    parts = [
        (left + (c + _EVEN) * across, top + (r + _EVEN) * down, left + (c + 1 - _EVEN) * across,
         top + (r + 1 - _EVEN) * down)
        for r in range(rows) for c in range(columns)
    ]  # fmt: skip
    return Found(frame, [Rectangle(part, (0.0,) * 4, (0.0,) * 3, 0.0) for part in parts], layout)


@dataclass(frozen=True)
class _Look:
    frame: Frame
    chosen: list[Rectangle]
    value: float

    @property
    def sure(self) -> bool:
        """Whether no other look is needed."""
        quality = [each.quality for each in self.chosen]
        return bool(quality) and min(quality) > _FAIR and sum(quality) / len(quality) > _PLENTY

    @property
    def plain(self) -> bool:
        """Whether so much is seen that the sheet lies as this look has it."""
        return self.value > _ENOUGH and _mean_quality(self) > _WELL

    @property
    def whole(self) -> bool:
        """Whether no panel is missing from a grid."""
        return not missing_cells([each.box for each in self.chosen])


def _look(view: View, plane: Points, roi: Points | None = None) -> _Look:
    frame = square_on(view, plane, roi)
    chosen = _chosen(frame)
    # Weighed in pixels of the photo, so that looks at different scales can be compared.
    return _Look(frame, chosen, weight(chosen) * frame.scale)


def _chosen(frame: Frame) -> list[Rectangle]:
    """The panels of a frame, by themselves or in a grid, whichever says more."""
    survey = Survey(frame)
    if len(survey.left) == 0 or len(survey.top) == 0:
        return []
    found = [each for each in survey.rectangles() if not is_blank(frame, each)]
    crossings = Crossings(frame)
    grid = best_grid(survey, crossings, found)
    together = [] if grid is None else grid[1]
    drawn = [each for each in together if not is_blank(frame, each)]
    # What stands in a grid is seen more surely than by itself, and may show that a larger rectangle is two panels.
    alone = choose(frame, crossings, with_others(found, drawn))
    # Slabs of a floor stand in rows and columns as well.
    if 2 * len(drawn) <= len(together):
        return alone
    if any(each.plain < _UNPLAIN for each in together) or evidence(together) <= evidence(alone):
        return alone
    return together


def _closer(view: View, seen: Segments, first: _Look, pose: Pose, closer: Closer | None) -> _Look:
    """Further looks at where panels were seen: with the pose that the edges there tell, and, where sides still lean,
    with what straightens the panels themselves."""
    best = first
    part, roi = _around(view, first, closer)
    if part.finer > _MUCH_FINER:
        seen = segments(lab(part.rgb)).moved(part.origin, part.finer)
    near = seen.within(*_around_closely(first))
    if len(near.weights) >= 4:
        second = _look(part, settle(pose, near).to_photo, roi)
        best = second if _better(second, best) else best
    look, grown = best, len(best.chosen) > len(first.chosen)
    for _ in range(_STRAIGHTENINGS):
        if look.sure and _leaning(look) <= _LEAN and not grown:
            break
        part, roi = _around(view, look, closer)
        again = _look(part, _straightened(look), roi)
        grown = len(again.chosen) > len(look.chosen)
        gained = grown or again.value > _GAIN * look.value or not again.whole
        best = again if _better(again, best, _AS_GOOD) else best
        # From a look that is not sure it may take two steps until more is seen.
        if not again.chosen or not gained or (best.sure and best is not again):
            break
        look = again
    return best


def _better(new: _Look, old: _Look, share: float = 1.0) -> bool:
    """Whether there is more to say for a look than for an earlier one, or for at least `share` of it.

    Larger rectangles show longer sides, and the outer edge of tape is seen as well as the panels within; so of two
    looks at the same panels the one that draws them smaller is taken, if it sees them about as surely.
    """
    if _drawn_in(new, old):
        return True
    return new.value >= share * old.value and not _drawn_in(old, new)


def _drawn_in(inner: _Look, outer: _Look) -> bool:
    """Whether a look shows each panel of another one within it, in gutters that are no darker."""
    if len(inner.chosen) < 2 or len(inner.chosen) != len(outer.chosen):
        return False
    drawn_in, least = 0, 1.0
    if _mean_quality(inner) < _mean_quality(outer) - _LESS_SURE or _mean_gutter(inner) < _mean_gutter(outer) - _DARKER:
        return False
    larger = [quad_of(outer.frame, each) for each in outer.chosen]
    for each in inner.chosen:
        quad = quad_of(inner.frame, each)
        shares = [overlap(quad, other) for other in larger]
        other = larger[int(np.argmax(shares))]
        # Within the other one all its area is shared, so that the overlap is the proportion of the two.
        if max(shares) < _SMALLER[0] or max(shares) < 0.96 * area(quad) / area(other):
            return False
        drawn_in += max(shares) < _SMALLER[1]
        least = min(least, max(shares))
    # Where but some are drawn in they may have been cut short.
    return drawn_in == len(larger) or (drawn_in > 0 and least > _A_LITTLE_SMALLER)


def _mean_quality(look: _Look) -> float:
    return float(np.mean([each.quality for each in look.chosen]))


def _mean_gutter(look: _Look) -> float:
    return float(np.mean([each.gutter[0] for each in look.chosen]))


def _around_closely(look: _Look) -> tuple[Points, Points]:
    """Top left and bottom right of the part of the photo with panels, their gutters and little else."""
    quads = np.stack([quad_of(look.frame, each) for each in look.chosen])
    reach = _BESIDE * np.ptp(quads, axis=1).max(axis=0)
    return quads.min(axis=(0, 1)) - reach, quads.max(axis=(0, 1)) + reach


def _around(view: View, look: _Look, closer: Closer | None) -> tuple[View, Points]:
    """A part of the photo round the panels, with room for more of them, and its corners (4, 2)."""
    quads = np.stack([quad_of(look.frame, each) for each in look.chosen])
    low, high = quads.min(axis=(0, 1)), quads.max(axis=(0, 1))
    largest = np.ptp(quads, axis=1).max(axis=0)
    reach = np.maximum(0.4 * (high - low), 1.2 * largest) + 8
    low, high = np.maximum(low - reach, 0), np.minimum(high + reach, view.size)
    left, top = (int(edge) for edge in np.floor(low))
    right, bottom = (int(edge) for edge in np.ceil(high))
    roi = np.array([[left, top], [right, top], [right, bottom], [left, bottom]], dtype=np.float64)
    if closer is None:
        return view, roi
    rgb = closer((left, top, right, bottom))
    return View(rgb, view.size, (float(left), float(top)), rgb.shape[1] / (right - left)), roi


def _leaning(look: _Look) -> float:
    """By how many pixels of the frame corners of panels lie off the rectangles that stand for them, at most."""
    apart = [
        corners(look.frame, each) - np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        for each in look.chosen
        for x0, y0, x1, y1 in [each.box]
    ]
    return float(np.percentile(np.abs(np.concatenate(apart)), 90))


def _straightened(look: _Look) -> Points:
    """The plane in which the sides of the panels of a look run level and upright."""
    leaning = np.concatenate([corners(look.frame, each) for each in look.chosen])
    straight = []
    for quad in leaning.reshape(-1, 4, 2):
        left, right = quad[[0, 3], 0].mean(), quad[[1, 2], 0].mean()
        top, bottom = quad[[0, 1], 1].mean(), quad[[2, 3], 1].mean()
        straight += [[left, top], [right, top], [right, bottom], [left, bottom]]
    change = homography(np.array(straight), leaning)
    shrink = np.diag([1 / look.frame.scale, 1 / look.frame.scale, 1.0])
    return np.asarray(look.frame.to_photo @ change @ shrink)


def quad_of(frame: Frame, rectangle: Rectangle) -> Points:
    """Corners (4, 2) of a rectangle of the frame in pixels of the photo."""
    x0, y0, x1, y1 = (edge + 0.5 for edge in rectangle.box)
    return transform(frame.to_photo, np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
