"""What can be measured in a value map and its lightness field. Measurements, never marks.

Every field of `Measures` says its unit, what it means and where the idea comes from, and `ingest.formulas` how it is
computed; the archive's tables, the pages and the documentation are made from those notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ingest.balance import balance_APB, centre_of_mass, deviation_DCM, mirror_symmetry, steelyard
from ingest.contrast import find_contrast
from ingest.lightness import FloatArray
from ingest.masses import SMALLEST_MASS, Mass
from ingest.structure import structure
from ingest.value_map import OUTSIDE, Labels, ValueMap

LOWER_REGISTER, UPPER_REGISTER = 40.0, 60.0
LIMITED_SCALE, EXTENDED_SCALE = 40.0, 65.0
_NEAR = 12.0
"""L* within which tones are one range to the eye: a third of the step between the values of a map."""

_EDGE = 0.07
"""Depth of the strip that counts as the edge, as a share of the shorter side."""

_SINGLE = 20.0
"""Principality of a mass that has no second; ratios above it say no more."""

_HARRISON = "Harrison 1909, Landscape Painting, ch. V"
_RUSKIN = "Ruskin 1857, The Elements of Drawing, letter III"
_RUSKIN_1843 = "Ruskin 1843, Modern Painters I: the extremes in points, the masses of middle tint"
_REYNOLDS = "Reynolds 1783, note on Du Fresnoy: shares of light, mezzotint and dark"
_WILSON = "Wilson & Chatterjee 2005, Empirical Studies of the Arts 23:165"
_HUBNER = "Hübner & Fillinger 2016, Frontiers in Psychology 7:335"
_OWN = "Blotbook"


def _measure(unit: str, says: str, source: str = _OWN) -> Any:
    return field(metadata={"unit": unit, "says": says, "source": source})


@dataclass(frozen=True)
class Measures:
    """Measures of one picture; see each field's metadata for unit, meaning and source."""

    light: float = _measure("share 0..1", "how much of the picture is light", _REYNOLDS)
    mid: float = _measure("share 0..1", "how much of the picture is middle value", _REYNOLDS)
    dark: float = _measure("share 0..1", "how much of the picture is dark", _REYNOLDS)
    register: str = _measure("word", "upper, middle or lower, by the median L* (below 40, above 60)", _HARRISON)
    scale: str = _measure("word", "limited, moderate or extended, by the span of L* (below 40, above 65)", _HARRISON)
    median_lightness: float = _measure("L* 0..100", "median L* over the picture")
    lightness_span: float = _measure("L* 0..100", "from the 5th to the 95th hundredth of L*")
    near_median: float = _measure("share 0..1", "how much of the picture lies within 12 L* of its median", _RUSKIN_1843)
    values_present: int = _measure("count 1..3", "how many values the picture really has")
    gap_light_mid: float = _measure("L*", "step between the mean light and the mean middle")
    gap_mid_dark: float = _measure("L*", "step between the mean middle and the mean dark")
    unsure_light: float = _measure("share 0..1", "how much lies within 3 L* of where light begins")
    unsure_dark: float = _measure("share 0..1", "how much lies within 3 L* of where dark begins")
    light_masses: int = _measure("count", "light shapes of at least a hundredth of the picture", _RUSKIN)
    mid_masses: int = _measure("count", "middle shapes of at least a hundredth of the picture", _RUSKIN)
    dark_masses: int = _measure("count", "dark shapes of at least a hundredth of the picture", _RUSKIN)
    breadth_light: float = _measure("share 0..1", "how much of the light is gathered in its largest mass", _RUSKIN)
    breadth_mid: float = _measure("share 0..1", "how much of the middle is gathered in its largest mass", _RUSKIN)
    breadth_dark: float = _measure("share 0..1", "how much of the dark is gathered in its largest mass", _RUSKIN)
    principality_light: float = _measure("ratio 1..20", "largest light mass to the second (20: alone)", _RUSKIN)
    principality_dark: float = _measure("ratio 1..20", "largest dark mass to the second (20: alone)", _RUSKIN)
    interchange: float = _measure(
        "share 0..1", "how evenly the main middle mass is seen against light here and dark there", _RUSKIN
    )
    light_x: float = _measure("share 0..1", "centre of the lights from the left")
    light_y: float = _measure("share 0..1", "centre of the lights from the top")
    dark_x: float = _measure("share 0..1", "centre of the darks from the left")
    dark_y: float = _measure("share 0..1", "centre of the darks from the top")
    steelyard: float = _measure(
        "-1..1",
        "sideways weight of the darks: left negative, balanced 0",
        "Poore 1903, Pictorial Composition, ch. III",
    )
    dcm_dark: float = _measure("0..141.4", "how far the weight of the darks lies from the centre", _HUBNER)
    dcm_light: float = _measure("0..141.4", "how far the weight of the lights lies from the centre", _HUBNER)
    apb_dark: float = _measure("0..100", "unevenness of the darks about eight axes (0: even)", _WILSON)
    apb_light: float = _measure("0..100", "unevenness of the lights about eight axes (0: even)", _WILSON)
    symmetry: float = _measure(
        "0..100",
        "how much of the picture is dark on both sides of its axes; it grows with the amount of dark, so compare only "
        "pictures with about as much of it",
        _HUBNER,
    )
    contrast_step: float = _measure("L*", "the strongest step of light against dark", _RUSKIN)
    contrast_x: float = _measure("share 0..1", "where the strongest step lies, from the left")
    contrast_y: float = _measure("share 0..1", "where the strongest step lies, from the top")
    contrast_sharpness: float = _measure(
        "0..1",
        "how sharp the edge is there, before squinting (0: a slow passage, 1: cut clean)",
        "Marziliano et al. 2002, A No-Reference Perceptual Blur Metric, ICIP: widths of edges",
    )
    crispness: float = _measure("share 0..1", "how much of the borders between values steps by more than 20 L*")
    gradation: float = _measure("share 0..1", "how much one even grade explains", "Ross 1907, A Theory of Pure Design")
    gradation_direction: float = _measure("degrees", "where the grade grows light: 0 right, 90 up")
    rows_explained: float = _measure("share 0..1", "how much level bands explain")
    columns_explained: float = _measure("share 0..1", "how much upright bands explain")
    slant_explained: float = _measure("share 0..1", "how much bands along the best slant explain")
    slant_ends: float = _measure("L*", "from one end of that slant to the other")
    radial_explained: float = _measure("share 0..1", "how much rings about the centre explain")
    radial_sign: float = _measure("-1, 0, 1", "1 when the centre is the lighter, -1 when the darker")
    edge_light: float = _measure("share 0..1", "how much of a narrow strip along the picture's edge is light")
    edge_dark: float = _measure("share 0..1", "how much of a narrow strip along the picture's edge is dark")
    light_left: float = _measure("share 0..1", "light along the left edge")
    light_top: float = _measure("share 0..1", "light along the top edge")
    light_right: float = _measure("share 0..1", "light along the right edge")
    light_bottom: float = _measure("share 0..1", "light along the bottom edge")
    dark_left: float = _measure("share 0..1", "dark along the left edge")
    dark_top: float = _measure("share 0..1", "dark along the top edge")
    dark_right: float = _measure("share 0..1", "dark along the right edge")
    dark_bottom: float = _measure("share 0..1", "dark along the bottom edge")


def measure(
    squinted: FloatArray,
    laid: ValueMap,
    masses: Sequence[Mass],
    mask: NDArray[np.bool_] | None = None,
    lightness: FloatArray | None = None,
) -> Measures:
    """Measure a squinted picture, (h, w) float32 L*, with its three-value map and masses.

    lightness: (h, w) float32 L* before squinting, for the sharpness of the strongest edge; without it the edge is
    measured as it is after squinting.
    """
    labels = laid.labels
    tones = squinted if mask is None else squinted[mask]
    low, median, high = (float(tone) for tone in np.percentile(tones, [5, 50, 95]))
    dark, mid, light = laid.shares()
    lights, darks = (labels == 2).astype(np.float32), (labels == 0).astype(np.float32)
    shape = structure(squinted, mask)
    by_value = {name: [mass.area for mass in masses if mass.value == name] for name in ("light", "mid", "dark")}
    main_mid = next((mass for mass in masses if mass.value == "mid"), None)
    contrast = find_contrast(squinted, squinted if lightness is None else lightness, labels)
    light_x, light_y = centre_of_mass(lights)
    dark_x, dark_y = centre_of_mass(darks)
    edge, sides = _edges(labels)
    return Measures(
        light=light,
        mid=mid,
        dark=dark,
        register="lower" if median < LOWER_REGISTER else "upper" if median > UPPER_REGISTER else "middle",
        scale="limited" if high - low < LIMITED_SCALE else "extended" if high - low > EXTENDED_SCALE else "moderate",
        median_lightness=median,
        lightness_span=high - low,
        near_median=np.count_nonzero(np.abs(tones - median) <= _NEAR) / tones.size,
        values_present=laid.distinct,
        gap_light_mid=laid.means[2] - laid.means[1],
        gap_mid_dark=laid.means[1] - laid.means[0],
        unsure_light=laid.unsure[1],
        unsure_dark=laid.unsure[0],
        light_masses=_count(by_value["light"]),
        mid_masses=_count(by_value["mid"]),
        dark_masses=_count(by_value["dark"]),
        breadth_light=_breadth(by_value["light"]),
        breadth_mid=_breadth(by_value["mid"]),
        breadth_dark=_breadth(by_value["dark"]),
        principality_light=_principality(by_value["light"]),
        principality_dark=_principality(by_value["dark"]),
        interchange=2 * min(main_mid.against_light, main_mid.against_dark) if main_mid else 0.0,
        light_x=light_x,
        light_y=light_y,
        dark_x=dark_x,
        dark_y=dark_y,
        steelyard=steelyard(darks),
        dcm_dark=deviation_DCM(darks),
        dcm_light=deviation_DCM(lights),
        apb_dark=balance_APB(darks),
        apb_light=balance_APB(lights),
        symmetry=mirror_symmetry(labels == 0),
        contrast_step=contrast.step,
        contrast_x=contrast.x,
        contrast_y=contrast.y,
        contrast_sharpness=contrast.sharpness,
        crispness=contrast.crisp,
        gradation=shape.plane,
        gradation_direction=shape.plane_direction,
        rows_explained=shape.rows,
        columns_explained=shape.columns,
        slant_explained=shape.slant,
        slant_ends=shape.slant_ends,
        radial_explained=shape.radial,
        radial_sign=shape.radial_sign,
        edge_light=edge[2],
        edge_dark=edge[0],
        **{f"light_{side}": shares[2] for side, shares in sides.items()},
        **{f"dark_{side}": shares[0] for side, shares in sides.items()},
    )


def _count(areas: Sequence[float]) -> int:
    return sum(area >= SMALLEST_MASS for area in areas)


def _breadth(areas: Sequence[float]) -> float:
    return max(areas) / sum(areas) if areas else 0.0


def _principality(areas: Sequence[float]) -> float:
    if not areas:
        return 1.0
    second = areas[1] if len(areas) > 1 else 0.0
    return min(_SINGLE, areas[0] / second) if second > 0 else _SINGLE


def _edges(labels: Labels) -> tuple[tuple[float, ...], dict[str, tuple[float, ...]]]:
    """Shares of dark, mid, light within `_EDGE` of the whole edge of the picture and of each side of it.

    A strip and not a line, or the shadow of a frame would stand for the side of a picture. The edge of an oval is its
    outline: what each row and column shows first.
    """
    depth = max(1, round(_EDGE * min(labels.shape)))
    sides = {
        "left": _first_seen(labels, depth),
        "top": _first_seen(labels.T, depth),
        "right": _first_seen(labels[:, ::-1], depth),
        "bottom": _first_seen(labels[::-1].T, depth),
    }
    counted = {side: _shares(line) for side, line in sides.items()}
    return _shares(np.concatenate(list(sides.values()))), counted


def _first_seen(lines: Labels, depth: int) -> Labels:
    """The first `depth` labels of each line that are picture, one after another; lines without any are left out."""
    inside = lines != OUTSIDE
    if inside.all():
        return lines[:, :depth].ravel()
    first = np.argmax(inside, axis=1)
    at = np.minimum(first[:, None] + np.arange(depth), lines.shape[1] - 1)
    seen = np.take_along_axis(lines, at, axis=1)[inside.any(axis=1)]
    return np.asarray(seen[seen != OUTSIDE])


def _shares(line: Labels) -> tuple[float, ...]:
    counts = np.bincount(line, minlength=3)[:3]
    return tuple(float(count) for count in counts / max(1, line.size))
