"""Figures and rows in words, for pages."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from ingest.words import fraction, place

FIRST_MEASURES = (
    "register", "scale", "median_lightness", "lightness_span", "light_masses", "dark_masses",
    "breadth_light", "breadth_dark", "principality_light", "principality_dark", "interchange",
    "contrast_step", "steelyard", "symmetry",
)  # fmt: skip
"""Measures that a page shows first; the rest can be unfolded."""


def by_line(work: Mapping[str, Any]) -> str:
    """Who made a work and when, as far as is known."""
    return ", ".join(part for part in (work["artist"], work["date"]) if part)


def title_of(work: Mapping[str, Any]) -> str:
    """Its title, or words that say there is none."""
    return work["title"] or "Untitled"


def how_clearly(degree: float) -> str:
    """A degree of 0..1 as an adverb."""
    return next(
        word
        for limit, word in ((0.75, "clearly"), (0.5, "well"), (0.25, "partly"), (-1.0, "faintly"))
        if degree >= limit
    )


def measure_name(measure: str) -> str:
    """A column name as words."""
    return measure.replace("_", " ").replace("dcm", "DCM").replace("apb", "APB")


def amount(value: float | int | str | None, unit: str) -> str:
    """A measure's value with its unit as people write it; '–' when it was not measured."""
    if value is None or value == "":
        return "–"
    if isinstance(value, str):
        return value
    if unit.startswith("share"):
        return f"{value * 100:.0f} %"
    if unit.startswith("L*"):
        return f"{value:.0f} L*"
    if unit.startswith("ratio"):
        return f"{value:.1f}".removesuffix(".0") + " to 1"
    if unit == "degrees":
        return f"{value:.0f}°"
    if unit.startswith("count") or unit == "-1, 0, 1":
        return f"{value:.0f}".replace("-", "−")
    if unit.startswith("0..1") and unit != "0..1":
        return f"{value:.0f}"
    return f"{value:.2f}".rstrip("0").rstrip(".").replace("-", "−")


def mass_words(mass: Mapping[str, Any]) -> str:
    """A mass in words: its value, size, place and the edges it touches."""
    value = {"light": "Light", "mid": "Middle", "dark": "Dark"}[mass["value"]]
    sides = [side for side in str(mass["touches"]).split(",") if side]
    if len(sides) == 4:
        where = "reaching every edge"
    elif sides:
        edges = sides[0] if len(sides) == 1 else f"{', '.join(sides[:-1])} and {sides[-1]}"
        where = f"{place(mass['x'], mass['y'])}, touching the {edges} edge{'s' if len(sides) > 1 else ''}"
    else:
        where = f"{place(mass['x'], mass['y'])}, clear of the edges"
    return f"{value}, {fraction(mass['area'])} of the picture, {where}"


def shares_words(light: float, mid: float, dark: float) -> str:
    """Proportions as whole hundredths that sum to 100."""
    parts = dict(zip(("light", "middle", "dark"), _hundredths((light, mid, dark)), strict=True))
    return ", ".join(f"{name} {part} %" for name, part in parts.items())


def part_words(part: Sequence[float]) -> str:
    """A rectangle (x0, y0, x1, y1) in 0..1 as a place in the work; 'the whole work' when it is nearly all."""
    x0, y0, x1, y1 = part
    if (x1 - x0) * (y1 - y0) > 0.92:
        return "the whole work"
    across = _span(x0, x1, "left", "right")
    down = _span(y0, y1, "top", "bottom")
    return f"{fraction((x1 - x0) * (y1 - y0))} of the work, {across}, {down}"


def address(url: str) -> str:
    """A web address as people read it, without its scheme."""
    return re.sub(r"^https?://(www\.)?", "", url).rstrip("/")


def _span(low: float, high: float, first: str, last: str) -> str:
    if high - low > 0.92:
        return f"from {first} to {last}"
    return f"{low * 100:.0f} to {high * 100:.0f} % from the {first}"


def _hundredths(shares: Sequence[float]) -> list[int]:
    whole = [int(share * 100) for share in shares]
    by_rest = sorted(range(len(shares)), key=lambda at: whole[at] - shares[at] * 100)
    for at in by_rest[: max(0, 100 - sum(whole))]:
        whole[at] += 1
    return whole


def century_words(number: int) -> str:
    """'17th', or '2nd before our era' for a negative one."""
    end = "th" if 10 < abs(number) % 100 < 14 else {1: "st", 2: "nd", 3: "rd"}.get(abs(number) % 10, "th")
    return f"{abs(number)}{end}" + (" before our era" if number < 0 else "")
