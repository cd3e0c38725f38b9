"""Named ways of laying out a picture in light and dark, each held by degree.

A type is a few conditions on what is measured (`ingest.arrangement_rules`). Types are not exclusive, and a picture of
which two are held about as strongly is of both. Most are layouts; three are manners, ways of handling values that may
lie over any layout. The ideas are those of the books named with each type.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ingest.arrangement_facts import Facts
from ingest.arrangement_rules import degrees, derived

CLEAR = 0.55
"""Below this degree a type is not named: the picture is of no clear type."""

NEAR = 0.1
"""Degrees that differ by no more are not told apart: the picture is of both types."""


@dataclass(frozen=True)
class ArrangementType:
    """slug: stable id; name: in trade words; sentence: what defines it; source: the book it comes from.

    manner: a way of handling values that may lie over any layout, so it names no picture by itself.
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


def type_degrees(facts: Facts) -> dict[str, float]:
    """Degree 0..1 of every type, by slug, in the order of `TYPES`; facts: as from `ingest.arrangement_facts`."""
    return degrees(derived(facts))


def named(degrees: Mapping[str, float]) -> tuple[ArrangementType, ...]:
    """The layouts that a picture is named by, strongest first: those that are clear and within `NEAR` of the strongest;
    none when the picture is of no clear type. Manners lie over any layout and name no picture."""
    layouts = sorted((kind for kind in TYPES if not kind.manner), key=lambda kind: -degrees[kind.slug])
    least = max(CLEAR, degrees[layouts[0].slug] - NEAR)
    return tuple(kind for kind in layouts if degrees[kind.slug] >= least)


def strongest(degrees: Mapping[str, float]) -> ArrangementType | None:
    """The layout held most strongly, or None when the picture is of no clear type."""
    return next(iter(named(degrees)), None)
