"""Looks at a sheet: the panels seen in one frame, and which of two looks says more."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ingest.sheet.choosing import choose
from ingest.sheet.crossing import Crossings
from ingest.sheet.frame import Frame, View, square_on
from ingest.sheet.geometry import Points, area, overlap, transform
from ingest.sheet.grids import best_grid
from ingest.sheet.ground import is_blank
from ingest.sheet.order import Box, missing_cells
from ingest.sheet.packing import evidence, weight
from ingest.sheet.rectangles import Rectangle, Survey, with_others

_UNPLAIN, _CHANCE = 0.35, 0.5
"""Share of plain surroundings, and quality of any of its panels, below which a grid is chance."""

_SMALLER, _A_LITTLE_SMALLER = (0.5, 0.95), 0.7
"""Area of a panel, against that of the outer edge of tape around it; and when others are as large as before."""

_LESS_SURE, _DARKER = 0.1, 4.0
"""Mean quality, and L* of the gutters, by which panels may be less than what is drawn around them."""

_SEVERAL_LESS_SURE, _HELD = 0.15, 0.25
"""Mean quality by which several panels may be less than the sheet that holds them, and how much of it they cover."""

_FAIR, _PLENTY = 0.8, 0.92
"""Least and mean quality of panels from which they are seen for sure."""

_LIGHT, _SURELY_LIGHT, _COLOURED = 0.6, 0.7, 18.0
"""L* of gutters, against that of the lightest twentieth of a photo, from which they may be paper or tape, and from
which they are; and chroma from which they are tape."""

_ON_PAPER = 0.4
"""Value of a look at panels on paper, against that of one at what may be slabs, from which it is taken."""

_ENOUGH, _WELL = 1000.0, 0.75
"""Value of a look, and mean quality of its panels, from which no other pose of the sheet is tried."""


@dataclass(frozen=True)
class Look:
    """A frame, the panels seen in it, and how much there is to say for them, in pixels of the photo."""

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


def look_at(view: View, plane: Points, roi: Points | None = None) -> Look:
    """What is seen of panels in a view; plane and roi are those of `square_on`."""
    frame = square_on(view, plane, roi)
    chosen = panels_of(frame)
    # Weighed in pixels of the photo, so that looks at different scales can be compared.
    return Look(frame, chosen, weight(chosen) * frame.scale)


def panels_of(frame: Frame) -> list[Rectangle]:
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
    chance = any(each.plain < _UNPLAIN or each.quality < _CHANCE for each in together)
    if chance or evidence(together) <= evidence(alone):
        return alone
    return together


def better(new: Look, old: Look, share: float = 1.0) -> bool:
    """Whether there is more to say for a look than for an earlier one, or for at least `share` of it.

    Larger rectangles show longer sides, and the outer edge of tape is seen as well as the panels within; so of two
    looks at the same panels the one that draws them smaller is taken, if it sees them about as surely.
    """
    if _drawn_in(new, old) or _held(new, old):
        return True
    return new.value >= share * old.value and not _drawn_in(old, new) and not _held(old, new)


def outweighs(new: Look, old: Look, light: float) -> bool:
    """Whether a look at another pose says more than the best so far."""
    if not new.chosen or not old.chosen:
        return bool(new.chosen)
    paper = on_paper(new, light)
    if paper != on_paper(old, light):
        return new.value > old.value * (_ON_PAPER if paper else 1 / _ON_PAPER)
    # What is large but faint says little.
    return better(new, old) and _mean_quality(new) > _mean_quality(old) - _LESS_SURE


def on_paper(look: Look, light: float, *, surely: bool = False) -> bool:
    """Whether gutters are about as light as the lightest of the photo, L* `light`, or coloured as tape is: the joints
    of a floor are neither, as a rule. surely: whether they are so light that no other pose need be tried."""
    gutters = np.array([each.gutter for each in look.chosen])
    least = _SURELY_LIGHT if surely else _LIGHT
    return bool(np.mean(gutters[:, 0]) > least * light or np.hypot(*gutters[:, 1:].mean(axis=0)) > _COLOURED)


def _drawn_in(inner: Look, outer: Look) -> bool:
    """Whether a look shows each panel of another one within it, in gutters that are no darker."""
    if len(inner.chosen) < 2 or len(inner.chosen) != len(outer.chosen):
        return False
    drawn_in, least = 0, 1.0
    if _mean_quality(inner) < _mean_quality(outer) - _LESS_SURE or _mean_gutter(inner) < _mean_gutter(outer) - _DARKER:
        return False
    larger = [quad_of(outer.frame, each.box) for each in outer.chosen]
    for each in inner.chosen:
        quad = quad_of(inner.frame, each.box)
        shares = [overlap(quad, other) for other in larger]
        other = larger[int(np.argmax(shares))]
        # Within the other one all its area is shared, so that the overlap is the proportion of the two.
        if max(shares) < _SMALLER[0] or max(shares) < 0.96 * area(quad) / area(other):
            return False
        drawn_in += max(shares) < _SMALLER[1]
        least = min(least, max(shares))
    # Where but some are drawn in they may have been cut short.
    return drawn_in == len(larger) or (drawn_in > 0 and least > _A_LITTLE_SMALLER)


def _held(inner: Look, outer: Look) -> bool:
    """Whether each panel of a look holds several of another one, seen about as surely: the first is of sheets."""
    if len(inner.chosen) < 2 * len(outer.chosen) or not outer.chosen:
        return False
    if _mean_quality(inner) < _mean_quality(outer) - _SEVERAL_LESS_SURE:
        return False
    quads = [quad_of(inner.frame, each.box) for each in inner.chosen]
    for each in outer.chosen:
        sheet = quad_of(outer.frame, each.box)
        # Within the sheet all of a panel is shared, so that the overlap is the proportion of the two.
        shares = [share for quad in quads if (share := overlap(quad, sheet)) > 0.9 * area(quad) / area(sheet)]
        if len(shares) < 2 or sum(shares) < _HELD:
            return False
    return True


def _mean_quality(look: Look) -> float:
    return float(np.mean([each.quality for each in look.chosen]))


def _mean_gutter(look: Look) -> float:
    return float(np.mean([each.gutter[0] for each in look.chosen]))


def quad_of(frame: Frame, box: Box) -> Points:
    """Corners (4, 2) of a box of the frame in pixels of the photo."""
    x0, y0, x1, y1 = (edge + 0.5 for edge in box)
    return transform(frame.to_photo, np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
