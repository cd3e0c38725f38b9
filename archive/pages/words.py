"""Figures and rows in words, for pages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from archive.pages.language import ENGLISH, later, number, say, say_count, spoken
from ingest.words import fraction, place

FIRST_MEASURES = (
    "register", "scale", "median_lightness", "lightness_span", "light_masses", "dark_masses",
    "breadth_light", "breadth_dark", "principality_light", "principality_dark", "interchange",
    "contrast_step", "steelyard", "symmetry",
)  # fmt: skip
"""Measures that a page shows first; the rest can be unfolded."""

_CLEARLY = ((0.75, later("clearly")), (0.5, later("well")), (0.25, later("partly")), (-1.0, later("faintly")))

_NEARLY = 0.92
"""The share of a side, or of a work, from which on a part is as good as all of it."""

_VALUES = {"light": later("Light"), "mid": later("Middle"), "dark": later("Dark")}

SIZES_AND_PLACES = (
    later("none"), later("hardly any"), later("a twentieth"), later("a tenth"), later("an eighth"), later("a sixth"),
    later("a fifth"), later("a quarter"), later("a third"), later("two fifths"), later("half"), later("three fifths"),
    later("two thirds"), later("three quarters"), later("four fifths"), later("nine tenths"), later("nearly all"),
    later("upper left"), later("upper right"), later("lower left"), later("lower right"),
    later("at the left"), later("at the right"), later("at the top"), later("at the bottom"),
    later("left of centre"), later("right of centre"), later("above the middle"), later("below the middle"),
    later("in the middle"), later("left"), later("right"), later("top"), later("bottom"),
)  # fmt: skip
"""What `ingest.words.fraction` and `place` say, and the sides of a picture, marked for the catalogue."""


def by_line(work: Mapping[str, Any]) -> str:
    """Who made a work and when, as far as is known."""
    return ", ".join(part for part in (work["artist"], work["date"]) if part)


def title_of(work: Mapping[str, Any]) -> str:
    """Its title, or words that say there is none."""
    return work["title"] or say("Untitled")


def how_clearly(degree: float) -> str:
    """A degree of 0..1 as an adverb."""
    return say(next(word for limit, word in _CLEARLY if degree >= limit))


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
        return say("%(times)s to 1", times=number(value, 0 if round(value, 1) == round(value) else 1))
    if unit == "degrees":
        return f"{value:.0f}°"
    if unit.startswith("count") or unit == "-1, 0, 1":
        return f"{value:.0f}".replace("-", "−")
    if unit.startswith("0..1") and unit != "0..1":
        return f"{value:.0f}"
    places = len(f"{value:.2f}".rstrip("0").partition(".")[2])
    return number(value, places).replace("-", "−")


def mass_words(mass: Mapping[str, Any]) -> str:
    """A mass in words: its value, size, place and the edges it touches."""
    name = _VALUES[mass["value"]]
    value, size = say(name), say(fraction(mass["area"]))
    where = say(place(mass["x"], mass["y"]))
    sides = [say(side) for side in str(mass["touches"]).split(",") if side]
    if len(sides) == 4:
        return say("%(value)s, %(size)s of the picture, reaching every edge", value=value, size=size)
    if not sides:
        return say(
            "%(value)s, %(size)s of the picture, %(place)s, clear of the edges", value=value, size=size, place=where
        )
    edges = sides[0] if len(sides) == 1 else say("%(some)s and %(last)s", some=", ".join(sides[:-1]), last=sides[-1])
    return say_count(
        "%(value)s, %(size)s of the picture, %(place)s, touching the %(edges)s edge",
        "%(value)s, %(size)s of the picture, %(place)s, touching the %(edges)s edges",
        len(sides), value=value, size=size, place=where, edges=edges,
    )  # fmt: skip


def shares_words(light: float, mid: float, dark: float) -> str:
    """Proportions as whole hundredths that sum to 100."""
    shares = _hundredths((light, mid, dark))
    return say(
        "light %(light)d %%, middle %(mid)d %%, dark %(dark)d %%", light=shares[0], mid=shares[1], dark=shares[2]
    )


def part_words(part: Sequence[float]) -> str:
    """A rectangle (x0, y0, x1, y1) in 0..1 as a place in the work; 'the whole work' when it is nearly all."""
    if is_whole(part):
        return say("the whole work")
    x0, y0, x1, y1 = part
    low, high = round(x0 * 100), round(x1 * 100)
    across = say("from left to right")
    if x1 - x0 <= _NEARLY:
        across = say("%(low)d to %(high)d %% from the left", low=low, high=high)
    low, high = round(y0 * 100), round(y1 * 100)
    down = say("from top to bottom")
    if y1 - y0 <= _NEARLY:
        down = say("%(low)d to %(high)d %% from the top", low=low, high=high)
    size = say(fraction((x1 - x0) * (y1 - y0)))
    return say("%(size)s of the work, %(across)s, %(down)s", size=size, across=across, down=down)


def is_whole(part: Sequence[float]) -> bool:
    """Whether a rectangle (x0, y0, x1, y1) in 0..1 is nearly all of a work."""
    x0, y0, x1, y1 = part
    return (x1 - x0) * (y1 - y0) > _NEARLY


def likeness_words(similarity: float, mirrored: bool) -> str:
    """How alike two patterns are, 0..1, in words."""
    if mirrored:
        return say("Likeness %(likeness)s, mirrored", likeness=number(similarity, 2))
    return say("Likeness %(likeness)s", likeness=number(similarity, 2))


def _hundredths(shares: Sequence[float]) -> list[int]:
    whole = [int(share * 100) for share in shares]
    by_rest = sorted(range(len(shares)), key=lambda at: whole[at] - shares[at] * 100)
    for at in by_rest[: max(0, 100 - sum(whole))]:
        whole[at] += 1
    return whole


def century_words(century: int) -> str:
    """'17th', or '2nd before our era' for a negative one; in other languages with their own ending."""
    end = "th" if 10 < abs(century) % 100 < 14 else {1: "st", 2: "nd", 3: "rd"}.get(abs(century) % 10, "th")
    if spoken() != ENGLISH:
        end = say("th")
    if century < 0:
        return say("%(century)s before our era", century=f"{abs(century)}{end}")
    return f"{abs(century)}{end}"
