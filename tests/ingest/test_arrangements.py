"""Groups of works built alike, found among drawn pictures whose layouts are known."""

from __future__ import annotations

import io
import json
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from painting import LAYOUTS, paint
from PIL import Image
from sklearn.metrics import adjusted_rand_score

from ingest.arrangement_features import features
from ingest.arrangement_types import TYPES
from ingest.arrangements import Arrangements, Model, fit
from ingest.measures import Measures
from ingest.reading import Reading, read
from ingest.signature import GRID

EACH = 8
SIZE = (160, 120)


@dataclass(frozen=True)
class Works:
    """What `fit` is given of n works, and the layout each was drawn after."""

    signatures: NDArray[np.uint8]
    types: NDArray[np.float64]
    measures: list[Measures]
    layouts: NDArray[np.int64]

    def part(self, rows: NDArray[np.int64]) -> Works:
        return Works(self.signatures[rows], self.types[rows], [self.measures[row] for row in rows], self.layouts[rows])


def reading_of(image: Image.Image) -> Reading:
    buffer = io.BytesIO()
    image.save(buffer, "PNG")
    return read(buffer.getvalue(), trim=False)


def gather(readings: list[Reading], layouts: list[int]) -> Works:
    return Works(
        np.stack([reading.signature for reading in readings]),
        np.array([[reading.types[kind.slug] for kind in TYPES] for reading in readings]),
        [reading.measures for reading in readings],
        np.array(layouts),
    )


def drawn(each: int = EACH, mirrored: bool = False) -> Works:
    readings, layouts = [], []
    for number, layout in enumerate(LAYOUTS):
        for seed in range(each):
            image = paint(layout, seed, SIZE)
            if mirrored:
                image = image.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
            readings.append(reading_of(image))
            layouts.append(number)
    return gather(readings, layouts)


@pytest.fixture(scope="module")
def works() -> Works:
    return drawn()


@pytest.fixture(scope="module")
def found(works: Works) -> Arrangements:
    return fit(works.signatures, works.types, works.measures)


def degrees(model: Model, works: Works) -> NDArray[np.float64]:
    return model.degrees(model.points(works.signatures, works.measures))


def nearest(arrangements: Arrangements, works: Works) -> NDArray[np.int64]:
    return degrees(arrangements.model, works).argmax(axis=1)


def test_works_of_one_layout_come_together(works: Works, found: Arrangements) -> None:
    assert adjusted_rand_score(works.layouts, nearest(found, works)) > 0.6
    given = fit(works.signatures, works.types, works.measures, count=len(LAYOUTS))
    assert adjusted_rand_score(works.layouts, nearest(given, works)) > 0.75


def test_every_work_is_in_one_group_by_a_degree(works: Works, found: Arrangements) -> None:
    count = len(works.measures)
    rows = [row for group in found.groups for row, _ in group.members]
    assert sorted(rows) == list(range(count))
    assert found.labels.shape == found.degrees.shape == (count,)
    for number, group in enumerate(found.groups):
        degrees = [degree for _, degree in group.members]
        assert degrees == sorted(degrees, reverse=True)
        assert all(0 < degree <= 1 for degree in degrees)
        for row, degree in group.members:
            assert degree == pytest.approx(found.degrees[row])
            assert found.labels[row] in (number, -1)


def test_groups_are_named_once_and_explained(found: Arrangements) -> None:
    slugs = [group.slug for group in found.groups]
    assert len(set(slugs)) == len(slugs)
    sizes = [len(group.members) for group in found.groups]
    assert sizes == sorted(sizes, reverse=True)
    for group in found.groups:
        assert group.name
        assert group.sentence.endswith(".")
        assert group.medoid in [row for row, _ in group.members]
        assert group.mean.shape == group.spread.shape == (GRID, GRID)
        assert 0 <= group.mean.min() <= group.mean.max() <= 100
        assert group.spread.min() >= 0


def test_a_work_without_clear_group_is_labelled_so(found: Arrangements) -> None:
    """A picture halfway between all groups belongs to none of them."""
    unclear = found.degrees[found.labels == -1]
    clear = found.degrees[found.labels >= 0]
    assert len(clear)
    assert not len(unclear) or unclear.max() <= clear.min()
    halfway = found.model.degrees(found.model.centres.mean(axis=0)[None])
    assert halfway.max() < np.median(found.degrees)


def test_the_model_survives_being_stored(works: Works, found: Arrangements) -> None:
    stored = json.loads(json.dumps(found.model.to_json()))
    again = Model.from_json(stored)
    before, after = degrees(found.model, works), degrees(again, works)
    np.testing.assert_allclose(after, before, atol=1e-12)
    np.testing.assert_allclose(before.sum(axis=1), 1)
    np.testing.assert_allclose(before.max(axis=1), found.degrees, atol=1e-9)


def test_a_mirrored_picture_belongs_to_the_same_group(works: Works, found: Arrangements) -> None:
    mirrored = drawn(each=3, mirrored=True)
    works = works.part(np.flatnonzero(np.arange(len(works.measures)) % EACH < 3))
    own = features(works.signatures, works.measures)
    other = features(mirrored.signatures, mirrored.measures)
    assert np.abs(own - other).mean() < 0.02 * np.abs(own).mean() + 0.01
    assert float((nearest(found, works) == nearest(found, mirrored)).mean()) > 0.96


def test_the_same_works_give_the_same_groups(works: Works, found: Arrangements) -> None:
    again = fit(works.signatures, works.types, works.measures, count=len(found.groups))
    np.testing.assert_array_equal(again.labels, found.labels)
    assert [group.slug for group in again.groups] == [group.slug for group in found.groups]


def test_the_order_of_the_works_matters_little(works: Works, found: Arrangements) -> None:
    order = np.random.default_rng(2).permutation(len(works.measures))
    shuffled = works.part(order)
    again = fit(shuffled.signatures, shuffled.types, shuffled.measures, count=len(found.groups))
    assert adjusted_rand_score(nearest(found, works)[order], nearest(again, shuffled)) > 0.8


@pytest.mark.parametrize("count", [4, 17])
def test_few_works_make_few_groups(works: Works, count: int) -> None:
    part = works.part(np.random.default_rng(count).permutation(len(works.measures))[:count])
    groups = fit(part.signatures, part.types, part.measures).groups
    assert 1 <= len(groups) <= count // 2
    assert sum(len(group.members) for group in groups) == count


def test_too_few_works_are_refused(works: Works) -> None:
    part = works.part(np.arange(3))
    with pytest.raises(ValueError, match="four"):
        fit(part.signatures, part.types, part.measures)
