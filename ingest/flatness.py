"""Whether a picture is a drawing in a few flat tones, as a study or a saved value map is, or a painting or a page."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from ingest.lightness import FloatArray

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


def has_flat_tones(lightness: FloatArray) -> bool:
    """Whether a picture, (h, w) L*, is laid in a few flat tones."""
    smooth = ndimage.gaussian_filter(lightness, 1.5, truncate=3.0)
    down, across = np.gradient(smooth)
    even = (down**2 + across**2 < _EVEN**2).view(np.uint8)
    patches = ndimage.minimum_filter(even, _PATCH)
    if ndimage.maximum_filter(patches, _PATCH + 2 * _BORDER).mean() < _COVERED:
        return False
    counts = np.histogram(smooth[patches.astype(bool)], bins=200, range=(0.0, 100.0))[0]
    every, gathered = int(counts.sum()), 0
    for _ in range(_TONES):
        at = int(np.convolve(counts, np.ones(6), "same").argmax())
        gathered += int(counts[max(0, at - 3) : at + 3].sum())
        counts[max(0, at - 4) : at + 5] = 0
    return every > 0 and gathered >= _GATHERED * every
