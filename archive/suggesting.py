"""Suggestions from how a study's measures lie among those of the works of an arrangement, and the words they share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from archive.compare import closest
from archive.habits import Habit, Habits
from ingest.reading import Reading
from ingest.words import capital, fraction, number

MOST = 3
"""Suggestions at once; a person can try one thing at a time."""

SHOWN, OFFERED = 3, 3 * (MOST + 1)
"""Works shown with each suggestion, and works to choose them from, so that no two suggestions show the same."""


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


def among(study: Reading, habits: Habits) -> list[Suggestion]:
    """What lies outside the middle half of the works, that which lies furthest outside first."""
    said = [said for told in _TOLD if (said := told.of(study, habits)) is not None]
    said.sort(key=lambda item: -item[0])
    return [suggestion for _, suggestion in said]


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
        made = Suggestion(self.measure, value, habit.low, habit.high, seen, ask, habit.examples(OFFERED))
        return abs(off) / self.tolerance, made


def _many_lights(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:
    return (
        f"{capital(masters(habits))} keep their lights in {counts(habit)}; yours are in {number(round(value))}.",
        _joining(study, 2),
    )


def _few_lights(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
    here = f"yours is in {number(round(value))}" if value else "in yours there are only accents"
    return (
        f"{capital(masters(habits))} let their light lie in {counts(habit)}; {here}.",
        "Is there a second, smaller light that could answer the first?" if value else
        "Where would you leave the paper bare, in one shape large enough to be seen across a room?",
    )  # fmt: skip


def _many_darks(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:
    return (
        f"{capital(masters(habits))} gather their darks in {counts(habit)}; yours are in {number(round(value))}.",
        _joining(study, 0),
    )


def _joining(study: Reading, value: int) -> str:
    gap = closest(study.maps[3].labels, value)
    if gap is None:
        return "Could some of them be joined?"
    first, second = gap.pieces
    which = f"the two {first}" if first == second else f"the one {first} and the one {second}"
    return f"Try joining {which}, where only a little {value_name(gap.between)} parts them. What is lost by it?"


def _share(words: str, ask: str, value: str) -> Callable[[float, Habit, Habits, Reading], tuple[str, str]]:
    def said(yours: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
        theirs, own = _told_apart(habit, yours)
        return f"{capital(masters(habits))} {words} {theirs} of the picture {value}; yours has {own}.", ask

    return said


def _edge(value: str, ask: str) -> Callable[[float, Habit, Habits, Reading], tuple[str, str]]:
    def said(yours: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
        theirs, own = _told_apart(habit, yours)
        seen = f"{capital(own)} of the strip along the edge of your picture is {value}; with {masters(habits)} it is "
        return f"{seen}{theirs}.", ask

    return said


def _leading(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
    here = (
        "Your two largest lights are of one size"
        if value < 1.15
        else f"Your largest light is {value:.1f} times the next"
    )
    return (
        f"{here}; with {masters(habits)} it is mostly {habit.low:.1f} times or more.",
        "Which of the two is to lead? Let the other grow smaller, or sink a little.",
    )


def _hard(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
    return (
        _edges(value, habit, habits),
        "Squint: which edge could be lost, so that the ones that stay say more?",
    )


def _soft(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
    return (
        _edges(value, habit, habits),
        "At which one place is the eye to go? Try a hard edge there, and there alone.",
    )


def _edges(value: float, habit: Habit, habits: Habits) -> str:
    theirs, own = _told_apart(habit, value)
    return f"{capital(own)} of the edges of your shapes are hard; with {masters(habits)} it is {theirs}."


def _narrow(value: float, habit: Habit, habits: Habits, study: Reading) -> tuple[str, str]:  # noqa: ARG001
    return (
        f"From your darks to your lights there are {value:.0f} L*; {masters(habits)} span "
        f"{tones(habit.low, habit.high)}.",
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
          _share("make", "Where could the dark be carried further, to another dark or to the picture’s edge?", "dark")),
    _Told("principality_light", 0.4, None, _leading),
    _Told("edge_light", 0.15,
          _edge("light", "If the edge sank a little, would the light inside grow stronger?")),
    _Told("edge_dark", 0.15,
          _edge("dark", "Where might the dark let go of the edge, so that air comes in?")),
    _Told("crispness", 0.2, _hard, _soft),
    _Told("lightness_span", 15.0, None, _narrow),
)  # fmt: skip


# -- words -------------------------------------------------------------------------------------------------------


def masters(habits: Habits) -> str:
    """Whose habits these are."""
    return "the masters of this arrangement" if habits.slug else "the works here"


def counts(habit: Habit) -> str:
    """How many masses the middle half of the works has."""
    low, high = max(1, round(habit.low)), max(1, round(habit.high))
    if low == high:
        return count(low)
    return f"{number(low)} {'or' if high == low + 1 else 'to'} {number(high)} masses"


def count(masses: int) -> str:
    """A number of masses."""
    return "one mass" if masses == 1 else f"{number(masses)} masses"


def share_words(share: float) -> str:
    """A share of 0..1, nothing said as next to nothing."""
    words = fraction(share)
    return "next to nothing" if words == "none" else words


def range_words(low: float, high: float) -> str:
    """From one share of 0..1 to another."""
    first, last = share_words(low), share_words(high)
    if first == last:
        return first
    return f"at most {last}" if fraction(low) == "none" else f"{first} to {last}"


def tones(low: float, high: float) -> str:
    """From one L* to another."""
    return f"{low:.0f} to {high:.0f} L*"


def _told_apart(habit: Habit, yours: float) -> tuple[str, str]:
    """The works' shares and the study's, in plain fractions; in hundredths where one fraction would name both."""
    own = share_words(yours)
    if own not in (share_words(habit.low), share_words(habit.high)):
        return range_words(habit.low, habit.high), own
    low, high = (round(100 * share) for share in (habit.low, habit.high))
    return (f"{low} to {high} %" if low < high else f"{low} %"), f"{100 * yours:.0f} %"


def value_name(value: str) -> str:
    """A value as it is spoken of."""
    return "middle" if value == "mid" else value


def the_value(value: str) -> str:
    """A value with its article."""
    return f"the {value_name(value)}"
