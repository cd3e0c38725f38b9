"""Whether a picture is a drawing in a few flat tones, as a study or a saved value map is, or a painting or a page."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import FloatArray
from ingest.windows import extreme

_EVEN = 0.6
"""L* a pixel below which a tone is even."""

_PATCH = 7
"""Width in pixels of the smallest patch that counts, at the size that margins are found in."""

_BORDER = 5
"""Pixels beside an even patch in which it passes into the next."""

_COVERED = 0.92
"""Share of a drawing that such patches and their borders cover."""

_TONES = 6
"""Most tones of a drawing: five values and the paper."""

_GATHERED = 0.992
"""Share of the patches that keeps to these tones, within 1.5 L*. In a sky or a wall that is painted tones run on."""


_STRIPS = 4
"""Parts in which a picture is looked at, one below the other."""

_CONTEXT = 20
"""Lines beyond which nothing bears on whether a pixel is covered."""


def has_flat_tones(lightness: FloatArray) -> bool:
    """Whether a picture, (h, w) L*, is laid in a few flat tones."""
    most_bare = (1 - _COVERED) * lightness.size
    strip = -(-len(lightness) // _STRIPS)
    bare, kept = 0, []
    # In nearly every painting a part of it has more bare than a drawing has in all.
    for top in range(0, len(lightness), strip):
        before = min(top, _CONTEXT)
        smooth, patches = _patches(lightness[top - before : top + strip + _CONTEXT])
        here = slice(before, before + strip)
        bare += int((~_covered(patches)[here]).sum())
        if bare > most_bare:
            return False
        kept.append(smooth[here][patches[here]])
    counts = np.histogram(np.concatenate(kept), bins=200, range=(0.0, 100.0))[0]
    every, gathered = int(counts.sum()), 0
    for _ in range(_TONES):
        at = int(np.convolve(counts, np.ones(6), "same").argmax())
        gathered += int(counts[max(0, at - 3) : at + 3].sum())
        counts[max(0, at - 4) : at + 5] = 0
    return every > 0 and gathered >= _GATHERED * every


def _patches(lightness: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """The picture without its grain, and the middles of its even patches."""
    smooth = ndimage.gaussian_filter(lightness, 1.5, truncate=3.0)
    down, across = np.gradient(smooth)
    return smooth, extreme(down**2 + across**2 < _EVEN**2, _PATCH // 2, np.logical_and)


def _covered(patches: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return extreme(patches, _PATCH // 2 + _BORDER, np.logical_or)
