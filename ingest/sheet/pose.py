"""How the sheet lies before the camera, told by the straight edges on it.

Tape, panels and paper have sides in two directions at right angles, so a plane turned in space explains most straight
edges of the photo: each points at one of two vanishing points. A coarse search over slants and turns is followed by
Gauss-Newton steps on the three angles and the focal length, which is held near that of a telephone.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from ingest.sheet.geometry import USUAL_FOCAL, Points
from ingest.sheet.lines import Segments

_SLANTS = np.radians([0.0, 7.0, 14.0, 21.0, 28.0, 35.0, 41.0])
_WAYS = 16
_TURNS = np.radians(np.arange(-45.0, 45.0, 1.5))
_NEAR = np.radians(2.2)
"""A segment counts for a direction when it points there within this angle."""

_REACH = np.radians(5.0)
"""The same when a pose is first drawn to segments: places that are tried lie up to half as much apart."""

_FOCAL_SPREAD = 0.2
_SAME = 1.0
"""Degrees up to which two poses are the same."""

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
    chosen: list[Pose] = []
    ways: list[float] = []
    for at in np.argsort(-score, kind="stable")[:400]:
        way = _way(turns[at])
        if any(abs((way - other + 45) % 90 - 45) < 5 for other in ways):
            continue
        ways.append(way)
        chosen.append(_settled(turns[at], focal, centre, found))
        if len(chosen) == most:
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
    return _settled(pose.turn, pose.focal, pose.centre, found)


def _way(turn: Points) -> float:
    """Direction of the sheet's first axis in the photo, in degrees."""
    return float(np.degrees(np.arctan2(turn[1, 0], turn[0, 0])))


@cache
def _grid() -> Points:
    """Rotations (n, 3, 3): every slant in every direction, and every turn of the sheet in its own plane."""
    rotations = []
    for slant in _SLANTS:
        for way in np.arange(_WAYS if slant else 1) * 2 * np.pi / _WAYS:
            rotations.append(_rotation(slant * np.array([np.cos(way), np.sin(way), 0.0])))
    spin = np.stack([_rotation(np.array([0.0, 0.0, turn])) for turn in _TURNS])
    return np.asarray(np.einsum("aij,bjk->abik", np.stack(rotations), spin).reshape(-1, 3, 3))


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


def _settled(turn: Points, focal: float, centre: tuple[float, float], found: Segments) -> Pose:
    usual = focal
    near = _REACH
    for _ in range(_STEPS):
        moves = np.eye(4) * [1e-4, 1e-4, 1e-4, 1e-4]
        turns = np.stack([turn, *(turn @ _rotation(move[:3]) for move in moves)])
        focals = focal * np.exp(np.array([0.0, *moves[:, 3]]))
        error = _errors(turns, focals, centre, found)
        mine = np.abs(error[0]).argmin(axis=0)
        chosen = error[:, mine, np.arange(len(mine))]
        weight = found.weights * np.clip(1 - (chosen[0] / near) ** 2, 0, None) ** 2
        slope = ((chosen[1:] - chosen[0]) / 1e-4).T
        # The focal length is drawn to the usual one, as strongly as a few long segments would draw it.
        hold = float(weight.sum()) * 0.15 * (np.radians(0.7) / _FOCAL_SPREAD) ** 2 + 1e-9
        matrix = slope.T @ (slope * weight[:, None]) + np.diag([1e-6, 1e-6, 1e-6, hold])
        vector = slope.T @ (chosen[0] * weight) + np.array([0, 0, 0, hold * np.log(focal / usual)])
        step = -np.linalg.solve(matrix, vector)
        step *= min(1.0, 0.1 / max(float(np.abs(step).max()), 1e-9))
        turn = turn @ _rotation(step[:3])
        focal = float(np.clip(focal * np.exp(step[3]), 0.5 * usual, 2.2 * usual))
        near = max(np.radians(1.0), near * 0.85)
    turn = _freed(turn, focal, centre, found)
    error = _errors(turn[None], np.array([focal]), centre, found)[0]
    hits = np.clip(1 - (np.abs(error) / np.radians(1.2)) ** 2, 0, None)
    first = hits[0] >= hits[1]
    across, down = float((hits[0] * first) @ found.weights), float((hits[1] * ~first) @ found.weights)
    return Pose(turn, focal, centre, float(np.sqrt(across * down)) + 0.1 * (across + down))


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
    across = (first.turn[:, :2] * second.turn[:, :2]).sum(axis=0)
    return bool(np.degrees(np.arccos(np.clip(np.abs(across), 0, 1))).max() < _SAME)
