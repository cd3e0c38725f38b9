"""Which way of grouping and how many groups the works support: run ``python tests/benchmarks/arrange_stability.py``.

For k-means, Gaussian mixtures and Ward's trees, and each number of groups: the adjusted Rand index of refits on four
fifths of the works with the fit of all, beside the same for works with their features shuffled. For HDBSCAN, the
number of groups that it finds and the works that it leaves out. ``--plot`` writes the curves as an SVG.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps
from sklearn.cluster import HDBSCAN, AgglomerativeClustering, KMeans
from sklearn.decomposition import PCA
from sklearn.metrics import adjusted_rand_score
from sklearn.mixture import GaussianMixture
from threadpoolctl import threadpool_limits

from archive.arrangement_readings import readings_of
from archive.store import DATABASE, PICTURES, Archive
from ingest.arrangements import grouping_points
from ingest.grouping import COUNTS, STABLE, shuffled

Points = NDArray[np.float64]
Method = Callable[[Points, int, int], NDArray[np.int64]]

METHODS: dict[str, Method] = {
    "k-means": lambda points, count, seed: KMeans(count, n_init=12, random_state=seed).fit_predict(points),
    "mixture": lambda points, count, seed: GaussianMixture(
        count, covariance_type="diag", n_init=4, reg_covar=1e-2, random_state=seed
    ).fit_predict(points),
    "Ward": lambda points, count, _seed: AgglomerativeClustering(count).fit_predict(points),
}


def points_of(archive: Path) -> Points:
    """The points that grouping looks at, from a copy of the archive's database."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / DATABASE).write_bytes((archive / DATABASE).read_bytes())
        readings = readings_of(Path(folder))
    return grouping_points(readings.signatures, readings.measures)


def refits(method: Method, points: Points, count: int, times: int) -> NDArray[np.float64]:
    whole = method(points, count, 1783)
    scores = []
    for seed in range(times):
        kept = np.random.default_rng(seed).permutation(len(points))[: round(0.8 * len(points))]
        scores.append(adjusted_rand_score(whole[kept], method(points[kept], count, seed)))
    return np.array(scores)


def plot(found: dict[int, tuple[float, float, float, float]], file: Path) -> None:
    """Curves of found and null with their spread, in greys."""
    wide, high, left, top = 560, 300, 50, 20
    across = {count: left + 40 + at * (wide - left - 60) / (len(found) - 1) for at, count in enumerate(found)}

    def down(value: float) -> float:
        return top + (1 - value) * (high - top - 40)

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" font-family="sans-serif" font-size="12">',
        f'<rect width="{wide}" height="{high}" fill="#f6f6f6"/>',
    ]
    for tick in (0.0, 0.2, 0.4, 0.6, STABLE, 1.0):
        parts.append(f'<path d="M{left} {down(tick):.1f}H{wide - 10}" stroke="#{"777" if tick == STABLE else "ddd"}"/>')
        parts.append(f'<text x="{left - 8}" y="{down(tick) + 4:.1f}" text-anchor="end">{tick:.1f}</text>')
    for name, at, colour, dash in (("works", 0, "#1b1b1b", ""), ("shuffled", 2, "#777777", ' stroke-dasharray="5 4"')):
        line = " ".join(f"{across[count]:.1f},{down(one[at]):.1f}" for count, one in found.items())
        parts.append(f'<polyline points="{line}" fill="none" stroke="{colour}" stroke-width="2"{dash}/>')
        for count, one in found.items():
            low, top_end = down(one[at] - one[at + 1]), down(min(1.0, one[at] + one[at + 1]))
            parts.append(f'<path d="M{across[count]:.1f} {low:.1f}V{top_end:.1f}" stroke="{colour}"/>')
        last = list(found)[-1]
        parts.append(f'<text x="{across[last] - 4:.1f}" y="{down(found[last][at]) - 8:.1f}" text-anchor="end" '
                     f'fill="{colour}">{name}</text>')  # fmt: skip
    for count in found:
        parts.append(f'<text x="{across[count]:.1f}" y="{high - 22}" text-anchor="middle">{count}</text>')
    parts.append(f'<text x="{wide / 2}" y="{high - 5}" text-anchor="middle">groups</text></svg>')
    file.write_text("\n".join(parts) + "\n", encoding="utf-8")


def sheet(archive: Path, file: Path, side: int = 96, across: int = 9) -> None:
    """A row for each group: its mean, its tones drawn apart, and the value maps of its clearest works."""
    with Archive.open(archive) as opened:
        groups = opened.arrangements()
        page = Image.new("L", (side * (across + 1), side * len(groups)), 119)
        for row, group in enumerate(groups):
            works = opened.works(where={"arrangement": group["slug"]}, sort="-degree", size=across).works
            names = [group["mean"], *(work["map3"] for work in works)]
            for column, name in enumerate(names):
                with Image.open(archive / PICTURES / name) as picture:
                    shown = picture.convert("L")
                if column == 0:
                    shown = ImageOps.autocontrast(shown)
                shown.thumbnail((side - 6, side - 6))
                page.paste(shown, (column * side + 3, row * side + 3))
        page.save(file, quality=70, method=6)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--archive", type=Path, required=True, help="archive whose works are grouped")
    parser.add_argument("--plot", type=Path, help="SVG to write")
    parser.add_argument("--sheet", type=Path, help="WebP of the groups to write; nothing else is done")
    options = parser.parse_args()
    if options.sheet:
        sheet(options.archive, options.sheet)
        return
    points = points_of(options.archive)
    rng = np.random.default_rng(1783)
    loose = [shuffled(points, rng) for _ in range(6)]
    print("| groups | " + " | ".join(f"{name} | null" for name in METHODS) + " |")
    print("|---|" + "---|---|" * len(METHODS))
    curves: dict[int, tuple[float, float, float, float]] = {}
    with threadpool_limits(1):
        for count in COUNTS:
            cells = []
            for name, method in METHODS.items():
                scores = refits(method, points, count, 12)
                null = np.array([refits(method, one, count, 3).mean() for one in loose])
                cells.append(f"{scores.mean():.2f} ± {scores.std():.2f} | {null.mean():.2f} ± {null.std():.2f}")
                if name == "k-means":
                    curves[count] = (scores.mean(), scores.std(), null.mean(), null.std())
            print(f"| {count} | " + " | ".join(cells) + " |", flush=True)
        for smallest in (5, 8, 12):
            labels = HDBSCAN(min_cluster_size=smallest, copy=True).fit_predict(points)
            print(
                f"HDBSCAN, at least {smallest} a group: {labels.max() + 1} groups, {(labels < 0).mean():.0%} left out"
            )
    shares = PCA().fit(points).explained_variance_ratio_
    print("variance of the axes that grouping looks at:", " ".join(f"{share:.2f}" for share in shares))
    if options.plot:
        plot(curves, options.plot)


if __name__ == "__main__":
    main()
