"""Whether three values are enough to know a picture again: run ``python tests/benchmarks/samples_find_themselves.py``.

The three-value map of each sample is saved as a PNG picture, read again like any study, and matched against all
samples. Target (common practice, no source: white paper, one middle grey and one dark are enough to recognise a
layout): at least 99 % find their own painting first.
"""

from __future__ import annotations

import argparse
import csv
import io
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from paper_archive import PaperArchive

from archive.match import Gallery
from ingest.reading import read
from ingest.value_map import map_picture
from public_domain_samples import FOLDER, RECORDS

TARGET = 0.99


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--values", type=int, choices=(2, 3, 5), default=3, help="values of the maps (3)")
    parser.add_argument("--every", type=int, default=1, help="look for every so many samples only (1)")
    options = parser.parse_args()
    with RECORDS.open(encoding="utf-8", newline="") as table:
        files = {row["id"]: FOLDER / row["file"] for row in csv.DictReader(table)}
    works = sorted(files)
    signatures, maps = [], []
    for work in works:
        reading = read(files[work])
        signatures.append(reading.signature)
        held = io.BytesIO()
        map_picture(reading.maps[options.values].labels, options.values).save(held, "PNG")
        maps.append(held.getvalue())
    gallery = Gallery(PaperArchive(works, np.stack(signatures)))
    asked, first, seconds = 0, 0, []
    for work, saved in list(zip(works, maps, strict=True))[:: options.every]:
        study = read(saved)
        begun = time.perf_counter()
        found = gallery.match(study, count=5)
        seconds.append(time.perf_counter() - begun)
        names = [match.work for match in found.matches]
        asked += 1
        first += names[:1] == [work]
        if names[:1] != [work]:
            place = f"in place {names.index(work) + 1}" if work in names else "not among five"
            print(f"{work}: {place}; first {names[0] if names else 'none'}; {found.note or study.sentence}")
    share = first / asked
    print(
        f"{first} of {asked} maps in {options.values} values found their own painting first ({share:.1%}, target "
        f"{TARGET:.0%}); {1000 * float(np.median(seconds)):.0f} ms a match"
    )
    return 0 if share >= TARGET else 1


if __name__ == "__main__":
    raise SystemExit(main())
