"""Finding the panels of a sheet in a photo."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ingest.lightness import FloatArray
from ingest.sheet.choosing import choose, evidence, is_blank, weight
from ingest.sheet.crossing import Crossings
from ingest.sheet.frame import Frame, View, square_on
from ingest.sheet.geometry import UNIT, Points, homography, proportion, transform
from ingest.sheet.grids import best_grid
from ingest.sheet.lines import Segments, lab, segments
from ingest.sheet.order import missing_cells, reading_order
from ingest.sheet.pose import Pose, alike, poses, settle
from ingest.sheet.rectangles import Rectangle, Survey, support_of, with_others
from ingest.sheet.sides import corners

_POSES = 3
_DOUBTFUL = 0.6
"""Mean quality of panels below which it is better to ask."""

_GUESSED = 0.4
_UNPLAIN = 0.35
_DRAWN, _HARDLY = 0.15, 0.2
"""Share of a cell that is not of the gutter's tone, and of its sides that is seen, from which a panel is missing."""

_STRAIGHTENINGS = 3
_LEAN = 2.5
"""Pixels by which panels may lean in the frame without another look."""

_BESIDE = 0.25
"""How far beyond the panels, in widths and heights of the largest, edges tell how the sheet lies."""

_MUCH_FINER = 1.3
"""How much finer a closer look is from which edges are looked for in it once more."""

_AS_GOOD = 0.98
"""Value of a straighter look, against the best before it, from which it is taken."""

_AGREE = 7.0
"""Pixels of the frame within which panels line up."""

_LEANING = 0.06
"""Steepest lean of a row against the frame."""

_MOSTLY = 0.6
_AS_WELL = 0.8
"""By how much, of four sides, less may be seen of a panel where its row and column would have it."""

_EVEN = 0.05
"""Share of an even part of a sheet that is left off each of its sides as gutter."""

_FAIR, _PLENTY = 0.8, 0.92
"""Least and mean quality of panels from which no other pose of the sheet is tried."""


@dataclass(frozen=True)
class Found:
    """A frame of the photo, and the panels in it, in reading order. layout: (rows, columns) of a full grid, or None."""

    frame: Frame
    chosen: list[Rectangle]
    layout: tuple[int, int] | None

    def quads(self) -> list[Points]:
        """Corners (4, 2) of each panel in pixels of the photo."""
        return [transform(self.frame.to_photo, corners(self.frame, each)) for each in self.chosen]


Closer = Callable[[tuple[int, int, int, int]], FloatArray]
"""Gives a part of the photo (left, top, right, bottom in pixels of it) in linear sRGB, as fine as there is."""


def find_panels(
    linear: FloatArray, layout: tuple[int, int] | None = None, closer: Closer | None = None
) -> Found | None:
    """Panels in a photo in linear sRGB (h, w, 3), some 800 pixels on its longer side; None when none are seen plainly.

    layout: (rows, columns) where it is known. closer: for a finer look at where the panels are.
    """
    colour = lab(linear)
    view = View(colour, (colour.shape[1], colour.shape[0]))
    seen = segments(colour)
    best: tuple[_Look, Pose] | None = None
    tried: list[Pose] = []
    for pose in poses(seen, (colour.shape[1], colour.shape[0]), _POSES):
        if any(alike(pose, other) for other in tried):
            continue
        tried.append(pose)
        look = _look(view, pose.to_photo)
        best = (look, pose) if best is None or look.value > best[0].value else best
        if look.sure:
            break
    if best is None or not best[0].chosen:
        return None
    look = _closer(view, seen, *best, closer)
    found = _in_grid(look.frame, look.chosen, layout)
    if float(np.mean([each.quality for each in found.chosen])) < _DOUBTFUL:
        return None
    return found


def _lined_up(frame: Frame, chosen: list[Rectangle]) -> list[Rectangle]:
    """Panels, with one that sticks out of its row and column drawn back to them if its sides are seen there as well."""
    boxes = np.array([each.box for each in chosen])
    middles = (boxes[:, :2] + boxes[:, 2:]) / 2
    result = list(chosen)
    quality = np.array([each.quality for each in chosen])
    for at, each in enumerate(chosen):
        others = quality > quality[at]
        row = others & (boxes[:, 1] < middles[at, 1]) & (boxes[:, 3] > middles[at, 1])
        column = others & (boxes[:, 0] < middles[at, 0]) & (boxes[:, 2] > middles[at, 0])
        if not row.any() or not column.any():
            continue
        down, up_and_down = _told(middles[row, 0], boxes[row][:, [1, 3]], middles[at, 0])
        across, side_to_side = _told(middles[column, 1], boxes[column][:, [0, 2]], middles[at, 1])
        if max(up_and_down, side_to_side) > _AGREE:
            continue
        box = (float(across[0]), float(down[0]), float(across[1]), float(down[1]))
        shared = np.minimum(boxes[at, 2:], box[2:]) - np.maximum(boxes[at, :2], box[:2])
        away = float(np.abs(np.array(box) - boxes[at]).max())
        if away <= _AGREE or shared.min() <= 0 or shared.prod() < _MOSTLY * each.area:
            continue
        gaps = np.maximum(boxes[:, :2] - box[2:], np.array(box[:2]) - boxes[:, 2:]).max(axis=1)
        if (np.delete(gaps, at) < _AGREE).any():
            continue
        seen = support_of(frame, box)
        if sum(seen) > sum(each.support) - _AS_WELL:
            result[at] = Rectangle(box, seen, each.gutter, each.plain)
    return result


def _told(places: Points, edges: Points, place: float) -> tuple[Points, float]:
    """Where the two edges (n, 2) of others at `places` (n,) of a row or column would be at `place`, as they may lean
    together, and by how much they differ at most; without end when they lean too much to tell."""
    middle, differ = np.median(edges, axis=0), float(np.ptp(edges, axis=0).max())
    if len(places) < 2 or np.ptp(places) < 1:
        return middle, differ
    line = np.polyfit(places - place, edges, 1)
    if np.abs(line[0]).max() > _LEANING:
        return middle, np.inf
    rest = edges - (np.outer(places - place, line[0]) + line[1])
    return line[1], float(np.ptp(rest, axis=0).max())


def find_within(linear: FloatArray, sheet: Points, layout: tuple[int, int]) -> Found:
    """Panels within the corners of a sheet (4, 2) that a person gave; where they are not seen, even parts of it."""
    colour = lab(linear)
    size = (colour.shape[1], colour.shape[0])
    ratio = proportion(sheet, size)
    long = float(np.hypot(*(np.roll(sheet, -1, axis=0) - sheet).T).max())
    width, height = (long, long / ratio) if ratio >= 1 else (long * ratio, long)
    plane = homography(UNIT * [width, height], sheet)
    frame = square_on(View(colour, size), plane, sheet)
    found = _in_grid(frame, _chosen(frame), layout)
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


def _in_grid(frame: Frame, chosen: list[Rectangle], layout: tuple[int, int] | None) -> Found:
    """Panels in reading order; one that is missing from a grid of others is put where it must be, if something is
    drawn there or the layout says so."""
    chosen = _lined_up(frame, list(chosen))
    missing = missing_cells([each.box for each in chosen])
    order, grid = reading_order([*(each.box for each in chosen), *missing])
    wanted = layout is None or grid == layout
    for cell in missing if wanted and len(missing) <= len(chosen) // 2 else []:
        left, top, right, bottom = (round(edge) for edge in cell)
        here = frame.colour[top + 4 : bottom - 4, left + 4 : right - 4].reshape(-1, 3)
        gutter = np.median([each.gutter for each in chosen], axis=0)
        drawn = float((np.abs(here - gutter).max(axis=-1) > 6).mean()) if len(here) else 0.0
        if layout is not None or (drawn > _DRAWN and sum(support_of(frame, cell)) > 4 * _HARDLY):
            left_seen, top_seen, right_seen, bottom_seen = (max(_GUESSED, side) for side in support_of(frame, cell))
            tone = (float(gutter[0]), float(gutter[1]), float(gutter[2]))
            chosen.append(Rectangle(cell, (left_seen, top_seen, right_seen, bottom_seen), tone, 1.0))
    order, grid = reading_order([each.box for each in chosen])
    return Found(frame, [chosen[at] for at in order], grid)


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
    found = survey.rectangles()
    crossings = Crossings(frame)
    grid = best_grid(survey, crossings, [each for each in found if not is_blank(frame, each)])
    # What stands in a grid is seen more surely than by itself, and may show that a larger rectangle is two panels.
    alone = choose(frame, crossings, found if grid is None else with_others(found, grid[1]))
    if grid is None:
        return alone
    together = grid[1]
    if any(each.plain < _UNPLAIN for each in together) or evidence(together) <= evidence(alone):
        return alone
    return together


def _closer(view: View, seen: Segments, first: _Look, pose: Pose, closer: Closer | None) -> _Look:
    """Further looks at where panels were seen: with the pose that the edges there tell, and, where sides still lean,
    with what straightens the panels themselves."""
    best = first
    part, roi = _around(view, first, closer)
    if part.finer > _MUCH_FINER:
        seen = segments(part.colour).moved(part.origin, part.finer)
    near = seen.within(*_around_closely(first))
    if len(near.weights) >= 4:
        second = _look(part, settle(pose, near).to_photo, roi)
        best = second if second.value >= best.value else best
    look, grown = best, len(best.chosen) > len(first.chosen)
    for _ in range(_STRAIGHTENINGS):
        if look.sure and _leaning(look) <= _LEAN and not grown:
            break
        part, roi = _around(view, look, closer)
        again = _look(part, _straightened(look), roi)
        grown = len(again.chosen) > len(look.chosen)
        best = again if again.value > _AS_GOOD * best.value else best
        # From a look that is not sure it may take two steps until more is seen.
        if not again.chosen or (best.sure and best is not again):
            break
        look = again
    return best


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
    colour = lab(closer((left, top, right, bottom)))
    return View(colour, view.size, (float(left), float(top)), colour.shape[1] / (right - left)), roi


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
