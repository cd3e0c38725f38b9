"""What is said beside a study: tied to measures, to habits, and to works that show them."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from archive.advice import CLOSE, MEASURES, advise, definite
from archive.compare import compare
from archive.habits import Habit, Habits, habits
from archive.placing import Placer
from archive.store import Archive
from archive.suggesting import MOST
from ingest.lightness import grey_code
from ingest.picture import read_picture
from ingest.reading import Reading, read_tone

NOTHING = Habits("", "", 0, {})


def reading(labels: np.ndarray, tones: tuple[float, float, float], path: Path) -> Reading:
    """A flat picture of a map, (h, w) 0 to 2, in three tones of L*; eight px to a cell."""
    codes = np.array([grey_code(tone) for tone in tones], dtype=np.uint8)[labels]
    Image.fromarray(np.kron(codes, np.ones((8, 8), dtype=np.uint8))).save(path)
    return read_tone(read_picture(path, part="whole"))


def spots(count: int, size: int = 5) -> np.ndarray:
    """A middle ground with a dark foot and so many square lights in a row above it."""
    labels = np.ones((30, 42), dtype=np.uint8)
    labels[22:] = 0
    for number in range(count):
        labels[8 : 8 + size, 2 + 7 * number + number // 4 * 4 : 2 + 7 * number + number // 4 * 4 + size] = 2
    return labels


def of_lights(low: float, high: float) -> Habits:
    """Works that keep their lights in so many masses."""
    return Habits("a", "a", 9, {"light_masses": Habit("light_masses", low, (low + high) / 2, high, ("w1", "w2", "w3"))})


def test_lights_in_more_masses_than_the_masters_keep(tmp_path: Path) -> None:
    study = reading(spots(5), (20, 56, 94), tmp_path / "five.png")
    assert study.measures.light_masses == 5, "told by hand"
    (said,) = advise(study, of_lights(1, 2)).next
    assert said.measure == "light_masses"
    assert (said.yours, said.low, said.high) == (5, 1, 2)
    assert said.seen == "The masters of this arrangement keep their lights in one or two masses; yours are in five."
    assert said.ask.startswith("Try joining the two ") or said.ask.startswith("Try joining the one ")
    assert said.works == ("w1", "w2", "w3")


def test_what_lies_within_their_habit_is_no_matter_for_advice(tmp_path: Path) -> None:
    study = reading(spots(2), (20, 56, 94), tmp_path / "two.png")
    said = advise(study, of_lights(1, 2))
    assert said.next == ()
    assert said.holds == ("Your lights are gathered in two masses, as with the masters of this arrangement.",)


def test_one_light_where_they_have_several(tmp_path: Path) -> None:
    study = reading(spots(1), (20, 56, 94), tmp_path / "one.png")
    (said,) = advise(study, of_lights(3, 5)).next
    assert "three to five masses; yours is in one" in said.seen
    assert "second, smaller light" in said.ask


def of_dark(low: float, high: float) -> Habits:
    """Works that make so much of the picture dark, 0..1."""
    return Habits("a", "a", 9, {"dark": Habit("dark", low, (low + high) / 2, high, ("w1", "w2", "w3"))})


def test_a_share_is_not_called_by_the_name_of_the_range_it_lies_outside(tmp_path: Path) -> None:
    study = reading(spots(1), (20, 56, 94), tmp_path / "one.png")
    assert 0.225 < study.measures.dark < 0.29, "a quarter, told by hand"
    (said,) = advise(study, of_dark(0.36, 0.6)).next
    assert said.seen.endswith("make a third to three fifths of the picture dark; yours has a quarter.")
    near = dataclasses.replace(study, measures=dataclasses.replace(study.measures, dark=0.45))
    (said,) = advise(near, of_dark(0.54, 0.69)).next
    assert said.seen == "The masters of this arrangement make 54 to 69 % of the picture dark; yours has 45 %."


@pytest.mark.parametrize(
    ("tones", "measure", "words"),
    [
        ((46, 56, 94), "gap_mid_dark", "The middle and the dark come close: "),
        ((46, 81, 94), "gap_light_mid", "The light and the middle come close: "),
        ((20, 56, 94), "gap_mid_dark", "There is a definite middle and a definite dark: 36 L* lie between them"),
        ((20, 20, 94), "mid", "The study speaks in two values"),
        ((56, 56, 56), "lightness_span", "The study is one even tone."),
    ],
)
def test_a_definite_middle_and_a_definite_dark(
    tmp_path: Path, tones: tuple[float, float, float], measure: str, words: str
) -> None:
    said = definite(reading(spots(2, 6), tones, tmp_path / "tones.png"), NOTHING)
    assert said.measure == measure
    assert said.seen.startswith(words)
    assert bool(said.ask) == (tones != (20, 56, 94)), "nothing is asked where the values are definite"


def test_how_close_is_close(tmp_path: Path) -> None:
    for gap in (CLOSE - 3, CLOSE + 3):
        said = definite(reading(spots(2, 6), (56 - gap, 56, 94), tmp_path / "gap.png"), NOTHING)
        assert ("come close" in said.seen) == (gap < CLOSE)
        assert said.yours == pytest.approx(gap, abs=1.5)


def test_close_values_are_held_against_the_masters_too(tmp_path: Path) -> None:
    study = reading(spots(2, 6), (46, 56, 94), tmp_path / "close.png")
    for low, high, words in (
        (20, 30, ", where the works here keep 20 to 30 L*."),
        (6, 30, "; a small study wants more"),
    ):
        masters = Habits("", "", 9, {"gap_mid_dark": Habit("gap_mid_dark", low, 25, high, ("w",))})
        said = definite(study, masters)
        assert words in said.seen
        assert said.works == ("w",)


def test_what_is_joined_there_and_broken_here_comes_first(tmp_path: Path) -> None:
    there = spots(0)
    there[8:14, 4:36] = 2
    here = there.copy()
    here[8:14, 18:21] = 1
    study = reading(here, (20, 56, 94), tmp_path / "here.png")
    master = reading(there, (20, 56, 94), tmp_path / "there.png")
    first = advise(study, NOTHING, compare(study, master), "the-work").next[0]
    assert first.measure == "breadth_light"
    assert first.seen.startswith("In the work the light is one mass; in your study it lies in two pieces, ")
    assert "the middle parts them" in first.seen
    assert first.works == ("the-work",)
    praised = "Your lights are gathered in two masses, as with the masters of this arrangement."
    assert praised in advise(study, of_lights(1, 2)).holds
    assert praised not in advise(study, of_lights(1, 2), compare(study, master), "the-work").holds
    back = advise(master, NOTHING, compare(master, study), "the-work").next[0]
    assert "You joined into one light what the work keeps in two pieces" in back.seen


def test_never_more_than_a_few_and_each_with_works_of_its_own(small_archive: Path, tmp_path: Path) -> None:
    archive = Archive.open(small_archive)
    study = reading(spots(5), (46, 56, 94), tmp_path / "study.png")
    for row in archive.arrangements():
        asked = habits(archive, MEASURES, row["slug"])
        said = advise(study, asked)
        assert len(said.next) <= MOST
        for one in said.next:
            assert one.seen.endswith(".")
            assert one.ask.endswith(("?", ".", ")"))
            assert one.measure in MEASURES
            assert one.low is not None
            for work in one.works:
                values = {m["measure"]: m["value"] for m in (archive.work(work) or {})["measures"]}
                assert one.low <= values[one.measure] <= one.high, "the works shown do what is said of them"


def test_habits_are_the_quartiles_of_the_works_of_an_arrangement(small_archive: Path) -> None:
    """Against numpy's percentile with linear interpolation, which is method 'inclusive' of statistics.quantiles."""
    archive = Archive.open(small_archive)
    everything = archive.works(size=1000).works
    values = sorted(
        next(m["value"] for m in (archive.work(w["work"]) or {})["measures"] if m["measure"] == "light")
        for w in everything
    )
    found = habits(archive, ["light"]).by_measure["light"]
    assert [found.low, found.middle, found.high] == pytest.approx(np.percentile(values, [25, 50, 75]))
    assert habits(archive, ["light"], "no-such-arrangement").slug == ""
    assert habits(archive, ["no such measure"]).by_measure == {}


def test_outside_is_measured_from_the_quartile() -> None:
    habit = Habit("light", 0.2, 0.3, 0.4, ("a", "b", "c", "d"))
    assert habit.outside(0.35) == 0
    assert habit.outside(0.44, 0.05) == 0
    assert habit.outside(0.5, 0.05) == pytest.approx(0.1)
    assert habit.outside(0.1) == pytest.approx(-0.1)
    assert habit.examples(2, avoid=("a",)) == ("b", "c")
    assert habit.examples(4, avoid=("a",)) == ("b", "c", "d", "a")


def test_a_work_is_placed_where_the_archive_keeps_it(small_archive: Path) -> None:
    archive = Archive.open(small_archive)
    placer = Placer.of(archive)
    for work in archive.works(size=8).works:
        if work["arrangement_slug"]:
            row = archive.connection.execute("SELECT * FROM measures WHERE work = ?", (work["work"],)).fetchone()
            (signature,) = archive.signatures()[work["row"]][None]
            stored = _stored(dict(row), signature)
            best = placer.nearest(stored)
            assert best is not None
            assert best.slug == work["arrangement_slug"]
            assert best.degree == pytest.approx(work["degree"], abs=1e-3)
    assert Placer(None, ()).place([stored]) == [()]
    assert Placer(None, ()).nearest(stored) is None


def _stored(row: dict[str, object], signature: np.ndarray) -> Reading:
    """A reading with nothing but what the archive stores."""
    from ingest.measures import Measures

    measures = Measures(**{field.name: row[field.name] for field in dataclasses.fields(Measures)})  # type: ignore[arg-type]
    return Reading(None, None, {}, measures, (), {}, signature, "")  # type: ignore[arg-type]
