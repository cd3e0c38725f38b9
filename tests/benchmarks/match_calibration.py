"""What a similarity means: how it is distributed over pairs that belong together and over pairs that do not.

    python tests/benchmarks/match_calibration.py --cache FOLDER [--also PICTURES]... [--studies N] [--half tune]

Each study is compared closely with every work. Pairs that belong together are a study and its own work; all others
do not, apart from a few works of which the gallery may hold two pictures.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from works_and_studies import KINDS, Study, Works, choose, load_studies, load_works, progress

from archive.match import Gallery

_QUANTILES = (0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99, 0.999)
_LEVELS = (0.4, 0.5, 0.6, 0.7, 0.8, 0.9)


def similarities(gallery: Gallery, works: Works, studies: Sequence[Study]) -> tuple[NDArray, NDArray]:
    """Similarity (n,) of each study to its own work, and (n, works - 1) to all others."""
    own, others = [], []
    for study in progress(studies, "comparing"):
        named = gallery.match(study.reading, count=len(works)).matches
        if not named:
            continue
        own.append(next(each.similarity for each in named if each.work == works.ids[study.row]))
        others.append([each.similarity for each in named if each.work != works.ids[study.row]])
    return np.array(own), np.array(others)


def _row(name: str, numbers: Sequence[float]) -> str:
    return f"{name:36}" + "".join(f"{number:8.3f}" for number in numbers)


def _show(kind: str, own: NDArray, others: NDArray) -> None:
    best = others.max(axis=1)
    print(f"\n{kind}: {len(own)} studies, {others.size} pairs that do not belong together")
    print(_row("quantile", _QUANTILES))
    for name, values in (("own work", own), ("any other work", others), ("best of all other works", best)):
        print(_row(name, np.quantile(values, _QUANTILES).tolist()))
    print(_row("share at least", _LEVELS))
    for name, values in (("own work", own), ("any other work", others), ("best of all other works", best)):
        print(_row(name, [float((values >= level).mean()) for level in _LEVELS]))
    rest = f"own work first in {(own > best).mean():.3f}"
    for level in _LEVELS:
        named = best >= level
        right, wrong = int(((own >= level) & (own > best)).sum()), int((named & (best >= own)).sum())
        rest += f"\n  a best match of at least {level} is right in {right} of {right + wrong}"
    print(rest, flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cache", type=Path, required=True, help="folder that keeps what has been read")
    parser.add_argument("--also", type=Path, action="append", default=[], help="more pictures for the gallery")
    parser.add_argument("--studies", type=int, default=100, help="studies of each kind (default 100)")
    parser.add_argument("--half", choices=("tune", "report", "all"), default="tune", help="works to make studies of")
    asked = parser.parse_args()
    works = load_works(asked.cache, asked.also)
    gallery = works.gallery()
    chosen = choose(works, asked.studies, asked.half)
    every = []
    for kind in KINDS:
        studies = load_studies(asked.cache, works, kind, chosen, trim=True)
        every.append(similarities(gallery, works, studies))
        _show(kind, *every[-1])
    _show("all kinds", *(np.concatenate(parts) for parts in zip(*every, strict=True)))


if __name__ == "__main__":
    main()
