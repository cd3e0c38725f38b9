"""Finding the panels of a sheet in a photo."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ingest.sheet.ends import to_their_ends
from ingest.sheet.filling import in_grid
from ingest.sheet.frame import Frame, View, square_on
from ingest.sheet.geometry import UNIT, Points, homography, proportion, transform
from ingest.sheet.islands import islands
from ingest.sheet.light import Light
from ingest.sheet.lines import Segments, lab, segments
from ingest.sheet.looks import Look, better, look_at, on_paper, outweighs, panels_of, quad_of
from ingest.sheet.pose import Pose, alike, poses, settle
from ingest.sheet.rectangles import Rectangle
from ingest.sheet.sides import corners

_POSES = 3
_DOUBTFUL = 0.6
"""Mean quality of panels below which it is better to ask."""

_NOT_ALL = 0.75
"""Confidence of panels, at most, beside which more is drawn on the sheet than was found."""

_LOOKS = 5
"""Looks at a photo in all, of which at least one straightens the panels that are seen."""

_LEAN = 3.5
"""Pixels by which panels may lean in the frame without another look."""

_BENT = 0.8
"""Lean of the panels, against that before they were straightened, from which straightening is of no more use."""

_BESIDE = 0.25
"""How far beyond the panels, in widths and heights of the largest, edges tell how the sheet lies."""

_PLAIN, _LITTLE_FINER = 0.95, 1.2
"""Quality of all panels from which nothing more is to be seen of them, and how much finer a closer look must be, at
least, to be worth it."""

_BETTER = 1.05
"""How much more of the edges near the panels another pose must explain to be taken."""

_MUCH_FINER = 1.3
"""How much finer a closer look is from which edges are looked for in it once more."""

_GAIN = 1.05
"""Value of a straighter look, against the one before it, from which yet another may show more."""

_AS_GOOD = 0.98
"""Value of a straighter look, against the best before it, from which it is taken."""

_EVEN = 0.05
"""Share of an even part of a sheet that is left off each of its sides as gutter."""


@dataclass(frozen=True)
class Found:
    """A frame of the photo, and the panels in it, in reading order. layout: (rows, columns) of a full grid, or None."""

    frame: Frame
    chosen: list[Rectangle]
    layout: tuple[int, int] | None

    def quads(self) -> list[Points]:
        """Corners (4, 2) of each panel in pixels of the photo."""
        return [transform(self.frame.to_photo, corners(self.frame, each)) for each in self.chosen]


_Box = tuple[int, int, int, int]

Closer = Callable[[_Box], NDArray[np.uint8]]
"""Gives a part of the photo (left, top, right, bottom in pixels of it), as fine as there is."""


def find_panels(
    rgb: NDArray[np.uint8], layout: tuple[int, int] | None = None, closer: Closer | None = None
) -> Found | None:
    """Panels in a photo (h, w, 3) uint8, sRGB, some 800 pixels on its longer side; None when none are seen plainly.

    layout: (rows, columns) where it is known. closer: for a finer look at where the panels are.
    """
    size = (rgb.shape[1], rgb.shape[0])
    view = View(rgb, size) if closer is None else _part(View(rgb, size), (0, 0, *size), closer)
    colour = lab(rgb)
    seen = segments(colour)
    light = float(np.percentile(colour[::4, ::4, 0], 95))
    best: tuple[Look, Pose] | None = None
    tried: list[Pose] = []
    for pose in poses(seen, size, _POSES):
        if any(alike(pose, other) for other in tried):
            continue
        tried.append(pose)
        look = look_at(view, pose.to_photo)
        best = (look, pose) if best is None or outweighs(look, best[0], light) else best
        if (best[0].sure or best[0].plain) and on_paper(best[0], light, surely=True):
            break
    if best is None or not best[0].chosen:
        return None
    look = _closer(view, seen, *best, closer, _LOOKS - len(tried) - 1)
    found = Found(look.frame, *in_grid(look.frame, look.chosen, layout))
    if float(np.mean([each.quality for each in found.chosen])) < _DOUBTFUL:
        return None
    # A layout that is there leaves no room for more panels.
    return found if layout is not None and found.layout == layout else with_islands(found)


def with_islands(found: Found, light: Light | None = None) -> Found:
    """Panels, and what else is drawn beside them as panels that cannot be cut: with more on the sheet than is
    understood, none of it is sure. light: on the sheet, where it is known."""
    others = islands(found.frame, found.chosen, light)
    if not others:
        return found
    gutter = found.chosen[0].gutter
    unsure = [replace(each, trust=min(each.trust, _NOT_ALL)) for each in found.chosen]
    return Found(found.frame, unsure + [Rectangle(box, (0.0,) * 4, gutter, 0.0) for box in others], None)


def find_within(rgb: NDArray[np.uint8], sheet: Points, layout: tuple[int, int]) -> Found:
    """Panels within the corners of a sheet (4, 2) that a person gave; where they are not seen, even parts of it."""
    size = (rgb.shape[1], rgb.shape[0])
    ratio = proportion(sheet, size)
    long = float(np.hypot(*(np.roll(sheet, -1, axis=0) - sheet).T).max())
    width, height = (long, long / ratio) if ratio >= 1 else (long * ratio, long)
    plane = homography(UNIT * [width, height], sheet)
    frame = square_on(View(rgb, size), plane, sheet)
    seen = panels_of(frame)
    found = Found(frame, *in_grid(frame, seen, layout)) if seen else None
    if found is not None and found.layout == layout:
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


def _closer(view: View, seen: Segments, first: Look, pose: Pose, closer: Closer | None, most: int) -> Look:
    """Further looks at where panels were seen: with the pose that the edges there tell, and, where sides still lean, at
    most so many times with what straightens the panels themselves."""
    best = first
    box = _around(view, first)
    if _seen_well(first, box):
        return first
    part, roi = _part(view, box, closer), _rim(box)
    if part.finer > _MUCH_FINER * view.finer:
        seen = segments(lab(part.rgb)).moved(part.origin, part.finer)
    near = seen.within(*_around_closely(first))
    if len(near.weights) >= 4:
        second = look_at(part, _told_nearby(pose, near, view.size).to_photo, roi)
        best = second if better(second, best) else best
    look, grown, before = best, len(best.chosen) > len(first.chosen), np.inf
    for _ in range(most):
        lean = _leaning(look)
        # What leans as before however it is straightened is bent.
        if look.sure and not grown and (lean <= _LEAN or lean > _BENT * before):
            break
        before = lean
        box = _around(view, look)
        again = look_at(_part(view, box, closer), _straightened(look), _rim(box))
        grown = len(again.chosen) > len(look.chosen)
        gained = grown or again.value > _GAIN * look.value or not again.whole
        best = again if better(again, best, _AS_GOOD) else best
        # From a look that is not sure it may take two steps until more is seen.
        if not again.chosen or not gained or (best.sure and best is not again):
            break
        look = again
    return best


def _told_nearby(pose: Pose, near: Segments, size: tuple[int, int]) -> Pose:
    """A pose drawn to the edges near the panels, or another one that explains them better: in the whole photo what the
    sheet lies on may have outvoted it."""
    settled = settle(pose, near)
    others = poses(near, size, 1)
    return others[0] if others and others[0].score > _BETTER * settled.score else settled


def _around_closely(look: Look) -> tuple[Points, Points]:
    """Top left and bottom right of the part of the photo with panels, what else is drawn beside them, their gutters and
    little else."""
    boxes = [*(each.box for each in look.chosen), *islands(look.frame, look.chosen)]
    quads = np.stack([quad_of(look.frame, box) for box in boxes])
    reach = _BESIDE * np.ptp(quads, axis=1).max(axis=0)
    return quads.min(axis=(0, 1)) - reach, quads.max(axis=(0, 1)) + reach


def _around(view: View, look: Look) -> _Box:
    """The part of the photo round the panels, with room for more of them."""
    quads = np.stack([quad_of(look.frame, each.box) for each in look.chosen])
    low, high = quads.min(axis=(0, 1)), quads.max(axis=(0, 1))
    largest = np.ptp(quads, axis=1).max(axis=0)
    reach = np.maximum(0.4 * (high - low), 1.2 * largest) + 8
    low, high = np.maximum(low - reach, 0), np.minimum(high + reach, view.size)
    left, top = (int(edge) for edge in np.floor(low))
    right, bottom = (int(edge) for edge in np.ceil(high))
    return left, top, right, bottom


def _part(view: View, box: _Box, closer: Closer | None) -> View:
    """A part of the photo as fine as there is; the view itself where nothing finer is at hand."""
    if closer is None:
        return view
    left, top, right, _ = box
    rgb = closer(box)
    return View(rgb, view.size, (float(left), float(top)), rgb.shape[1] / (right - left))


def _rim(box: _Box) -> Points:
    """The corners (4, 2) of a part of the photo."""
    left, top, right, bottom = box
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], dtype=np.float64)


def _seen_well(look: Look, box: _Box) -> bool:
    """Whether a look at a part of the photo would show no more than this one: all is plain to see, nothing leans, and
    the frame would be no finer."""
    if min(each.quality for each in look.chosen) < _PLAIN or not look.whole or _leaning(look) > _LEAN:
        return False
    if to_their_ends(look.frame, look.chosen) != look.chosen or islands(look.frame, look.chosen):
        return False
    taken_up = np.ptp(transform(np.linalg.inv(look.frame.to_photo), _rim(box)), axis=0).max()
    return bool(max(look.frame.inside.shape) < _LITTLE_FINER * taken_up)


def _leaning(look: Look) -> float:
    """By how many pixels of the frame corners of panels lie off the rectangles that stand for them, at most."""
    apart = [
        corners(look.frame, each) - np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        for each in look.chosen
        for x0, y0, x1, y1 in [each.box]
    ]
    return float(np.percentile(np.abs(np.concatenate(apart)), 90))


def _straightened(look: Look) -> Points:
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
