"""Several small studies side by side, such as the panels of one sheet: what each has that the others have not.

Nothing is ranked. Which of them to go on with is for the person to choose; the words only say in what they differ.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ingest.measures import Measures
from ingest.words import fraction, number

MOST = 3
"""Differences told of each."""


@dataclass(frozen=True)
class _Trait:
    """A measure that tells studies apart. step: by how much one must pass all others for it to be said. more, less:
    the words for the one that has most and the one that has least, after 'the' and, of two, as a comparative."""

    measure: str
    step: float
    more: tuple[str, str]
    less: tuple[str, str]
    amount: Callable[[float], str]


def _count(masses: float) -> str:
    return f"{number(round(masses))} mass{'' if round(masses) == 1 else 'es'}"


def _tones(amount: float) -> str:
    return f"{amount:.0f} L*"


def _share(share: float) -> str:
    words = fraction(share)
    return {"none": "nothing", "half": "one half"}.get(words, words)


def _hundredths(share: float) -> str:
    return f"{100 * share:.0f} %"


_TRAITS = (
    _Trait("light", 0.08, ("most light", "more light"), ("least light", "less light"), _share),
    _Trait("dark", 0.08, ("most dark", "more dark"), ("least dark", "less dark"), _share),
    _Trait("light_masses", 1.0, ("lights most parted", "lights more parted"),
           ("lights most joined", "lights more joined"), _count),
    _Trait("dark_masses", 1.0, ("darks most parted", "darks more parted"),
           ("darks most joined", "darks more joined"), _count),
    _Trait("gap_mid_dark", 6.0, ("widest step from dark to middle", "wider step from dark to middle"),
           ("closest step from dark to middle", "closer step from dark to middle"), _tones),
    _Trait("gap_light_mid", 6.0, ("widest step from middle to light", "wider step from middle to light"),
           ("closest step from middle to light", "closer step from middle to light"), _tones),
    _Trait("edge_dark", 0.2, ("most dark along the picture’s edge", "more dark along the picture’s edge"),
           ("least dark along the picture’s edge", "less dark along the picture’s edge"), _share),
    _Trait("edge_light", 0.2, ("most light along the picture’s edge", "more light along the picture’s edge"),
           ("least light along the picture’s edge", "less light along the picture’s edge"), _share),
    _Trait("crispness", 0.2, ("hardest edges of shapes", "harder edges of shapes"),
           ("softest edges of shapes", "softer edges of shapes"), _share),
)  # fmt: skip

_STEPS = ("gap_mid_dark", "gap_light_mid")
"""Measures that say something of studies with three values only."""

_PLACES = (
    ("light_x", "light_y", "light"),
    ("dark_x", "dark_y", "dark"),
)
_WHERE = (
    ("furthest left", "furthest right", "highest", "lowest"),
    ("further left", "further right", "higher", "lower"),
)
"""Where a value lies, among several and of two."""
_PLACE_STEP = 0.1


def tell_apart(measures: Sequence[Measures]) -> list[tuple[str, ...]]:
    """For each study, in the order given, up to `MOST` sentences on what it has that the others have not.

    Empty for a study that lies between the others in everything, for one even tone, with which nothing is compared, and
    when there is only one.
    """
    patterned = [each for each in measures if each.values_present > 1]
    if len(patterned) < len(measures):
        told = iter(tell_apart(patterned))
        return [next(told) if each.values_present > 1 else () for each in measures]
    found: list[list[tuple[float, str]]] = [[] for _ in measures]
    if len(measures) > 1:
        for trait in _TRAITS:
            if trait.measure in _STEPS and any(each.values_present < 3 for each in measures):
                continue
            _tell(trait, [float(getattr(each, trait.measure)) for each in measures], found)
        words = _WHERE[len(measures) == 2]
        for across, down, value in _PLACES:
            for measure, (low, high) in ((across, words[:2]), (down, words[2:])):
                values = [float(getattr(each, measure)) for each in measures]
                if all(float(getattr(each, value)) > 0 for each in measures):
                    _tell_place(value, values, low, high, found)
    return [tuple(sentence for _, sentence in sorted(told, key=lambda item: -item[0])[:MOST]) for told in found]


def shared(measures: Sequence[Measures]) -> tuple[str, ...]:
    """What all of several studies have in common, in sentences."""
    if len(measures) < 2:
        return ()
    all_of = "Both" if len(measures) == 2 else f"All {number(len(measures))}"
    found = []
    for name, words in (("register", "register"), ("scale", "scale")):
        values = {getattr(each, name) for each in measures}
        if len(values) == 1:
            found.append(f"{all_of} lie in the {values.pop()} {words}." if name == "register" else
                         f"{all_of} have a scale that is {values.pop()}.")  # fmt: skip
    for name in ("light", "mid", "dark"):
        shares = [float(getattr(each, name)) for each in measures]
        if max(shares) - min(shares) <= 0.06 and min(shares) > 0.02:
            value = "middle" if name == "mid" else name
            found.append(f"{all_of} keep about {fraction(sum(shares) / len(shares))} {value}.")
    return tuple(found)


def _tell(trait: _Trait, values: Sequence[float], found: list[list[tuple[float, str]]]) -> None:
    """Name the study that has most of a trait and the one that has least, when they stand clear of the others."""
    of_two = len(values) == 2
    order = sorted(range(len(values)), key=lambda at: values[at])
    for at, others, words in ((order[-1], order[:-1], trait.more), (order[0], order[1:], trait.less)):
        apart = min(abs(values[at] - values[other]) for other in others)
        if apart >= trait.step:
            rest = [values[other] for other in others]
            amount = trait.amount
            # Two shares that differ may have one fraction for a name.
            if amount is _share and _share(values[at]) in {_share(value) for value in rest}:
                amount = _hundredths
            sentence = (
                f"The {words[1] if of_two else words[0]}: {amount(values[at])}, "
                f"{'the other' if of_two else 'the others'} {_range(rest, amount)}."
            )
            found[at].append((apart / trait.step, sentence))


def _tell_place(value: str, values: Sequence[float], low: str, high: str, found: list[list[tuple[float, str]]]) -> None:
    order = sorted(range(len(values)), key=lambda at: values[at])
    for at, next_to, words in ((order[0], order[1], low), (order[-1], order[-2], high)):
        apart = abs(values[at] - values[next_to])
        if apart >= _PLACE_STEP:
            found[at].append((apart / _PLACE_STEP, f"Its {value} lies {words}."))


def _range(values: Sequence[float], amount: Callable[[float], str]) -> str:
    low, high = amount(min(values)), amount(max(values))
    for unit in (" L*", " %", " masses", " mass"):
        low, high = low.removesuffix(unit), high.removesuffix(unit)
    return low if low == high else f"{low} to {high}"
