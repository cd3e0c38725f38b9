"""The words of the pages: every visible sentence passes through here on its way out."""

from __future__ import annotations

from typing import Any


def say(message: str, /, **values: Any) -> str:
    """The sentence `message`, which is also its own key, with ``%(name)s`` places filled from `values`.

    Templates call it as ``_``. A sentence without values is returned as it is, so a lone per cent sign
    needs no doubling.
    """
    return message % values if values else message
