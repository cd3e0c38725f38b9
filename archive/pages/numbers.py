"""Whole numbers as addresses and forms write them."""

from __future__ import annotations

import re

_WHOLE = re.compile(r"-?[0-9]{1,15}")


def whole_number(text: str) -> int | None:
    """The whole number that a text is, with a minus before it or none; None when it is none or has over 15 digits."""
    return int(text) if _WHOLE.fullmatch(text) else None
