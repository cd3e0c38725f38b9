"""What each named type is, as conditions on the facts of `ingest.arrangement_facts`.

A condition is a fact with the amount at which it does not hold at all and the amount from which it holds fully;
between the two it holds in part, so that no type begins at a threshold. A type may be reached in more than one way.
The amounts are ours: set by hand after the books that `ingest.arrangement_types` names, then moved by a search on half
of the samples and other pictures, in steps that a person would write: shares, degrees and leads in .05, spreads and the
largest of many in .02, L* in 5, borders and numbers of discs in .5. None lies where its fact cannot.
docs/arrangements.md says what was sought, how far types agree with a person and how far they stay when a picture is
changed.
"""

from __future__ import annotations

import numpy as np

from ingest.arrangement_facts import Facts

Condition = tuple[str, float, float]
"""A fact, the amount at which it counts 0 and the amount from which it counts 1."""

RULES: dict[str, tuple[tuple[Condition, ...], ...]] = {
    # A mass stands within its ground: the dark reaches further out than the light, and neither a division of the whole
    # nor rings about the middle explain the picture.
    "light-on-dark": (
        (
            ("light", 0, 0.05),
            ("light", 0.5, 0.25),
            ("dark", 0.05, 0.4),
            ("dark_lead", -0.3, -0.05),
            ("spread_lead", 0, 0.14),
            ("edge_light", 0.3, 0.05),
            ("median", 55, 35),
            ("span", 0, 15),
            ("division", 0.8, 0.5),
            ("ring", 1, 0.3),
            ("borders", 7.5, 6),
        ),
    ),
    "dark-on-light": (
        (
            ("dark", 0, 0.1),
            ("dark", 0.7, 0.45),
            ("light", 0.25, 0.35),
            ("light_lead", -0.55, -0.25),
            ("dark_inside", -0.04, 0.08),
            ("edge_dark", 0.65, 0.25),
            ("median", 20, 45),
            ("breadth_dark", 0, 0.3),
            ("span", 0, 20),
            ("division", 0.9, 0.65),
            ("dark_ring", 0.95, 0.7),
            ("borders", 5.5, 4),
        ),
    ),
    "ringed-light": (
        (
            ("ring", 0.4, 1),
            ("edge_dark", 0.35, 0.75),
            ("edge_light", 0.3, 0),
            ("crisp", 0.95, 0.55),
        ),
    ),
    "ringed-dark": (
        (
            ("dark_ring", 0.25, 0.65),
            ("edge_light", 0.3, 0.95),
            ("edge_dark", 0.25, 0),
            ("crisp", 0.65, 0.05),
        ),
    ),
    # Masses that run from side to side; an even grade also lies in strips, but has no borders between them.
    "bands": (
        (
            ("rows", 0.4, 0.6),
            ("rows_lead", -0.15, 0.8),
            ("rows_over_slant", -0.25, 0),
            ("level_masses", 0, 0.4),
            ("even", 1, 0.65),
            ("borders", 7.5, 3.5),
        ),
    ),
    # Dark at both sides with light between has a name of its own.
    "uprights": (
        (
            ("columns", 0.7, 1),
            ("columns_lead", -0.1, 0.35),
            ("columns_over_slant", -0.2, 0.15),
            ("upright_masses", 0.35, 0.8),
            ("dark_sides_less", 0.95, 0.6),
            ("even", 0.9, 0.45),
        ),
    ),
    "slant": (
        (
            ("slant", 0.25, 0.75),
            ("slant_lead", -0.1, 0.2),
            ("slant_ends", 5, 35),
            ("even", 1, 0.25),
            ("borders", 4, 2),
        ),
    ),
    # The light opens above, or is broad.
    "wings": (
        (
            ("dark_sides_less", 0.5, 0.85),
            ("light_aside", 0.5, 0.3),
            ("light_top", 0.15, 0.5),
            ("dark_top", 0.95, 0.4),
        ),
        (
            ("dark_sides_less", 0.4, 0.95),
            ("light_aside", 0.4, 0.15),
            ("light", 0.1, 0.4),
            ("dark_top", 0.45, 0),
        ),
    ),
    "right-angle": (
        (
            ("dark_sides_more", 0.35, 1),
            ("dark_bottom", 0.2, 0.95),
            ("side_gap", 0.25, 0.8),
            ("light_y", 0.55, 0.25),
            ("dark_top", 0.75, 0.35),
            ("slant", 0.85, 0.6),
        ),
    ),
    "scattered-lights": (
        (
            ("lights", 0, 5.5),
            ("light_spread", 0.26, 0.38),
            ("largest_light", 0.26, 0.06),
            ("dark", 0.1, 0.35),
            ("dark_lead", 0, 0.25),
            ("span", 0, 25),
            ("borders", 1.5, 3.5),
        ),
    ),
    "scattered-darks": (
        (
            ("darks", 1, 10),
            ("dark_spread", 0.18, 0.38),
            ("largest_dark", 0.18, 0),
            ("light", 0.35, 0.45),
            ("light_lead", 0.15, 0.45),
            ("span", 20, 35),
            ("borders", 0.5, 2),
        ),
    ),
    "grade": (
        (
            ("grade", 0.35, 0.85),
            ("even", 0.3, 1),
        ),
    ),
    "broad-middle": (
        (
            ("mid", 0.4, 0.6),
            ("light", 0.4, 0.3),
            ("dark", 0.4, 0.3),
            ("borders", 5, 3),
        ),
        (
            ("near_median", 0.45, 0.75),
            ("breadth_mid", 0.1, 0.45),
            ("light", 0.5, 0.15),
            ("median", 20, 40),
            ("median", 85, 60),
            ("borders", 6.5, 1.5),
        ),
    ),
    "two-tone": (
        (
            ("mid", 0.35, 0.2),
            ("light", 0.15, 0.3),
            ("dark", 0.15, 0.3),
            ("crisp", 0.3, 0.7),
        ),
    ),
    "interchange": (
        (
            ("interchange", 0.6, 0.95),
            ("breadth_mid", 0.4, 0.8),
            ("mid", 0.2, 0.4),
            ("crisp", 0.1, 0.65),
        ),
    ),
    "answered-weight": (
        (
            ("dark_aside", 0.1, 0.3),
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


def degrees(facts: Facts) -> dict[str, float]:
    """How far each type is held, 0 to 1, on the mean over the readings; facts: as from `derived`."""
    found = np.stack([facts[name] for name in _NAMES])
    held = np.clip((found - _NONE) / (_FULL - _NONE), 0.0, 1.0)
    # The geometric mean of the smallest and of the geometric mean of all. The weakest condition alone would let a small
    # change of one fact turn the order of types about.
    weakest, product = np.minimum.reduceat(held, _WAYS), np.multiply.reduceat(held, _WAYS)
    ways = np.sqrt(weakest * product ** (1 / _LENGTHS))
    best = np.maximum.reduceat(ways, _TYPES).mean(axis=1)
    return dict(zip(RULES, best.tolist(), strict=True))


# All conditions in one row, so that they are asked at once: where each way begins among them, and each type among ways.
_ASKED = [way for ways in RULES.values() for way in ways]
_NAMES = [name for way in _ASKED for name, _, _ in way]
_NONE = np.array([[none] for way in _ASKED for _, none, _ in way])
_FULL = np.array([[full] for way in _ASKED for _, _, full in way])
_LENGTHS = np.array([[len(way)] for way in _ASKED])
_WAYS = np.cumsum([0, *(len(way) for way in _ASKED[:-1])])
_TYPES = np.cumsum([0, *(len(ways) for ways in RULES.values())])[:-1]
