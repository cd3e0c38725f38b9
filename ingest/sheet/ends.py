"""Where panels end: whether the sides of a panel run on beyond the end that was seen for it.

A straight edge within a drawing, or the rim of a bare light, may pass for the end of a panel. The two sides beside it
then run on, while at a true end both of them stop.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ingest.sheet.frame import Frame
from ingest.sheet.order import Box, drawn_out
from ingest.sheet.rectangles import Rectangle, support_of

_NEAR = 3
_OVERRUN = 4
"""Pixels by which an edge is seen beyond its end, as it is averaged along."""

_BEYOND, _LEAST = 0.15, 12
"""How far beyond an end it is looked, as a share of the panel, and least in pixels of the frame."""

_ROOM = 6
"""Pixels between panels below which nothing is told of what lies there."""

_RUNS_ON = 0.12
"""Share seen of the fainter of two sides beyond an end, from which they run on: at 60 true ends whose own edge was
faint it was 0, as one of the two may meet something by chance but hardly both."""

_RUN = 5
"""Pixels that must be seen of it at least: in a narrow gutter sides stray by one or two beyond their end."""

_AGREE = 8
"""Pixels within which two sides that run on end together."""

_EQUAL = 0.02
"""Share of an end by which less of it may be seen where it is as good as where most is."""

_FARTHEST = 1.5
"""How far, in lengths of the panel, the end may lie from where it was seen."""

_GAP, _AT_ONCE = 12, 6
"""Pixels not seen of a side from which it has ended, and the same right beyond the end: a side that runs on does so at
once, grain of wood may begin where the sheet ends."""

_UNENDED = 0.2
"""Confidence, at most, of a panel whose sides run on and end nowhere."""

_Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class _Facing:
    """A frame and boxes in it, turned so that an end is their right side. along, across: edges that run from left to
    right and up and down."""

    along: _Bools
    across: _Bools
    box: Box
    others: list[Box]

    def room(self) -> int:
        """Pixels from the end to the next panel or the rim of the frame."""
        _, top, right, bottom = self.box
        free = self.along.shape[1] - 1 - right
        for left, above, _, below in self.others:
            if left >= right and min(below, bottom) > max(above, top):
                free = min(free, left - right - _OVERRUN)
        return int(free)

    def beyond(self, far: int) -> _Bools:
        """Where the upper and the lower side (2, n) are seen beyond the end, from where they would be seen no more."""
        start = round(self.box[2]) + _OVERRUN
        return np.stack([
            self.along[max(0, line - _NEAR) : line + _NEAR + 1, start : start + far - _OVERRUN].any(axis=0)
            for line in (round(self.box[1]), round(self.box[3]))
        ])  # fmt: skip

    def seen(self, at: int) -> float:
        """Share of the end that is seen, were it at a column."""
        top, bottom = round(self.box[1]), round(self.box[3])
        part = self.across[top : bottom + 1, max(0, at - _NEAR) : at + _NEAR + 1]
        return float(part.any(axis=1).mean()) if part.size else 0.0


def _facing(frame: Frame, boxes: list[Box], at: int, side: int) -> _Facing:
    along, across = (frame.level, frame.upright) if side % 2 == 0 else (frame.upright.T, frame.level.T)
    turned = np.array(boxes, dtype=np.float64)
    if side % 2:
        turned = turned[:, [1, 0, 3, 2]]
    if side < 2:
        along, across = along[:, ::-1], across[:, ::-1]
        turned[:, [0, 2]] = along.shape[1] - 1 - turned[:, [2, 0]]
    whole = [(float(a), float(b), float(c), float(d)) for a, b, c, d in turned]
    return _Facing(along, across, whole[at], whole[:at] + whole[at + 1 :])


def to_their_ends(frame: Frame, chosen: list[Rectangle]) -> list[Rectangle]:
    """Panels drawn out to where their sides end; one whose sides run on and do not end together is hardly trusted."""
    result = list(chosen)
    for at in range(len(result)):
        for side in range(4):
            facing = _facing(frame, [each.box for each in result], at, side)
            if not _run_on(facing):
                continue
            end = _end(facing)
            if end is None:
                result[at] = replace(result[at], trust=_UNENDED)
                continue
            moved = drawn_out(result[at].box, side, end - facing.box[2])
            result[at] = replace(result[at], box=moved, support=support_of(frame, moved))
    return result


def _run_on(facing: _Facing) -> bool:
    left, _, right, _ = facing.box
    far = min(facing.room(), max(_LEAST, round(_BEYOND * (right - left))))
    if far < _ROOM:
        return False
    seen = min(int(side[: _until(side) + 1].sum()) for side in facing.beyond(far))
    return seen >= _RUN and seen > _RUNS_ON * (far - _OVERRUN)


def _end(facing: _Facing) -> float | None:
    """The column at which both sides that run on end; None when they do not do so together."""
    left, _, right, _ = facing.box
    far = min(facing.room(), round(_FARTHEST * (right - left)))
    last = [_until(seen) for seen in facing.beyond(far)]
    if abs(last[0] - last[1]) > _AGREE:
        return None
    # Both stop a little beyond the corner; its own edge, if there is one, tells where it is.
    middle = round(right) + round(sum(last) / 2)
    columns = np.arange(middle - _AGREE, middle + _AGREE + 1)
    share = np.array([facing.seen(int(column)) for column in columns])
    return float(np.median(columns[share >= share.max() - _EQUAL])) if share.max() > _RUNS_ON else float(middle)


def _until(seen: _Bools) -> int:
    """The last place at which a side is seen before it has ended."""
    places = np.concatenate([[0], np.flatnonzero(seen)])
    gaps = np.flatnonzero(np.diff(places) > np.where(places[:-1] == 0, _AT_ONCE, _GAP))
    return int(places[gaps[0]] if len(gaps) else places[-1])
