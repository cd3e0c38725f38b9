"""What a kind teacher would say beside a study: what holds, what comes too close, and what to try next.

Everything said is tied to a measure, to how far that measure reaches among the works of an arrangement, and to works
that show it. Suggestions are questions to work with, not faults, and there are never many at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from archive.compare import Comparison, Gap, closest
from archive.habits import Habit, Habits
from ingest.reading import Reading
from ingest.words import fraction, number

CLOSE = 15.0
"""L* under which two neighbouring values of a three-value study come close: a step and a half of Munsell value, where
a glance no longer parts them (our own number, from common practice)."""

MOST = 3
"""Suggestions at once; a person can try one thing at a time."""

_SHOWN, _OFFERED = 3, 3 * (MOST + 1)
"""Works shown with each suggestion, and works to choose them from, so that no two suggestions show the same."""

_HOLDS = 0.7
"""Share of a value that falls on the same value of the work from which on that is said to hold."""


@dataclass(frozen=True)
class Suggestion:
    """measure: what it rests on; yours: its value in the study; low, high: the middle half of it among the works, None
    when it rests on the compared work alone. seen: what is there, in a sentence. ask: what to try, as a question.
    works: ids of works that show it."""

    measure: str
    yours: float
    low: float | None
    high: float | None
    seen: str
    ask: str
    works: tuple[str, ...]


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
    said = [said for told_by in _TOLD if (said := told_by.of(study, habits)) is not None]
    said.sort(key=lambda item: -item[0])
    for _, suggestion in said:
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
    keep = f"{_masters(habits)} keep {_tones(habit.low, habit.high)}"
    return f", where {keep}" if yours < habit.low else f"; a small study wants more, though {keep}"


def _on(habits: Habits, measure: str, yours: float, seen: str, ask: str) -> Suggestion:
    habit = habits.by_measure.get(measure)
    if habit is None:
        return Suggestion(measure, yours, None, None, seen, ask, ())
    return Suggestion(measure, yours, habit.low, habit.high, seen, ask, habit.examples(_SHOWN) if ask else ())


# -- what holds --------------------------------------------------------------------------------------------------


def _holds(study: Reading, habits: Habits, compared: Comparison | None) -> tuple[str, ...]:
    found = []
    if compared is not None:
        falls = [value for value in ("light", "dark") if compared.agreement.get(value, 0.0) >= _HOLDS]
        for value in falls:
            found.append(f"{_capital(fraction(compared.agreement[value]))} of your {value} falls on its {value}.")
    seen = study.measures
    shares = [habits.by_measure.get(value) for value in ("light", "mid", "dark")]
    values = (seen.light, seen.mid, seen.dark)
    if all(habit is not None and habit.outside(value, 0.03) == 0 for habit, value in zip(shares, values, strict=True)):
        found.append(f"You share out light, middle and dark much as {_masters(habits)} do.")
    for value, masses in (("light", seen.light_masses), ("dark", seen.dark_masses)):
        habit = habits.by_measure.get(f"{value}_masses")
        if habit is not None and masses and habit.outside(masses) == 0:
            found.append(f"Your {value}s are gathered in {_count(masses)}, as with {_masters(habits)}.")
    return tuple(found)


# -- beside one work ---------------------------------------------------------------------------------------------


def _from_gaps(study: Reading, habits: Habits, compared: Comparison, master: str) -> list[Suggestion]:
    found = []
    for gap in compared.parted[:1]:
        measure = f"breadth_{gap.value}"
        habit = habits.by_measure.get(measure)
        seen = (
            f"In the work the {gap.value} is one mass; in your study it lies in {number(len(gap.pieces))} pieces, "
            f"{_pieces(gap)}, and {_the(gap.between)} parts them {gap.where}."
        )
        ask = f"What happens if you let the {gap.value} run through there?"
        others = habit.examples(_OFFERED, (master,)) if habit is not None else ()
        works = tuple(dict.fromkeys(work for work in (master, *others) if work))
        low, high = (habit.low, habit.high) if habit is not None else (None, None)
        found.append(Suggestion(measure, float(getattr(study.measures, measure)), low, high, seen, ask, works))
    for gap in compared.closed[:1]:
        measure = f"{gap.value}_masses"
        seen = (
            f"You joined into one {gap.value} what the work keeps in {number(len(gap.pieces))} pieces, {_pieces(gap)}."
        )
        ask = f"Is that the simplification you want, or is the {_name(gap.between)} between them {gap.where} needed?"
        works = (master,) if master else ()
        found.append(Suggestion(measure, float(getattr(study.measures, measure)), None, None, seen, ask, works))
    return found


def _pieces(gap: Gap) -> str:
    places = list(dict.fromkeys(gap.pieces))
    return places[0] if len(places) == 1 else f"{', '.join(places[:-1])} and {places[-1]}"


# -- among the works of an arrangement ---------------------------------------------------------------------------


@dataclass(frozen=True)
class _Told:
    """A measure that suggestions are made from: how far past the works' middle half it must lie to be spoken of, and
    the words when it is above and below; None says nothing."""

    measure: str
    tolerance: float
    above: Callable[[float, Habit, Habits, Reading], tuple[str, str]] | None = None
    below: Callable[[float, Habit, Habits, Reading], tuple[str, str]] | None = None

    def of(self, study: Reading, habits: Habits) -> tuple[float, Suggestion] | None:
        """How many tolerances the study lies outside, and what is said."""
        habit = habits.by_measure.get(self.measure)
        if habit is None or study.measures.values_present == 1:
            return None
        value = float(getattr(study.measures, self.measure))
        off = habit.outside(value, self.tolerance)
        words = self.above if off > 0 else self.below
        if off == 0 or words is None:
            return None
        seen, ask = words(value, habit, habits, study)
        made = Suggestion(self.measure, value, habit.low, habit.high, seen, ask, habit.examples(_OFFERED))
        return abs(off) / self.tolerance, made


def _many_lights(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:
    return (
        f"{_capital(_masters(habits))} keep their lights in {_counts(habit)}; yours are in {number(round(value))}.",
        _joining(study, 2),
    )


def _few_lights(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
    here = f"yours is in {number(round(value))}" if value else "in yours there are only accents"
    return (
        f"{_capital(_masters(habits))} let their light lie in {_counts(habit)}; {here}.",
        "Is there a second, smaller light that could answer the first?" if value else
        "Where would you leave the paper bare, in one shape large enough to be seen across a room?",
    )  # fmt: skip


def _many_darks(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:
    return (
        f"{_capital(_masters(habits))} gather their darks in {_counts(habit)}; yours are in {number(round(value))}.",
        _joining(study, 0),
    )


def _joining(study: Reading, value: int) -> str:
    gap = closest(study.maps[3].labels, value)
    if gap is None:
        return "Could some of them be joined?"
    first, second = gap.pieces
    which = f"the two {first}" if first == second else f"the one {first} and the one {second}"
    return f"Try joining {which}, where only a little {_name(gap.between)} parts them. What is lost by it?"


def _share(words: str, ask: str, value: str) -> Callable[[float, Habit, Habits, Reading], tuple[str, str]]:
    def said(yours: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
        seen = (
            f"{_capital(_masters(habits))} {words} {_fractions(habit.low, habit.high)} of the picture {value}; "
            f"yours has {_fraction(yours)}."
        )
        return seen, ask

    return said


def _edge(value: str, ask: str) -> Callable[[float, Habit, Habits, Reading], tuple[str, str]]:
    def said(yours: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
        seen = (
            f"{_capital(_fraction(yours))} of the strip along your edge is {value}; with {_masters(habits)} it is "
            f"{_fractions(habit.low, habit.high)}."
        )
        return seen, ask

    return said


def _leading(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
    return (
        f"Your two largest lights are {'of one size' if value < 1.15 else f'{value:.1f} to 1'}; with "
        f"{_masters(habits)} the largest is {habit.low:.1f} or more times the second.",
        "Which of the two is to lead? Let the other grow smaller, or sink a little.",
    )


def _hard(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
    return (
        f"{_capital(_fraction(value))} of your borders are cut hard; with {_masters(habits)} it is "
        f"{_fractions(habit.low, habit.high)}.",
        "Which border could be lost, so that the ones that stay say more?",
    )


def _soft(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
    return (
        f"{_capital(_fraction(value))} of your borders are cut hard; with {_masters(habits)} it is "
        f"{_fractions(habit.low, habit.high)}.",
        "At which one place is the eye to go? Try a hard border there, and there alone.",
    )


def _narrow(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
    return (
        f"From your darks to your lights there are {value:.0f} L*; {_masters(habits)} span "
        f"{_tones(habit.low, habit.high)}.",
        "Could the deepest dark go as deep as your charcoal or ink will? (Or has the photo flattened it?)",
    )


_TOLD: tuple[_Told, ...] = (
    _Told("light_masses", 1.0, _many_lights, _few_lights),
    _Told("dark_masses", 1.0, _many_darks),
    _Told("light", 0.08,
          _share("leave", "Which of the lights could sink into the middle, so that the rest count for more?", "light"),
          _share("leave", "Could the main light be given more room?", "light")),
    _Told("dark", 0.08,
          _share("make", "Which of the darks could be lifted into the middle?", "dark"),
          _share("make", "Where could the dark be carried further, until it meets another dark or the edge?", "dark")),
    _Told("principality_light", 0.4, None, _leading),
    _Told("edge_light", 0.15,
          _edge("light", "If the edge sank a little, would the light inside grow stronger?")),
    _Told("edge_dark", 0.15,
          _edge("dark", "Where might the dark let go of the edge, so that air comes in?")),
    _Told("crispness", 0.2, _hard, _soft),
    _Told("lightness_span", 15.0, None, _narrow),
)  # fmt: skip


def _spread_out(found: list[Suggestion]) -> tuple[Suggestion, ...]:
    """The suggestions, each with works that the ones before did not show, as far as there are any."""
    shown: set[str] = set()
    result = []
    for one in found:
        fresh = [work for work in one.works if work not in shown]
        kept = tuple(fresh or one.works)[:_SHOWN]
        shown |= set(kept)
        result.append(replace(one, works=kept))
    return tuple(result)


def _family(measure: str) -> str:
    """Measures of one family say the same thing in two ways: how a value is gathered."""
    for value in ("light", "dark"):
        if measure in (f"{value}_masses", f"breadth_{value}", f"principality_{value}"):
            return f"gathering of {value}"
    return measure


# -- words -------------------------------------------------------------------------------------------------------


def _masters(habits: Habits) -> str:
    return "the masters of this arrangement" if habits.slug else "the works here"


def _counts(habit: Habit) -> str:
    low, high = max(1, round(habit.low)), max(1, round(habit.high))
    if low == high:
        return _count(low)
    return f"{number(low)} {'or' if high == low + 1 else 'to'} {number(high)} masses"


def _count(masses: int) -> str:
    return "one mass" if masses == 1 else f"{number(masses)} masses"


def _fraction(share: float) -> str:
    words = fraction(share)
    return "next to nothing" if words == "none" else words


def _fractions(low: float, high: float) -> str:
    first, last = _fraction(low), _fraction(high)
    if first == last:
        return first
    return f"at most {last}" if fraction(low) == "none" else f"{first} to {last}"


def _tones(low: float, high: float) -> str:
    return f"{low:.0f} to {high:.0f} L*"


def _name(value: str) -> str:
    return "middle" if value == "mid" else value


def _the(value: str) -> str:
    return f"the {_name(value)}"


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]
