"""The field: all works of an archive laid out with likes near likes, seen through a window at some distance."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from archive.arrangement_kept import STABILITY
from archive.store import Archive

CLEAR_LEAD = 2.0
"""Spreads of shuffled works by which the works must lead them before it is said without a but."""

CELLS = 12
"""Cells across and down a window; each shows one work."""

CLOSEST = 1 / 32
"""Smallest side of a window."""


@dataclass(frozen=True)
class Window:
    """A square part of the map: its left and top edge and its side, all 0..1."""

    x: float
    y: float
    side: float

    @classmethod
    def about(cls, x: float, y: float, side: float) -> Window:
        """The window of a side about a point, moved so that it lies on the map."""
        side = min(1.0, max(CLOSEST, side))
        return cls(min(max(x - side / 2, 0.0), 1 - side), min(max(y - side / 2, 0.0), 1 - side), side)

    @property
    def centre(self) -> tuple[float, float]:
        return self.x + self.side / 2, self.y + self.side / 2


@dataclass(frozen=True)
class Cell:
    """column, row: of the window, from 0. work: the one nearest to the middle of it. works: how many lie in it."""

    column: int
    row: int
    work: dict[str, Any]
    works: int


def look(archive: Archive, window: Window) -> tuple[list[Cell], int]:
    """The cells of a window that have works, row by row, and how many works lie in it."""
    if window.side == 1:
        return archive.remember(("the whole field",), lambda: _look(archive, window))
    return _look(archive, window)


def _look(archive: Archive, window: Window) -> tuple[list[Cell], int]:
    works, places = archive.remember(("places",), lambda: _places(archive))
    step = window.side / CELLS
    inside = np.flatnonzero(
        ((places >= (window.x, window.y)) & (places <= (window.x + window.side, window.y + window.side))).all(axis=1)
    )
    cells = (places[inside] - (window.x, window.y)) / step
    slots = np.minimum(CELLS - 1, cells.astype(int))
    away = ((cells - slots - 0.5) ** 2).sum(axis=1)
    slot = slots[:, 1] * CELLS + slots[:, 0]
    # The nearest to the middle of each cell comes first, of two as near the one whose name comes first.
    order = np.lexsort((inside, away, slot))
    taken, first, numbers = np.unique(slot[order], return_index=True, return_counts=True)
    nearest = {
        (int(at) // CELLS, int(at) % CELLS): (works[inside[order[place]]], int(number))
        for at, place, number in zip(taken, first, numbers, strict=True)
    }
    found = {work["work"]: work for work in archive.named([work for work, _ in nearest.values()])}
    return [Cell(column, row, found[work], number) for (row, column), (work, number) in sorted(nearest.items())], len(
        inside
    )


def _places(archive: Archive) -> tuple[list[str], NDArray[np.float64]]:
    """The works that have a place on the map, in the order of their names, and x, y of each."""
    rows = archive.connection.execute(
        "SELECT work, map_x, map_y FROM works WHERE map_x IS NOT NULL AND map_y IS NOT NULL ORDER BY work"
    ).fetchall()
    places = np.array([(row["map_x"], row["map_y"]) for row in rows], dtype=np.float64).reshape(-1, 2)
    return [row["work"] for row in rows], places


def how_firmly(archive: Archive) -> str:
    """How well the groups come back when they are made anew, in a sentence; '' when nothing was measured."""
    from ingest.grouping import STABLE

    kept = json.loads(archive.setting(STABILITY) or "{}")
    (groups,) = archive.connection.execute("SELECT count(*) FROM arrangements").fetchone()
    one = kept.get(str(groups))
    if one is None:
        return ""
    figures = f"an adjusted Rand index of {one['found']:.2f}, {one['null']:.2f} for works with their features shuffled"
    if one["found"] >= STABLE:
        said = f"Made anew from four fifths of the works, these groups come back nearly the same ({figures})"
        if one["found"] - one["null"] >= CLEAR_LEAD * one.get("null_spread", 0.0) and one["found"] > one["null"]:
            return f"{said}."
        return (
            f"{said}, but shuffled works do so not much less: "
            "take them as regions that run into one another, and go by the degrees."
        )
    return (
        f"Made anew from four fifths of the works, these groups come back only in part ({figures}): "
        "take them as regions that run into one another, and go by the degrees."
    )
