"""Named ways of laying out a picture in light and dark, each held by degree.

A type is a few conditions on measures. Each condition counts from 0 (not at all) to 1 (fully) and the type is held
about as strongly as its weakest condition. Types are not exclusive. Most are layouts; three are manners, ways of
handling values that may lie over any layout. The numbers are ours, improved on half of the pictures of
`tests/data/types_by_eye.csv`; the ideas are those of the books named with each type.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ingest.masses import Mass
from ingest.measures import Measures

CLEAR = 0.45
"""Below this degree a type is not named: the picture is of no clear type."""


@dataclass(frozen=True)
class ArrangementType:
    """slug: stable id; name: in trade words; sentence: what defines it; source: the book it comes from.

    manner: a way of handling values that may lie over any layout, so it names a picture only when no layout does.
    """

    slug: str
    name: str
    sentence: str
    source: str
    manner: bool = False


_POORE = "Poore 1903, Pictorial Composition"

TYPES: tuple[ArrangementType, ...] = (
    ArrangementType(
        "light-on-dark",
        "light mass on dark ground",
        "One gathered light, clear of the edges, on a ground that is mostly dark.",
        f"{_POORE}: 'Light with dark complement'; Reynolds 1783 on Rembrandt",
    ),
    ArrangementType(
        "dark-on-light",
        "dark mass on light ground",
        "One gathered dark stands against a ground that is mostly light.",
        f"{_POORE}: 'Dark with light complement'",
    ),
    ArrangementType(
        "ringed-light",
        "ringed light",
        "The light lies in the middle and sinks into dark all round.",
        f"{_POORE}: 'Light with dark complement' as a vignette",
    ),
    ArrangementType(
        "ringed-dark",
        "ringed dark",
        "The dark lies in the middle and light goes all round it.",
        f"{_POORE}: 'Dark with light complement' as a vignette",
    ),
    ArrangementType(
        "bands",
        "level bands",
        "Light, middle and dark lie in bands across the picture, as sky, water and land do.",
        f"{_POORE}: composition based on the horizontal; Lee et al. 2020, PNAS 117:26580",
    ),
    ArrangementType(
        "uprights",
        "upright divisions",
        "The values stand side by side from top to bottom.",
        f"{_POORE}: the vertical line; Lee et al. 2020, PNAS 117:26580",
    ),
    ArrangementType(
        "slant",
        "slanting division",
        "Dark fills one corner and light the opposite one; the border between them slants.",
        f"{_POORE}: 'Light and dark'; Rowbotham 1852",
    ),
    ArrangementType(
        "wings",
        "light between dark wings",
        "Both sides are dark and the light opens between them.",
        f"{_POORE} on Claude",
    ),
    ArrangementType(
        "right-angle",
        "dark right angle",
        "Dark runs up one side and along the bottom; the light lies in the angle.",
        f"{_POORE}: 'the rectangle', Claude's second scheme",
    ),
    ArrangementType(
        "scattered-lights",
        "scattered lights",
        "Many small lights, none much greater than the rest.",
        "Ruskin 1857, section 233; Hogarth 1753",
    ),
    ArrangementType(
        "scattered-darks",
        "scattered darks",
        "Many small darks, none much greater than the rest.",
        "Ruskin 1857, section 233",
    ),
    ArrangementType(
        "grade",
        "one grade",
        "Tone passes evenly from dark at one end to light at the other, without hard borders.",
        f"{_POORE}: 'Dark to light, gradation'; Ross 1907, section 182",
    ),
    ArrangementType(
        "broad-middle",
        "broad middle with accents",
        "Middle value over most of the picture, or one close range of tones; light and dark come in small quantity.",
        f"{_POORE}: 'Black and white with grey complement'; Ruskin 1843",
    ),
    ArrangementType(
        "two-tone",
        "light and dark with little between",
        "Large lights meet large darks and little middle is left.",
        "Dow 1899, Composition (two values); Speed 1913",
        manner=True,
    ),
    ArrangementType(
        "interchange",
        "interchange",
        "The main middle mass is seen dark against light on one part of its border and light against dark on another.",
        "Ruskin 1857, law of interchange",
        manner=True,
    ),
    ArrangementType(
        "answered-weight",
        "weight at one side, answered",
        "Most of the dark lies at one side; a small mass at the other answers it, as a small weight does far out "
        "on a steelyard.",
        f"{_POORE}: balance of the steelyard; Ross 1907",
        manner=True,
    ),
)


def type_degrees(measures: Measures, masses: Sequence[Mass]) -> dict[str, float]:
    """Degree 0..1 of every type, by slug, in the order of `TYPES`."""
    m = measures
    lights = [mass for mass in masses if mass.value == "light"]
    darks = [mass for mass in masses if mass.value == "dark"]
    seen = _up(m.lightness_span, 14.0, 28.0)
    # An even grade also lies in strips and corners, but without borders between them.
    stepped = _down(m.gradation - m.crispness, 0.5, 0.75)
    ring = m.radial_explained * m.radial_sign
    wrapped = _down(abs(ring), 0.65, 0.85)
    axis = max(m.rows_explained, m.columns_explained)
    # A mass stands within its ground; one that runs from side to side is part of a division of the whole.
    within = _down(max(axis, m.slant_explained), 0.60, 0.85)
    degrees = {
        "light-on-dark": _all(
            _up(m.light, 0.02, 0.06),
            _down(m.light, 0.30, 0.45),
            _up(m.dark, 0.22, 0.40),
            _up(m.dark - m.light, 0.0, 0.15),
            _up(m.edge_dark, 0.02, 0.30),
            _down(m.edge_light, 0.08, 0.30),
            _down(m.median_lightness, 38.0, 50.0),
            _up(m.breadth_light, 0.30, 0.55),
            seen,
            wrapped,
            within,
        ),
        "dark-on-light": _all(
            _up(m.dark, 0.03, 0.08),
            _down(m.dark, 0.35, 0.50),
            _up(m.light, 0.25, 0.45),
            _up(m.light - m.dark, 0.0, 0.15),
            _up(m.edge_light, 0.25, 0.50),
            _down(m.edge_dark, 0.15, 0.40),
            _up(m.median_lightness, 40.0, 52.0),
            _up(m.breadth_dark, 0.40, 0.65),
            seen,
            wrapped,
            within,
        ),
        "ringed-light": _all(
            _up(ring, 0.25, 0.55),
            _up(m.edge_dark, 0.35, 0.65),
            _down(m.edge_light, 0.05, 0.20),
            _down(m.crispness, 0.45, 0.80),
        ),
        "ringed-dark": _all(
            _up(-ring, 0.25, 0.55),
            _up(m.edge_light, 0.35, 0.65),
            _down(m.edge_dark, 0.05, 0.20),
            _down(m.crispness, 0.45, 0.80),
        ),
        "bands": _all(
            _up(m.rows_explained, 0.25, 0.55),
            _up(m.rows_explained - m.columns_explained, 0.05, 0.30),
            _up(m.rows_explained - m.slant_explained, -0.15, 0.10),
            _spanning(masses, upright=False),
            stepped,
        ),
        "uprights": _all(
            _up(m.columns_explained, 0.30, 0.60),
            _up(m.columns_explained - m.rows_explained, 0.05, 0.30),
            _up(m.columns_explained - m.slant_explained, -0.15, 0.10),
            _spanning(masses, upright=True),
            # Dark at both sides with light between has a name of its own.
            _down(min(m.dark_left, m.dark_right), 0.5, 0.85),
            stepped,
        ),
        "slant": _all(
            _up(m.slant_explained, 0.30, 0.65),
            _up(m.slant_explained - axis, -0.05, 0.18),
            _up(abs(m.slant_ends), 10.0, 25.0),
            stepped,
        ),
        "wings": _all(
            _up(min(m.dark_left, m.dark_right), 0.25, 0.65),
            _up(1 - 2 * abs(m.light_x - 0.5), 0.6, 0.8),
            max(_up(m.light_top, 0.05, 0.25), _up(m.light, 0.12, 0.25)),
            _down(m.dark_top, 0.40, 0.75),
        ),
        "right-angle": _all(
            _up(max(m.dark_left, m.dark_right), 0.40, 0.80),
            _up(m.dark_bottom, 0.40, 0.80),
            _up(abs(m.dark_left - m.dark_right), 0.15, 0.50),
            _down(m.light_y, 0.43, 0.60),
            _down(m.dark_top, 0.30, 0.70),
            _down(m.slant_explained, 0.70, 0.90),
        ),
        "scattered-lights": _all(
            _scattered(lights, m.breadth_light),
            _up(m.dark, 0.20, 0.36),
            _up(m.dark - m.light, 0.02, 0.16),
            seen,
        ),
        "scattered-darks": _all(
            _scattered(darks, m.breadth_dark),
            _up(m.light, 0.20, 0.36),
            _up(m.light - m.dark, 0.02, 0.16),
            seen,
        ),
        "grade": _all(_up(m.gradation, 0.45, 0.70), _up(m.gradation - m.crispness, 0.15, 0.50)),
        "broad-middle": max(
            _all(
                _up(m.mid, 0.42, 0.60),
                _down(m.light, 0.20, 0.32),
                _down(m.dark, 0.20, 0.34),
            ),
            _all(
                _up(m.near_median, 0.55, 0.75),
                _down(m.light, 0.28, 0.42),
                _up(m.median_lightness, 28.0, 40.0),
                _down(m.median_lightness, 64.0, 76.0),
            ),
        ),
        "two-tone": _all(
            _down(m.mid, 0.2, 0.32),
            _up(m.light, 0.18, 0.28),
            _up(m.dark, 0.18, 0.28),
            _up(m.crispness, 0.3, 0.6),
        ),
        "interchange": _all(
            _up(m.interchange, 0.45, 0.8),
            _up(m.breadth_mid, 0.5, 0.75),
            _up(m.mid, 0.2, 0.35),
            _up(m.crispness, 0.15, 0.5),
        ),
        "answered-weight": _all(
            _up(abs(m.steelyard), 0.15, 0.3),
            _answer(measures, masses),
        ),
    }
    return {kind.slug: float(degrees[kind.slug]) for kind in TYPES}


def strongest(degrees: dict[str, float]) -> ArrangementType | None:
    """The layout held most strongly; where none is clear, the strongest clear manner, or None."""
    for manner in (False, True):
        best = max((kind for kind in TYPES if kind.manner == manner), key=lambda kind: degrees[kind.slug])
        if degrees[best.slug] >= CLEAR:
            return best
    return None


def _up(value: float, none: float, full: float) -> float:
    return min(1.0, max(0.0, (value - none) / (full - none)))


def _down(value: float, full: float, none: float) -> float:
    return 1.0 - _up(value, full, none)


def _all(*conditions: float) -> float:
    """The weakest condition tempered by all of them: the geometric mean of the smallest and of the geometric mean of
    all. The weakest alone would let a small change of one measure turn the order of types about.
    """
    weakest = min(conditions)
    return math.sqrt(weakest * math.prod(conditions) ** (1 / len(conditions)))


def _spanning(masses: Sequence[Mass], *, upright: bool) -> float:
    """Bands need at least two masses that run nearly from side to side and leave room for others above or below;
    upright ones, from top to bottom.
    """
    runs = []
    for mass in masses:
        across, down = mass.x1 - mass.x0, mass.y1 - mass.y0
        along, thick = (down, across) if upright else (across, down)
        if mass.area >= 0.05:
            runs.append(_all(_up(along, 0.6, 0.85), _down(thick, 0.80, 0.95)))
    return sorted(runs)[-2] if len(runs) > 1 else 0.0


def _answer(measures: Measures, masses: Sequence[Mass]) -> float:
    """A lone accent of half to eight hundredths of the picture, far out on the side without the weight."""
    away = -1.0 if measures.steelyard > 0 else 1.0
    best = 0.0
    for mass in masses:
        if mass.value == "mid" or not 0.005 <= mass.area <= 0.10:
            continue
        out = away * (mass.x - 0.5) * 2
        best = max(best, _up(out, 0.1, 0.4))
    return best


def _scattered(masses: Sequence[Mass], breadth: float) -> float:
    """Many small masses of one value, none much greater than the rest.

    They are counted by their effective number (Simpson 1949, Nature 163:688; Hill 1973): as many as there would be if
    all were of one size, so that one more speck counts for little.
    """
    areas = [mass.area for mass in masses]
    if not areas:
        return 0.0
    number = sum(areas) ** 2 / sum(area * area for area in areas)
    return _all(_up(number, 2.0, 4.5), _down(breadth, 0.45, 0.70), _down(max(areas), 0.08, 0.22))
