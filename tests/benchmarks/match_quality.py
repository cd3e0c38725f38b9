"""How often matching finds the work that a hand-like study was made of, beside four plain baselines.

    python tests/benchmarks/match_quality.py --cache FOLDER [--also PICTURES]... [--studies N] [--half report]
    python tests/benchmarks/match_quality.py --cache FOLDER [--also PICTURES]... --thorough N

For each kind of study: the shares of studies whose work comes first, among the first five and ten, and the median
similarity of that work and of the best other one. With --thorough instead: how many of the five best works that a
search of far more works and viewfinders names are named as well, and what the likenesses of the five lack.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from unittest.mock import patch

import numpy as np
from baselines import BASELINES
from works_and_studies import KINDS, Study, Works, choose, load_studies, load_works, progress, small_tone

from archive import looking
from archive.match import Gallery

_TARGETS = {
    "near": (0.97, 1.00),
    "viewfinder": (0.90, 0.99),
    "mirrored viewfinder": (0.85, 0.98),
    "two-value near": (0.90, 0.99),
}
"""What the share of first places and of places among the first ten shall be."""

_HEAD = f"{'':22}{'top 1':>8}{'top 5':>8}{'top 10':>8}{'own':>8}{'other':>8}{'ms':>8}"


def ranks_and_similarities(gallery: Gallery, works: Works, studies: Sequence[Study]) -> list[tuple[int, float, float]]:
    """For each study: the place of its own work, from 0; that one's similarity; that of the best other work."""
    return [_place(gallery, works, study) for study in progress(studies, "matching")]


def _place(gallery: Gallery, works: Works, study: Study) -> tuple[int, float, float]:
    named = gallery.match(study.reading, count=60).matches
    own = next(((at, each.similarity) for at, each in enumerate(named) if each.work == works.ids[study.row]), None)
    other = max((each.similarity for each in named if each.work != works.ids[study.row]), default=0.0)
    return (*(own or (len(works), 0.0)), other)


def print_beside_a_thorough_search(gallery: Gallery, works: Works, studies: Sequence[Study]) -> None:
    """Print how the search does beside one that slides 16 viewfinders over 400 works and brings 2400 into register."""
    started = time.perf_counter()
    named = [gallery.match(study.reading, count=5).matches for study in progress(studies, "matching")]
    between = time.perf_counter()
    with patch.multiple(looking, _SLID=400, _LOOKS=16, _BENT=2400, _KEPT=6):
        best = [gallery.match(study.reading, count=5).matches for study in progress(studies, "searching")]
    longer = (time.perf_counter() - between) / (between - started)
    shared = [len({a.work for a in one} & {b.work for b in other}) / 5 for one, other in zip(named, best, strict=True)]
    lacking = [
        np.mean([b.similarity for b in other]) - np.mean([a.similarity for a in one])
        for one, other in zip(named, best, strict=True)
    ]
    print(
        f"{len(studies)} studies among {len(works)} works: of the five best of a thorough search {np.mean(shared):.1%} "
        f"are named; the five lack {np.mean(lacking):.4f} of its likeness, at most {np.max(lacking):.4f}; "
        f"it takes {longer:.0f} times as long"
    )


def _baseline_rank(likeness: Callable[..., np.ndarray], study: Study) -> int:
    found = likeness(study.small)
    return int((found > found[study.row]).sum())


def _line(name: str, ranks: Sequence[int], rest: str = "") -> str:
    shares = "".join(f"{np.mean(np.asarray(ranks) < limit):8.3f}" for limit in (1, 5, 10))
    return f"{name:22}{shares}{rest}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cache", type=Path, required=True, help="folder that keeps what has been read")
    parser.add_argument("--also", type=Path, action="append", default=[], help="more pictures for the gallery")
    parser.add_argument("--studies", type=int, default=500, help="studies of each kind (default 500)")
    parser.add_argument("--half", choices=("tune", "report", "all"), default="all", help="works to make studies of")
    parser.add_argument("--kind", choices=KINDS, action="append", help="only this kind of study")
    parser.add_argument("--no-baselines", dest="baselines", action="store_false", help="leave the baselines out")
    parser.add_argument(
        "--thorough", type=int, default=0, metavar="N", help="compare with a thorough search, N of each"
    )
    parser.add_argument("--no-trim", dest="trim", action="store_false", help="look for no margins round the studies")
    asked = parser.parse_args()
    works = load_works(asked.cache, asked.also)
    gallery = works.gallery()
    if asked.thorough:
        some = choose(works, asked.thorough, asked.half)
        kinds = asked.kind or KINDS
        loaded = [study for kind in kinds for study in load_studies(asked.cache, works, kind, some, trim=asked.trim)]
        print_beside_a_thorough_search(gallery, works, loaded)
        return
    others = []
    if asked.baselines:
        pictures = np.stack([small_tone(works.tone(row)) for row in range(len(works))])
        others = [make(pictures) for make in BASELINES]
    chosen = choose(works, asked.studies, asked.half)
    print(f"{len(works)} works; {len(chosen)} studies of each kind, of works of the half '{asked.half}'")
    for kind in asked.kind or KINDS:
        studies = load_studies(asked.cache, works, kind, chosen, trim=asked.trim)
        started = time.perf_counter()
        found = ranks_and_similarities(gallery, works, studies)
        spent = 1e3 * (time.perf_counter() - started) / len(studies)
        ranks, own, other = zip(*found, strict=True)
        first, tenth = _TARGETS[kind]
        print(f"\n{kind} (to reach: {first:.2f} first, {tenth:.2f} among ten)\n{_HEAD}")
        print(_line("matching", ranks, f"{np.median(own):8.2f}{np.median(other):8.2f}{spent:8.0f}"), flush=True)
        for baseline in others:
            places = [_baseline_rank(baseline.likeness, study) for study in progress(studies, baseline.name)]
            print(_line(baseline.name, places), flush=True)


if __name__ == "__main__":
    main()
