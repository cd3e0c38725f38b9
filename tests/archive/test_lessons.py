"""Ready-made lessons: the rule by which works are chosen, and what stands on the boards."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from archive.board import Board, BoardsError, as_json, checked
from archive.lessons import DUST, LAST_QUESTION, QUESTIONS, contrast, exercise, lesson
from archive.spread import contrary, members, spread, subjects
from archive.store import Archive


def a_work(name: str, degree: float, **fields: Any) -> dict[str, Any]:
    """A work by hand; what is not given is the same for all of them."""
    plain = {
        "artist": "One Hand", "century": 17, "title": "Apples", "subjects": [], "types": [{"type": "bands"}],
        "measures": [{"measure": "register", "value": "lower"}, {"measure": "scale", "value": "limited"}],
    }  # fmt: skip
    return plain | {"work": name, "degree": degree} | fields


def names(works: list[dict[str, Any]]) -> list[str]:
    return [work["work"] for work in works]


def test_the_clearest_comes_first_and_then_other_hands_centuries_subjects_patterns() -> None:
    works = [
        a_work("clearest", 0.99),
        a_work("same in all", 0.95),
        a_work("other pattern", 0.9, measures=[{"measure": "register", "value": "upper"}]),
        a_work("other subject", 0.8, title="Ships"),
        a_work("other century", 0.7, century=18),
        a_work("other hand", 0.6, artist="Another"),
    ]
    expected = ["clearest", "other hand", "other century", "other subject", "other pattern", "same in all"]
    assert names(spread(works, 6)) == expected
    assert names(spread(works[::-1], 3)) == expected[:3]
    assert names(spread(works, 99)) == expected
    assert spread([], 4) == []


def test_a_hand_that_brings_a_century_too_goes_before_one_that_does_not() -> None:
    works = [
        a_work("clearest", 0.99),
        a_work("hand", 0.9, artist="Another"),
        a_work("hand and century", 0.6, artist="A third", century=15),
    ]
    assert names(spread(works, 2)) == ["clearest", "hand and century"]


def test_what_a_record_does_not_say_is_never_new() -> None:
    works = [
        a_work("clearest", 0.9),
        a_work("unknown", 0.8, artist="", century=None, title=""),
        a_work("hand", 0.5, artist="Another"),
    ]
    assert names(spread(works, 2)) == ["clearest", "hand"]


def test_subjects_come_from_the_record_and_else_from_the_title() -> None:
    assert subjects(a_work("a", 1, title="View of the Harbour with Ships")) == {"harbour", "ships"}
    assert subjects(a_work("a", 1, title="Ships", subjects=["Sea", "Harbours"])) == {"sea", "harbours"}


class OfOneArrangement:
    """What choosing members asks of an archive."""

    def __init__(self, works: list[dict[str, Any]]) -> None:
        self._works = {work["work"]: work for work in works}

    def works(self, **_: Any) -> SimpleNamespace:
        return SimpleNamespace(works=list(self._works.values()))

    def work(self, name: str) -> dict[str, Any]:
        return self._works[name]


def test_in_a_lesson_called_after_a_type_all_works_are_of_it() -> None:
    def member(name: str, type_: str) -> dict[str, Any]:
        kinds = [{"type": "bands", "degree": 0.5}, {"type": type_, "degree": 0.9}]
        return a_work(name, 0.9, types=kinds, arrangement_name="light mass on dark ground")

    works = [member("a", "light-on-dark"), member("b", "dark-on-light"), member("c", "light-on-dark")]
    of_it: Any = OfOneArrangement(works)
    assert names(members(of_it, "any", 2)) == ["a", "c"]
    assert names(members(of_it, "any", 3)) == ["a", "b", "c"], "two are too few for three"


@pytest.fixture(scope="module")
def archive(small_archive: Path) -> Iterator[Archive]:
    with Archive.open(small_archive) as opened:
        yield opened


@pytest.fixture(scope="module")
def slugs(archive: Archive) -> list[str]:
    found = [row["slug"] for row in archive.arrangements() if row["members"] >= 2]
    assert len(found) >= 2
    return found


def said(board: Board) -> str:
    return " ".join([board.title, board.aim, board.notes, board.task, *(x.note + x.question for x in board.leaves)])


def test_a_lesson_is_a_spread_of_members_and_the_contrary(archive: Archive, slugs: list[str]) -> None:
    board = lesson(archive, slugs[0], size=3)
    chosen = names(spread(members(archive, slugs[0], 3), 3))
    opposite = contrary(archive, slugs[0])
    assert opposite is not None
    assert [leaf.shown[0].work for leaf in board.leaves] == [*chosen, opposite["work"]]
    assert opposite["arrangement_slug"] not in (slugs[0], "")
    assert all(leaf.question and leaf.note and leaf.shown[0].record["credit"] for leaf in board.leaves)
    questions = [leaf.question for leaf in board.leaves[:-1]]
    assert len(set(questions)) == len(questions)
    assert board.leaves[-1].question == LAST_QUESTION
    assert DUST in board.notes
    assert board.task
    assert checked(board) == board
    again = as_json(lesson(archive, slugs[0], size=3))["leaves"]
    assert [leaf["shown"] for leaf in again] == [leaf["shown"] for leaf in as_json(board)["leaves"]]


def test_a_question_is_only_put_where_the_measures_call_for_it(archive: Archive, slugs: list[str]) -> None:
    fits = dict(QUESTIONS)
    for slug in slugs:
        for leaf in lesson(archive, slug).leaves[:-1]:
            work = archive.work(leaf.shown[0].work)
            assert work is not None
            assert fits[leaf.question]({row["measure"]: row["value"] for row in work["measures"]})


def test_a_lost_edge_and_a_second_light_are_asked_for_only_where_they_are() -> None:
    def asked(**measured: float) -> str:
        return " ".join(text for text, fits in QUESTIONS if fits(measured))

    hard = asked(light_masses=1, crispness=0.94, interchange=0.0)
    assert "lost" not in hard
    assert "smallest light" not in hard
    assert "against the dark" not in hard
    soft = asked(light_masses=2, crispness=0.1, interchange=0.9)
    assert "Where is it lost, where is it found again" in soft
    assert "smallest light" in soft
    assert "light against the dark and, elsewhere, dark against the light" in soft


def test_the_notes_of_a_lesson_tell_the_order_in_which_its_leaves_are_shown(archive: Archive, slugs: list[str]) -> None:
    board = lesson(archive, slugs[0], size=2)
    ways = {"painting": "painting", "squint": "squinted at", "three": "in three values", "two": "in two"}
    places = [board.notes.index(ways[way]) for way in board.leaves[0].showing]
    assert places == sorted(places)


def test_the_contrary_is_the_typical_work_that_is_least_like(archive: Archive, slugs: list[str]) -> None:
    import numpy as np
    from skimage.transform import downscale_local_mean

    from ingest.signature import fields

    typical = {row["slug"]: row["medoid"] for row in archive.arrangements() if row["medoid"]}
    rows = {work: row for row, work in enumerate(archive.work_ids())}

    def tones(slug: str) -> Any:
        return downscale_local_mean(fields(archive.signatures()[[rows[typical[slug]]]])[0], (2, 2))

    own = tones(slugs[0])
    alike = {
        slug: max(np.corrcoef(own.ravel(), other.ravel())[0, 1] for other in (tones(slug), tones(slug)[:, ::-1]))
        for slug in typical
        if slug != slugs[0]
    }
    opposite = contrary(archive, slugs[0])
    assert opposite is not None
    assert opposite["work"] == typical[min(alike, key=lambda slug: alike[slug])]


def test_a_contrast_pairs_works_of_two_arrangements(archive: Archive, slugs: list[str]) -> None:
    board = contrast(archive, slugs[0], slugs[1], pairs=2)
    groups = [[archive.work(shown.work)["arrangement_slug"] for shown in leaf.shown] for leaf in board.leaves]  # type: ignore[index]
    assert groups == [slugs[:2]] * 2
    assert len({shown.work for leaf in board.leaves for shown in leaf.shown}) == 4
    assert checked(board) == board
    with pytest.raises(BoardsError, match="different"):
        contrast(archive, slugs[0], slugs[0])


def test_an_exercise_has_its_answers_at_the_end_and_nowhere_before(archive: Archive, slugs: list[str]) -> None:
    board = exercise(archive, slugs[:2], each=2, seed=5)
    riddles, answers = board.leaves[:-2], board.leaves[-2:]
    named = {row["slug"]: row["name"] for row in archive.arrangements()}
    for leaf in riddles:
        assert leaf.showing == ("three",)
        assert not leaf.note
    before = " ".join([board.title, board.aim, board.task, *(leaf.question for leaf in riddles)])
    for slug, answer in zip(slugs[:2], answers, strict=True):
        assert named[slug] not in before
        right = [
            str(number)
            for number, leaf in enumerate(riddles, 1)
            if archive.work(leaf.shown[0].work)["arrangement_slug"] == slug  # type: ignore[index]
        ]
        assert answer.note.startswith(f"Leaves {' and '.join(right)} belong together: {named[slug]}")
    orders = {
        tuple(leaf.shown[0].work for leaf in exercise(archive, slugs[:2], each=2, seed=n).leaves) for n in range(8)
    }
    assert len(orders) > 1
    again = exercise(archive, slugs[:2], each=2, seed=5)
    assert [leaf.shown for leaf in again.leaves] == [leaf.shown for leaf in board.leaves]


def test_arrangements_that_are_not_there_are_refused(archive: Archive, slugs: list[str]) -> None:
    for ask in (
        lambda: lesson(archive, "nothing"),
        lambda: contrast(archive, slugs[0], "nothing"),
        lambda: exercise(archive, ["nothing", slugs[0]]),
    ):
        with pytest.raises(BoardsError, match="no arrangement"):
            ask()
    with pytest.raises(BoardsError, match="two to"):
        exercise(archive, slugs[:1])
