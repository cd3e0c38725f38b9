"""The whole field as marks: every work as a value map of eight by eight cells, packed so small that a browser can hold
a hundred thousand and draw them as one moves about.

The bytes are four arrays, one after the other, for n works: x and y on the map (n uint16 each, little endian, 0 to
65535 for 0 to 1), the shape of the frame (n uint8, 128 + 24 log2(width / height)), and the marks (n times 16 bytes:
rows from the top, four cells a byte from the left, two bits each from the highest; 0 dark, 1 middle, 2 light).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from archive.store import Archive
from ingest.signature import GRID, thresholds

SIDE = 8
"""Cells across and down a mark."""

BYTES = 2 + 2 + 1 + SIDE * SIDE // 4
"""Bytes of one work."""

MOST = 100_000
"""Works in the field; of more, every so many are left out, so that a page stays a page."""

_AT_ONCE = 8192


def pack(archive: Archive) -> bytes:
    """The marks of all works that have a place on the map, in the order of their rows; see the module."""
    rows, x, y = _places(archive)
    signatures = archive.signatures()
    marks = np.empty((len(rows), SIDE * SIDE // 4), dtype=np.uint8)
    shapes = np.empty(len(rows), dtype=np.uint8)
    for at in range(0, len(rows), _AT_ONCE):
        some = np.asarray(signatures[rows[at : at + _AT_ONCE]])
        marks[at : at + len(some)] = _marks(some)
        shapes[at : at + len(some)] = some[:, -1]
    return b"".join(part.tobytes() for part in (x, y, shapes, marks))


def _places(archive: Archive) -> tuple[NDArray[np.int64], NDArray[np.uint16], NDArray[np.uint16]]:
    found = archive.connection.execute(
        "SELECT row, map_x, map_y FROM works WHERE map_x IS NOT NULL AND row IS NOT NULL ORDER BY row"
    ).fetchall()
    table = np.array([tuple(row) for row in found], dtype=np.float64).reshape(-1, 3)
    if len(table) > MOST:
        table = table[np.linspace(0, len(table) - 1, MOST).astype(int)]
    x, y = (np.rint(np.clip(table[:, column], 0, 1) * 65535).astype("<u2") for column in (1, 2))
    return table[:, 0].astype(np.int64), x, y


def _marks(signatures: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """(n, 16) bytes of (n, SIGNATURE_LENGTH) signatures."""
    step = GRID // SIDE
    cells = signatures[:, : GRID * GRID].reshape(-1, SIDE, step, SIDE, step).mean(axis=(2, 4))
    dark, light = (thresholds(signatures)[:, end, None, None] * (255 / 100) for end in (0, 1))
    values = (cells >= dark).astype(np.uint8) + (cells >= light)
    four = values.reshape(len(values), -1, 4)
    packed = (four[..., 0] << 6) | (four[..., 1] << 4) | (four[..., 2] << 2) | four[..., 3]
    return np.asarray(packed, dtype=np.uint8)
