"""The shadow that a picture casts on the wall or the card behind it."""

from __future__ import annotations

import numpy as np

from ingest.appearance import FLAT
from ingest.ground import Ground
from ingest.lightness import FloatArray
from ingest.mouldings import alongside

_DEEPEST = 0.04
"""Depth of a shadow at most, as a share of the picture's longest side."""

_SHALLOWEST = 4
"""Pixels; anything less is the blurred end of the margin."""

_DARKER = 45.0
"""L* by which a shadow is darker than its ground at most."""

_SOFT = 10.0
"""L* by which a shadow may differ from the ground where it begins, and from one line of pixels to the next."""


def shadow_depth(lines: FloatArray, ground: Ground, longest: int) -> int:
    """How many lines of pixels from the first edge of `lines` (n, m, 3) are the shadow of what lies behind them.

    A shadow has the ground's hue, darkens softly from its tone on (a moulding starts at once), and ends along the whole
    side at once. longest: the longest side of the
    picture in pixels.
    """
    look = ground.look.reshape(-1, 3).mean(axis=0)
    side = alongside(lines, _DEEPEST * longest / len(lines))
    edges = [edge for edge in side.edges if _SHALLOWEST <= edge <= min(_DEEPEST * longest, side.plain + 1)]
    for edge in sorted(edges, reverse=True):
        tones = np.median(lines[: max(1, edge - 1)], axis=1)
        darker = look[0] - tones[:, 0]
        if max(darker[0], np.diff(darker).max(initial=0.0)) > _SOFT:
            continue
        if np.abs(tones[:, 1:] - look[1:]).max() <= FLAT and darker.min() >= -FLAT and darker.max() <= _DARKER:
            return edge
    return 0
