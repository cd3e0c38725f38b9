"""Quadrilaterals in a photo and the flat rectangles they are pictures of.

A quadrilateral is a (4, 2) array of x, y in pixels, clockwise as seen from its own top left; y points down. A
homography is a (3, 3) matrix that maps points of one plane to those of another, found from four pairs or more by the
direct linear transform with normalised points (Hartley & Zisserman 2004, Multiple View Geometry, algorithm 4.2).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ingest.sheet.sheet import SheetError

Points = NDArray[np.float64]

UNIT = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
"""The corners of the unit square, clockwise from the top left."""

USUAL_FOCAL = 0.82
"""Focal length of a telephone's main camera as a share of the photo's longer side: about 28 mm on 36 mm; common
practice, used where the photo itself does not tell."""

_OVER = 0.4
"""Share of the smaller of two panels that may lie over the other, as corners are set by hand."""

_FOCALS = np.exp(np.linspace(np.log(0.45), np.log(2.7), 181))
_FOCAL_SPREAD, _SQUARE_SPREAD = 0.15, 0.03
"""How far cameras' focal lengths stray from the usual one (natural logarithm), and how far from square the directions
of a sheet come out that were told from its edges (cosine of their angle)."""


def homography(source: ArrayLike, target: ArrayLike, weights: ArrayLike | None = None) -> Points:
    """The homography (3, 3) that takes `source` (n, 2) to `target` (n, 2), n >= 4, in the least squares sense."""
    s, t = np.asarray(source, dtype=np.float64), np.asarray(target, dtype=np.float64)
    to_s, to_t = _normaliser(s), _normaliser(t)
    s, t = transform(to_s, s), transform(to_t, t)
    one, none = np.ones(len(s)), np.zeros(len(s))
    x, y, u, v = s[:, 0], s[:, 1], t[:, 0], t[:, 1]
    first = np.stack([x, y, one, none, none, none, -u * x, -u * y, -u], axis=1)
    second = np.stack([none, none, none, x, y, one, -v * x, -v * y, -v], axis=1)
    rows = np.concatenate([first, second])
    if weights is not None:
        rows = rows * np.tile(np.asarray(weights, dtype=np.float64), 2)[:, None]
    _, _, basis = np.linalg.svd(rows)
    found = np.linalg.inv(to_t) @ basis[-1].reshape(3, 3) @ to_s
    return np.asarray(found / found[2, 2] if abs(found[2, 2]) > 1e-12 else found)


def _normaliser(points: Points) -> Points:
    centre = points.mean(axis=0)
    spread = float(np.sqrt(((points - centre) ** 2).sum(axis=1)).mean()) or 1.0
    scale = np.sqrt(2.0) / spread
    return np.array([[scale, 0.0, -scale * centre[0]], [0.0, scale, -scale * centre[1]], [0.0, 0.0, 1.0]])


def transform(matrix: ArrayLike, points: ArrayLike) -> Points:
    """Points (..., 2) taken through a homography (3, 3)."""
    p = np.asarray(points, dtype=np.float64)
    m = np.asarray(matrix, dtype=np.float64)
    w = p[..., 0] * m[2, 0] + p[..., 1] * m[2, 1] + m[2, 2]
    x = p[..., 0] * m[0, 0] + p[..., 1] * m[0, 1] + m[0, 2]
    y = p[..., 0] * m[1, 0] + p[..., 1] * m[1, 1] + m[1, 2]
    w = np.where(np.abs(w) < 1e-12, 1e-12, w)
    return np.stack([x / w, y / w], axis=-1)


def area(quad: ArrayLike) -> float:
    """Area of a polygon (n, 2); positive when it runs clockwise on a picture."""
    q = np.asarray(quad, dtype=np.float64)
    n = np.roll(q, -1, axis=0)
    return float((q[:, 0] * n[:, 1] - n[:, 0] * q[:, 1]).sum() / 2)


def is_convex(quad: ArrayLike) -> bool:
    """Whether four corners in order make a convex quadrilateral that turns clockwise on the picture."""
    q = np.asarray(quad, dtype=np.float64)
    sides = np.roll(q, -1, axis=0) - q
    after = np.roll(sides, -1, axis=0)
    return bool((sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0] > 0).all())


def in_order(corners: ArrayLike) -> Points:
    """Four corners in any order as a quadrilateral: clockwise, from the one that is top left in the photo's upright."""
    q = np.asarray(corners, dtype=np.float64)
    centre = q.mean(axis=0)
    round_ = q[np.argsort(np.arctan2(q[:, 1] - centre[1], q[:, 0] - centre[0]), kind="stable")]

    def lean(start: int) -> float:
        turned = np.roll(round_, -start, axis=0)
        across = turned[1] - turned[0] + turned[2] - turned[3]
        return abs(float(np.arctan2(across[1], across[0])))

    return np.asarray(np.roll(round_, -min(range(4), key=lean), axis=0))


def overlap(first: ArrayLike, second: ArrayLike) -> float:
    """Intersection over union, 0..1, of two convex quadrilaterals (4, 2), both clockwise."""
    a, b = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    if (a.max(axis=0) <= b.min(axis=0)).any() or (b.max(axis=0) <= a.min(axis=0)).any():
        return 0.0
    common = shared(a, b)
    return common / max(abs(area(a)) + abs(area(b)) - common, 1e-12)


def shared(a: Points, b: Points) -> float:
    """Area that two convex quadrilaterals have in common."""
    common = a
    for start, end in zip(b, np.roll(b, -1, axis=0), strict=True):
        common = _cut(common, start, end)
        if len(common) < 3:
            return 0.0
    return abs(area(common))


def _cut(polygon: Points, start: Points, end: Points) -> Points:
    """What of a polygon lies right of a line, as seen along it (Sutherland & Hodgman 1974)."""
    side = end - start
    depth = side[0] * (polygon[:, 1] - start[1]) - side[1] * (polygon[:, 0] - start[0])
    kept: list[Points] = []
    for at in range(len(polygon)):
        here, there = depth[at - 1], depth[at]
        if here * there < 0:
            kept.append(polygon[at - 1] + (polygon[at] - polygon[at - 1]) * here / (here - there))
        if there >= 0:
            kept.append(polygon[at])
    return np.array(kept).reshape(-1, 2)


def proportion(quad: ArrayLike, size: tuple[int, int]) -> float:
    """Width over height of the rectangle that a quadrilateral in a photo of `size` (width, height) is a picture of."""
    return across_to_down(homography(UNIT, quad), size)


def across_to_down(to_photo: ArrayLike, size: tuple[float, float]) -> float:
    """How long one unit to the right is on a plane, against one unit down. to_photo (3, 3): takes the plane, whose two
    directions are square to each other, to a photo of `size` (width, height).

    The photo's centre is taken for the lens's axis and pixels for square (Zhang & He 2007, Digital Signal Processing
    17:414-432). Seen at a slant, the plane tells the focal length, as only one makes its directions square; the less it
    slants, the less it tells, so that the usual focal length is weighed against it.
    """
    side = float(max(size))
    to_lens = np.array([[1 / side, 0, -size[0] / (2 * side)], [0, 1 / side, -size[1] / (2 * side)], [0, 0, 1]])
    ways = (to_lens @ np.asarray(to_photo, dtype=np.float64))[:, :2].T
    # (focals, 2, 3): both directions as rays of a lens of each focal length.
    rays = ways / np.stack([_FOCALS, _FOCALS, np.ones_like(_FOCALS)], axis=1)[:, None, :]
    long = np.linalg.norm(rays, axis=2)
    cosine = (rays[:, 0] * rays[:, 1]).sum(axis=1) / long.prod(axis=1)
    unlikely = (cosine / _SQUARE_SPREAD) ** 2 + (np.log(_FOCALS / USUAL_FOCAL) / _FOCAL_SPREAD) ** 2
    across, down = long[unlikely.argmin()]
    return float(across / down)


def quads_of(corners: Sequence[Sequence[float]] | Sequence[Sequence[Sequence[float]]]) -> list[Points]:
    """Corners as people give them, four (x, y) or several times four, as quadrilaterals; SheetError in words."""
    given = np.asarray(corners, dtype=np.float64)
    if given.ndim == 2:
        given = given[None]
    if given.ndim != 3 or given.shape[1:] != (4, 2) or not np.isfinite(given).all():
        message = "Corners come in fours, each with x and y in pixels of the photo."
        raise SheetError(message)
    quads = [in_order(each) for each in given]
    for quad in quads:
        if not is_convex(quad) or area(quad) < 64:
            message = "Four corners must span a panel: no three of them on one line, none inside the others."
            raise SheetError(message)
    if any(shared(a, b) > _OVER * min(area(a), area(b)) for a, b in combinations(quads, 2)):
        message = "Two of the panels given lie over each other."
        raise SheetError(message)
    return quads
