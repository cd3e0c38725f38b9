"""What each named type is, as conditions on the facts of `ingest.arrangement_facts`.

A condition is a fact with the amount at which it does not hold at all and the amount from which it holds fully;
between the two it holds in part, so that no type begins at a threshold. A type may be reached in more than one way.
The numbers are ours, set by hand after the books that `ingest.arrangement_types` names and then moved by a search on
half of the samples and other pictures; docs/arrangements.md says what it sought, how far types agree with a person and
how far they stay when a picture is changed.
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
            ("light", 0.5, 0.28),
            ("dark", 0.12, 0.42),
            ("dark_lead", -0.14, 0.16),
            ("spread_lead", 0.011, 0.138),
            ("edge_light", 0.27, 0.06),
            ("median", 57.1, 35.6),
            ("span", 3.7, 20.8),
            ("division", 0.89, 0.55),
            ("ring", 0.95, 0.62),
            ("borders", 7.99, 6.27),
        ),
    ),
    "dark-on-light": (
        (
            ("dark", 0, 0.08),
            ("dark", 0.66, 0.32),
            ("light", 0.229, 0.388),
            ("light_lead", -0.36, 0.19),
            ("dark_inside", -0.03, 0.106),
            ("edge_dark", 0.57, 0.25),
            ("median", 24.4, 45.9),
            ("breadth_dark", -0.15, 0.17),
            ("span", 1.6, 20.4),
            ("division", 0.96, 0.69),
            ("dark_ring", 0.93, 0.68),
            ("borders", 5.46, 3.95),
        ),
    ),
    "ringed-light": (
        (
            ("ring", 0.2, 0.8),
            ("edge_dark", 0.35, 0.73),
            ("edge_light", 0.29, -0.02),
            ("crisp", 0.96, 0.39),
        ),
    ),
    "ringed-dark": (
        (
            ("dark_ring", 0.17, 0.61),
            ("edge_light", 0.32, 0.94),
            ("edge_dark", 0.21, -0.05),
            ("crisp", 0.91, 0.38),
        ),
    ),
    # Masses that run from side to side; an even grade also lies in strips, but has no borders between them.
    "bands": (
        (
            ("rows", 0.4, 0.6),
            ("rows_lead", -0.16, 0.85),
            ("rows_over_slant", -0.27, -0.07),
            ("level_masses", -0.15, 0.23),
            ("even", 0.93, 0.59),
            ("borders", 7.51, 2.82),
        ),
    ),
    # Dark at both sides with light between has a name of its own.
    "uprights": (
        (
            ("columns", 0.48, 0.74),
            ("columns_lead", -0.1, 0.36),
            ("columns_over_slant", -0.18, 0.16),
            ("upright_masses", 0.37, 0.78),
            ("dark_sides_less", 0.97, 0.61),
            ("even", 0.92, 0.45),
        ),
    ),
    "slant": (
        (
            ("slant", 0.37, 0.73),
            ("slant_lead", -0.11, 0.21),
            ("slant_ends", 7.5, 32.9),
            ("even", 0.99, 0.4),
            ("borders", 4.81, 3.3),
        ),
    ),
    # The light opens above, or is broad.
    "wings": (
        (
            ("dark_sides_less", 0.46, 0.81),
            ("light_aside", 0.477, 0.284),
            ("light_top", 0.12, 0.53),
            ("dark_top", 0.91, 0.36),
        ),
        (
            ("dark_sides_less", 0.13, 1.19),
            ("light_aside", 0.41, 0.14),
            ("light", 0.09, 0.4),
            ("dark_top", 0.58, -0.19),
        ),
    ),
    "right-angle": (
        (
            ("dark_sides_more", 0.32, 1.06),
            ("dark_bottom", 0.32, 1.18),
            ("side_gap", 0.21, 0.74),
            ("light_y", 0.54, 0.23),
            ("dark_top", 0.75, 0.29),
            ("slant", 0.89, 0.62),
        ),
    ),
    "scattered-lights": (
        (
            ("lights", -2.2, 4),
            ("light_spread", 0.274, 0.365),
            ("largest_light", 0.247, 0.066),
            ("dark", 0.189, 0.352),
            ("dark_lead", -0.02, 0.27),
            ("span", -8.4, 23),
            ("borders", 1.77, 3.24),
        ),
    ),
    "scattered-darks": (
        (
            ("darks", -1.6, 8.7),
            ("dark_spread", 0.142, 0.338),
            ("largest_dark", 0.186, -0.008),
            ("light", 0.2, 0.46),
            ("light_lead", 0.2, 0.55),
            ("span", 3.8, 20.5),
            ("borders", 0.67, 2.69),
        ),
    ),
    "grade": (
        (
            ("grade", 0.36, 0.84),
            ("even", 0.06, 0.91),
        ),
    ),
    "broad-middle": (
        (
            ("mid", 0.405, 0.552),
            ("light", 0.446, 0.285),
            ("dark", 0.402, 0.237),
            ("borders", 4.78, 3.36),
        ),
        (
            ("near_median", 0.37, 0.66),
            ("breadth_mid", 0.03, 0.44),
            ("light", 0.44, 0.02),
            ("median", 14.5, 46.2),
            ("median", 81.1, 54.6),
            ("borders", 6.52, 2.18),
        ),
    ),
    "two-tone": (
        (
            ("mid", 0.346, 0.182),
            ("light", 0.158, 0.308),
            ("dark", 0.149, 0.307),
            ("crisp", 0.29, 0.72),
        ),
    ),
    "interchange": (
        (
            ("interchange", 0.59, 0.97),
            ("breadth_mid", 0.4, 0.79),
            ("mid", 0.182, 0.378),
            ("crisp", 0.09, 0.63),
        ),
    ),
    "answered-weight": (
        (
            ("dark_aside", 0.114, 0.313),
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
