"""Names, sentences and neighbours of groups, from the types and measures that set them apart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.arrangement_types import CLEAR, TYPES
from ingest.measures import Measures

Floats = NDArray[np.float64]

_NAMED_BY_TYPE = 0.5
"""Share of a group's works that must be of a type before the group takes the type's name."""

_SPOKEN = 0.2
"""Share of a group's works from which on a type is spoken of."""

_LEAST_STEP = 0.35
"""Least step within a group's mean pattern that is named, in standard deviations of a picture's own tones."""

_LEAST_APART = 0.25
"""Least difference between two groups that is named, in standard deviations over all works."""

TOLD = {
    "breadth_dark": ("the darks joined", "the darks broken up"),
    "breadth_light": ("the lights joined", "the lights broken up"),
    "light": ("more light", "less light"),
    "dark": ("more dark", "less dark"),
    "mid": ("more middle value", "less middle value"),
    "crispness": ("harder borders", "softer borders"),
    "rows_explained": ("the values lying more in levels", "the values lying less in levels"),
    "columns_explained": ("the values standing more upright", "the values standing less upright"),
    "edge_dark": ("more dark along the edges", "less dark along the edges"),
    "edge_light": ("more light along the edges", "less light along the edges"),
    "light_y": ("the lights lower", "the lights higher"),
    "light_masses": ("more separate lights", "fewer separate lights"),
    "dark_masses": ("more separate darks", "fewer separate darks"),
}
"""Measures that tell a group from another: words when it has more, words when it has less."""


_PATTERNS = {
    "light above, dark below": "The upper part of the picture is the lighter, the lower part the darker.",
    "dark above, light below": "The upper part of the picture is the darker, the lower part the lighter.",
    "light within dark": "The light lies inside and darker tones lie round about it.",
    "dark within light": "The dark lies inside and lighter tones lie round about it.",
    "light beside dark": "One side of the picture is the lighter, the other the darker.",
    "light and dark interwoven": "Lights and darks lie all over the picture; no part of it holds most of either.",
}


@dataclass(frozen=True)
class Named:
    """slug, name and sentence of a group."""

    slug: str
    name: str
    sentence: str


def table_of(measures: Sequence[Measures]) -> Floats:
    """(n, len(TOLD)) measures that names are told by."""
    return np.array([[float(getattr(m, name)) for name in TOLD] for m in measures])


def name_groups(
    nearest: NDArray[np.int64], means: Sequence[NDArray[np.float32]], types: Floats, table: Floats
) -> list[Named]:
    """Name each group, every name once.

    nearest: (n,) group of each work. means: the mean pattern of each group, its works stretched to one spread of tone.
    types: (n, T) degrees in the order of `TYPES`. table: as from `table_of`.
    """
    strongest = _strongest(types)
    spread = np.maximum(table.std(axis=0), 1e-6)
    named: list[Named] = []
    for group, mean in enumerate(means):
        here = nearest == group
        shares = np.bincount(strongest[here & (strongest >= 0)], minlength=len(TYPES)) / max(1, int(here.sum()))
        apart = (table[here].mean(axis=0) - table.mean(axis=0)) / spread
        taken = {one.name for one in named}
        name = next(name for name in _candidates(mean, shares, apart) if name not in taken)
        sentence = f"{_defined(name)} {_figures(shares, table[here])}"
        named.append(Named(name.replace(",", "").replace(" ", "-"), name, sentence))
    return named


def difference(here: Floats, there: Floats, spread: Floats) -> str:
    """What a group has that its neighbour has not, in words, from the means of their measures; '' for nothing much."""
    apart = (here - there) / np.maximum(spread, 1e-6)
    at = int(np.argmax(np.abs(apart)))
    if abs(apart[at]) < _LEAST_APART:
        return ""
    more, less = list(TOLD.values())[at]
    return more if apart[at] > 0 else less


def _strongest(types: Floats) -> NDArray[np.int64]:
    """The place of each work's strongest layout among `TYPES`, -1 when none is clear."""
    layouts = np.where([kind.manner for kind in TYPES], 0.0, types)
    best = np.argmax(layouts, axis=1)
    return np.where(layouts[np.arange(len(best)), best] >= CLEAR, best, -1)


def _defined(name: str) -> str:
    """What a name means, in a sentence."""
    by_type = {kind.name: kind.sentence for kind in TYPES}
    return by_type.get(name) or _PATTERNS[name.partition(", with ")[0].rstrip(" 0123456789")]


def _candidates(mean: NDArray[np.float32], shares: Floats, apart: Floats) -> Iterator[str]:
    plain = _pattern_name(mean)
    if shares.max() >= _NAMED_BY_TYPE:
        yield TYPES[int(np.argmax(shares))].name
    yield plain
    words = list(TOLD.values())
    for at in np.argsort(-np.abs(apart), kind="stable"):
        yield f"{plain}, with {words[at][0] if apart[at] > 0 else words[at][1]}"
    number = 2
    while True:
        yield f"{plain} {number}"
        number += 1


def _pattern_name(mean: NDArray[np.float32]) -> str:
    """What the mean pattern shows: (GRID, GRID) tones in standard deviations of a picture's own."""
    third = len(mean) // 3
    inner = mean[third:-third, third:-third]
    rim = (mean.sum() - inner.sum()) / (mean.size - inner.size)
    steps = {
        ("light above, dark below", "dark above, light below"): float(mean[:third].mean() - mean[-third:].mean()),
        ("light within dark", "dark within light"): float(inner.mean() - rim),
        # Works are turned to face alike before the mean is taken, which alone sets its sides apart.
        ("light beside dark",): 0.5 * float(np.abs(mean[:, :third].mean() - mean[:, -third:].mean())),
    }
    words, step = max(steps.items(), key=lambda item: abs(item[1]))
    if abs(step) < _LEAST_STEP:
        return "light and dark interwoven"
    return words[0] if step > 0 else words[1]


def _figures(shares: Floats, table: Floats) -> str:
    """The mean proportions, and the types that are most frequent."""
    mean = dict(zip(TOLD, table.mean(axis=0), strict=True))
    said = f"On the mean {mean['light']:.0%} light, {mean['mid']:.0%} middle, {mean['dark']:.0%} dark"
    often = [at for at in np.argsort(-shares, kind="stable")[:3] if shares[at] >= _SPOKEN]
    if often:
        said += "; of its works " + " and ".join(f"{shares[at]:.0%} show “{TYPES[at].name}”" for at in often)
    else:
        said += "; no named type is frequent in it"
    return said.replace("%", " %") + "."
