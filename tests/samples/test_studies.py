"""The three studies: their records, and that the script still draws what is kept."""

from __future__ import annotations

import csv
import hashlib
import io

import numpy as np
from PIL import Image

from public_domain_samples import STUDIES
from public_domain_samples.draw_studies import ALL, CC0, MADE_BY, harbour_at_evening

with STUDIES.open(encoding="utf-8", newline="") as stream:
    ROWS = list(csv.DictReader(stream))


def test_records() -> None:
    assert [(row["file"], row["title"], row["medium"]) for row in ROWS] == [
        (study.file, study.title, study.medium) for study in ALL
    ]
    for row in ROWS:
        assert row["made_by"] == MADE_BY
        assert row["rights"] == CC0
        assert hashlib.sha256((STUDIES.parent / row["file"]).read_bytes()).hexdigest() == row["sha256"]


def test_no_file_without_a_record() -> None:
    files = {path.name for path in STUDIES.parent.iterdir()}
    assert files == {row["file"] for row in ROWS} | {STUDIES.name}


def test_each_has_three_distinct_values() -> None:
    for row in ROWS:
        with Image.open(STUDIES.parent / row["file"]) as picture:
            assert max(picture.size) == 600
            grey = np.asarray(picture.convert("L").reduce(4)) / 255
        # Well apart: something near black, something near white, and a good share between them.
        assert (grey < 0.4).mean() > 0.1
        assert (grey > 0.8).mean() > 0.08
        assert ((grey > 0.45) & (grey < 0.75)).mean() > 0.15


def test_the_script_draws_what_is_kept() -> None:
    with Image.open(io.BytesIO(harbour_at_evening().jpeg())) as drawn:
        again = np.asarray(drawn.convert("L"), dtype=float)
    with Image.open(STUDIES.parent / "harbour-at-evening.jpg") as kept:
        difference = np.abs(again - np.asarray(kept.convert("L"), dtype=float))
    # Not byte for byte: another JPEG or FFT library may round otherwise.
    assert difference.mean() < 2
