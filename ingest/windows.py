"""The least or the greatest of a square window about each pixel."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

_Kind = TypeVar("_Kind", bound=np.generic)


def extreme(field: NDArray[_Kind], reach: int, choose: np.ufunc) -> NDArray[_Kind]:
    """`choose` (np.minimum, np.maximum …) over the window of 2 * reach + 1 pixels about each pixel of a field (h, w).

    What lies beyond the field counts for nothing. Windows are doubled in width until they are wide enough (van Herk
    1992 does the same for any width), which for bytes is several times quicker than a filter that looks at each pixel.
    """
    found = np.pad(field, reach, mode="edge")
    wanted = 2 * reach + 1
    for axis in (0, 1):
        found = np.moveaxis(found, axis, 0)
        wide = 1
        while wide < wanted:
            step = min(wide, wanted - wide)
            found = choose(found[step:], found[:-step])
            wide += step
        found = np.moveaxis(found, 0, axis)
    return found
