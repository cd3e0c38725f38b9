"""The pattern of a picture in words a teacher would use; also the text beside every picture of a value map."""

from __future__ import annotations

from collections.abc import Sequence

from ingest.masses import SMALLEST_MASS, Mass
from ingest.measures import Measures

_FRACTIONS = (
    (0.005, "none"), (0.03, "hardly any"), (0.075, "a twentieth"), (0.112, "a tenth"), (0.145, "an eighth"),
    (0.183, "a sixth"), (0.225, "a fifth"), (0.29, "a quarter"), (0.365, "a third"), (0.45, "two fifths"),
    (0.55, "half"), (0.633, "three fifths"), (0.708, "two thirds"), (0.775, "three quarters"),
    (0.85, "four fifths"), (0.95, "nine tenths"), (2.0, "nearly all"),
)  # fmt: skip
_NUMBERS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)


def fraction(share: float) -> str:
    """A share, 0..1, as the nearest plain fraction in words."""
    return next(words for limit, words in _FRACTIONS if share < limit)


def number(count: int) -> str:
    """A small count in words, a larger one in figures."""
    return _NUMBERS[count] if 0 <= count < len(_NUMBERS) else str(count)


def place(x: float, y: float) -> str:
    """Where a point of the picture lies, x and y in 0..1: 'upper left', 'right of centre', 'in the middle' …"""
    side = "left" if x < 0.36 else "right" if x > 0.64 else ""
    level = "upper" if y < 0.36 else "lower" if y > 0.64 else ""
    if side and level:
        return f"{level} {side}"
    if side:
        return f"at the {side}"
    if level:
        return "at the top" if level == "upper" else "at the bottom"
    if abs(x - 0.5) > 0.07:
        return "left of centre" if x < 0.5 else "right of centre"
    if abs(y - 0.5) > 0.07:
        return "above the middle" if y < 0.5 else "below the middle"
    return "in the middle"


def describe(measures: Measures, masses: Sequence[Mass]) -> str:
    """One or two plain sentences that say the pattern."""
    if measures.values_present == 1:
        return "One even tone without shapes; there is no pattern of values."
    lights = _of(masses, "light")
    darks = _of(masses, "dark")
    first = f"{_lights(lights)}; {_darks(darks)}."
    return f"{first[0].upper()}{first[1:]} {_quantities(measures)}"


def _of(masses: Sequence[Mass], value: str) -> list[Mass]:
    return [mass for mass in masses if mass.value == value and mass.area >= SMALLEST_MASS]


def _lights(lights: Sequence[Mass]) -> str:
    if not lights:
        return "no light mass, only accents"
    main = lights[0]
    total = sum(mass.area for mass in lights)
    where = _where(main)
    if len(lights) == 1:
        return f"one light mass {where}{_ground(main)}"
    if len(lights) >= 5 and main.area < 0.45 * total:
        return f"{number(len(lights))} scattered lights, the largest {where}"
    leads = main.area > 2.5 * lights[1].area
    return f"{number(len(lights))} light masses, the {'principal one' if leads else 'largest'} {where}{_ground(main)}"


def _where(mass: Mass) -> str:
    sides = [side for side in mass.touches.split(",") if side]
    wide, tall = mass.x1 - mass.x0, mass.y1 - mass.y0
    if len(sides) == 4:
        return "reaching every edge"
    if wide > 0.9 and tall < 0.6:
        return "along the top" if mass.y < 0.4 else "along the bottom" if mass.y > 0.6 else "across the middle"
    if tall > 0.9 and wide < 0.6:
        return "down the left" if mass.x < 0.4 else "down the right" if mass.x > 0.6 else "from top to bottom"
    return place(mass.x, mass.y)


def _ground(mass: Mass) -> str:
    if mass.against_dark >= 0.7:
        return ", ringed by dark" if not mass.touches else ", against dark"
    if mass.against_mid >= 0.8:
        return ", set in middle grey"
    if mass.against_dark >= 0.3:
        return ", meeting the dark directly in places"
    return ""


def _darks(darks: Sequence[Mass]) -> str:
    if not darks:
        return "no dark mass, only accents"
    main = darks[0]
    total = sum(mass.area for mass in darks)
    if len(darks) >= 5 and main.area < 0.45 * total:
        return f"{number(len(darks))} scattered darks, the largest {_where(main)}"
    joined = main.area >= 0.85 * total
    sides = [side for side in main.touches.split(",") if side]
    if joined and len(sides) == 4:
        return "the dark joined and reaching every edge"
    if joined and len(sides) >= 2 and main.area > 0.2:
        return f"the dark joined along the {_list(sides)}"
    if joined:
        return f"the dark in one mass {_where(main)}"
    return f"{number(len(darks))} dark masses, the largest {_where(main)}"


def _list(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _quantities(measures: Measures) -> str:
    if measures.values_present == 2:
        return f"Two values with hardly a middle: {fraction(measures.light)} light, {fraction(measures.dark)} dark."
    shares = {"light": measures.light, "middle": measures.mid, "dark": measures.dark}
    rest = max(shares, key=lambda name: shares[name])
    said = [f"{fraction(share)} {name}" for name, share in shares.items() if name != rest]
    text = f"{', '.join(said)}, the rest {rest}"
    return f"{text[0].upper()}{text[1:]}; {measures.register} register, {measures.scale} scale."
