"""What lies in a small window about each pixel: whole fields are laid over each other, a step apart."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ingest.lightness import FloatArray

_Kind = TypeVar("_Kind", bound=np.generic)


def extreme(field: NDArray[_Kind], reach: int, choose: np.ufunc) -> NDArray[_Kind]:
    """`choose` (np.minimum, np.maximum …) over the window of 2 * reach + 1 pixels about each pixel of a field (h, w).

    What lies beyond the field counts for nothing. Windows are doubled in width until they are wide enough.
    """
    found = field
    wanted = 2 * reach + 1
    for _ in range(2):
        found = _prolonged(found, reach)
        wide = 1
        while wide < wanted:
            step = min(wide, wanted - wide)
            found = choose(found[step:], found[:-step])
            wide += step
        found = found.T
    return found


def share_around(shape: NDArray[np.bool_], radius: float) -> FloatArray:
    """How much of the surroundings of each pixel a shape (h, w) holds, (h, w) 0..1.

    The surroundings are a Gaussian of standard deviation `radius` in pixels, cut at twice that. Beyond its edge the
    field goes on as it ends there.
    """
    reach = int(2 * radius + 0.5)
    bell = np.exp(-0.5 * (np.arange(reach + 1) / radius) ** 2)
    weights = (bell / (2 * bell.sum() - bell[0])).astype(np.float32)
    sums = shape.astype(np.float32)
    for _ in range(2):
        length = len(sums)
        sums = _prolonged(sums, reach)
        found = sums[reach : reach + length] * weights[0]
        pair = np.empty_like(found)
        for away in range(1, reach + 1):
            np.add(sums[reach - away :][:length], sums[reach + away :][:length], out=pair)
            pair *= weights[away]
            found += pair
        sums = found.T
    return sums


def _prolonged(field: NDArray[_Kind], reach: int) -> NDArray[_Kind]:
    """The field with its first and its last line so many times more."""
    found = np.empty((len(field) + 2 * reach, *field.shape[1:]), dtype=field.dtype)
    found[:reach] = field[0]
    found[reach : reach + len(field)] = field
    found[reach + len(field) :] = field[-1]
    return found
