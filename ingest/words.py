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
    rims = {
        "light": min(measures.light_left, measures.light_top, measures.light_right, measures.light_bottom),
        "dark": min(measures.dark_left, measures.dark_top, measures.dark_right, measures.dark_bottom),
    }
    first = f"{_lights(_of(masses, 'light'), rims['light'])}; {_darks(_of(masses, 'dark'), rims['dark'])}."
    return f"{first[0].upper()}{first[1:]} {_quantities(measures)}"


def _of(masses: Sequence[Mass], value: str) -> list[Mass]:
    return [mass for mass in masses if mass.value == value and mass.area >= SMALLEST_MASS]


def _lights(lights: Sequence[Mass], rim: float) -> str:
    if not lights:
        return "no light mass, only accents"
    main = lights[0]
    total = sum(mass.area for mass in lights)
    where = where_lies(main, rim)
    if len(lights) == 1:
        return f"one light mass {where}{_ground(main)}"
    if len(lights) >= 5 and main.area < 0.45 * total:
        return f"{number(len(lights))} scattered lights, the largest {where}"
    leads = main.area > 2.5 * lights[1].area
    return f"{number(len(lights))} light masses, the {'principal one' if leads else 'largest'} {where}{_ground(main)}"


def where_lies(mass: Mass, rim: float = 0.0) -> str:
    """Where a mass lies, in words: 'along the top', 'lower left', 'reaching every edge' ...

    rim: how much of each edge of the picture is of its value, of the edge that has least of it. A mass is only said to
    lie along or at an edge that it touches; one that keeps clear of it lies towards it.
    """
    sides = [side for side in mass.touches.split(",") if side]
    wide, tall = mass.x1 - mass.x0, mass.y1 - mass.y0
    if mass.area > 0.5:
        return "over most of the picture"
    if len(sides) == 4:
        return "all round the edge" if rim > 0.6 else "reaching every edge"
    if wide > 0.9 and tall < 0.6:
        return _band(mass.y, sides, ("top", "bottom"), ("upper", "lower"), "across the middle")
    if tall > 0.9 and wide < 0.6:
        return _band(mass.x, sides, ("left", "right"), ("left", "right"), "from top to bottom")
    if len(sides) == 3:
        return f"reaching the {listed(sides)}"
    if set(sides) == {"left", "right"}:
        return "from left to right"
    if set(sides) == {"top", "bottom"}:
        return "from top to bottom"
    words = place(mass.x, mass.y)
    edge = words.removeprefix("at the ")
    return words if edge == words or edge in sides else f"towards the {edge}"


def _band(at: float, sides: Sequence[str], edges: tuple[str, str], halves: tuple[str, str], middle: str) -> str:
    """A mass from end to end of the picture, its centre `at` 0..1 between the two edges that it runs along."""
    if 0.4 <= at <= 0.6:
        return middle
    near = 0 if at < 0.4 else 1
    if edges[near] in sides:
        return f"{'along' if edges == ('top', 'bottom') else 'down'} the {edges[near]}"
    return f"{'across' if edges == ('top', 'bottom') else 'down'} the {halves[near]} part"


def _ground(mass: Mass) -> str:
    if mass.against_dark >= 0.7:
        return ", ringed by dark" if not mass.touches else ", against dark"
    if mass.against_mid >= 0.8 and mass.area <= 0.5:
        return ", set in middle grey"
    if mass.against_dark >= 0.3:
        return ", meeting the dark directly in places"
    return ""


def _darks(darks: Sequence[Mass], rim: float) -> str:
    if not darks:
        return "no dark mass, only accents"
    main = darks[0]
    total = sum(mass.area for mass in darks)
    where = where_lies(main, rim)
    if len(darks) >= 5 and main.area < 0.45 * total:
        return f"{number(len(darks))} scattered darks, the largest {where}"
    if main.area < 0.85 * total:
        return f"{number(len(darks))} dark masses, the largest {where}"
    dark = "the dark" if len(darks) == 1 else "nearly all the dark"
    sides = [side for side in main.touches.split(",") if side]
    if len(sides) >= 2 and main.area > 0.2:
        if main.area > 0.5 or {"left", "right"} == set(sides) or {"top", "bottom"} == set(sides):
            return f"{dark} joined, {where}"
        return f"{dark} joined and {where}" if len(sides) == 4 else f"{dark} joined along the {listed(sides)}"
    return f"{dark} in one mass {where}"


def capital(text: str) -> str:
    """The same, beginning with a capital."""
    return text[:1].upper() + text[1:]


def first_sentence(text: str) -> str:
    """The first of several sentences: of an arrangement, the one that says what it is; those behind it count."""
    return text.split(". ")[0].rstrip(".") + "."


def listed(words: Sequence[str]) -> str:
    """Words with commas and an 'and' before the last."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _quantities(measures: Measures) -> str:
    if measures.values_present == 2:
        light, dark = _amount("light", measures.light), _amount("dark", measures.dark)
        return f"Two values with hardly a middle: {light}, {dark}."
    shares = {"light": measures.light, "middle": measures.mid, "dark": measures.dark}
    rest = max(shares, key=lambda name: shares[name])
    said = [_amount(name, share) for name, share in shares.items() if name != rest]
    text = f"{', '.join(said)}, the rest {rest}"
    return f"{text[0].upper()}{text[1:]}; {measures.register} register, {measures.scale} scale."


def _amount(value: str, share: float) -> str:
    words = fraction(share)
    return f"no {value}" if words == "none" else f"{words} {value}"
