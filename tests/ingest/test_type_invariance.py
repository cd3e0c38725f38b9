"""A picture keeps its types when only the file changes: on a few samples; all of them in benchmarks/type_invariance."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

import made_pages
from type_invariance import compare, degrees_of

FILES = {"met-14-40-623.jpg", "met-1978-517.jpg", "met-object-11321.webp", "met-22-75.jpg", "met-43-13.jpg"}
"""Works whose type stands out: a landscape in levels, a night piece, a seascape, two groups of figures on dark."""

Found = tuple[str, dict[str, float], dict[str, dict[str, float]]]


@pytest.fixture(scope="module")
def changed() -> list[Found]:
    return [degrees_of((file, image)) for file, image in made_pages.clean_parts() if file in FILES]


def test_mirrored_pictures_have_the_same_degrees(changed: list[Found]) -> None:
    assert len(changed) >= 4
    for file, own, others in changed:
        same, _, moved = compare(own, others["mirrored"])
        assert same, file
        assert moved <= 0.05, file


@pytest.mark.parametrize("change", ["recoloured", "3 % cut off", "photographed"])
def test_a_clear_type_stays(change: str, changed: list[Found]) -> None:
    for file, own, others in changed:
        assert compare(own, others[change])[0], (file, own, others[change])
