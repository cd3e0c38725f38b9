"""Rows and columns: the order in which panels are read, and the grid that they stand in."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

Box = tuple[float, float, float, float]
"""left, top, right, bottom."""


def drawn_out(box: Box, side: int, by: float) -> Box:
    """A box with one of its sides (0 to 3: left, top, right, bottom) moved outwards."""
    moved = list(box)
    moved[side] += by if side >= 2 else -by
    return moved[0], moved[1], moved[2], moved[3]


def reading_order(boxes: Sequence[Box]) -> tuple[list[int], tuple[int, int] | None]:
    """Indices of panels row by row, each from the left, and (rows, columns) if they stand in a full grid.

    Panels are in one row when they overlap by more than half of the lower one's height.
    """
    rows: list[list[int]] = []
    for at in sorted(range(len(boxes)), key=lambda n: (boxes[n][1] + boxes[n][3], boxes[n][0])):
        for row in rows:
            first = boxes[row[0]]
            shared = min(first[3], boxes[at][3]) - max(first[1], boxes[at][1])
            if shared > 0.5 * min(first[3] - first[1], boxes[at][3] - boxes[at][1]):
                row.append(at)
                break
        else:
            rows.append([at])
    rows = [sorted(row, key=lambda n: boxes[n][0]) for row in sorted(rows, key=lambda row: boxes[row[0]][1])]
    order = [at for row in rows for at in row]
    grid = (len(rows), len(rows[0])) if rows else None
    if grid and (any(len(row) != grid[1] for row in rows) or not _in_columns(rows, boxes)):
        grid = None
    return order, grid


def _in_columns(rows: list[list[int]], boxes: Sequence[Box]) -> bool:
    for column in zip(*rows, strict=True):
        left, right = max(boxes[n][0] for n in column), min(boxes[n][2] for n in column)
        if right - left < 0.5 * max(boxes[n][2] - boxes[n][0] for n in column):
            return False
    return True


def missing_cells(boxes: Sequence[Box]) -> list[Box]:
    """Where panels would stand that are missing from a grid, told by the others' rows and columns; none if the others
    do not stand in at least two rows and two columns."""
    if len(boxes) < 3:
        return []
    across = _lines([(box[0], box[2]) for box in boxes])
    down = _lines([(box[1], box[3]) for box in boxes])
    if across is None or down is None or min(len(across), len(down)) < 2:
        return []
    cells = [(x0, y0, x1, y1) for y0, y1 in down for x0, x1 in across]
    return [
        cell
        for cell in cells
        if not any(min(cell[2], b[2]) > max(cell[0], b[0]) and min(cell[3], b[3]) > max(cell[1], b[1]) for b in boxes)
    ]


def _lines(spans: list[tuple[float, float]]) -> list[tuple[float, float]] | None:
    """Spans gathered to those that agree, sorted; None when some overlap without agreeing."""
    groups: list[list[tuple[float, float]]] = []
    for span in sorted(spans):
        near = 0.12 * (span[1] - span[0])
        for group in groups:
            middle = np.median(np.array(group), axis=0)
            if abs(span[0] - middle[0]) < near and abs(span[1] - middle[1]) < near:
                group.append(span)
                break
        else:
            groups.append([span])
    found = sorted((float(a), float(b)) for a, b in (np.median(np.array(group), axis=0) for group in groups))
    if any(second[0] < first[1] for first, second in pairwise(found)):
        return None
    return found
