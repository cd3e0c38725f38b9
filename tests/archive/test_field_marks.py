"""The field as marks: what is packed is what the signatures and the map say."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from archive.field_marks import BYTES, SIDE, pack
from archive.store import Archive
from ingest.signature import GRID, thresholds


def unpacked(packed: bytes) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """As the module's own words have it, by other means: x and y 0..1, width / height, (n, 8, 8) values."""
    count = len(packed) // BYTES
    x, y = (np.frombuffer(packed, "<u2", count, 2 * count * at) / 65535 for at in (0, 1))
    shapes = np.frombuffer(packed, np.uint8, count, 4 * count)
    bits = np.unpackbits(np.frombuffer(packed, np.uint8, offset=5 * count)).reshape(count, SIDE, SIDE, 2)
    return x, y, 2 ** ((shapes - 128.0) / 24), 2 * bits[..., 0] + bits[..., 1]


def test_marks_lie_where_the_map_says_and_show_the_values_of_the_signatures(small_archive: Path) -> None:
    with Archive.open(small_archive) as archive:
        x, y, shapes, values = unpacked(pack(archive))
        rows = archive.connection.execute(
            "SELECT row, map_x, map_y, display_width, display_height FROM works WHERE map_x IS NOT NULL ORDER BY row"
        ).fetchall()
        signatures = np.array(archive.signatures())
    assert len(rows) == len(x) > 10
    for at, (row, map_x, map_y, width, height) in enumerate(rows):
        assert (x[at], y[at]) == pytest.approx((map_x, map_y), abs=1e-4)
        assert shapes[at] == pytest.approx(width / height, rel=0.03)
        tones = signatures[row, : GRID * GRID].reshape(GRID, GRID) / 2.55
        dark, light = thresholds(signatures[row][None])[0]
        step = GRID // SIDE
        for down, across in ((0, 0), (3, 5), (7, 2)):
            mean = tones[down * step : (down + 1) * step, across * step : (across + 1) * step].mean()
            if min(abs(mean - dark), abs(mean - light)) > 0.01:
                assert values[at, down, across] == int(mean > dark) + int(mean > light)


def test_every_mark_has_more_than_one_value_or_its_work_is_flat(small_archive: Path) -> None:
    with Archive.open(small_archive) as archive:
        *_, values = unpacked(pack(archive))
    assert values.max() == 2
    assert np.mean([len(np.unique(each)) > 1 for each in values]) > 0.9
