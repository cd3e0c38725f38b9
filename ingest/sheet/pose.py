"""How the sheet lies before the camera, told by the straight edges on it.

Tape, panels and paper have sides in two directions at right angles, so a plane turned in space explains most straight
edges of the photo: each points at one of two vanishing points. A coarse search over slants and turns is followed by
Gauss-Newton steps on the three angles and the focal length, which is held near that of a telephone.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ingest.sheet.geometry import USUAL_FOCAL, Points
from ingest.sheet.lines import Segments

_SLANTS = np.radians([0.0, 7.0, 14.0, 21.0, 28.0, 35.0, 41.0])
_WAYS = 16
_TURNS = np.radians(np.arange(-45.0, 45.0, 1.5))
_NEAR = np.radians(5.0)
"""A segment counts for a direction when it points there within this angle: places that are tried lie up to half as much
apart. With less, planes that many short segments fit by chance come before that of the sheet."""

_REACH = np.radians(5.0)
"""The same when a pose is first drawn to segments."""

_FOCAL_SPREAD = 0.2
_SAME, _OTHER = 1.0, 5.0
"""Degrees up to which two poses are the same, and by which the axes of one that is tried besides another differ as they
are seen in the photo."""

_PLACES, _FREED = 24, 16
"""Places of the coarse search from which poses are drawn to the segments, and how many of them, at most, are then drawn
to them axis by axis."""

_TOGETHER = 400
"""Rotations that are tried at once, so that what is made of them stays in the processor's cache."""

_AXIS_SPREAD = np.radians(8.0)
_STEPS = 8


@dataclass(frozen=True)
class Pose:
    """turn: (3, 3) the sheet's axes against the camera's: a rotation, but for what cropping does to the first two.
    focal: in pixels. centre: of the photo in pixels. score: how much of the straight edges it explains."""

    turn: Points
    focal: float
    centre: tuple[float, float]
    score: float

    @property
    def to_photo(self) -> Points:
        """The homography (3, 3) from the sheet's plane, about one pixel a unit at the photo's centre, to the photo."""
        f = self.focal
        lens = np.array([[f, 0.0, self.centre[0]], [0.0, f, self.centre[1]], [0.0, 0.0, 1.0]])
        plane = np.stack([self.turn[:, 0] / f, self.turn[:, 1] / f, np.array([0.0, 0.0, 1.0])], axis=1)
        return np.asarray(lens @ plane)


def poses(found: Segments, size: tuple[int, int], most: int) -> list[Pose]:
    """The best few poses, best first, that explain the segments of a photo of `size` (width, height)."""
    if len(found.weights) < 4:
        return []
    focal = USUAL_FOCAL * max(size)
    centre = (size[0] / 2, size[1] / 2)
    turns = _grid()
    score = np.concatenate([
        _scores(part, focal, centre, found) for part in np.array_split(turns, -(-len(turns) // _TOGETHER))
    ])  # fmt: skip
    # The place that explains most may lie on the slope of a lesser peak, so many are drawn to segments; and what a
    # sheet lies on may explain more than the sheet, so the best that are turned otherwise are among them.
    order = np.argsort(-score, kind="stable")
    _, first = np.unique(_grid_ways()[order], return_index=True)
    drawn, focals = _drawn(turns[order[np.union1d(np.arange(_PLACES), first)]], focal, centre, found)
    chosen: list[Pose] = []
    freed: list[np.intp] = []
    for at in np.argsort(-_explained(drawn, focals, centre, found), kind="stable"):
        if any(_apart(drawn[at], drawn[other]) < _SAME for other in freed):
            continue
        freed.append(at)
        pose = _pose(_freed(drawn[at], float(focals[at]), centre, found), float(focals[at]), centre, found)
        # A floor has a plane like the sheet's, and poses of its own without number; the sheet is turned on it.
        if not any(_apart(_in_photo(pose), _in_photo(other)) < _OTHER for other in chosen):
            chosen.append(pose)
        if len(chosen) == most or len(freed) == _FREED:
            break
    return sorted(chosen, key=lambda pose: -pose.score)


def _scores(turns: Points, focal: float, centre: tuple[float, float], found: Segments) -> Points:
    """How much of the straight edges each of some rotations (n, 3, 3) explains, (n,)."""
    directions = found.directions.astype(np.float32)
    x, y = ((found.middles - centre) / focal).T.astype(np.float32)
    # The way from a segment to a vanishing point is (axis x - axis z * x, axis y - axis z * y): across the segment and
    # in all, each is one product of matrices.
    flat = np.stack([directions[:, 1], -directions[:, 0], y * directions[:, 0] - x * directions[:, 1]])
    hits = []
    for at in (0, 1):
        axis = turns[:, :, at].astype(np.float32)
        beside = axis @ flat
        beside *= beside
        to_x, to_y = axis[:, :1] - axis[:, 2:] * x, axis[:, 1:2] - axis[:, 2:] * y
        to_x *= to_x
        to_y *= to_y
        to_x += to_y
        to_x += np.float32(1e-12)
        beside /= to_x
        beside *= np.float32(-1 / _NEAR**2)
        beside += 1
        hits.append(np.maximum(beside, 0, out=beside))
    # A segment counts for the direction that it fits better; both directions must be there.
    first = hits[0] >= hits[1]
    weight = found.weights.astype(np.float32)
    across, down = (hits[0] * first) @ weight, (hits[1] * ~first) @ weight
    return np.asarray(np.sqrt(across * down) + 0.1 * (across + down), dtype=np.float64)


def settle(pose: Pose, found: Segments) -> Pose:
    """A pose brought nearer to what some of the segments say."""
    turns, focals = _drawn(pose.turn[None], pose.focal, pose.centre, found)
    turn, focal = turns[0], float(focals[0])
    return _pose(_freed(turn, focal, pose.centre, found), focal, pose.centre, found)


@cache
def _grid() -> Points:
    """Rotations (n, 3, 3): every slant in every direction, and every turn of the sheet in its own plane."""
    rotations = []
    for slant in _SLANTS:
        for way in np.arange(_WAYS if slant else 1) * 2 * np.pi / _WAYS:
            rotations.append(_rotation(slant * np.array([np.cos(way), np.sin(way), 0.0])))
    spin = np.stack([_rotation(np.array([0.0, 0.0, turn])) for turn in _TURNS])
    return np.asarray(np.einsum("aij,bjk->abik", np.stack(rotations), spin).reshape(-1, 3, 3))


@cache
def _grid_ways() -> NDArray[np.intp]:
    """Which way each rotation of the grid (n,) turns the sheet's first axis in the photo, in steps of `_OTHER`."""
    first = _grid()[:, :2, 0]
    return np.floor(np.degrees(np.arctan2(first[:, 1], first[:, 0])) % 90 / _OTHER).astype(np.intp)


def _rotation(vector: Points) -> Points:
    """The rotation (3, 3) about a vector by its length in radians (Rodrigues)."""
    angle = float(np.linalg.norm(vector))
    if angle < 1e-12:
        return np.eye(3)
    x, y, z = vector / angle
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.asarray(np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross)


def _errors(turns: Points, focal: Points, centre: tuple[float, float], found: Segments) -> Points:
    """Signed sine (n, 2, m) of the angle between each segment and the way to each vanishing point."""
    x = (found.middles[:, 0] - centre[0])[None, None]
    y = (found.middles[:, 1] - centre[1])[None, None]
    f = focal[:, None, None]
    axis = turns[:, :, :2].transpose(0, 2, 1)[..., None]
    to_x, to_y = f * axis[:, :, 0] - axis[:, :, 2] * x, f * axis[:, :, 1] - axis[:, :, 2] * y
    size = np.hypot(to_x, to_y) + 1e-9
    return np.asarray((to_x * found.directions[:, 1] - to_y * found.directions[:, 0]) / size)


def _drawn(turns: Points, usual: float, centre: tuple[float, float], found: Segments) -> tuple[Points, Points]:
    """Rotations (n, 3, 3), each drawn to the segments near it, and focal lengths (n,)."""
    turns, focals = turns.copy(), np.full(len(turns), usual)
    moves = np.concatenate([np.zeros((1, 4)), 1e-4 * np.eye(4)])
    tilts = np.stack([_rotation(move[:3]) for move in moves])
    near = _REACH
    for _ in range(_STEPS):
        tried = np.einsum("nij,mjk->nmik", turns, tilts).reshape(-1, 3, 3)
        focal = (focals[:, None] * np.exp(moves[:, 3])).ravel()
        error = _errors(tried, focal, centre, found).reshape(len(turns), len(moves), 2, -1)
        # Each segment counts for the direction that it fits better.
        first = np.abs(error[:, :1, :1]) <= np.abs(error[:, :1, 1:])
        chosen = np.where(first, error[:, :, :1], error[:, :, 1:])[:, :, 0]
        weight = found.weights * np.clip(1 - (chosen[:, 0] / near) ** 2, 0, None) ** 2
        slope = (chosen[:, 1:] - chosen[:, :1]) / 1e-4
        # The focal length is drawn to the usual one, as strongly as a few long segments would draw it.
        hold = weight.sum(axis=1) * 0.15 * (np.radians(0.7) / _FOCAL_SPREAD) ** 2 + 1e-9
        weighed = slope * weight[:, None]
        matrix = weighed @ slope.transpose(0, 2, 1) + 1e-6 * np.eye(4)
        matrix[:, 3, 3] += hold
        vector = np.einsum("nkm,nm->nk", weighed, chosen[:, 0])
        vector[:, 3] += hold * np.log(focals / usual)
        step = -np.linalg.solve(matrix, vector[..., None])[..., 0]
        step *= np.minimum(1.0, 0.1 / np.maximum(np.abs(step).max(axis=1, keepdims=True), 1e-9))
        turns = turns @ np.stack([_rotation(each) for each in step[:, :3]])
        focals = np.clip(focals * np.exp(step[:, 3]), 0.5 * usual, 2.2 * usual)
        near = max(np.radians(1.0), near * 0.85)
    return turns, focals


def _explained(turns: Points, focals: Points, centre: tuple[float, float], found: Segments) -> Points:
    """How much of the segments each of some planes (n, 3, 3), seen with focal lengths (n,), explains, (n,)."""
    hits = np.clip(1 - (np.abs(_errors(turns, focals, centre, found)) / np.radians(1.2)) ** 2, 0, None)
    first = hits[:, 0] >= hits[:, 1]
    across, down = (hits[:, 0] * first) @ found.weights, (hits[:, 1] * ~first) @ found.weights
    return np.asarray(np.sqrt(across * down) + 0.1 * (across + down))


def _pose(turn: Points, focal: float, centre: tuple[float, float], found: Segments) -> Pose:
    return Pose(turn, focal, centre, float(_explained(turn[None], np.array([focal]), centre, found)[0]))


def _freed(turn: Points, focal: float, centre: tuple[float, float], found: Segments) -> Points:
    """Both axes of a pose, each drawn to the segments by itself.

    In a photo that was cropped the lens's axis is not at the centre, and axes at right angles do not look so.
    """
    axes = turn.copy()
    near = _REACH
    for _ in range(_STEPS):
        error = _errors(axes[None], np.array([focal]), centre, found)[0]
        mine = np.abs(error).argmin(axis=0)
        for at in (0, 1):
            axis = axes[:, at]
            sideways = np.linalg.svd(axis[None])[2][1:]
            moved = np.repeat(axes[None], 2, axis=0)
            moved[:, :, at] += 1e-4 * sideways
            slope = ((_errors(moved, np.full(2, focal), centre, found)[:, at] - error[at]) / 1e-4).T
            weight = found.weights * (mine == at) * np.clip(1 - (error[at] / near) ** 2, 0, None) ** 2
            # Each is drawn back to where the pose had it, as strongly as a few long segments would draw it.
            hold = float(weight.sum()) * 0.15 * (np.radians(0.7) / _AXIS_SPREAD) ** 2 + 1e-9
            back = sideways @ (axis - turn[:, at])
            matrix = slope.T @ (slope * weight[:, None]) + hold * np.eye(2)
            step = -np.linalg.solve(matrix, slope.T @ (error[at] * weight) + hold * back)
            step *= min(1.0, 0.1 / max(float(np.abs(step).max()), 1e-9))
            axis = axis + step @ sideways
            axes[:, at] = axis / np.linalg.norm(axis)
        near = max(np.radians(1.0), near * 0.85)
    return axes


def alike(first: Pose, second: Pose) -> bool:
    """Whether two poses say nearly the same."""
    return _apart(first.turn, second.turn) < _SAME


def _apart(first: Points, second: Points) -> float:
    """Degrees by which the axes of two planes differ at most, whichever of them is called the first."""
    across = np.abs(first[:, :2].T @ second[:, :2])
    together = max(min(across[0, 0], across[1, 1]), min(across[0, 1], across[1, 0]))
    return float(np.degrees(np.arccos(np.clip(together, 0, 1))))


def _in_photo(pose: Pose) -> Points:
    """Directions (2, 2) of a pose's axes as they are seen at the photo's centre."""
    seen = pose.turn[:2, :2]
    return np.asarray(seen / np.maximum(np.linalg.norm(seen, axis=0), 1e-9))
