"""How far the named types agree with what a person sees: run ``python tests/benchmarks/types_against_eye.py``.

Reads the works of ``tests/data/types_by_eye.csv`` and compares the strongest type of each with the person's, as shares
that agree and as Cohen's kappa (Cohen 1960, Educational and Psychological Measurement 20:37). The even half of the list
was used to improve the definitions; the odd half was not.
"""

from __future__ import annotations

import argparse
import csv
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from ingest.arrangement_types import strongest
from ingest.reading import read

ROOT = Path(__file__).parents[2]
BY_EYE = ROOT / "tests" / "data" / "types_by_eye.csv"
SAMPLES = ROOT / "public_domain_samples"
NONE = "none"


def kappa(first: Sequence[str], second: Sequence[str]) -> float:
    """Agreement beyond chance of two lists of names, 1 for the same lists."""
    agreed = sum(a == b for a, b in zip(first, second, strict=True)) / len(first)
    counts = Counter(first), Counter(second)
    chance = sum(counts[0][name] * counts[1][name] for name in counts[0]) / len(first) ** 2
    return 1.0 if chance == 1 else (agreed - chance) / (1 - chance)


def machine_types(works: Sequence[str]) -> dict[str, tuple[str, dict[str, float]]]:
    """The strongest type of each sample work, or 'none', with all its degrees."""
    with (SAMPLES / "records.csv").open(encoding="utf-8", newline="") as table:
        files = {row["id"]: row["file"] for row in csv.DictReader(table)}
    found = {}
    for work in works:
        types = read(SAMPLES / files[work]).types
        best = strongest(types)
        found[work] = (best.slug if best else NONE, types)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--which", choices=("even", "odd", "both"), default="both", help="half of the list (both)")
    parser.add_argument("--list", action="store_true", help="list the works on which the two differ")
    options = parser.parse_args()
    with BY_EYE.open(encoding="utf-8", newline="") as table:
        rows = list(csv.DictReader(table))
    halves = {"even": rows[::2], "odd": rows[1::2]}
    chosen = list(halves) if options.which == "both" else [options.which]
    machine = machine_types([row["work"] for half in chosen for row in halves[half]])
    print(f"{'half':6}{'n':>4}{'against':>10}{'same':>8}{'kappa':>8}{'second':>9}")
    for half in chosen:
        ours = [machine[row["work"]][0] for row in halves[half]]
        once, twice = ([row[name] for row in halves[half]] for name in ("pass1", "pass2"))
        for name, mine, theirs in (("pass 1", ours, once), ("pass 2", ours, twice), ("self", once, twice)):
            same = sum(a == b for a, b in zip(mine, theirs, strict=True)) / len(mine)
            print(f"{half:6}{len(mine):4}{name:>10}{same:8.0%}{kappa(mine, theirs):8.2f}", end="")
            print("" if name == "self" else f"{_among_two(halves[half], name.replace(' ', ''), machine):9.0%}")
    if options.list:
        for half in chosen:
            for row in halves[half]:
                ours, types = machine[row["work"]]
                if ours != row["pass1"]:
                    held = sorted(types.items(), key=lambda item: -item[1])[:3]
                    strong = ", ".join(f"{name} {degree:.2f}" for name, degree in held)
                    print(f"{half} {row['work']}: by eye {row['pass1']}/{row['pass2']}, ours {ours} ({strong})")


def _among_two(rows: Sequence[dict[str, str]], name: str, machine: dict[str, tuple[str, dict[str, float]]]) -> float:
    """Share of the works whose type by eye is the strongest or second strongest of ours."""
    hits = 0
    for row in rows:
        ours, types = machine[row["work"]]
        two = sorted(types, key=lambda slug: -types[slug])[:2]
        hits += row[name] in (two if ours != NONE else [NONE, *two[:1]])
    return hits / len(rows)


if __name__ == "__main__":
    main()
