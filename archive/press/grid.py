"""Where things go on a page: cells for leaves, and pictures of one size side by side within a cell."""

from __future__ import annotations

from dataclasses import dataclass

CELLS = {
    (1, False): (1, 1), (2, False): (1, 2), (4, False): (2, 2), (6, False): (2, 3),
    (1, True): (1, 1), (2, True): (2, 1), (4, True): (2, 2), (6, True): (3, 2),
}  # fmt: skip
"""Columns and rows for 1, 2, 4 or 6 to a page, upright (False) and lying (True)."""

PER_PAGE = (1, 2, 4, 6)


@dataclass(frozen=True)
class Box:
    """A rectangle on a page, mm from its top left."""

    x: float
    y: float
    width: float
    height: float


def cells(box: Box, count: int, *, landscape: bool, gap: float) -> list[Box]:
    """A box parted into 1, 2, 4 or 6 cells, row by row.  Raises ValueError for another count."""
    if (count, landscape) not in CELLS:
        message = f"A page has 1, 2, 4 or 6 to it, not {count}."
        raise ValueError(message)
    columns, rows = CELLS[count, landscape]
    width = (box.width - gap * (columns - 1)) / columns
    height = (box.height - gap * (rows - 1)) / rows
    return [
        Box(box.x + column * (width + gap), box.y + row * (height + gap), width, height)
        for row in range(rows)
        for column in range(columns)
    ]


def side_by_side(
    aspect: float, count: int, width: float, height: float, largest: float, *, gap: float, under: float
) -> list[Box]:
    """Boxes for ``count`` pictures of one aspect (width over height), all of one size, as large as the room allows.

    One row is kept unless more rows make the pictures larger by a third.  ``largest`` is the greatest width, ``under``
    is kept free below each picture; places are mm from the room's top left.
    """
    best, best_columns = 0.0, count
    for columns in range(count, 0, -1):
        rows = -(-count // columns)
        across = (width - gap * (columns - 1)) / columns
        down = (height - gap * (rows - 1)) / rows - under
        size = min(across, max(down, 0.0) * aspect, largest)
        if size > best * (1.0 if best_columns == columns else 1.33):
            best, best_columns = size, columns
    down = best / aspect
    return [
        Box((at % best_columns) * (best + gap), (at // best_columns) * (down + under + gap), best, down)
        for at in range(count)
    ]


def fitted(aspect: float, width: float, height: float) -> tuple[float, float]:
    """The largest width and height of an aspect within a room."""
    across = min(width, height * aspect)
    return across, across / aspect
