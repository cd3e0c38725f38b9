"""What is said about a photographed sheet: every sentence in one place."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ingest.sheet.finding import Found
    from ingest.sheet.flatten import Flattened
    from ingest.sheet.sheet import Panel

_UNSURE_LIGHT = 0.75
_UNSURE_PANEL = 0.85
_BURNT = 0.15


def ask_for_corners(found: Found | None, layout: tuple[int, int] | None) -> str:
    """The sentence that asks for corners: nothing was seen plainly, or not the layout asked for."""
    if found is None or layout is None:
        return (
            "No panels stand out plainly enough in this photo to be cut by themselves; "
            "give the four corners of the sheet and its layout, or the four corners of each panel."
        )
    count = len(found.chosen)
    seen = "one panel was seen" if count == 1 else f"{count} panels were seen"
    if found.layout is not None and count > 1:
        rows, columns = found.layout
        seen += f", {'one row' if rows == 1 else f'{rows} rows'} of {columns}"
    return (
        f"The photo was to hold {'one row' if layout[0] == 1 else f'{layout[0]} rows'} of {layout[1]}, and {seen}; "
        "ask for another layout, or give the four corners of the sheet or of each panel."
    )


def ask_for_others(count: int) -> str:
    """The sentence that asks for the corners of panels that are seen, but not where they end."""
    which = "One more panel was" if count == 1 else f"{count} more panels were"
    they = "it ends is" if count == 1 else "they end is"
    return f"{which} seen on the sheet, but where {they} not plain; give the four corners of each panel."


def of_sheet(flattened: Flattened, panels: Sequence[Panel]) -> list[str]:
    """Notes on the whole sheet."""
    notes = []
    if flattened.light is None:
        notes.append(
            "Too little bare paper or tape shows around the panels to tell the light, so it was left as photographed; "
            "photograph the whole sheet with its margins."
        )
        return notes
    if flattened.toned:
        notes.append("The paper is toned; its ground is kept as a value of its own and not made white.")
        if flattened.material is not None and not flattened.material.sure:
            notes.append("How light the toned paper is could only be judged by the photo itself.")
    if flattened.shadows:
        notes.append(
            "The edge of a shadow crosses the sheet; it was divided out as the margins tell it. "
            "Even shade all over would be surer."
        )
    if flattened.confidence < _UNSURE_LIGHT:
        notes.append(
            "The light on the paper is uneven in ways that the margins explain only in part, so values may be off "
            "here and there; photograph the sheet flat, in even shade."
        )
    if flattened.burnt > _BURNT:
        notes.append(
            "The paper is burnt out in the photo, so pale washes may be lost in it; "
            "make the exposure darker until the paper is just short of white."
        )
    if any(panel.mask is not None for panel in panels):
        notes.append("Where the sheet shines it cannot be read: let it dry, and tilt it away from the window.")
    return notes


def of_panel(mask: NDArray[np.bool_] | None, clipped: float, confidence: float) -> list[str]:
    """Notes on one panel."""
    notes = []
    if mask is not None:
        share = float(1 - mask.mean())
        notes.append(f"{_percent(share)} of this panel shines and cannot be read; it is taken for what lies around it.")
    elif clipped > _BURNT:
        notes.append(f"{_percent(clipped)} of this panel is burnt out to white in the photo.")
    if confidence < _UNSURE_PANEL:
        notes.append("Not sure where this panel ends, as its sides are faint: set its corners where they belong.")
    return notes


def _percent(share: float) -> str:
    return "Under one per cent" if share < 0.01 else f"About {share:.0%}".replace("%", " per cent")
