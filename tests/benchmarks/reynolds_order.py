"""Reynolds' blots counted again: run ``python tests/benchmarks/reynolds_order.py``.

In a note on Du Fresnoy (1783) Reynolds found not above a quarter of the picture light in Titian, Veronese and
Tintoretto, rather more in Rubens, and scarce an eighth in Rembrandt. Here: the share of light in the three-value map
of every work by them among the samples, and in a folder of further pictures whose manifest names its painters
(``--folder``, a CSV ``manifest.csv`` beside a folder ``pictures``; ``--column`` says which column names the painter).
Drawings and prints are left out as far as the manifest says so, and rows with the words of ``--without``. Where light
begins is found from each picture, so the shares are not fixed; the order is what is asked.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from ingest.picture_file import UnreadablePicture
from ingest.reading import read

SAMPLES = Path(__file__).parents[2] / "public_domain_samples"
SCHOOLS = {
    "Rembrandt": ("rembrandt",),
    "Venetians": ("titian", "tiziano", "veronese", "tintoretto"),
    "Rubens": ("rubens",),
}
_NOT_BY = ("after ", "copy", "school", "follower", "style", "workshop", "imitator")
_NOT_PAINTED = ("drawing", "etching", "engraving", "radierung", "zeichnung", "pen and", "kupferstich", "sketch")


def school_of(painter: str) -> str:
    """The school a painter's name belongs to, '' for none or for a work that is only near one."""
    said = painter.casefold()
    if any(word in said for word in _NOT_BY):
        return ""
    return next((school for school, names in SCHOOLS.items() if any(name in said for name in names)), "")


def sample_works() -> Iterator[tuple[str, Path]]:
    with (SAMPLES / "records.csv").open(encoding="utf-8", newline="") as table:
        for row in csv.DictReader(table):
            if school := school_of(row["artist"]):
                yield school, SAMPLES / row["file"]


def folder_works(folder: Path, column: str, without: list[str]) -> Iterator[tuple[str, Path]]:
    with (folder / "manifest.csv").open(encoding="utf-8", newline="") as table:
        for row in csv.DictReader(table):
            said = " ".join(map(str, row.values())).casefold()
            painted = not any(word.casefold() in said for word in (*_NOT_PAINTED, *without))
            if painted and (school := school_of(row[column])):
                yield school, folder / "pictures" / row["file"]


def shares_of(file: Path) -> tuple[float, float, float, float] | None:
    """Shares of light, mid and dark, and the share above L* 60; None when the file cannot be read."""
    try:
        reading = read(file)
    except UnreadablePicture:
        return None
    m = reading.measures
    return m.light, m.mid, m.dark, float((reading.squinted > 60).mean())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--folder", type=Path, action="append", default=[], help="further pictures; may be repeated")
    parser.add_argument("--column", action="append", default=[], help="column that names the painter, one a folder")
    parser.add_argument("--without", action="append", default=[], help="leave out rows with these words")
    options = parser.parse_args()
    works = [("samples", *work) for work in sample_works()]
    for folder, column in zip(options.folder, options.column, strict=True):
        works += [(folder.name, *work) for work in folder_works(folder, column, options.without)]
    with ProcessPoolExecutor(2) as workers:
        found = list(workers.map(shares_of, [file for *_, file in works]))
    kept = [(where, school, shares) for (where, school, _), shares in zip(works, found, strict=True) if shares]
    light = {}
    print(f"{'':12}{'n':>4}{'light':>8}{'sd':>7}{'median':>8}{'mid':>7}{'dark':>7}{'L* > 60':>9}  where")
    for school in SCHOOLS:
        rows = np.array([shares for _, one, shares in kept if one == school])
        light[school] = rows[:, 0]
        places = [where for where, one, _ in kept if one == school]
        counted = ", ".join(f"{places.count(where)} {where}" for where in dict.fromkeys(places))
        print(
            f"{school:12}{len(rows):4}{rows[:, 0].mean():8.3f}{rows[:, 0].std(ddof=1):7.3f}{np.median(rows[:, 0]):8.3f}"
            f"{rows[:, 1].mean():7.2f}{rows[:, 2].mean():7.2f}{rows[:, 3].mean():9.3f}  {counted}"
        )
    rng = np.random.default_rng(1783)
    means = {
        school: np.array([rng.choice(shares, len(shares)).mean() for _ in range(10000)])
        for school, shares in light.items()
    }
    for school, drawn in means.items():
        low, high = np.quantile(drawn, [0.025, 0.975])
        print(f"mean light of {school}: 95 % of resampled means lie in {low:.3f} to {high:.3f}")
    order = (means["Rembrandt"] < means["Venetians"]) & (means["Venetians"] <= means["Rubens"])
    print(f"Rembrandt < Venetians in {(means['Rembrandt'] < means['Venetians']).mean():.0%} of resamplings")
    print(f"Venetians <= Rubens in {(means['Venetians'] <= means['Rubens']).mean():.0%} of resamplings")
    print(f"the whole order in {order.mean():.0%} of resamplings")


if __name__ == "__main__":
    main()
