"""Manifests by the JSON schema that the IIIF validator publishes, where that is at hand.

The schema is `schema/iiif_3_0.json` of https://github.com/IIIF/presentation-validator.  It is no part of this project;
BLOTBOOK_IIIF_SCHEMA names a file that holds it.
"""

from __future__ import annotations

import copy
import json
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator, FormatChecker
from jsonschema.exceptions import best_match

from archive.board import Board, Leaf, Shown
from archive.press import iiif
from archive.press.content import Pressed, resolve, resolve_works
from archive.store import Archive

BASES = ("http://127.0.0.1:8001/", "https://example.org/archive")
WAYS = ("painting", "squint", "five", "three", "two")
VARIABLE = "BLOTBOOK_IIIF_SCHEMA"

Faults = Callable[[dict[str, Any]], list[str]]


@pytest.fixture(scope="module")
def faults() -> Faults:
    """What the schema finds wrong with a manifest, as the likeliest cause of each fault."""
    named = os.environ.get(VARIABLE)
    if not named:
        pytest.skip(f"{VARIABLE} names no file with the published schema")
    schema = json.loads(Path(named).read_text(encoding="utf-8"))
    assert schema["$id"] == "http://iiif.io/api/presentation/3/schema.json"
    formats = FormatChecker()
    # Without a library that knows the format, jsonschema would let every text pass for an address.
    assert "uri" in formats.checkers
    # The draft that the IIIF validator reads it by; the schema names none.
    validator = Draft7Validator(schema, format_checker=formats)

    def found(manifest: dict[str, Any]) -> list[str]:
        return [
            f"{cause.json_path}: {cause.message}"
            for error in validator.iter_errors(manifest)
            if (cause := best_match([error]))
        ]

    return found


def board(*leaves: Leaf, **texts: str) -> Board:
    return Board("Größe/ 1?", texts.pop("title", ""), leaves=leaves, **texts)


@pytest.mark.parametrize("base", BASES)
def test_a_board_with_all_that_is_awkward(pressed: Pressed, faults: Faults, base: str) -> None:
    made = iiif.manifest(pressed, base)
    assert "structures" in made
    assert any("annotations" in canvas for canvas in made["items"])
    assert any("rights" not in canvas and "homepage" not in canvas for canvas in made["items"])
    assert faults(made) == []


def test_boards_of_every_kind(archive: Archive, faults: Faults) -> None:
    ids = archive.work_ids()
    gone = Shown("gone-1", record={"title": "Gone"})
    boards = (
        board(*(Leaf(work, (Shown(work),), WAYS, "A note.", "What leads?") for work in ids), title="All", aim="Look."),
        board(*(Leaf(work, (Shown(work, part=(0.1, 0.2, 0.4, 0.9)),), ("painting", "three")) for work in ids)),
        board(Leaf("l1", (Shown(ids[0]), Shown(ids[1], part=(0.0, 0.0, 0.5, 0.5))), ("painting", "two"))),
        board(Leaf("l1", (Shown(ids[0]), gone), ("painting",)), Leaf("l2", (gone,), ("painting",))),
        board(Leaf("l1", (Shown(ids[0]),), ("three",))),
    )
    for each in boards:
        assert faults(iiif.manifest(resolve(archive, each), BASES[0])) == []
    assert faults(iiif.manifest(resolve_works(archive, ids, "Works"), BASES[0])) == []


@pytest.mark.parametrize(
    "record",
    [
        {},
        {"title": "Line\nbreak"},
        {"rights": "https://creativecommons.org/public-domain/"},
        {"rights": "http://creativecommons.org/publicdomain/mark/1.0/ (see the page)"},
        {"object_url": "https://example.org/ø[1]?x=100%#a#b"},
        {"object_url": "http://[x"},
    ],
)
def test_records_that_say_little_or_say_it_oddly(pressed: Pressed, faults: Faults, record: dict[str, str]) -> None:
    leaf = pressed.leaves[0]
    odd = replace(leaf, pieces=(replace(leaf.pieces[0], record=record),))
    assert faults(iiif.manifest(replace(pressed, leaves=(odd,)), BASES[0])) == []


@pytest.mark.parametrize(
    "spoil",
    [
        lambda made: made.pop("label"),
        lambda made: made.update(more=1),
        lambda made: made["requiredStatement"].pop("value"),
        lambda made: made["items"][0].pop("height"),
        lambda made: made["items"][0].update(rights="https://creativecommons.org/publicdomain/zero/1.0/"),
        lambda made: made["items"][0]["homepage"][0].update(id="https://example.org/100%"),
        lambda made: made["items"][0]["items"][0]["items"][0].pop("target"),
        lambda made: made["structures"][0]["items"][0].pop("id"),
    ],
)
def test_the_schema_finds_what_is_wrong(
    pressed: Pressed, faults: Faults, spoil: Callable[[dict[str, Any]], object]
) -> None:
    made = copy.deepcopy(iiif.manifest(pressed, BASES[0]))
    spoil(made)
    assert faults(made)
