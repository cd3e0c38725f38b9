"""Named ways of laying out a picture in light and dark, each held by degree.

A type is a few conditions on measures. Each condition counts from 0 (not at all) to 1 (fully) and the type is held
as strongly as its weakest condition. Types are not exclusive. The starting numbers are ours; the ideas are those of
the books named with each type.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ingest.masses import SMALLEST_MASS, Mass
from ingest.measures import Measures

CLEAR = 0.35
"""Below this degree a type is not named: the picture is of no clear type."""


@dataclass(frozen=True)
class ArrangementType:
    """slug: stable id; name: in trade words; sentence: what defines it; source: the book it comes from."""

    slug: str
    name: str
    sentence: str
    source: str


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
        "answered-weight",
        "weight at one side, answered",
        "Most of the dark lies at one side; a small mass at the other answers it, as a small weight does far out "
        "on a steelyard.",
        f"{_POORE}: balance of the steelyard; Ross 1907",
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
        "Middle value over most of the picture; light and dark come in small quantity.",
        f"{_POORE}: 'Black and white with grey complement'; Ruskin 1843",
    ),
    ArrangementType(
        "two-tone",
        "light and dark with little between",
        "Large lights meet large darks and little middle is left.",
        "Dow 1899, Composition (two values); Speed 1913",
    ),
    ArrangementType(
        "interchange",
        "interchange",
        "The main middle mass is seen dark against light on one part of its border and light against dark on another.",
        "Ruskin 1857, law of interchange",
    ),
)


def type_degrees(measures: Measures, masses: Sequence[Mass]) -> dict[str, float]:
    """Degree 0..1 of every type, by slug, in the order of `TYPES`."""
    m = measures
    lights = [mass for mass in masses if mass.value == "light"]
    darks = [mass for mass in masses if mass.value == "dark"]
    free_light = _free(lights)
    free_dark = _free(darks)
    hard = _up(m.crispness, 0.15, 0.5)
    degrees = {
        "light-on-dark": _all(
            _down(m.light, 0.30, 0.45),
            _up(m.dark, 0.25, 0.45),
            _up(m.edge_dark, 0.40, 0.70),
            _up(m.breadth_light, 0.40, 0.65),
            free_light,
        ),
        "dark-on-light": _all(
            _down(m.dark, 0.40, 0.55),
            _up(m.light, 0.25, 0.45),
            _up(m.edge_light, 0.30, 0.55),
            _up(m.breadth_dark, 0.40, 0.65),
            free_dark,
        ),
        "ringed-light": _all(
            _up(m.radial_explained * max(0.0, m.radial_sign), 0.25, 0.5),
            _up(m.edge_dark, 0.45, 0.75),
            _down(m.edge_light, 0.05, 0.2),
        ),
        "ringed-dark": _all(
            _up(m.radial_explained * max(0.0, -m.radial_sign), 0.25, 0.5),
            _up(m.edge_light, 0.45, 0.75),
            _down(m.edge_dark, 0.05, 0.2),
        ),
        "bands": _all(
            _up(m.rows_explained, 0.35, 0.65),
            _up(m.rows_explained - m.columns_explained, 0.1, 0.35),
            _up(m.rows_explained - m.slant_explained, -0.1, 0.1),
            _spanning(masses),
        ),
        "uprights": _all(
            _up(m.columns_explained, 0.3, 0.55),
            _up(m.columns_explained - m.rows_explained, 0.05, 0.25),
            _up(m.columns_explained - m.slant_explained, -0.1, 0.1),
        ),
        "slant": _all(
            _up(m.slant_explained, 0.35, 0.6),
            _up(m.slant_explained - max(m.rows_explained, m.columns_explained), 0.0, 0.15),
            _up(abs(m.slant_ends), 10.0, 25.0),
            hard,
        ),
        "answered-weight": _all(
            _up(abs(m.steelyard), 0.15, 0.3),
            _answer(measures, masses),
        ),
        "wings": _all(
            _up(min(m.dark_left, m.dark_right), 0.35, 0.65),
            _up(1 - 2 * abs(m.light_x - 0.5), 0.6, 0.8),
            max(_up(m.light_top, 0.05, 0.3), _up(m.light, 0.12, 0.25)),
            _down(m.dark_top, 0.45, 0.75),
        ),
        "right-angle": _all(
            _up(max(m.dark_left, m.dark_right), 0.4, 0.7),
            _up(m.dark_bottom, 0.4, 0.7),
            _up(abs(m.dark_left - m.dark_right), 0.2, 0.5),
            _down(m.light_y, 0.45, 0.6),
            _down(m.dark_top, 0.5, 0.8),
        ),
        "scattered-lights": _scattered(lights, m.breadth_light),
        "scattered-darks": _scattered(darks, m.breadth_dark),
        "grade": _all(_up(m.gradation, 0.45, 0.7), _down(m.crispness, 0.25, 0.6)),
        "broad-middle": _all(
            _up(m.mid, 0.45, 0.62),
            _down(m.light, 0.18, 0.28),
            _down(m.dark, 0.18, 0.28),
        ),
        "two-tone": _all(
            _down(m.mid, 0.2, 0.32),
            _up(m.light, 0.18, 0.28),
            _up(m.dark, 0.18, 0.28),
            _up(m.crispness, 0.3, 0.6),
        ),
        "interchange": _all(_up(m.interchange, 0.45, 0.8), _up(m.breadth_mid, 0.5, 0.75), _up(m.mid, 0.2, 0.35), hard),
    }
    return {kind.slug: float(degrees[kind.slug]) for kind in TYPES}


def strongest(degrees: dict[str, float]) -> ArrangementType | None:
    """The type held most strongly, or None when none is clear."""
    best = max(TYPES, key=lambda kind: degrees[kind.slug])
    return best if degrees[best.slug] >= CLEAR else None


def _up(value: float, none: float, full: float) -> float:
    return min(1.0, max(0.0, (value - none) / (full - none)))


def _down(value: float, full: float, none: float) -> float:
    return 1.0 - _up(value, full, none)


def _all(*conditions: float) -> float:
    return min(conditions)


def _free(masses: Sequence[Mass]) -> float:
    """How clear of the picture's edges the largest mass stands: fully at none or one edge, not at all at three."""
    if not masses:
        return 0.0
    reached = len([side for side in masses[0].touches.split(",") if side])
    return {0: 1.0, 1: 1.0, 2: 0.4}.get(reached, 0.0)


def _spanning(masses: Sequence[Mass]) -> float:
    """Bands need at least two masses that run nearly from side to side."""
    runs = sorted((mass.x1 - mass.x0 for mass in masses if mass.area >= 0.05), reverse=True)
    return _up(runs[1], 0.6, 0.85) if len(runs) > 1 else 0.0


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
    counted = [mass for mass in masses if mass.area >= SMALLEST_MASS / 2]
    if not counted:
        return 0.0
    return _all(_up(len(counted), 3.0, 6.0), _down(breadth, 0.45, 0.65), _down(counted[0].area, 0.10, 0.2))
