"""Addresses of the IIIF Image API that ask for a whole picture no larger than needed.

Versions 2.1 (https://iiif.io/api/image/2.1/) and 3.0 (https://iiif.io/api/image/3.0/).  The form of a request is
``{service}/{region}/{size}/{rotation}/{quality}.{format}``.  Which forms of size a server must answer depends on its
level (https://iiif.io/api/image/3.0/compliance/): none but the listed sizes and the whole at level 0, ``w,`` from
level 1 on, ``!w,h`` from level 2 on.
"""

from __future__ import annotations

import re
from typing import Any

from ingest.collections.fields import size as pixels

_NEAR = (0.85, 1.35)
"""A listed size this near to the one wanted is taken, since it lies ready on the server."""


def picture(service: str, size: str) -> str:
    """The address of the whole picture at a size, upright, in its own colours, as JPEG."""
    return f"{service.rstrip('/')}/full/{size}/0/default.jpg"


def within(service: str, side: int, shape: tuple[int, int] | None = None, *, version: int = 2) -> tuple[str, ...]:
    """Addresses that ask a server of level 1 or 2 for a picture of a longest side of ``side``, the best first.

    ``shape`` is the full (width, height) in pixels where it is known; nothing is enlarged then.
    """
    whole = picture(service, "max" if version >= 3 else "full")
    if shape is None:
        return picture(service, f"!{side},{side}"), picture(service, f"{side},")
    if max(shape) <= side:
        return (whole,)
    return picture(service, f"{max(1, round(shape[0] * side / max(shape)))},"), picture(service, f"!{side},{side}")


def from_information(info: dict[str, Any], side: int) -> tuple[str, ...]:
    """Addresses for a picture of about ``side`` px from an image information document (``info.json``).

    Raises ValueError when the document is none of version 2 or 3.
    """
    service = info.get("id") or info.get("@id")
    shape = pixels(info.get("width"), info.get("height"))
    if not isinstance(service, str) or shape is None:
        message = "its image information is not of the IIIF Image API 2 or 3"
        raise ValueError(message)
    version = 3 if "image/3" in str(info.get("@context")) or info.get("type") == "ImageService3" else 2
    scale = min(1.0, side / max(shape), _limit(info, shape))
    target = scale * max(shape)
    listed = sorted(
        (
            pair
            for pair in (pixels(each.get("width"), each.get("height")) for each in _dicts(info.get("sizes")))
            if pair
        ),
        key=max,
    )
    near = [pair for pair in listed if _NEAR[0] * target <= max(pair) <= _NEAR[1] * target]
    if near:
        best = min(near, key=lambda pair: abs(max(pair) - target))
        return picture(service, f"{best[0]},{best[1]}"), picture(service, f"{best[0]},")
    whole = picture(service, "max" if version >= 3 else "full")
    if level(info) == 0:
        enough = [pair for pair in listed if max(pair) >= target] or listed[-1:]
        if enough:
            return picture(service, f"{enough[0][0]},{enough[0][1]}"), picture(service, f"{enough[0][0]},")
        return (whole,)
    if scale >= 1:
        return (whole,)
    return picture(service, f"{max(1, int(shape[0] * scale))},"), picture(service, f"!{int(target)},{int(target)}")


def level(info: dict[str, Any]) -> int:
    """The level of compliance that an image information document or a service states; 2 where it states none."""
    profile = info.get("profile")
    for stated in profile if isinstance(profile, list) else [profile]:
        if isinstance(stated, str) and (match := re.search(r"level([012])", stated)):
            return int(match[1])
    return 2


def _limit(info: dict[str, Any], shape: tuple[int, int]) -> float:
    """The largest scale that the server allows: ``maxWidth``, ``maxHeight``, ``maxArea`` of either version."""
    scale = 1.0
    for stated in (info, *_dicts(info.get("profile"))):
        widest = stated.get("maxWidth")
        tallest = stated.get("maxHeight", widest)
        area = stated.get("maxArea")
        if isinstance(widest, int):
            scale = min(scale, widest / shape[0])
        if isinstance(tallest, int):
            scale = min(scale, tallest / shape[1])
        if isinstance(area, int):
            scale = min(scale, (area / (shape[0] * shape[1])) ** 0.5)
    return scale


def _dicts(value: Any) -> list[dict[str, Any]]:
    return [each for each in value if isinstance(each, dict)] if isinstance(value, list) else []
