"""What sets an arrangement apart: the measures in which its works differ most from all works."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from archive.store import Archive

LEAST = 0.5
"""Smallest difference of means that is named, in standard deviations over all works: a middling effect
(Cohen 1988, Statistical Power Analysis for the Behavioral Sciences)."""

_COMPARED = {
    "light": ("More light", "Less light", "%"),
    "mid": ("More middle value", "Less middle value", "%"),
    "dark": ("More dark", "Less dark", "%"),
    "lightness_span": ("A wider span of lightness", "A narrower span of lightness", "L*"),
    "light_masses": ("More light masses", "Fewer light masses", ""),
    "dark_masses": ("More dark masses", "Fewer dark masses", ""),
    "breadth_light": ("The light more gathered in one mass", "The light more scattered", "%"),
    "breadth_dark": ("The dark more gathered in one mass", "The dark more scattered", "%"),
    "light_x": ("The lights further to the right", "The lights further to the left", "%"),
    "light_y": ("The lights lower down", "The lights higher up", "%"),
    "dark_x": ("The darks further to the right", "The darks further to the left", "%"),
    "dark_y": ("The darks lower down", "The darks higher up", "%"),
    "contrast_step": ("A stronger strongest step", "A weaker strongest step", "L*"),
    "crispness": ("Crisper borders between the values", "Softer borders between the values", "%"),
    "symmetry": ("More even about the upright axis", "Less even about the upright axis", ""),
    "edge_light": ("More light along the edges", "Less light along the edges", "%"),
    "edge_dark": ("More dark along the edges", "Less dark along the edges", "%"),
}
"""Measures that are compared: words when higher, words when lower, how the means are printed."""


@dataclass(frozen=True)
class Difference:
    """One measure in which an arrangement differs from all works.

    here, everywhere: the two means, in the measure's own unit. size: their difference in standard deviations
    over all works, signed. sentence: the same in words.
    """

    measure: str
    here: float
    everywhere: float
    size: float
    sentence: str


def apart(archive: Archive, slug: str, most: int = 5) -> list[Difference]:
    """The strongest differences of the arrangement `slug`, at most `most`; [] when it is like all works."""
    names = [name for name in archive.measure_names() if name in _COMPARED]
    means = archive.remember(("apart",), lambda: _means(archive, names)) if names else {}
    if slug not in means:
        return []
    everywhere, here = means[""], means[slug]
    found = []
    for place, name in enumerate(names):
        mean, square, local = everywhere[2 * place], everywhere[2 * place + 1], here[2 * place]
        if mean is None or square is None or local is None:
            continue
        deviation = math.sqrt(max(0.0, square - mean * mean))
        if deviation > 0 and abs(local - mean) >= LEAST * deviation:
            size = (local - mean) / deviation
            found.append(Difference(name, local, mean, size, _say(name, local, mean)))
    return sorted(found, key=lambda difference: -abs(difference.size))[:most]


def _means(archive: Archive, names: Sequence[str]) -> dict[str, Sequence[float | None]]:
    """For each measure its mean and the mean of its square, over the works of each arrangement; '' stands for all."""
    sums = ", ".join(f'avg(measures."{name}"), avg(measures."{name}" * measures."{name}")' for name in names)
    ask = archive.connection.execute
    grouped = ask(
        f"SELECT slug, {sums} FROM measures JOIN works USING (work) JOIN arrangements USING (arrangement) GROUP BY slug"
    )
    everywhere = tuple(ask(f"SELECT {sums} FROM measures").fetchone())
    return {"": everywhere} | {slug: tuple(values) for slug, *values in grouped}


def _say(name: str, here: float, everywhere: float) -> str:
    more, less, unit = _COMPARED[name]
    words = more if here > everywhere else less
    return f"{words}: {_amount(here, unit)} on the mean, {_amount(everywhere, unit)} over all works."


def _amount(value: float, unit: str) -> str:
    if unit == "%":
        return f"{value * 100:.0f} %"
    return f"{value:.0f} {unit}" if unit else f"{value:.1f}"
