"""What is found on a photographed sheet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Corner = tuple[float, float]
Corners = tuple[Corner, Corner, Corner, Corner]
"""Four x, y in pixels of the upright photo, clockwise from the top left of what they belong to."""


class SheetError(ValueError):
    """Corners or a layout make no sense; the message is one clear sentence."""


@dataclass(frozen=True)
class Panel:
    """One panel of a sheet, straightened and with the light divided out.

    corners: where it lies in the upright photo.
    rgb: (h, w, 3) uint8, sRGB, paper at the sheet's `white`.
    mask: (h, w) bool, False where shine or clipped light hides the drawing; None when nothing is hidden.
    confidence: 0..1, how firmly its four sides were seen; see `ingest.sheet` for what it means.
    notes: what to know about this panel and what to do about it, in sentences.
    told: whether it lies where a person said.
    """

    corners: Corners
    rgb: NDArray[np.uint8]
    mask: NDArray[np.bool_] | None
    confidence: float
    notes: tuple[str, ...]
    told: bool = False


@dataclass(frozen=True)
class Sheet:
    """A photographed sheet.

    width, height: of the upright photo in pixels. panels: in reading order, as seen in the photo's own upright.
    layout: (rows, columns), or None when the panels stand in no grid. toned: whether the paper is toned; its ground is
    then kept. light_confidence: 0..1, how well the light on the paper is explained. notes: what to know and to do, in
    sentences. need_corners: empty, or the sentence that asks for corners because no panels, or not all of them, could
    be found with confidence. doubtful: corners, about, of panels that were seen but not cut, as it is not plain where
    they end.
    """

    width: int
    height: int
    panels: tuple[Panel, ...]
    layout: tuple[int, int] | None
    toned: bool
    light_confidence: float
    notes: tuple[str, ...]
    need_corners: str = ""
    doubtful: tuple[Corners, ...] = ()

    @property
    def found(self) -> bool:
        """Whether there are panels to go on with."""
        return bool(self.panels)
