"""Boards that are ready for a lesson: an arrangement, a contrast of two, an exercise in sorting.

Each returns a `Board` that is not kept yet; `archive.boards.Boards.take_in` keeps it.  Which works are taken is decided
by `archive.spread`; the same archive gives the same board.  The questions are the standing ones of the studio (common
practice), each put to a work that it fits by what was measured in it.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from archive.board import Board, BoardsError, Leaf, new_id
from archive.boards import leaf_of, shown_of
from archive.spread import contrary, members, spread
from archive.works import measured
from ingest.words import first_sentence, listed

if TYPE_CHECKING:
    from archive.store import Archive
    from archive.works import Work

SIZE = 8
"""Members on the board of an arrangement."""

PAIRS = 4
EACH = 4
MOST_SORTED = 4
"""Pairs of a contrast; works of each arrangement in an exercise, and how many arrangements it may have."""

_SEQUENCE = ("painting", "squint", "three", "two")

DUST = (
    "With charcoal or chalk: do not blow the dust away; tap it onto the sheet, wipe with a damp cloth, keep air "
    "moving. The rules of your school come first."
)

_Measured = Mapping[str, Any]
_ALWAYS: Callable[[_Measured], bool] = bool

QUESTIONS: tuple[tuple[str, Callable[[_Measured], bool]], ...] = (
    ("Squint: which is the largest shape of one value, and what things has the painter joined in it?", _ALWAYS),
    ("Which of the lights leads, and by what: its size, its brightness or its place?",
     lambda m: m.get("light_masses", 0) >= 2),
    ("More than half of this is dark. What keeps the darks from closing up?", lambda m: m.get("dark", 0) >= 0.5),
    ("More than half of this is light. What holds the lights in their places?", lambda m: m.get("light", 0) >= 0.5),
    ("Find a middle that looks light against the dark and, elsewhere, dark against the light. What does the change "
     "show?", lambda m: m.get("interchange", 0) >= 0.5),
    ("Where do the lightest light and the darkest dark meet, and what is to be seen there?",
     lambda m: m.get("contrast_step", 0) >= 30),
    ("The steps of tone are small here. What still parts the shapes?",
     lambda m: m.get("lightness_span", 100) < 45),
    ("Cover the smallest light with a finger. What does the picture lose?", lambda m: m.get("light_masses", 0) >= 2),
    ("Turn it upside down. Does the pattern still hold the eye, and where?", _ALWAYS),
    ("In which of the three values would you begin, and why?", _ALWAYS),
    ("Follow the edge of the largest light. Where is it lost, where is it found again, and what would a hard edge do "
     "where it is lost?", lambda m: m.get("light_masses", 0) >= 1 and m.get("crispness", 1) <= 0.4),
    ("What is the same here as on the leaf before, though all that is shown has changed?", _ALWAYS),
)  # fmt: skip
"""Questions for a class, each with what a work's measures must say for it to be asked."""

PAIR_QUESTIONS = (
    "Both painters had light and dark to give. Where did each of them put the most, and what for?",
    "Where does the eye go first in each, and which tones send it there?",
    "Name the largest dark of each. What things has the painter joined in it?",
    "Let the two change their grounds in your mind. What is lost in each?",
)
"""Questions for two works side by side, in turn."""

LAST_QUESTION = "This one is laid out the other way. What would the leaves before lose if they were built like it?"


def lesson(archive: Archive, slug: str, *, size: int = SIZE) -> Board:
    """A board of an arrangement: ``size`` well-spread members, a work built the other way, questions, a task.

    Raises `BoardsError` when there is no such arrangement.
    """
    group = _group(archive, slug)
    chosen = spread(members(archive, slug, size), size)
    leaves = [
        leaf_of(archive, work["work"], showing=_SEQUENCE, note=work["sentence"], question=question)
        for work, question in zip(chosen, questions(chosen), strict=True)
    ]
    opposite = contrary(archive, slug)
    if opposite is not None:
        leaves.append(
            leaf_of(
                archive, opposite["work"], showing=_SEQUENCE, note=opposite["sentence"], question=LAST_QUESTION
            )
        )  # fmt: skip
    name = group["name"]
    return Board(
        new_id(),
        _title(name),
        aim=f"To see one way of laying out light and dark, {name}, in different hands. "
        f"{first_sentence(group['sentence'])}",
        notes=(
            "Let the class squint at each painting and say where the light ends before you show it squinted at, in "
            "three values and in two. The note of a leaf says what was measured in it; let the class find it first. "
            f"The last leaf is the contrast.\n\n{DUST}"
        ),
        task=(
            f"Look for a subject of your own that can be laid out like this: {name}. Make four studies of it, each no "
            "larger than a playing card, in three values, ten minutes each; the largest shapes first, no detail. Then "
            "lay the clearest beside the leaves and say in one sentence what these painters joined that you kept apart."
        ),
        leaves=tuple(leaves),
    )


def contrast(archive: Archive, first: str, second: str, *, pairs: int = PAIRS) -> Board:
    """A board of two arrangements, a work of each side by side on every leaf, as near in date as can be.

    Raises `BoardsError` when one is not there, or both are the same.
    """
    if first == second:
        message = "A contrast needs two different arrangements."
        raise BoardsError(message)
    one, other = _group(archive, first), _group(archive, second)
    right = members(archive, second, pairs)
    leaves: list[Leaf] = []
    for work in spread(members(archive, first, pairs), pairs):
        if not right:
            break
        partner = min(right, key=lambda candidate: (_years_apart(work, candidate), -candidate["degree"]))
        right.remove(partner)
        leaves.append(
            Leaf(
                new_id(),
                (shown_of(archive, work["work"]), shown_of(archive, partner["work"])),
                ("three", "painting"),
                note=f"Left, {one['name']}: {work['sentence']}\nRight, {other['name']}: {partner['sentence']}",
                question=PAIR_QUESTIONS[len(leaves) % len(PAIR_QUESTIONS)],
            )
        )
    return Board(
        new_id(),
        _title(f"{one['name']} and {other['name']}"),
        aim=f"To tell two ways of laying out light and dark apart: {one['name']}, and {other['name']}.",
        notes=f"Left, {one['name']}: {one['sentence']}\n\nRight, {other['name']}: {other['sentence']}\n\n{DUST}",
        task=(
            "Draw one subject twice, each time no larger than a playing card and in three values: once laid out as on "
            "the left, once as on the right. Ten minutes each. What had to change places?"
        ),
        leaves=tuple(leaves),
    )


def exercise(archive: Archive, slugs: Sequence[str], *, each: int = EACH, seed: int = 0) -> Board:
    """'Which belong together?': value maps of two to `MOST_SORTED` arrangements, shuffled by ``seed``, to be sorted.

    The answers stand on the last leaves and nowhere before.  Raises `BoardsError` when an arrangement is not there.
    """
    wanted = list(dict.fromkeys(slugs))
    if not 2 <= len(wanted) <= MOST_SORTED:
        message = f"An exercise in sorting takes two to {MOST_SORTED} different arrangements."
        raise BoardsError(message)
    groups = [_group(archive, slug) for slug in wanted]
    sorted_works = {slug: spread(members(archive, slug, each), each) for slug in wanted}
    shuffled = [(slug, work) for slug in wanted for work in sorted_works[slug]]
    random.Random(seed).shuffle(shuffled)
    leaves = [
        leaf_of(archive, work["work"], showing=("three",), question="With which of the others does this one belong?")
        for _, work in shuffled
    ]
    for group in groups:
        numbers = [str(place) for place, (slug, _) in enumerate(shuffled, 1) if slug == group["slug"]]
        leaves.append(
            leaf_of(
                archive,
                sorted_works[group["slug"]][0]["work"],
                showing=("three", "painting"),
                note=f"Leaves {listed(numbers)} belong together: {group['name']}. {first_sentence(group['sentence'])}",
            )
        )
    return Board(
        new_id(),
        "Which belong together?",
        aim=f"To sort {len(shuffled)} value maps into {len(groups)} heaps by how light and dark are laid out.",
        notes=f"The last {len(groups)} leaves are the answers; on paper, keep them back. There may be other good ways "
        "to sort: ask for the reason before showing ours.",
        task=(
            f"Lay the maps into {len(groups)} heaps by their pattern alone, not by what they show. Give each heap one "
            "sentence that is true of all of its maps and of no other."
        ),
        leaves=tuple(leaves),
    )


def _group(archive: Archive, slug: str) -> dict[str, Any]:
    group = archive.arrangement(slug)
    if group is None or not group["members"]:
        message = f"The archive has no arrangement “{slug[:80]}”."
        raise BoardsError(message)
    return group


def questions(works: Sequence[Work], before: Sequence[str] = ()) -> list[str]:
    """A question for each work: one that its measures call for before a standing one, none twice, nor one of those
    asked ``before``, while others fit."""
    asked = list(before)
    for work in works:
        found = measured(work)
        fitting = [(text, fits) for text, fits in QUESTIONS if fits(found)]
        fresh = [pair for pair in fitting if pair[0] not in asked] or fitting
        asked.append(next((text for text, fits in fresh if fits is not _ALWAYS), fresh[0][0]))
    return asked[len(before) :]


def _years_apart(work: Work, other: Work) -> int:
    own, others = (each["begin_year"] if each["begin_year"] is not None else each["end_year"] for each in (work, other))
    return abs(own - others) if own is not None and others is not None else 10**6


def _title(name: str) -> str:
    return name[:1].upper() + name[1:200]
