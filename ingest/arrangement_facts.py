"""What the named types are told by: facts of how a picture is laid out that move little when the file changes a little.

Whether two lights touch, or whether a third of a picture is dark or a little less, may hang by a thread. So no fact
counts shapes or asks on which side of a threshold a tone lies: a tone near a threshold is light in part and middle in
part, a border is as long as tone makes it, and how broken a value is follows from the length of its borders. The
picture is also read as if it had been cut a little differently, and a type is held as it is on the mean over these
readings. No fact tells left from right.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import FloatArray
from ingest.measures import Measures
from ingest.shrink import shrunk
from ingest.value_map import ValueMap

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Facts = dict[str, Floats]
"""Every fact by its name in `FACTS`, (readings,)."""

_SIDE = 64
"""px of the longer side; a mass that survives the squint is far larger than one of them."""

_CUTS = (0.0, 0.03, 0.06)
"""The readings of a picture: what is cut from every side, as a share of it. Photographs of one painting often differ
by as much."""

_SOFT = 0.3
"""Over how much of the span of tones one value passes into the next."""

_LEAST_SPAN = 5.0
"""L*; in a flatter picture the values pass into one another no faster."""

_EDGE = 0.07
"""Depth of the strip along the picture's edge, as a share of the shorter side, as in `ingest.measures`."""

_CRISP = (12.0, 28.0)
"""L* across two hundredths of the diagonal from which a border begins to be crisp, and is."""

_FILLED = (0.55, 0.95)
"""Share of a row that one value must take before the row begins to be a band of it, and is."""

_BAND = 0.12
"""Share of the rows that makes a band a full one."""

_SHIFTS = (-0.1, 0.0, 0.1)
"""Where lone accents are looked for: the ends of dark and light moved by as much of the span of tones."""

_CENTRE, _RIM = (0.32, 0.18), (0.43, 0.57)
"""Distances from the middle, in frames, over which the centre ends and the surround begins."""

_LEAD = 0.2
"""Share of the span of tones by which the centre must differ from the surround to be surely the lighter or darker."""

FACTS = (
    *("light", "mid", "dark", "edge_light", "edge_dark", "dark_top", "dark_bottom", "light_top"),
    *("dark_sides_less", "dark_sides_more", "light_aside", "light_y", "dark_aside"),
    *("light_spread", "dark_spread", "borders"),
    *("breadth_light", "breadth_mid", "breadth_dark", "lights", "darks", "largest_light", "largest_dark"),
    *("level_masses", "upright_masses", "interchange", "answer", "crisp"),
    *("median", "near_median", "span"),
    *("rows", "columns", "slant", "slant_ends", "ring", "grade"),
)


def facts_of(squinted: FloatArray, laid: ValueMap, measures: Measures, mask: Bools | None = None) -> Facts:
    """The facts of a squinted picture, (h, w) float32 L*, in every reading of it; each (readings,).

    laid, measures: its three-value map and what was measured, from which the readings set out.
    """
    field, inside = shrunk(squinted, mask, _SIDE)
    span = max(measures.lightness_span, _LEAST_SPAN)
    layers = _Layers.of(field.astype(np.float64), inside, laid.thresholds, span)
    whole = _of_tones(measures) | {
        "ring": measures.radial_explained * _centre_lead(field, layers.inside, span),
        "answer": _answer(field, layers, laid.thresholds, span),
    }
    rows = [whole | _of_frame(layers.cut(share), masked=inside is not None) for share in _CUTS]
    return {name: np.array([row[name] for row in rows]) for name in FACTS}


@dataclass(frozen=True)
class _Layers:
    """What is told of each place of a small field, each (h, w) in 0..1.

    inside: how far it is picture. values: (3, h, w) how far it is dark, middle, light. borders: (3, h, w) length of the
    border of each that lies there, in px. crisp: how crisp a border there is.
    """

    inside: Floats
    values: Floats
    borders: Floats
    crisp: Floats

    @classmethod
    def of(cls, field: Floats, mask: Bools | None, thresholds: tuple[float, ...], span: float) -> _Layers:
        inside = np.ones(field.shape) if mask is None else mask.astype(np.float64)
        reach = _SOFT * span / 2
        light = _ramp(field, thresholds[1] - reach, thresholds[1] + reach)
        dark = 1.0 - _ramp(field, thresholds[0] - reach, thresholds[0] + reach)
        values = np.stack([dark, np.maximum(0.0, 1.0 - light - dark), light]) * inside
        step = ndimage.maximum_filter(field, 3) - ndimage.minimum_filter(field, 3)
        return cls(inside, values, _border(values, inside), _ramp(step, *_CRISP))

    def cut(self, share: float) -> _Layers:
        """The same without a share of every side."""
        height, width = self.inside.shape
        across, down = round(share * width), round(share * height)
        part = (..., slice(down, height - down), slice(across, width - across))
        return _Layers(self.inside[part], self.values[part], self.borders[part], self.crisp[part])


def _border(values: Floats, inside: Floats) -> Floats:
    """Length of the borders of soft shapes at each place, (n, h, w) px: the size of the step in tone between neighbours
    (total variation; it is the mean length of the contours at all heights, Federer's coarea formula)."""
    across = np.diff(values, axis=2) * (inside[:, 1:] * inside[:, :-1])
    down = np.diff(values, axis=1) * (inside[1:] * inside[:-1])
    down = np.concatenate([down, np.zeros_like(down[:, :1])], axis=1)
    # Steps to the left and to the right alike, so that a mirrored picture has mirrored borders.
    nothing = np.zeros_like(across[:, :, :1])
    after, before = (np.concatenate(pair, axis=2) for pair in ((across, nothing), (nothing, across)))
    return np.asarray((np.hypot(after, down) + np.hypot(before, down)) / 2)


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
        "grade": m.gradation,
    }


def _of_frame(layers: _Layers, *, masked: bool) -> dict[str, float]:
    """What is told by the layers within one frame."""
    size = max(1.0, float(layers.inside.sum()))
    dark, mid, light = (float(share) for share in layers.values.sum(axis=(1, 2)) / size)
    darks, mids, lights = (
        _pieces(float(length), share * size)
        for length, share in zip(layers.borders.sum(axis=(1, 2)), (dark, mid, light), strict=True)
    )
    strips = _strips(layers.inside, masked=masked)
    along = np.stack(list(strips.values())).reshape(len(strips), -1)
    held = along @ layers.values.reshape(3, -1).T / np.maximum(1e-9, along.sum(axis=1, keepdims=True))
    edges = dict(zip(strips, held, strict=True))
    sides = float(edges["left"][0]), float(edges["right"][0])
    light_x, light_y, light_spread = _place(layers.values[2])
    dark_x, _, dark_spread = _place(layers.values[0])
    against = layers.borders[0] + layers.borders[2]
    length = float(against.sum())
    ends = float(layers.borders[0].sum()), float(layers.borders[2].sum())
    return {
        "light": light,
        "mid": mid,
        "dark": dark,
        "edge_light": float(edges["rim"][2]),
        "edge_dark": float(edges["rim"][0]),
        "dark_top": float(edges["top"][0]),
        "dark_bottom": float(edges["bottom"][0]),
        "light_top": float(edges["top"][2]),
        "dark_sides_less": min(sides),
        "dark_sides_more": max(sides),
        "light_aside": 2 * abs(light_x - 0.5),
        "light_y": light_y,
        "dark_aside": 2 * abs(dark_x - 0.5),
        "light_spread": light_spread,
        "dark_spread": dark_spread,
        "borders": length / sum(layers.inside.shape),
        "breadth_light": 1 / max(1.0, lights),
        "breadth_mid": 1 / max(1.0, mids),
        "breadth_dark": 1 / max(1.0, darks),
        "lights": lights,
        "darks": darks,
        "largest_light": light / max(1.0, lights),
        "largest_dark": dark / max(1.0, darks),
        "level_masses": _bands(layers, axis=1),
        "upright_masses": _bands(layers, axis=0),
        "interchange": 2 * min(ends) / max(1e-9, length),
        "crisp": float((against * layers.crisp).sum()) / max(1e-9, length),
    }


def _pieces(length: float, area: float) -> float:
    """Into how many equal discs a value would have to fall for borders as long as it has: length squared by 4 pi times
    the area (the isoperimetric quotient). The picture's own edge is no border."""
    return length**2 / (4 * np.pi * area) if area > 0.5 else 0.0


def _strips(inside: Floats, *, masked: bool) -> dict[str, Floats]:
    """How far each place belongs to the strip along the edge and along each side of it, each (h, w) 0..1. The edge of
    an oval is its outline, and its sides are the quarters towards them."""
    height, width = inside.shape
    depth = max(1.0, _EDGE * min(height, width))
    columns, rows = np.arange(width)[None, :], np.arange(height)[:, None]
    if masked:
        within = inside > 0.5
        rim = within & ~ndimage.binary_erosion(within, np.ones((3, 3), dtype=bool), iterations=round(depth))
        left, top = (rim & (columns < width // 4)).astype(float), (rim & (rows < height // 4)).astype(float)
        right = (rim & (columns >= width - width // 4)).astype(float)
        bottom = (rim & (rows >= height - height // 4)).astype(float)
        return {"left": left, "right": right, "top": top, "bottom": bottom, "rim": rim.astype(float)}
    left, top = (np.broadcast_to(np.clip(depth - places, 0.0, 1.0), inside.shape) for places in (columns, rows))
    sides = {"left": left, "right": left[:, ::-1], "top": top, "bottom": top[::-1]}
    return sides | {"rim": np.maximum.reduce(list(sides.values()))}


def _place(of: Floats) -> tuple[float, float, float]:
    """(x, y, spread) in 0..1 of the frame: the centre, and how far from it things lie on the root mean square; 0.41 is
    evenly all over. The middle and nothing when there is nothing."""
    total = float(of.sum())
    if total < 0.5:
        return 0.5, 0.5, 0.0
    across, down = ((np.arange(length) + 0.5) / length for length in of.shape[::-1])
    columns, rows = of.sum(axis=0) / total, of.sum(axis=1) / total
    x, y = float(columns @ across), float(rows @ down)
    return x, y, float(np.sqrt(columns @ (across - x) ** 2 + rows @ (down - y) ** 2))


def _bands(layers: _Layers, *, axis: int) -> float:
    """How far there is a second value that fills lines from side to side (axis 1), or from top to bottom (0): 0 to 1.

    The first may be a ground; two make bands.
    """
    filled = layers.values.sum(axis=axis + 1) / np.maximum(1e-9, layers.inside.sum(axis=axis))
    shares = _ramp(filled, *_FILLED).mean(axis=1)
    return float(np.clip(np.sort(shares)[-2] / _BAND, 0.0, 1.0))


def _centre_lead(field: FloatArray, inside: Floats, span: float) -> float:
    """Whether the centre is lighter than what surrounds it (1) or darker (-1), and what is between."""
    height, width = field.shape
    across, down = (np.arange(width) + 0.5) / width - 0.5, (np.arange(height) + 0.5) / height - 0.5
    distance = np.hypot(across[None, :], down[:, None])
    parts = [_ramp(distance, *ends) * inside for ends in (_CENTRE, _RIM)]
    if min(float(part.sum()) for part in parts) < 0.5:
        return 0.0
    centre, rim = (float((field * part).sum() / part.sum()) for part in parts)
    return float(np.clip((centre - rim) / (_LEAD * span), -1.0, 1.0))


def _answer(field: FloatArray, layers: _Layers, thresholds: tuple[float, ...], span: float) -> float:
    """How far out a lone accent lies on the side without the weight of the darks, 0 to 1: it takes half to ten
    hundredths of the picture."""
    dark_x, _, _ = _place(layers.values[0])
    away = -1.0 if dark_x > 0.5 else 1.0
    within = layers.inside > 0.5
    size = max(1, int(within.sum()))
    places = np.broadcast_to((np.arange(field.shape[1]) + 0.5) / field.shape[1], field.shape).ravel()
    found = []
    for shift in _SHIFTS:
        best = 0.0
        low, high = (edge + shift * span for edge in thresholds)
        for here in (field < low, field >= high):
            shapes, count = ndimage.label(here & within)
            pixels = np.bincount(shapes.ravel(), minlength=count + 1)[1:]
            xs = np.bincount(shapes.ravel(), places, minlength=count + 1)[1:] / pixels
            areas = pixels / size
            accents = np.minimum(_ramp(areas, 0.003, 0.007), _ramp(areas, 0.13, 0.08))
            best = max(best, float(np.minimum(accents, _ramp(away * (xs - 0.5) * 2, 0.1, 0.4)).max(initial=0.0)))
        found.append(best)
    return float(np.mean(found))


def _ramp(values: NDArray[np.floating], none: float, full: float) -> Floats:
    return np.asarray(np.clip((values - none) / (full - none), 0.0, 1.0), dtype=np.float64)
