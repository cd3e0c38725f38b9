"""Lessons on one thing to see: two values, one middle grey, a high key or a low one, lights joined, edges lost.

Where a lesson from an arrangement shows one layout in different hands, one of these shows one habit of the eye in
different layouts.  What belongs to each is common practice of drawing schools; which works show it is decided by what
was measured in them, and the amounts are our own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from archive.board import Board, BoardsError, new_id
from archive.boards import leaf_of
from archive.lessons import DUST, SIZE, questions
from archive.spread import spread
from archive.works import measured

if TYPE_CHECKING:
    from archive.store import Archive
    from archive.works import Work

_FEWEST = 4
"""Works that a lesson needs at least."""

_LOOKED_AT = 80
"""Works that show it most, among which a lesson chooses."""

_Measured = Mapping[str, Any]


@dataclass(frozen=True)
class Theme:
    """One thing to see.  ``by`` is the measure that tells how much a work shows it, the most first with a '-' before
    it, and ``shown`` what its measures must say besides; ``showing`` is how its leaves are shown, ``question`` what is
    asked on the first, ``last`` on the work that shows the opposite."""

    slug: str
    name: str
    aim: str
    task: str
    question: str
    last: str
    by: str
    shown: Callable[[_Measured], bool]
    showing: tuple[str, ...]


THEMES: tuple[Theme, ...] = (
    Theme(
        "two-values", "Two values", "To see how much of a picture two values carry, with hardly a middle between them.",
        "Choose a subject with the light on one side. Draw it four times, no larger than a playing card, in black and "
        "white alone, five minutes each; every middle must go to one side or the other. Which shapes could change "
        "sides, and what happens then?",
        "Squint until there are only two values. What has gone to the dark that is not dark?",
        "Here most lies in the middle. Would you send it to the light or to the dark, and what would be lost?",
        "mid", lambda m: m["mid"] <= 0.35 and m["light"] >= 0.15 and m["dark"] >= 0.15,
        ("painting", "squint", "two"),
    ),
    Theme(
        "one-middle-grey", "One middle grey", "To see the middle as one joined shape, in which lights are left and on "
        "which darks are laid.",
        "Leave the paper for the lights and lay one even middle over everything else, in one go and without a stop. "
        "Then only the darks. Four studies, no larger than a playing card, ten minutes each. Does the middle hold "
        "together if you leave the darks away?",
        "Find the middle value and follow it with a finger, without lifting it. How far do you come?",
        "Here the middle lies in pieces. Which of them could be joined, and what would have to go?",
        "-breadth_mid", lambda m: m["breadth_mid"] >= 0.85 and m["mid"] >= 0.3 and m["values_present"] == 3,
        ("painting", "squint", "three"),
    ),
    Theme(
        "high-key", "In a high key", "To see how a picture in light tones keeps its shapes apart.",
        "Mix or choose three greys, none darker than the middle of your scale, and lay a subject in these alone: four "
        "studies, no larger than a playing card, ten minutes each. Where is the one place that may go darker?",
        "What is the darkest tone here, and how dark is it beside the ink on this page?",
        "The same three values, far lower. What does the dark give this picture that the others do without?",
        "-median_lightness", lambda m: m["register"] == "upper" and m["lightness_span"] >= 25,
        ("painting", "squint", "five", "three"),
    ),
    Theme(
        "low-key", "In a low key", "To see how little light a picture needs, and how its darks stay apart.",
        "Tone the whole paper dark first and lift the lights out of it, or leave them: four studies, no larger than a "
        "playing card, ten minutes each, with no more than a tenth of light. What did you have to give up?",
        "How much of this is light? Guess, then count it off on the map.",
        "The same three values, far higher. What does the light give this picture that the others do without?",
        "median_lightness", lambda m: m["register"] == "lower" and m["light"] <= 0.25 and m["lightness_span"] >= 25,
        ("painting", "squint", "five", "three"),
    ),
    Theme(
        "lights-joined", "Lights joined", "To see many things that are light gathered in one shape.",
        "Choose a subject with several light things. Draw it four times, no larger than a playing card, in three "
        "values, ten minutes each, and let one more of the lights flow into its neighbour each time. When is it one "
        "shape, and can you still tell the things apart?",
        "Name everything that lies in the largest light. What did the painter let go so that it joins?",
        "Here the light lies in many pieces. What leads the eye from one to the next?",
        "-breadth_light", lambda m: m["breadth_light"] >= 0.8 and 0.1 <= m["light"] <= 0.5 and m["mid"] >= 0.1,
        ("painting", "squint", "three", "two"),
    ),
    Theme(
        "edges-lost", "Edges lost and found", "To see where shapes pass into one another, and where they are cut off.",
        "Draw one subject four times, no larger than a playing card, in three values, ten minutes each. Let all edges "
        "be soft but one. Move that one each time. Where does the eye go?",
        "Follow the edge of the largest light. Where is it lost, and where is it found again?",
        "Here nearly every edge is found. Which one would you lose first, and what would it let through?",
        "crispness", lambda m: m["crispness"] <= 0.35 and m["light_masses"] >= 1 and m["lightness_span"] >= 30,
        ("painting", "squint", "three"),
    ),
)  # fmt: skip


def lesson_on(archive: Archive, slug: str, *, size: int = SIZE) -> Board:
    """A board on one thing to see: ``size`` works that show it, well spread, one that shows the opposite, questions, a
    task.

    Raises `BoardsError` when there is no such theme, or fewer than four works of the archive show it.
    """
    theme = next((each for each in THEMES if each.slug == slug), None)
    if theme is None:
        message = f"There is no theme “{slug[:80]}”; there are {', '.join(each.slug for each in THEMES)}."
        raise BoardsError(message)
    fitting = _showing(archive, theme)
    if len(fitting) < _FEWEST:
        message = f"“{theme.name}” needs at least four works that show it, and this archive has {len(fitting)}."
        raise BoardsError(message)
    chosen = spread(fitting, size)
    asked = [theme.question, *questions(chosen[1:], (theme.question,))]
    leaves = [
        leaf_of(archive, work["work"], showing=theme.showing, note=work["sentence"], question=question)
        for work, question in zip(chosen, asked, strict=True)
    ]
    opposite = _opposite(archive, theme)
    if opposite is not None:
        leaves.append(
            leaf_of(
                archive, opposite["work"], showing=theme.showing, note=opposite["sentence"], question=theme.last
            )
        )  # fmt: skip
    return Board(
        new_id(),
        theme.name,
        aim=theme.aim,
        notes=(
            "Let the class squint at each painting and say what they see before you show it squinted at and in fewer "
            "values. The note of a leaf says what was measured in it; let the class find it first."
            f"{' The last leaf is the opposite.' if opposite is not None else ''}\n\n{DUST}"
        ),
        task=theme.task,
        leaves=tuple(leaves),
    )


def _showing(archive: Archive, theme: Theme) -> list[Work]:
    """Works that show it, each with a degree, 1 for the one that shows it most; ties in the measure keep an order."""
    rows = archive.works(sort=theme.by, size=1000).works
    found: list[Work] = []
    for row in rows:
        work = archive.work(row["work"])
        if work is not None and theme.shown(measured(work)):
            found.append(work)
        if len(found) == _LOOKED_AT:
            break
    return [{**work, "degree": 1 - place / max(len(found), 1)} for place, work in enumerate(found)]


def _opposite(archive: Archive, theme: Theme) -> Work | None:
    """The work that shows the least of it; None when it shows it too."""
    by = theme.by.removeprefix("-") if theme.by.startswith("-") else f"-{theme.by}"
    for row in archive.works(sort=by, size=1).works:
        work = archive.work(row["work"])
        if work is not None and not theme.shown(measured(work)):
            return work
    return None
