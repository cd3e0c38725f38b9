"""Formats of small studies and viewfinders: width to height, by the names that addresses and forms use."""

from __future__ import annotations

FORMATS: dict[str, tuple[int, int]] = {
    "4x3": (4, 3),
    "3x4": (3, 4),
    "3x2": (3, 2),
    "2x3": (2, 3),
    "1x1": (1, 1),
    "2x1": (2, 1),
    "1x2": (1, 2),
}
"""Common formats of paper, canvas and panel (common practice)."""

FIRST = "4x3"
