"""What lies around the panels: the strips that tell the light, and how white their material is.

Strips may be bare paper, or tape in white, cream or blue. Panels are flattened so that the sheet's white is L* 95;
where the strips are of tape, white is told by the paper beyond it, or by the lightest of what the panels show. Toned
paper is recognised by its colour, or by lights on it that are lighter than itself, and keeps its ground.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.lightness import LUMINANCE_ROW, FloatArray, luminance_CIE1976
from ingest.sheet.light import Light
from ingest.sheet.rectangles import Rectangle
from ingest.sheet.shine import CLIPPED
from ingest.windows import all_along, change_along, mean_around

WHITE = 95.0
"""L* that bare white paper is given in a flattened panel."""

CHALK = 92.0
"""L* that the lights put on toned paper are taken to have."""

_NEAR, _FAR = 4, 11
"""Pixels of the frame outside a panel between which its strip lies."""

_PLAIN = 0.035
"""Change of the logarithm of light a pixel, up to which a surface is plain."""

_LIGHTER = 1.1
_COLOURED = 0.16
"""Difference between the logarithms of red and blue from which a material is coloured."""

_WARM = 0.3
"""The same for paper beside blue tape, from which it is toned: white paper is yellowish, and light may be warm."""

_Bools = NDArray[np.bool_]
_Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Material:
    """gain (3,): linear light that the strips' material is given, by channel. toned: whether it is toned paper. sure:
    whether its white was told by something on the sheet."""

    gain: _Numbers
    toned: bool
    sure: bool


def strips_of(boxes: list[tuple[float, float, float, float]], plain: _Bools) -> _Bools:
    """Where in the frame (h, w) the strips are: close outside panels, plain, and in no panel."""
    near, covered = np.zeros(plain.shape, dtype=bool), np.zeros(plain.shape, dtype=bool)
    for box in boxes:
        _fill(near, box, _FAR)
        _fill(covered, box, _NEAR)
    return near & ~covered & plain


def _fill(mask: _Bools, box: tuple[float, float, float, float], reach: int) -> None:
    left, top, right, bottom = (round(edge) for edge in box)
    mask[max(0, top - reach) : max(0, bottom + reach + 1), max(0, left - reach) : max(0, right + reach + 1)] = True


def material(linear: FloatArray, light: Light, chosen: list[Rectangle], plain: _Bools) -> Material:
    """How white the strips are, in a frame in linear sRGB (h, w, 3) whose light is known up to their colour."""
    row = np.asarray(LUMINANCE_ROW)
    white = float(luminance_CIE1976(WHITE))
    boxes = [each.box for each in chosen]
    lights = _lights(linear, light, boxes)
    beyond = _beyond(linear, light, boxes, plain)
    own = _colour(light)
    # Tape ends, and what lies beyond it is another material; paper goes on to its edge.
    other = beyond is not None and abs(float(np.log(beyond @ row))) > 0.05
    warmest = _WARM if _tint(own) < -_COLOURED else _COLOURED
    paper_beyond = beyond is not None and float(beyond @ row) > 1.05 and _tint(beyond * own) < warmest
    lighter = float(lights @ row)
    if paper_beyond and beyond is not None and lighter > _LIGHTER * float(beyond @ row):
        # Lights that are lighter than the paper around the tape are chalk, and the paper is toned.
        return Material(float(luminance_CIE1976(CHALK)) / lights, True, True)
    if paper_beyond and beyond is not None:
        return Material(white / beyond, False, True)
    if _tint(own) < -_COLOURED or (_tint(own) > 0.1 and other and lighter > _LIGHTER):
        # Blue tape, or cream tape that reaches the edge of the sheet: the lightest lights are the paper.
        return Material(white / np.maximum(lights, 1.0), False, lighter > _LIGHTER)
    if lighter > _LIGHTER:
        chalk = float(luminance_CIE1976(CHALK))
        return Material(chalk / lighter * own / float(own @ row), True, True)
    if _tint(own) > 2 * _COLOURED:
        ground = np.exp(np.log(light.at(light.middle[None])[0]))
        return Material(np.minimum(ground, 0.9), True, False)
    return Material(np.full(3, white), False, True)


def _colour(light: Light) -> _Numbers:
    """The strips' colour as photographed, scaled to a largest channel of 1."""
    tone = np.asarray(light.at(light.middle[None])[0], dtype=np.float64)
    return np.asarray(tone / tone.max())


def _tint(colour: _Numbers) -> float:
    """How much redder than blue, as a logarithm: 0 for greys, negative for blue."""
    return float(np.log(max(colour[0], 1e-3) / max(colour[2], 1e-3)))


def _relative(linear: FloatArray, light: Light, rows: _Numbers, columns: _Numbers) -> _Numbers:
    points = np.stack([columns + 0.5, rows + 0.5], axis=-1).astype(np.float64)
    return np.asarray(linear[rows.astype(int), columns.astype(int)] / light.at(points), dtype=np.float64)


def _lights(linear: FloatArray, light: Light, boxes: list[tuple[float, float, float, float]]) -> _Numbers:
    """The lightest of what the panels show against their strips, by channel, shine left out."""
    row = np.asarray(LUMINANCE_ROW)
    best = np.ones(3)
    found = False
    for left, top, right, bottom in boxes:
        rows, columns = np.meshgrid(np.linspace(top + 4, bottom - 4, 48), np.linspace(left + 4, right - 4, 48))
        seen = _relative(linear, light, rows.ravel(), columns.ravel())
        tone = seen @ row
        raw = linear[rows.ravel().astype(int), columns.ravel().astype(int)].min(axis=-1)
        tone = np.where(raw > CLIPPED, 0, tone)
        top_tone = np.percentile(tone, 96)
        group = seen[(tone > 0.94 * top_tone) & (tone < 1.06 * top_tone)]
        if len(group) > 40 and (not found or float(np.median(group, axis=0) @ row) > float(best @ row)):
            best, found = np.median(group, axis=0), True
    return best


def _beyond(
    linear: FloatArray, light: Light, boxes: list[tuple[float, float, float, float]], plain: _Bools
) -> _Numbers | None:
    """The material a little further out than the strips, against them, by channel; None when none is seen plainly."""
    edges = np.array(boxes)
    block = (edges[:, 0].min(), edges[:, 1].min(), edges[:, 2].max(), edges[:, 3].max())
    size = max(block[2] - block[0], block[3] - block[1])
    best: _Numbers | None = None
    for reach in (0.05, 0.075, 0.1, 0.13):
        out, inner = np.zeros(plain.shape, dtype=bool), np.zeros(plain.shape, dtype=bool)
        _fill(out, block, round(reach * size) + 4)
        _fill(inner, block, round(reach * size))
        rows, columns = np.nonzero(out & ~inner & plain)
        if len(rows) < 60:
            continue
        seen = _relative(linear, light, rows.astype(float), columns.astype(float))
        tone = seen @ np.asarray(LUMINANCE_ROW)
        middle = float(np.median(tone[tone > 0.85])) if (tone > 0.85).sum() > 0.3 * len(tone) else 0.0
        group = seen[np.abs(tone - middle) < 0.06 * middle] if middle else seen[:0]
        if len(group) > 0.25 * len(tone) and (best is None or middle > float(best @ np.asarray(LUMINANCE_ROW))):
            best = np.median(group, axis=0)
    return best


def plain_parts(linear: FloatArray, inside: _Bools) -> _Bools:
    """Where a frame in linear sRGB (h, w, 3) is plain: no edge and no rough texture."""
    tone = np.log(np.maximum(linear @ np.asarray(LUMINANCE_ROW, dtype=np.float32), 1e-3))
    smooth = mean_around(tone, 1)
    change = np.maximum(np.abs(change_along(smooth, 0)), np.abs(change_along(smooth, 1)))
    return (mean_around(change, 1) < _PLAIN) & all_along(all_along(inside, 3, 0), 3, 1)
