"""Whether two reproductions of one painting find each other.

    python tests/benchmarks/match_reproductions.py --cache FOLDER --also PICTURES [--also …] --pairs PAIRS.csv

PAIRS.csv has the columns first, second (names of files without their endings, among the samples and the pictures given)
and kind (such as 'engraving and colour'); whether two files show one painting has to be seen by eye. Each of a pair is
asked for works like it, among all of them.
"""

from __future__ import annotations

import argparse
import csv
from collections import defaultdict
from pathlib import Path

import numpy as np
from works_and_studies import load_works, progress


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cache", type=Path, required=True, help="folder in which readings are kept")
    parser.add_argument("--also", type=Path, action="append", default=[], help="folder of further pictures")
    parser.add_argument("--pairs", type=Path, required=True, help="the pairs, as CSV")
    options = parser.parse_args()
    works = load_works(options.cache, options.also)
    gallery = works.gallery()
    with options.pairs.open(encoding="utf-8", newline="") as file:
        pairs = [(row["first"], row["second"], row["kind"]) for row in csv.DictReader(file)]
    places: dict[str, list[int]] = defaultdict(list)
    for first, second, kind in progress(pairs, "asking"):
        for asked, wanted in ((first, second), (second, first)):
            named = [match.work for match in gallery.like(asked, count=60).matches]
            place = named.index(wanted) if wanted in named else len(named)
            places[kind].append(place)
            if place:
                print(f"  {asked} does not find {wanted} first (place {place + 1}); first is {named[0]}")
    print(f"{len(works)} works")
    print(f"{'':28}{'asked':>7}{'top 1':>8}{'top 10':>8}")
    for kind, found in [*places.items(), ("all", [place for each in places.values() for place in each])]:
        at = np.array(found)
        print(f"{kind:28}{len(at):7}{(at < 1).mean():8.3f}{(at < 10).mean():8.3f}")


if __name__ == "__main__":
    main()
