"""What each named type is, as conditions on the facts of `ingest.arrangement_facts`.

A condition is a fact with the amount at which it does not hold at all and the amount from which it holds fully;
between the two it holds in part, so that no type begins at a threshold. A type may be reached in more than one way.
The numbers are ours, set by hand after the books that `ingest.arrangement_types` names and improved on pictures of
`tests/data`; docs/arrangements.md says how far they agree with a person.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ingest.arrangement_facts import Facts

Values = NDArray[np.float64]
Condition = tuple[str, float, float]
"""A fact, the amount at which it counts 0 and the amount from which it counts 1."""

RULES: dict[str, tuple[tuple[Condition, ...], ...]] = {
    # A mass stands within its ground: the dark reaches further out than the light, and neither a division of the whole
    # nor rings about the middle explain the picture.
    "light-on-dark": (
        (
            ("light", 0.02, 0.06),
            ("light", 0.48, 0.24),
            ("dark", 0.16, 0.44),
            ("dark_lead", -0.1, 0.24),
            ("spread_lead", -0.02, 0.14),
            ("edge_light", 0.4, 0.02),
            ("median", 58, 32),
            ("span", 7, 27),
            ("division", 0.96, 0.54),
            ("ring", 0.9, 0.6),
            ("borders", 10.5, 7),
        ),
    ),
    "dark-on-light": (
        (
            ("dark", 0.02, 0.08),
            ("dark", 0.6, 0.3),
            ("light", 0.14, 0.44),
            ("light_lead", -0.16, 0.2),
            ("dark_inside", -0.04, 0.1),
            ("edge_dark", 0.56, 0.14),
            ("median", 29, 49),
            ("breadth_dark", 0.24, 0.66),
            ("span", 9, 29),
            ("division", 0.96, 0.54),
            ("dark_ring", 0.9, 0.6),
            ("borders", 8.5, 5),
        ),
    ),
    "ringed-light": (
        (
            ("ring", 0.2, 0.62),
            ("edge_dark", 0.28, 0.72),
            ("edge_light", 0.24, 0.02),
            ("crisp", 0.88, 0.38),
        ),
    ),
    "ringed-dark": (
        (
            ("dark_ring", 0.2, 0.62),
            ("edge_light", 0.28, 0.72),
            ("edge_dark", 0.24, 0.02),
            ("crisp", 0.88, 0.38),
        ),
    ),
    # Masses that run from side to side; an even grade also lies in strips, but has no borders between them.
    "bands": (
        (
            ("rows", 0.3, 0.7),
            ("rows_lead", 0, 0.36),
            ("rows_over_slant", -0.2, 0.16),
            ("level_masses", 0, 0.6),
            ("even", 0.8, 0.44),
            ("borders", 8.5, 5),
        ),
    ),
    # Dark at both sides with light between has a name of its own.
    "uprights": (
        (
            ("columns", 0.24, 0.66),
            ("columns_lead", 0, 0.36),
            ("columns_over_slant", -0.2, 0.16),
            ("upright_masses", 0.2, 0.8),
            ("dark_sides_less", 0.92, 0.44),
            ("even", 0.8, 0.44),
        ),
    ),
    "slant": (
        (
            ("slant", 0.22, 0.72),
            ("slant_lead", -0.1, 0.22),
            ("slant_ends", 7, 28),
            ("even", 0.8, 0.44),
            ("borders", 8.5, 5),
        ),
    ),
    # The light opens above, or is broad.
    "wings": (
        (
            ("dark_sides_less", 0.18, 0.72),
            ("light_aside", 0.44, 0.16),
            ("light_top", 0.02, 0.28),
            ("dark_top", 0.82, 0.32),
        ),
        (
            ("dark_sides_less", 0.18, 0.72),
            ("light_aside", 0.44, 0.16),
            ("light", 0.1, 0.28),
            ("dark_top", 0.82, 0.32),
        ),
    ),
    "right-angle": (
        (
            ("dark_sides_more", 0.32, 0.88),
            ("dark_bottom", 0.32, 0.88),
            ("side_gap", 0.08, 0.56),
            ("light_y", 0.64, 0.4),
            ("dark_top", 0.78, 0.22),
            ("slant", 0.94, 0.66),
        ),
    ),
    "scattered-lights": (
        (
            ("lights", 1.0, 3.2),
            ("light_spread", 0.16, 0.32),
            ("largest_light", 0.32, 0.06),
            ("dark", 0.16, 0.4),
            ("dark_lead", -0.06, 0.22),
            ("span", 9, 29),
            ("borders", 0.5, 5.2),
        ),
    ),
    "scattered-darks": (
        (
            ("darks", 1.0, 3.2),
            ("dark_spread", 0.16, 0.32),
            ("largest_dark", 0.32, 0.06),
            ("light", 0.16, 0.4),
            ("light_lead", 0.0, 0.25),
            ("span", 9, 29),
            ("borders", 0.5, 5.2),
        ),
    ),
    "grade": (
        (
            ("grade", 0.4, 0.74),
            ("even", 0.12, 0.68),
        ),
    ),
    "broad-middle": (
        (
            ("mid", 0.36, 0.64),
            ("light", 0.36, 0.18),
            ("dark", 0.4, 0.16),
            ("borders", 8.4, 5.6),
        ),
        (
            ("near_median", 0.44, 0.8),
            ("breadth_mid", 0.44, 0.86),
            ("light", 0.46, 0.22),
            ("median", 23, 43),
            ("median", 81, 61),
            ("borders", 8.4, 5.6),
        ),
    ),
    "two-tone": (
        (
            ("mid", 0.34, 0.18),
            ("light", 0.16, 0.3),
            ("dark", 0.16, 0.3),
            ("crisp", 0.24, 0.66),
        ),
    ),
    "interchange": (
        (
            ("interchange", 0.38, 0.88),
            ("breadth_mid", 0.44, 0.8),
            ("mid", 0.18, 0.38),
            ("crisp", 0.08, 0.56),
        ),
    ),
    "answered-weight": (
        (
            ("dark_aside", 0.12, 0.32),
            ("answer", 0, 1),
        ),
    ),
}
"""The ways in which each type is held, by its slug; each way is conditions that all have to hold."""


def derived(facts: Facts) -> Facts:
    """The facts with those that come of two of them: how far one leads another, and the like."""
    light, dark, rows, columns, slant = (facts[name] for name in ("light", "dark", "rows", "columns", "slant"))
    axis = np.maximum(rows, columns)
    return facts | {
        "light_lead": light - dark,
        "dark_lead": dark - light,
        "spread_lead": facts["dark_spread"] - facts["light_spread"],
        "dark_inside": facts["light_spread"] - facts["dark_spread"],
        "division": np.maximum(axis, slant),
        "rows_lead": rows - columns,
        "columns_lead": columns - rows,
        "rows_over_slant": rows - slant,
        "columns_over_slant": columns - slant,
        "slant_lead": slant - axis,
        "dark_ring": -facts["ring"],
        "side_gap": facts["dark_sides_more"] - facts["dark_sides_less"],
        "even": facts["grade"] - facts["crisp"],
    }


def degree(slug: str, facts: Facts) -> float:
    """How far a type is held, 0 to 1, on the mean over the readings; facts: as from `derived`."""
    ways = [_all([_held(facts, condition) for condition in way]) for way in RULES[slug]]
    return float(np.max(ways, axis=0).mean())


def _held(facts: Facts, condition: Condition) -> Values:
    name, none, full = condition
    return np.asarray(np.clip((facts[name] - none) / (full - none), 0.0, 1.0))


def _all(conditions: list[Values]) -> Values:
    """The weakest condition tempered by all of them: the geometric mean of the smallest and of the geometric mean of
    all. The weakest alone would let a small change of one fact turn the order of types about.
    """
    held = np.array(conditions)
    return np.asarray(np.sqrt(held.min(axis=0) * np.prod(held, axis=0) ** (1 / len(held))))
