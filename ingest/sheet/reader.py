"""The whole way from a photo of a sheet to its panels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ingest.lightness import LIGHT_OF_CODE, LUMINANCE_ROW, srgb_from_linear
from ingest.picture import WORKING_SIDE, Picture, read_upright
from ingest.sheet import words
from ingest.sheet.course import Course, follow
from ingest.sheet.finding import Closer, Found, find_panels, find_within, with_islands
from ingest.sheet.flatten import Flattened, flatten
from ingest.sheet.geometry import UNIT, Points, across_to_down, quads_of, transform
from ingest.sheet.given import as_given, check_within, matching
from ingest.sheet.rectangles import Rectangle
from ingest.sheet.rectify import panel_size, places, straighten
from ingest.sheet.sheet import Corners, Panel, Sheet, SheetError
from ingest.sheet.shine import clipped_share, filled, shining

PHOTO_SIDE = 1600
"""Longest side, in pixels, that a photo has at least when panels are cut from it, if the file has as many."""

MOST_ROWS = 8
_LIGHT_STEP = 4
FINDING_SIDE = 800
"""Longest side, in pixels, of the picture that panels are looked for in."""

CLOSER_SIDE = 1000
"""The same for a closer look at a part of it."""

INSET = 0.008
"""Share of each side of a panel that is filled from further in, so that no line of gutter or tape stands at its border.
Of sides read from made photos nine in ten lie within 0.005 of their place."""

_ROUND = np.concatenate([a + np.linspace(0, 1, 33)[:, None] * (b - a)
                         for a, b in zip(UNIT, np.roll(UNIT, -1, axis=0), strict=True)])  # fmt: skip
"""Points (n, 2) round a panel, 0..1 across and down."""

_TRUSTED = 0.3
"""Confidence below which a panel is not cut, and its corners are asked for."""

_CODES = np.rint(255 * srgb_from_linear(np.linspace(0, 1, 1 << 16))).astype(np.uint8)
"""Codes of linear light, fine enough that none is off by more than a twentieth of a step."""


def read_sheet(
    source: Path | bytes,
    *,
    layout: tuple[int, int] | None = None,
    corners: Sequence[Sequence[float]] | Sequence[Sequence[Sequence[float]]] | None = None,
    unmoved: Sequence[bool] = (),
) -> Sheet:
    """Find the panels on a photographed sheet, straighten them and divide the light out.

    layout: (rows, columns) of panels, where it is known. corners: four (x, y) in pixels of the upright photo round the
    whole sheet, with a layout of more than one panel; or four round each panel, one panel after another. unmoved: for
    each panel whether its corners are those that were found: its sides are then followed as if nobody had set any.
    Raises UnreadablePicture when the file is no picture that can be read, SheetError in words when corners or layout
    make no sense; panels that cannot be found are no error, `Sheet.need_corners` then asks for corners. A panel whose
    ends are not plain is not cut: a wrong panel is worse than a question.
    """
    if layout is not None and not all(1 <= count <= MOST_ROWS for count in layout):
        message = f"A layout has 1 to {MOST_ROWS} rows and as many columns."
        raise SheetError(message)
    given = None if corners is None else quads_of(corners)
    if given is not None and len(given) > 1 and layout is not None and len(given) != layout[0] * layout[1]:
        message = f"Corners of {len(given)} panels were given, and a layout of {layout[0]} x {layout[1]}."
        raise SheetError(message)
    rgb, (width, height) = read_upright(source, PHOTO_SIDE)
    scale = rgb.shape[1] / width
    check_within(given or [], (width, height))
    small, finer = _reduced(rgb, FINDING_SIDE)
    stays = list(unmoved) if unmoved and given is not None else [False] * len(given or [])
    of_whole = given is not None and len(given) == 1 and layout not in (None, (1, 1))
    if given is None:
        found = find_panels(small, layout, _closer(rgb, finer))
    elif layout is not None and of_whole:
        found = find_within(small, given[0] * scale * finer, layout)
    else:
        again = find_panels(small, None, _closer(rgb, finer)) if any(stays) else None
        found = as_given(small, [quad * scale * finer for quad in given], again, stays)
    if found is None or (layout is not None and given is None and found.layout != layout):
        return Sheet(width, height, (), layout, False, 0.0, (), words.ask_for_corners(found, layout))
    doubtful: tuple[Corners, ...] = ()
    if given is None:
        found, doubtful = _trusted(found, finer * scale)
        if not found.chosen:
            asked = words.ask_for_corners(None, layout)
            return Sheet(width, height, (), layout, False, 0.0, (), asked, doubtful)
    flattened = flatten(found)
    if given is None and layout is None and not doubtful:
        found, doubtful = _trusted(with_islands(found, flattened.light), finer * scale)
    asked = words.ask_for_others(len(doubtful)) if doubtful else ""
    # The frame is of the smaller picture that panels were found in.
    plane = np.diag([1 / finer, 1 / finer, 1.0]) @ found.frame.to_photo
    # Corners that a person set stay where they are, with straight sides between them.
    set_at: list[Points | None] = [None] * len(found.chosen)
    if given is not None and not of_whole:
        match = matching(found, [quad * scale * finer for quad in given])
        set_at = [None if stays[at] else given[at] * scale for at in match]
    courses = [
        follow(rgb, quad / finer, plane) if by_hand is None else Course.straight(by_hand, plane)
        for quad, by_hand in zip(found.quads(), set_at, strict=True)
    ]
    panels = [
        replace(_panel(rgb, course, each, flattened, finer, scale, found, of_whole), told=by_hand is not None)
        for course, each, by_hand in zip(courses, found.chosen, set_at, strict=True)
    ]
    notes = [*([asked] if asked else []), *words.of_sheet(flattened, panels)]
    return Sheet(
        width,
        height,
        tuple(panels),
        found.layout,
        flattened.toned,
        flattened.confidence,
        tuple(notes),
        asked,
        doubtful,
    )


def _trusted(found: Found, scale: float) -> tuple[Found, tuple[Corners, ...]]:
    """The panels that are to be cut, and the corners of the others in pixels of the photo, `scale` times as large."""
    sure = [each.confidence >= _TRUSTED for each in found.chosen]
    if all(sure):
        return found, ()
    doubtful = tuple(corners_of(quad / scale) for quad, kept in zip(found.quads(), sure, strict=True) if not kept)
    return Found(found.frame, [each for each, kept in zip(found.chosen, sure, strict=True) if kept], None), doubtful


def _closer(rgb: NDArray[np.uint8], finer: float) -> Closer:
    """Gives parts of a photo that was looked at in a size of `finer` times its own, at most `CLOSER_SIDE` long."""

    def part(box: tuple[int, int, int, int]) -> NDArray[np.uint8]:
        left, top, right, bottom = (round(edge / finer) for edge in box)
        small, _ = _reduced(rgb[top:bottom, left:right], CLOSER_SIDE)
        return small

    return part


def _reduced(rgb: NDArray[np.uint8], side: int) -> tuple[NDArray[np.uint8], float]:
    """A photo at most `side` pixels long, and its scale against what was given."""
    height, width = rgb.shape[:2]
    scale = min(1.0, side / max(height, width))
    size = (round(width * scale), round(height * scale))
    if size == (width, height):
        return rgb, 1.0
    return np.asarray(Image.fromarray(rgb).resize(size, Image.Resampling.BOX)), size[0] / width


def _panel(
    rgb: NDArray[np.uint8],
    course: Course,
    seen: Rectangle,
    flattened: Flattened,
    finer: float,
    scale: float,
    found: Found,
    sure: bool,
) -> Panel:
    quad = course.corners
    size = panel_size(quad, _format(quad * finer, found, (rgb.shape[1] * finer, rgb.shape[0] * finer)))
    round_ = course.at(_ROUND)
    low = np.maximum(np.floor(round_.min(axis=0)).astype(int) - 2, 0)
    high = np.ceil(round_.max(axis=0)).astype(int) + 3
    codes = straighten(rgb[low[1] : high[1], low[0] : high[0]], course.moved(-low), size, INSET)
    # The light is smooth: it is told at every few pixels and filled in between.
    coarse = (-(-size[0] // _LIGHT_STEP), -(-size[1] // _LIGHT_STEP))
    at = places(course, coarse, INSET)
    light = flattened.light_at(transform(np.linalg.inv(found.frame.to_photo), at * finer))
    # Each channel a plane of its own in memory.
    raw, flat = (np.empty((3, *codes.shape[:2]), dtype=np.float32).transpose(1, 2, 0) for _ in range(2))
    shown = np.empty_like(codes)
    for channel in range(3):
        raw[..., channel] = LIGHT_OF_CODE.take(codes[..., channel])
        own = np.asarray(Image.fromarray(light[..., channel]).resize(size, Image.Resampling.BILINEAR))
        np.divide(raw[..., channel], own, out=flat[..., channel])
        place = flat[..., channel] * np.float32(len(_CODES) - 1)
        place += np.float32(0.5)
        shown[..., channel] = _CODES.take(place.astype(np.int32), mode="clip")
    shines = shining(flat, raw, flattened.white)
    mask = ~shines if shines.any() else None
    confidence = 1.0 if sure else round(seen.confidence, 3)
    notes = words.of_panel(mask, clipped_share(raw), confidence)
    return Panel(corners_of(quad / scale), shown, mask, confidence, tuple(notes))


def _format(quad: Points, found: Found, photo: tuple[float, float]) -> float:
    """Width over height of a panel, in the plane of the whole sheet: that tells more of how it slants than one panel.
    quad and photo (its width and height): in pixels of the photo that the frame is of."""
    on = transform(np.linalg.inv(found.frame.to_photo), quad)
    top, right, bottom, left = np.hypot(*(np.roll(on, -1, axis=0) - on).T)
    return float((top + bottom) / (left + right)) * across_to_down(found.frame.to_photo, photo)


def corners_of(quad: Points) -> Corners:
    """A quadrilateral as plain numbers."""
    a, b, c, d = ((float(x), float(y)) for x, y in quad)
    return a, b, c, d


def panel_picture(panel: Panel) -> Picture:
    """A panel as a picture for `ingest.reading.read_tone`: nothing is trimmed, and what shine hides is taken for what
    lies around it. Left out, it would count as if it lay evenly over the panel's values."""
    height, width = panel.rgb.shape[:2]
    luminance = LIGHT_OF_CODE[panel.rgb] @ np.asarray(LUMINANCE_ROW, dtype=np.float32)
    scale = min(1.0, WORKING_SIDE / max(height, width))
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    field = np.asarray(Image.fromarray(luminance).resize(size, Image.Resampling.BOX))
    if panel.mask is not None:
        seen = Image.fromarray(panel.mask.astype(np.float32)).resize(size, Image.Resampling.BOX)
        field = filled(field, np.asarray(seen) <= 0.99)
    return Picture(panel.rgb, field, None, width, height, (0, 0, width, height), (), "sRGB")
