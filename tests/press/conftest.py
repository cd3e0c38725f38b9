"""Fixtures of the tests of what is printed and exported: one board with all that is awkward, and its PDF."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from archive.board import Board, Leaf, Shown
from archive.press.content import Pressed, PressedLeaf, resolve
from archive.press.paper import Printed, printed
from archive.store import Archive

LONG = "The return of the boats with the morning's catch, while the women mend nets and a dog barks at the surf, " * 3

RECORDS: tuple[dict[str, str], ...] = (
    {"title": "Lamplight", "artist": "Ada Lamplighter", "artist_dates": "1601–1650", "date": "about 1630",
     "medium": "Oil on panel", "collection": "Museum of the Made-Up", "accession_number": "1999.12-A",
     "object_url": "https://example.org/objects/1999.12-A?view=1",
     "rights": "https://creativecommons.org/publicdomain/zero/1.0/",
     "rights_basis": "The museum's open data", "credit_line": "Gift of Ærna Łopuszańska, 1999",
     "obtained_from": "a package of pictures"},
    {"title": LONG.strip(", "), "artist": "Workshop of a master whose name is lost, and assistants",
     "credit_line": "Purchase, " + "several donors, " * 40 + "1901", "collection": "Museum of the Made-Up",
     "object_url": "https://example.org/objects/2"},
    {"title": "منظر طبيعي مع رعاة", "artist": "رسام", "collection": "متحف"},
    {"title": "नदी का दृश्य", "artist": "अज्ञात"},
    {},
)  # fmt: skip
"""Records with everything, with far too much, in other scripts, and with nothing."""


GONE = {"title": "Gone", "artist": "Bo Leaver", "credit": "Bo Leaver, Gone."}


@pytest.fixture(scope="session")
def archive(small_archive: Path) -> Iterator[Archive]:
    """The archive of sixteen small pictures."""
    with Archive.open(small_archive) as opened:
        yield opened


@pytest.fixture(scope="session")
def pressed(archive: Archive) -> Pressed:
    """Seven leaves: ways of showing, a pair, a part, a long note, other scripts, a work that is gone."""
    ids = archive.work_ids()
    board = Board(
        "b1",
        "Six lamps and a river",
        aim="To see the one light mass.",
        notes="Bring charcoal.\nWe meet at Linnet Lane School.",
        task="Draw four panels, each no longer than your thumb.",
        leaves=(
            Leaf("l1", (Shown(ids[0]),), ("painting", "squint", "five", "three", "two"), "Squint.", "What leads?"),
            Leaf("l2", (Shown(ids[1]), Shown(ids[2])), ("painting", "three"), "Compare. " * 200),
            Leaf("l3", (Shown(ids[3], part=(0.25, 0.25, 0.75, 0.75)),), ("painting", "three")),
            Leaf("l4", (Shown(ids[4]),), ("three",)),
            Leaf("l5", (Shown(ids[5]),), ("painting",)),
            Leaf("l6", (Shown(ids[6]),), ("painting", "two")),
            Leaf(
                "l7", (Shown("gone-1", record={"title": "Gone", "artist": "Bo Leaver", "credit": "Bo Leaver, Gone."}),)
            ),
        ),
    )
    found = resolve(archive, board)
    # What the small archive's own records say is plain; these are not.
    records = iter(RECORDS)
    return replace(found, leaves=tuple(_with(leaf, records) for leaf in found.leaves))


def _with(leaf: PressedLeaf, records: Iterator[dict[str, str]]) -> PressedLeaf:
    if leaf.number in (1, 2, 4, 5):
        return replace(leaf, pieces=tuple(replace(piece, record=next(records)) for piece in leaf.pieces))
    return leaf


PAPERS = ((1, False), (2, False), (4, True), (6, False))
"""Leaves to a page, and whether it lies on its long side."""


@pytest.fixture(scope="session")
def papers(pressed: Pressed) -> dict[tuple[int, bool], Printed]:
    """The board on A4 in each of `PAPERS`."""
    return {(count, lying): printed(pressed, per_page=count, landscape=lying) for count, lying in PAPERS}


@pytest.fixture(scope="session")
def on_paper(papers: dict[tuple[int, bool], Printed]) -> Printed:
    """The board on A4, two leaves to a page."""
    return papers[2, False]
