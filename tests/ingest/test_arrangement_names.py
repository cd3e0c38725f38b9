"""Names of groups say what their mean shows, and no name is given twice."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from ingest.arrangement_names import TOLD, difference, name_groups
from ingest.arrangement_types import TYPES

Pattern = NDArray[np.float32]
V, U = (np.mgrid[0:32, 0:32] + 0.5) / 32
FLAT = np.zeros((32, 32), dtype=np.float32)
INSIDE = (abs(U - 0.5) < 0.2) & (abs(V - 0.5) < 0.2)

PATTERNS: dict[str, Pattern] = {
    "light above, dark below": (1 - 2 * V).astype(np.float32),
    "dark above, light below": (2 * V - 1).astype(np.float32),
    "light within dark": np.where(INSIDE, 1.0, -0.3).astype(np.float32),
    "dark within light": np.where(INSIDE, -1.0, 0.3).astype(np.float32),
    "light beside dark": (2 * U - 1).astype(np.float32),
    "light and dark interwoven": FLAT,
}


def named(means: list[Pattern], slugs: list[str] | None = None) -> list[tuple[str, str, str]]:
    """Names of groups of four works each; all works of a group are of the type given for it."""
    nearest = np.repeat(np.arange(len(means)), 4)
    types = np.zeros((len(nearest), len(TYPES)))
    for group, slug in enumerate(slugs or []):
        types[nearest == group, [kind.slug for kind in TYPES].index(slug)] = 0.9
    table = np.random.default_rng(3).uniform(0, 1, (len(nearest), len(TOLD)))
    return [(one.slug, one.name, one.sentence) for one in name_groups(nearest, means, types, table)]


@pytest.mark.parametrize("name", PATTERNS)
def test_a_group_without_a_frequent_type_is_named_by_its_mean(name: str) -> None:
    slug, found, sentence = named([PATTERNS[name]])[0]
    assert found == name
    assert slug == name.replace(",", "").replace(" ", "-")
    assert "no named type is frequent in it" in sentence


def test_a_group_that_is_mostly_of_a_type_takes_its_name_and_sentence() -> None:
    slug, name, sentence = named([FLAT], ["wings"])[0]
    wings = next(kind for kind in TYPES if kind.slug == "wings")
    assert name == wings.name
    assert slug == "light-between-dark-wings"
    assert sentence.startswith(wings.sentence)
    assert "100 % show “light between dark wings”" in sentence


def test_groups_that_look_alike_are_told_apart_in_their_names() -> None:
    found = named([FLAT, FLAT, FLAT])
    names = [name for _, name, _ in found]
    assert len(set(names)) == 3
    assert all(name.startswith("light and dark interwoven") for name in names)
    assert any(phrase in names[1] for words in TOLD.values() for phrase in words)


def test_a_neighbour_is_told_apart_by_what_differs_most() -> None:
    spread = np.ones(len(TOLD))
    here, there = np.zeros(len(TOLD)), np.zeros(len(TOLD))
    here[list(TOLD).index("breadth_dark")] = 1.0
    here[list(TOLD).index("light")] = -0.5
    assert difference(here, there, spread) == "the darks joined"
    assert difference(there, here, spread) == "the darks broken up"
    assert difference(there, there, spread) == ""
