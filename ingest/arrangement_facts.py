"""What the named types are told by: facts of how a picture is laid out, read from it several times over.

A picture is read as if it had been cut a little differently and as if light and dark had been parted a little higher
or lower, and a type is held as it is on the mean over these readings. A fact that hangs by a thread, such as whether
two lights touch, then counts by how often it is so, and a slightly cropped or photographed picture is laid out as
before. No fact tells left from right.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import FloatArray
from ingest.measures import Measures
from ingest.shrink import shrunk
from ingest.value_map import Labels, ValueMap, lay

Bools = NDArray[np.bool_]
Facts = dict[str, NDArray[np.float64]]
"""Every fact by its name in `FACTS`, (readings,)."""

_SIDE = 64
"""px of the longer side; a mass that survives the squint is far larger than one of them."""

_READINGS = {
    0.0: ((0.0, 0.0), (0.1, 0.1), (-0.1, -0.1)),
    0.04: ((0.0, 0.0), (-0.08, 0.08), (0.08, -0.08)),
}
"""The readings of a picture: what is cut from every side, as a share of it, and with each how far the ends of dark and
of light are moved, as a share of the span of tones. Photographs of one painting often differ by as much."""

_EDGE = 0.07
"""Depth of the strip along the picture's edge, as a share of the shorter side, as in `ingest.measures`."""

_CRISP = (12.0, 28.0)
"""L* across two hundredths of the diagonal from which a border begins to be crisp, and is."""

FACTS = (
    *("light", "mid", "dark", "edge_light", "edge_dark", "dark_top", "dark_bottom", "light_top"),
    *("dark_sides_less", "dark_sides_more", "light_aside", "light_y", "dark_aside"),
    *("light_spread", "dark_spread", "borders"),
    *("breadth_light", "breadth_mid", "breadth_dark", "lights", "darks", "largest_light", "largest_dark"),
    *("level_masses", "upright_masses", "interchange", "answer", "crisp"),
    *("median", "near_median", "span"),
    *("rows", "columns", "slant", "slant_ends", "ring", "grade"),
)


def facts_of(squinted: FloatArray, laid: ValueMap, measures: Measures, mask: NDArray[np.bool_] | None = None) -> Facts:
    """The facts of a squinted picture, (h, w) float32 L*, in every reading of it; each (readings,).

    laid, measures: its three-value map and what was measured, from which the readings set out.
    """
    field, inside = shrunk(squinted, mask, _SIDE)
    whole = _of_tones(measures)
    rows = []
    for cut, shifts in _READINGS.items():
        part = _part(field.shape, cut)
        seen, shown = field[part], None if inside is None else inside[part]
        frame = _Frame.of(seen, shown)
        for lower, upper in shifts:
            ends = (laid.thresholds[0] + lower * whole["span"], laid.thresholds[1] + upper * whole["span"])
            rows.append(whole | _of_map(frame, lay(seen, ends, shown)))
    return {name: np.array([row[name] for row in rows]) for name in FACTS}


def _part(shape: tuple[int, ...], cut: float) -> tuple[slice, slice]:
    height, width = shape
    across, down = round(cut * width), round(cut * height)
    return slice(down, height - down), slice(across, width - across)


def _of_tones(m: Measures) -> dict[str, float]:
    """What does not depend on where light begins."""
    return {
        "median": m.median_lightness,
        "near_median": m.near_median,
        "span": m.lightness_span,
        "rows": m.rows_explained,
        "columns": m.columns_explained,
        "slant": m.slant_explained,
        "slant_ends": abs(m.slant_ends),
        "ring": m.radial_explained * m.radial_sign,
        "grade": m.gradation,
    }


def _of_map(frame: _Frame, labels: Labels) -> dict[str, float]:
    """What is told by a three-value map."""
    size = max(1, int((labels <= 2).sum()))
    light, dark = labels == 2, labels == 0
    lights, darks, mids = _Masses.of(light, size), _Masses.of(dark, size), _Masses.of(labels == 1, size)
    sides = _share(dark, frame.left), _share(dark, frame.right)
    light_x, light_y, light_spread = _place(light)
    dark_x, _, dark_spread = _place(dark)
    border = _border(labels)
    return {
        "light": light.sum() / size,
        "dark": dark.sum() / size,
        "mid": (labels == 1).sum() / size,
        "edge_light": _share(light, frame.rim),
        "edge_dark": _share(dark, frame.rim),
        "dark_top": _share(dark, frame.top),
        "dark_bottom": _share(dark, frame.bottom),
        "light_top": _share(light, frame.top),
        "dark_sides_less": min(sides),
        "dark_sides_more": max(sides),
        "light_aside": 2 * abs(light_x - 0.5),
        "light_y": light_y,
        "dark_aside": 2 * abs(dark_x - 0.5),
        "light_spread": light_spread,
        "dark_spread": dark_spread,
        "borders": border.sum() / sum(labels.shape),
        "breadth_light": lights.breadth,
        "breadth_mid": mids.breadth,
        "breadth_dark": darks.breadth,
        "lights": lights.number,
        "darks": darks.number,
        "largest_light": lights.largest,
        "largest_dark": darks.largest,
        "level_masses": _spanning((lights, mids, darks), upright=False),
        "upright_masses": _spanning((lights, mids, darks), upright=True),
        "interchange": _interchange(labels, mids),
        "answer": _answer(dark_x, (lights, darks)),
        "crisp": float(frame.step[border].mean()) if border.any() else 0.0,
    }


@dataclass(frozen=True)
class _Frame:
    """Where the edges of a picture lie, (h, w) bool, and how crisp a border between values would be anywhere, (h, w)
    0..1. The edge of an oval is its outline, and its sides are the quarters towards them."""

    rim: Bools
    left: Bools
    right: Bools
    top: Bools
    bottom: Bools
    step: FloatArray

    @classmethod
    def of(cls, field: FloatArray, mask: Bools | None) -> _Frame:
        height, width = field.shape
        depth = max(1, round(_EDGE * min(field.shape)))
        inside = np.ones(field.shape, dtype=bool) if mask is None else mask
        rim = inside & ~ndimage.binary_erosion(inside, np.ones((3, 3), dtype=bool), iterations=depth)
        across, down = (depth, depth) if mask is None else (width // 4, height // 4)
        rows, columns = np.arange(height)[:, None], np.arange(width)[None, :]
        sides = (columns < across, columns >= width - across, rows < down, rows >= height - down)
        step = ndimage.maximum_filter(field, 3) - ndimage.minimum_filter(field, 3)
        crisp = np.clip((step - _CRISP[0]) / (_CRISP[1] - _CRISP[0]), 0.0, 1.0)
        left, right, top, bottom = (rim & side for side in sides)
        return cls(rim, left, right, top, bottom, crisp)


@dataclass(frozen=True)
class _Masses:
    """The connected shapes of one value. areas: (m,) shares of the picture, largest first. xs: (m,) their centres from
    the left, 0..1. boxes: (m, 2) how far each reaches across and down, as shares of the frame. main: the largest,
    (h, w)."""

    areas: NDArray[np.float64]
    xs: NDArray[np.float64]
    boxes: NDArray[np.float64]
    main: Bools

    @classmethod
    def of(cls, here: Bools, size: int) -> _Masses:
        shapes, count = ndimage.label(here)
        if not count:
            return cls(np.zeros(0), np.zeros(0), np.zeros((0, 2)), here)
        height, width = here.shape
        pixels = np.bincount(shapes.ravel(), minlength=count + 1)[1:]
        places = np.broadcast_to((np.arange(width) + 0.5) / width, here.shape)
        xs = np.bincount(shapes.ravel(), places.ravel(), minlength=count + 1)[1:] / pixels
        boxes = np.array(
            [
                ((box[1].stop - box[1].start) / width, (box[0].stop - box[0].start) / height)
                for box in ndimage.find_objects(shapes)
            ]
        )
        order = np.argsort(-pixels, kind="stable")
        return cls(pixels[order] / size, xs[order], boxes[order], shapes == order[0] + 1)

    @property
    def largest(self) -> float:
        return float(self.areas[0]) if len(self.areas) else 0.0

    @property
    def breadth(self) -> float:
        """Share of the value that is gathered in its largest mass."""
        return float(self.areas[0] / self.areas.sum()) if len(self.areas) else 0.0

    @property
    def number(self) -> float:
        """Effective number of masses (Simpson 1949, Nature 163:688; Hill 1973): as many as there would be if all were
        of one size, so that one more speck counts for little."""
        return float(self.areas.sum() ** 2 / (self.areas**2).sum()) if len(self.areas) else 0.0


def _share(of: Bools, within: Bools) -> float:
    return float((of & within).sum() / max(1, int(within.sum())))


def _place(of: Bools) -> tuple[float, float, float]:
    """(x, y, spread) in 0..1 of the frame: the centre, and how far from it things lie on the root mean square; 0.41 is
    evenly all over. The middle and nothing when there is nothing."""
    total = int(of.sum())
    if not total:
        return 0.5, 0.5, 0.0
    across, down = ((np.arange(length) + 0.5) / length for length in of.shape[::-1])
    columns, rows = of.sum(axis=0) / total, of.sum(axis=1) / total
    x, y = float(columns @ across), float(rows @ down)
    return x, y, float(np.sqrt(columns @ (across - x) ** 2 + rows @ (down - y) ** 2))


def _spanning(of: tuple[_Masses, ...], *, upright: bool) -> float:
    """How far the second of the masses that run from side to side, or from top to bottom, does so: 0 to 1.

    There must be two, and each must leave room for the other beside it.
    """
    runs = []
    for masses in of:
        for (across, down), area in zip(masses.boxes, masses.areas, strict=True):
            along, thick = (down, across) if upright else (across, down)
            if area >= 0.03:
                runs.append(min(_ramp(along, 0.6, 0.9), _ramp(-thick, -1.0, -0.8)))
    return sorted(runs)[-2] if len(runs) > 1 else 0.0


def _interchange(labels: Labels, mids: _Masses) -> float:
    """How evenly the main middle mass is seen against light here and dark there, 0 to 1."""
    outline = ndimage.binary_dilation(mids.main) & ~mids.main
    light, dark = int((outline & (labels == 2)).sum()), int((outline & (labels == 0)).sum())
    return 2 * min(light, dark) / max(1, light + dark)


def _answer(dark_x: float, values: tuple[_Masses, _Masses]) -> float:
    """How far out a lone accent lies on the side without the weight of the darks, 0 to 1: it takes half to ten
    hundredths of the picture."""
    away = -1.0 if dark_x > 0.5 else 1.0
    best = 0.0
    for masses in values:
        for area, x in zip(masses.areas, masses.xs, strict=True):
            accent = min(_ramp(area, 0.003, 0.007), _ramp(-area, -0.13, -0.08))
            best = max(best, min(accent, _ramp(away * (x - 0.5) * 2, 0.1, 0.4)))
    return best


def _border(labels: Labels) -> Bools:
    """Where values meet, (h, w)."""
    border = np.zeros(labels.shape, dtype=bool)
    across, down = labels[:, 1:] != labels[:, :-1], labels[1:] != labels[:-1]
    border[:, 1:] |= across
    border[:, :-1] |= across
    border[1:] |= down
    border[:-1] |= down
    return border & (labels <= 2)


def _ramp(value: float, none: float, full: float) -> float:
    return min(1.0, max(0.0, (value - none) / (full - none)))
