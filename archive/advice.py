"""What a kind teacher would say beside a study: what holds, what comes too close, and what to try next.

Everything said is tied to a measure, to how far that measure reaches among the works of an arrangement, and to works
that show it. Suggestions are questions to work with, not faults, and there are never many at once.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from archive.compare import Comparison, Gap
from archive.habits import Habits
from archive.suggesting import (
    MOST,
    OFFERED,
    SHOWN,
    Suggestion,
    among,
    count,
    masters,
    the_value,
    tones,
    value_name,
)
from ingest.reading import Reading
from ingest.words import capital, fraction, number

CLOSE = 15.0
"""L* under which two neighbouring values of a three-value study come close: a step and a half of Munsell value, where
a glance no longer parts them (our own number, from common practice)."""

_HOLDS = 0.7
"""Share of a value that falls on the same value of the work from which on that is said to hold."""


@dataclass(frozen=True)
class Advice:
    """holds: what the study has already, in sentences. values: whether its values are definite. next: what to try,
    first things first."""

    holds: tuple[str, ...]
    values: Suggestion
    next: tuple[Suggestion, ...]


def advise(study: Reading, habits: Habits, compared: Comparison | None = None, master: str = "") -> Advice:
    """Advice on a study among the works of an arrangement, and beside one of them when it was compared with it.

    master: the id of the compared work.
    """
    found = _from_gaps(study, habits, compared, master) if compared is not None else []
    told = {suggestion.measure for suggestion in found}
    for suggestion in among(study, habits):
        if _family(suggestion.measure) not in {_family(measure) for measure in told}:
            told.add(suggestion.measure)
            found.append(suggestion)
    return Advice(_holds(study, habits, compared), definite(study, habits), _spread_out(found[:MOST]))


MEASURES = (
    "light", "mid", "dark", "light_masses", "dark_masses", "breadth_light", "breadth_dark", "principality_light",
    "edge_light", "edge_dark", "crispness", "lightness_span", "gap_light_mid", "gap_mid_dark",
)  # fmt: skip
"""Measures whose habits advice is made from."""


def definite(study: Reading, habits: Habits) -> Suggestion:
    """Whether the study has a definite middle and a definite dark, with the step between them in L*."""
    seen = study.measures
    upper, lower = seen.gap_light_mid, seen.gap_mid_dark
    if seen.values_present == 1:
        words = "The study is one even tone."
        ask = "Which part is to be lightest? Leave the paper bare there, and lay one grey over the rest."
        return _on(habits, "lightness_span", seen.lightness_span, words, ask)
    if seen.values_present == 2:
        words = "The study speaks in two values, light and dark, with hardly a middle."
        return _on(habits, "mid", seen.mid, words, "If you meant three: which of the darks is really a middle?")
    if lower < CLOSE and lower <= upper:
        beside = _while(habits, "gap_mid_dark", lower)
        words = f"The middle and the dark come close: {lower:.0f} L* lie between them{beside}."
        ask = "Could the dark be pressed one step deeper, or the middle be lifted with a cloth?"
        return _on(habits, "gap_mid_dark", lower, words, ask)
    if upper < CLOSE:
        beside = _while(habits, "gap_light_mid", upper)
        words = f"The light and the middle come close: {upper:.0f} L* lie between them{beside}."
        ask = "Could the whole middle be laid a step darker at once, so that the paper shines?"
        return _on(habits, "gap_light_mid", upper, words, ask)
    words = (
        f"There is a definite middle and a definite dark: {lower:.0f} L* lie between them, and {upper:.0f} L* "
        "between middle and light."
    )
    return _on(habits, "gap_mid_dark", lower, words, "")


def _while(habits: Habits, measure: str, yours: float) -> str:
    habit = habits.by_measure.get(measure)
    if habit is None:
        return ""
    keep = f"{masters(habits)} keep {tones(habit.low, habit.high)}"
    return f", where {keep}" if yours < habit.low else f"; a small study wants more, though {keep}"


def _on(habits: Habits, measure: str, yours: float, seen: str, ask: str) -> Suggestion:
    habit = habits.by_measure.get(measure)
    if habit is None:
        return Suggestion(measure, yours, None, None, seen, ask, ())
    return Suggestion(measure, yours, habit.low, habit.high, seen, ask, habit.examples(SHOWN) if ask else ())


# -- what holds --------------------------------------------------------------------------------------------------


def _holds(study: Reading, habits: Habits, compared: Comparison | None) -> tuple[str, ...]:
    found = []
    if compared is not None:
        falls = [value for value in ("light", "dark") if compared.agreement.get(value, 0.0) >= _HOLDS]
        for value in falls:
            found.append(f"{capital(fraction(compared.agreement[value]))} of your {value} falls on its {value}.")
    seen = study.measures
    shares = [habits.by_measure.get(value) for value in ("light", "mid", "dark")]
    values = (seen.light, seen.mid, seen.dark)
    if all(habit is not None and habit.outside(value, 0.03) == 0 for habit, value in zip(shares, values, strict=True)):
        found.append(f"You share out light, middle and dark much as {masters(habits)} do.")
    # Of masses that are to be joined it is not said that they are gathered.
    broken = {gap.value for gap in compared.parted[:1]} if compared is not None else set()
    for value, masses in (("light", seen.light_masses), ("dark", seen.dark_masses)):
        habit = habits.by_measure.get(f"{value}_masses")
        if habit is not None and masses and value not in broken and habit.outside(masses) == 0:
            found.append(f"Your {value}s are gathered in {count(masses)}, as with {masters(habits)}.")
    return tuple(found)


# -- beside one work ---------------------------------------------------------------------------------------------


def _from_gaps(study: Reading, habits: Habits, compared: Comparison, master: str) -> list[Suggestion]:
    found = []
    for gap in compared.parted[:1]:
        measure = f"breadth_{gap.value}"
        habit = habits.by_measure.get(measure)
        seen = (
            f"In the work the {gap.value} is one mass; in your study it lies in {number(len(gap.pieces))} pieces, "
            f"{_pieces(gap)}, and {the_value(gap.between)} parts them {gap.where}."
        )
        ask = f"What happens if you let the {gap.value} run through there?"
        others = habit.examples(OFFERED, (master,)) if habit is not None else ()
        works = tuple(dict.fromkeys(work for work in (master, *others) if work))
        low, high = (habit.low, habit.high) if habit is not None else (None, None)
        found.append(Suggestion(measure, float(getattr(study.measures, measure)), low, high, seen, ask, works))
    for gap in compared.closed[:1]:
        measure = f"{gap.value}_masses"
        seen = (
            f"You joined into one {gap.value} what the work keeps in {number(len(gap.pieces))} pieces, {_pieces(gap)}."
        )
        ask = (
            f"Is that the simplification you want, or is the {value_name(gap.between)} between them {gap.where} needed?"
        )
        works = (master,) if master else ()
        found.append(Suggestion(measure, float(getattr(study.measures, measure)), None, None, seen, ask, works))
    return found


def _pieces(gap: Gap) -> str:
    places = list(dict.fromkeys(gap.pieces))
    return places[0] if len(places) == 1 else f"{', '.join(places[:-1])} and {places[-1]}"


def _spread_out(found: list[Suggestion]) -> tuple[Suggestion, ...]:
    """The suggestions, each with works that the ones before did not show, as far as there are any."""
    shown: set[str] = set()
    result = []
    for one in found:
        fresh = [work for work in one.works if work not in shown]
        kept = tuple(fresh or one.works)[:SHOWN]
        shown |= set(kept)
        result.append(replace(one, works=kept))
    return tuple(result)


def _family(measure: str) -> str:
    """Measures of one family say the same thing in two ways: how a value is gathered."""
    for value in ("light", "dark"):
        if measure in (f"{value}_masses", f"breadth_{value}", f"principality_{value}"):
            return f"gathering of {value}"
    return measure
