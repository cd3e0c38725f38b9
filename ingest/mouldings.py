"""Plain frames: mouldings that run alongside all four sides of a picture, about equally deep."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy import ndimage

from ingest.appearance import FLAT, STEP, distance
from ingest.lightness import FloatArray

_SHARE = (0.015, 0.25)
"""Depth of a frame, with what wall shows round it, as a share of the shorter side."""

_ALONG = 0.6
"""Share of a side along which a moulding must end at once."""

_ALIKE = (0.1, 0.3)
"""Shares by which the thickness may differ from side to side; the closer is tried first."""

_CLOSE = 2
"""Pixels by which the thickness may differ where all four sides are to have the same."""

_FIRST = 12
"""Lines that are looked at first."""

_SPAN = (0.08, 0.92)
"""Shares of a line that lie below the least and the greatest of its looks that count."""

_EVERY = 2
"""Every so many pixels along a line are looked at."""

Depths = tuple[int, int, int, int]
"""left, top, right, bottom in pixels."""


@dataclass(frozen=True)
class Side:
    """edges: depths at which a straight edge runs along the whole side. plain: depth down to which every line parallel
    to the side has one look."""

    edges: tuple[int, ...]
    plain: int


def frame_depths(field: FloatArray) -> Depths | None:
    """How deep the frame round a picture is, for an appearance (h, w, 3) that begins with it; None without a frame.

    The edge between frame and picture is the one that ends the thickest moulding which at least three sides have in
    common. On the fourth the picture may start out in the frame's own look, as a dark ground in a black frame, or begin
    deeper.
    """
    across = field.swapaxes(0, 1)
    sides = [alongside(lines, _SHARE[1]) for lines in (across, field, across[::-1], field[::-1])]
    least, most = (share * min(field.shape[:2]) for share in _SHARE)
    # Uneven walls may show round a frame: then its thickness is what the sides have in common.
    bands = [[(edge - wall, edge) for edge in side.edges for wall in (0, *side.edges) if wall < edge] for side in sides]
    thicknesses = sorted({band[0] for side in bands for band in side}, reverse=True)
    wide = [thickness for thickness in thicknesses if max(3.0, least) <= thickness <= most]
    fitting = (
        _fitted(sides, bands, thickness, max(3.0, alike * thickness)) for alike, thickness in product(_ALIKE, wide)
    )
    found = next((depths for depths in fitting if depths is not None), None)
    if found is None:
        return None
    # Walls that happen to be as deep on three sides as elsewhere frame and wall together pass for a frame; one that is
    # as thick on all four, and leaves fewer edges within the picture, is believed before it.
    closely = (_fitted(sides, bands, thickness, _CLOSE, least=4) for thickness in wide)
    others = [depths for depths in closely if depths is not None and _beyond(sides, depths) < _beyond(sides, found)]
    return others[0] if others else found


def _fitted(
    sides: list[Side], bands: list[list[tuple[int, int]]], thickness: int, reach: float, least: int = 3
) -> Depths | None:
    """Where a frame of a thickness ends on each side if so many sides at least have one, give or take `reach`."""
    nearest = [min(own, key=lambda band: abs(band[0] - thickness), default=(0, 0)) for own in bands]
    fits = [abs(own - thickness) <= reach and own > 0 for own, _ in nearest]
    if sum(fits) < least:
        return None
    usual = int(np.median([edge for (_, edge), fit in zip(nearest, fits, strict=True) if fit]))
    depths = [
        edge if fit else _deeper(side.edges, usual, reach)
        for side, (_, edge), fit in zip(sides, nearest, fits, strict=True)
    ]
    plain = all(side.plain >= own - 2 for side, own in zip(sides, depths, strict=True))
    return (depths[0], depths[1], depths[2], depths[3]) if plain else None


def _beyond(sides: list[Side], depths: Depths) -> int:
    """How many edges run alongside the picture deeper than a frame ends."""
    return sum(edge > depth + _CLOSE for side, depth in zip(sides, depths, strict=True) for edge in side.edges)


def _deeper(edges: tuple[int, ...], usual: int, reach: float) -> int:
    """Where the picture begins on a side that shows it deeper than `usual`: where a frame of the usual depth ends that
    itself begins later, since more wall shows there; else at the next edge; and as usual where there is none."""
    later = [edge for edge in edges if edge > usual]
    framed = [edge for edge in later if any(abs(edge - wall - usual) <= reach for wall in edges if usual < wall < edge)]
    return min(framed or later, default=usual)


def alongside(lines: FloatArray, share: float) -> Side:
    """What runs alongside the first edge of `lines` (n, m, 3), down to a share of them."""
    count, length = lines.shape[:2]
    deepest = max(2, int(count * share))
    # Corners belong to the neighbouring sides.
    middle = lines[: deepest + 3, length // 5 : length - length // 5]
    # Most sides have no moulding, which their first lines say.
    looked_at = _FIRST
    while (end := _plain(middle[:looked_at])) > looked_at - 3 and looked_at < len(middle):
        looked_at *= 3
    if end == 0:
        return Side((), 0)
    middle = middle[: end + 4]
    soft = ndimage.uniform_filter1d(middle, 5, axis=1)[:, ::_EVERY]
    begun = np.zeros(len(middle))
    for depth in range(2, min(end + 2, len(middle) - 1)):
        begun[depth] = float((distance(soft[depth + 1], soft[depth - 2]) > STEP).mean())
    runs, number = ndimage.label(begun >= _ALONG)
    jump = distance(soft[1:], soft[:-1]).mean(axis=1)
    edges = []
    for run in range(1, number + 1):
        depths = np.flatnonzero(runs == run)
        edges.append(int(depths[np.argmax(jump[depths - 1])]))
    return Side(tuple(edges), end)


def _plain(lines: FloatArray) -> int:
    """How many lines (n, m, 3) from the first on have one look each."""
    looks = np.ascontiguousarray(lines[:, ::_EVERY].swapaxes(1, 2))
    places = [share * (looks.shape[2] - 1) for share in _SPAN]
    around = [(int(place), min(int(place) + 1, looks.shape[2] - 1)) for place in places]
    looks.partition([at for pair in around for at in pair], axis=2)
    low, high = (
        looks[..., at] + (looks[..., after] - looks[..., at]) * np.float32(place - at)
        for place, (at, after) in zip(places, around, strict=True)
    )
    plain = np.asarray((high - low <= 2 * FLAT).all(axis=1))
    # A line or two that an edge crosses askew do not end a moulding.
    plain = np.concatenate([plain[:1].repeat(2), plain, plain[-1:].repeat(2)])
    wider = plain[:-2] | plain[1:-1] | plain[2:]
    plain = wider[:-2] & wider[1:-1] & wider[2:]
    return len(plain) if plain.all() else int(np.argmin(plain))
