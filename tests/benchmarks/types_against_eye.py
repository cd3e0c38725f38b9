"""How far the named types agree with what a person sees: run ``python tests/benchmarks/types_against_eye.py``.

Reads the works of ``tests/data/types_by_eye.csv`` and compares the strongest type of each with the person's, as shares
that agree and as Cohen's kappa (Cohen 1960, Educational and Psychological Measurement 20:37); 'among' is the share of
works whose type by eye is among those that name them. The even half of the list and the further works of
``tests/data/types_by_eye_more.csv`` were used to improve the definitions; the odd half was not.
"""

from __future__ import annotations

import argparse
import csv
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from ingest.arrangement_types import named
from ingest.reading import read

ROOT = Path(__file__).parents[2]
DATA = ROOT / "tests" / "data"
SAMPLES = ROOT / "public_domain_samples"
NONE = "none"
PARTS = ("even", "odd", "more")


def kappa(first: Sequence[str], second: Sequence[str]) -> float:
    """Agreement beyond chance of two lists of names, 1 for the same lists."""
    same = agreed(first, second)
    counts = Counter(first), Counter(second)
    chance = sum(counts[0][name] * counts[1][name] for name in counts[0]) / len(first) ** 2
    return 1.0 if chance == 1 else (same - chance) / (1 - chance)


def agreed(first: Sequence[str], second: Sequence[str]) -> float:
    return sum(a == b for a, b in zip(first, second, strict=True)) / len(first)


def rows_of(part: str) -> list[dict[str, str]]:
    with (DATA / ("types_by_eye_more.csv" if part == "more" else "types_by_eye.csv")).open(
        encoding="utf-8", newline=""
    ) as table:
        rows = list(csv.DictReader(table))
    return rows if part == "more" else rows[PARTS.index(part) :: 2]


def machine_types(works: Sequence[str]) -> dict[str, tuple[str, list[str], dict[str, float]]]:
    """The strongest type of each sample work, or 'none', all types that name it, and all its degrees."""
    with (SAMPLES / "records.csv").open(encoding="utf-8", newline="") as table:
        files = {row["id"]: row["file"] for row in csv.DictReader(table)}
    with ProcessPoolExecutor(2) as workers:
        found = list(workers.map(degrees_of, [SAMPLES / files[work] for work in works]))
    names = [[kind.slug for kind in named(types)] or [NONE] for types in found]
    return {work: (own[0], own, types) for work, own, types in zip(works, names, found, strict=True)}


def degrees_of(file: Path) -> dict[str, float]:
    return read(file).types


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--which", choices=PARTS, action="append", help="part of the lists; may be repeated (all)")
    parser.add_argument("--list", action="store_true", help="list the works on which the two differ")
    options = parser.parse_args()
    chosen = {part: rows_of(part) for part in options.which or PARTS}
    machine = machine_types([row["work"] for rows in chosen.values() for row in rows])
    print(f"{'part':6}{'n':>4}{'against':>10}{'same':>8}{'kappa':>8}{'among':>8}")
    for part, rows in chosen.items():
        ours = [machine[row["work"]][0] for row in rows]
        for name in ("seen",) if part == "more" else ("pass1", "pass2"):
            theirs = [row[name] for row in rows]
            among = sum(row[name] in machine[row["work"]][1] for row in rows) / len(rows)
            print(f"{part:6}{len(rows):4}{name:>10}{agreed(ours, theirs):8.0%}{kappa(ours, theirs):8.2f}{among:8.0%}")
        if part != "more":
            once, twice = ([row[name] for row in rows] for name in ("pass1", "pass2"))
            print(f"{part:6}{len(rows):4}{'self':>10}{agreed(once, twice):8.0%}{kappa(once, twice):8.2f}")
    if options.list:
        for part, rows in chosen.items():
            for row in rows:
                ours, names, types = machine[row["work"]]
                seen = [row[name] for name in ("pass1", "pass2", "seen", "also") if row.get(name)]
                if ours not in seen:
                    held = sorted(types.items(), key=lambda item: -item[1])[:3]
                    strong = ", ".join(f"{name} {degree:.2f}" for name, degree in held)
                    print(f"{part} {row['work']}: by eye {'/'.join(seen)}, ours {'/'.join(names)} ({strong})")


if __name__ == "__main__":
    main()
