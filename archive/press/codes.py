"""The QR code (ISO/IEC 18004) of an address, as rectangles to draw."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import segno


def dark_runs(address: str) -> tuple[int, list[tuple[int, int, int]]]:
    """How many modules a side has, and every run of dark ones as (left, top, length) in modules.

    The level of correction is M, which mends 15 % (ISO/IEC 18004), enough for a fingerprint on a handout.
    """
    rows = [list(row) for row in segno.make(address, error="m", micro=False, boost_error=False).matrix]
    return len(rows), [(start, down, length) for down, row in enumerate(rows) for start, length in _runs(row)]


def _runs(row: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Start and length of each run of dark modules in a row."""
    start = None
    for place, dark in enumerate([*row, 0]):
        if dark and start is None:
            start = place
        elif not dark and start is not None:
            yield start, place - start
            start = None
