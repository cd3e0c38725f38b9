"""A study beside the work of a master: value by value, mass by mass, at one squint and one size.

Both walk the same street, each squinted at by the same share of its own diagonal, and are laid on the grid of the
study. Words that say where speak of the study as it lies before its maker: when a study answers to a work turned over,
it is the work that is turned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from ingest.masses import SMALLEST_MASS, VALUE_NAMES
from ingest.picture import Picture, read_picture
from ingest.reading import Reading, read_tone
from ingest.squint import DEFAULT_SHARE
from ingest.value_map import OUTSIDE, Labels, map_picture
from ingest.words import place

Shape = NDArray[np.bool_]

_FELLOW = 0.25
"""Share of a piece that must lie on a mass of the other picture before it counts as a piece of that mass."""

_COVERED = 0.4
"""Share of a mass that its pieces must cover together, or they are only strangers that lie on it."""

_LEAST_WHOLE = 0.02
"""Share of the frame under which a mass is too small for it to matter whether it is joined."""

_MOST_APART = 0.2
"""Share of the diagonal across which two pieces of one mass are still said to be parted by a gap."""

_AS_NARROW = 1.3
"""How many times the least width of a seam still counts as narrow, besides a pixel."""


@dataclass(frozen=True)
class Gap:
    """One mass in one of two pictures that lies in several pieces in the other.

    value: 'light', 'mid' or 'dark'. area: share of the frame that the one mass fills. pieces: where the pieces lie, in
    words, the largest first. x, y: middle of where the largest piece and its next lie narrowly apart, 0..1. width: how
    wide it is at the narrowest, as a share of the diagonal. between: the value that lies there.
    """

    value: str
    area: float
    pieces: tuple[str, ...]
    x: float
    y: float
    width: float
    between: str

    @property
    def where(self) -> str:
        """The narrowest place in words."""
        return place(self.x, self.y)


@dataclass(frozen=True)
class Comparison:
    """own, theirs: (h, w) uint8 three-value maps of study and work on one grid, OUTSIDE where either has no picture.

    same: share of the frame that has the same value in both. agreement: share of the study's light, mid and dark that
    falls on that value of the work; answered: share of the work's that has it in the study; a value that is not there
    is left out. table: rows dark, mid, light of the study, columns those of the work, shares of the frame that sum
    to 1. shift: by how much the study has more (negative: less) of each value. parted: masses that are joined in the
    work and broken in the study; closed: the other way round. stretched: octaves of width to height by which the two
    formats differ, positive when the study is the wider.
    """

    own: Labels
    theirs: Labels
    same: float
    agreement: dict[str, float]
    answered: dict[str, float]
    table: tuple[tuple[float, ...], ...]
    shift: dict[str, float]
    parted: tuple[Gap, ...]
    closed: tuple[Gap, ...]
    stretched: float

    def difference(self) -> Labels:
        """(h, w) uint8 in five steps: 2 the same value, above it the study lighter by one or two values, below it
        darker; OUTSIDE where there is no picture."""
        inside = self.own != OUTSIDE
        steps = 2 + self.own.astype(np.int16) - self.theirs.astype(np.int16)
        return np.where(inside, steps, OUTSIDE).astype(np.uint8)


def read_master(
    file: Path,
    part: tuple[float, float, float, float] | None = None,
    *,
    mirrored: bool = False,
    share: float = DEFAULT_SHARE,
) -> Reading:
    """Read the display copy of a work, or the part (x0, y0, x1, y1) in 0..1 of it, at the squint of a study.

    mirrored: turned over, to face as the study does. Raises UnreadablePicture with one clear sentence.
    """
    with Image.open(file) as opened:
        width, height = opened.size
    cut = None
    if part is not None:
        x0, y0, x1, y1 = part
        cut = round(x0 * width), round(y0 * height), round(x1 * width), round(y1 * height)
    picture = read_picture(file, part=cut or "whole")
    return read_tone(turned(picture) if mirrored else picture, share)


def turned(picture: Picture) -> Picture:
    """The picture as a mirror shows it."""
    return replace(
        picture,
        rgb=np.ascontiguousarray(picture.rgb[:, ::-1]),
        luminance=np.ascontiguousarray(picture.luminance[:, ::-1]),
        mask=None if picture.mask is None else np.ascontiguousarray(picture.mask[:, ::-1]),
    )


def compare(study: Reading, master: Reading) -> Comparison:
    """Compare two readings made at the same squint; the master must face as the study does."""
    laid = study.maps[3].labels
    behind = at_size(master.maps[3].labels, *laid.shape)
    compared = compare_maps(laid, behind)
    height, width = laid.shape
    rows, columns = master.maps[3].labels.shape
    return replace(compared, stretched=float(np.log2((width / height) / (columns / rows))))


def compare_maps(own: Labels, theirs: Labels) -> Comparison:
    """Compare two three-value maps, (h, w) uint8 of one shape: dark 0, mid 1, light 2, OUTSIDE for no picture."""
    outside = (own == OUTSIDE) | (theirs == OUTSIDE)
    own, theirs = (np.where(outside, OUTSIDE, labels).astype(np.uint8) for labels in (own, theirs))
    inside = ~outside
    pairs = np.bincount(own[inside].astype(np.int64) * 3 + theirs[inside], minlength=9).reshape(3, 3)
    shares = pairs / max(1, int(pairs.sum()))
    rows, columns = shares.sum(axis=1), shares.sum(axis=0)
    return Comparison(
        own=own,
        theirs=theirs,
        same=float(np.trace(shares)),
        agreement={VALUE_NAMES[v]: float(shares[v, v] / rows[v]) for v in (2, 1, 0) if rows[v] > 0},
        answered={VALUE_NAMES[v]: float(shares[v, v] / columns[v]) for v in (2, 1, 0) if columns[v] > 0},
        table=tuple(tuple(float(share) for share in row) for row in shares),
        shift={VALUE_NAMES[v]: float(rows[v] - columns[v]) for v in (2, 1, 0)},
        parted=_gaps(theirs, own),
        closed=_gaps(own, theirs),
        stretched=0.0,
    )


def at_size(labels: Labels, height: int, width: int) -> Labels:
    """A value map, (h, w) uint8, at another size; each pixel takes the value that lies under its middle."""
    rows = ((np.arange(height) + 0.5) * labels.shape[0] / height).astype(np.int64)
    columns = ((np.arange(width) + 0.5) * labels.shape[1] / width).astype(np.int64)
    return np.ascontiguousarray(labels[rows[:, None], columns[None, :]])


def difference_picture(compared: Comparison, side: int) -> Image.Image:
    """The differences in five greys, longest side `side` px: the middle one where both have the same value, lighter
    where the study is lighter than the work, darker where it is darker."""
    return map_picture(compared.difference(), 5, side)


def closest(labels: Labels, value: int) -> Gap | None:
    """The two masses of one value, 0 dark to 2 light, that lie nearest to each other; None when there are not two."""
    pieces = _masses(labels, value)
    found: Gap | None = None
    for number, (_, piece) in enumerate(pieces):
        for _, other in pieces[number + 1 :]:
            gap = _narrowest(labels, value, [piece, other], 0.0)
            if found is None or gap.width < found.width:
                found = gap
    return found


def _gaps(wholes: Labels, broken: Labels) -> tuple[Gap, ...]:
    """Light and dark masses of one map that lie in pieces in the other, the largest first; told by `broken`."""
    found: list[Gap] = []
    for value in (2, 0):
        pieces = _masses(broken, value)
        for area, whole in _masses(wholes, value, _LEAST_WHOLE):
            held = [piece for _, piece in pieces if (piece & whole).sum() >= _FELLOW * piece.sum()]
            covered = sum(int((piece & whole).sum()) for piece in held)
            if len(held) < 2 or covered < _COVERED * whole.sum():
                continue
            gap = _narrowest(broken, value, held, area)
            if gap.width <= _MOST_APART:
                found.append(gap)
    return tuple(sorted(found, key=lambda gap: -gap.area))


def _masses(labels: Labels, value: int, least: float = SMALLEST_MASS) -> list[tuple[float, Shape]]:
    """(share of the frame, shape) of each mass of a value, largest first."""
    shapes, count = ndimage.label(labels == value)
    inside = max(1, int((labels != OUTSIDE).sum()))
    areas = np.bincount(shapes.ravel(), minlength=count + 1)[1:] / inside
    order = [number for number in np.argsort(-areas, kind="stable") if areas[number] >= least]
    return [(float(areas[number]), shapes == number + 1) for number in order]


def _narrowest(labels: Labels, value: int, pieces: Sequence[Shape], area: float) -> Gap:
    """The narrowest place between the first of the pieces and any other."""
    first, rest = pieces[0], np.logical_or.reduce(pieces[1:])
    away, nearest = ndimage.distance_transform_edt(~first, return_indices=True)
    reach = np.where(rest, away, np.inf)
    # Along a seam of nearly even width every place is the narrowest; the middle one of them is meant.
    rows, columns = np.nonzero(reach < _AS_NARROW * reach.min() + 1)
    middling = np.argmin(np.hypot(rows - rows.mean(), columns - columns.mean()))
    at = int(rows[middling] * labels.shape[1] + columns[middling])
    there = np.array([rows[middling], columns[middling]], dtype=float)
    here = np.array([nearest[0].flat[at], nearest[1].flat[at]], dtype=float)
    steps = np.linspace(0.0, 1.0, 65)[:, None]
    along = np.rint(here + (there - here) * steps).astype(np.int64)
    crossed = labels[along[:, 0], along[:, 1]]
    crossed = crossed[(crossed != value) & (crossed != OUTSIDE)]
    between = int(np.bincount(crossed, minlength=3).argmax()) if crossed.size else value
    middle = (here + there + 1) / 2
    height, width = labels.shape
    return Gap(
        value=VALUE_NAMES[value],
        area=area,
        pieces=tuple(_place_of(piece) for piece in pieces),
        x=float(middle[1] / width),
        y=float(middle[0] / height),
        width=float(reach.min() / np.hypot(height, width)),
        between=VALUE_NAMES[between],
    )


def _place_of(shape: Shape) -> str:
    y, x = ndimage.center_of_mass(shape)
    return place((x + 0.5) / shape.shape[1], (y + 0.5) / shape.shape[0])
