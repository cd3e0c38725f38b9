"""A viewfinder that looks by itself: crops of a photo of a place whose value pattern is clear, or near an arrangement.

Crops in one format and several sizes are laid over the whole photo and looked at coarsely; the most promising ones that
differ from one another are then read down the same street as any picture, and those readings say why.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from archive.placing import Belonging, Placer
from ingest.lightness import LIGHT_OF_CODE, LUMINANCE_ROW, FloatArray, lightness_CIE1976
from ingest.picture import DISPLAY_SIDE, WORKING_SIDE, Picture
from ingest.reading import Reading, read_tone
from ingest.signature import GRID, fields
from ingest.squint import DEFAULT_SHARE
from ingest.value_map import find_thresholds
from ingest.words import fraction, number

if TYPE_CHECKING:
    from archive.store import Archive

Part = tuple[float, float, float, float]

_SIZES = (1.0, 0.82, 0.67, 0.55, 0.45)
"""Sides of the crops as shares of the largest crop of that format."""

_STEP = 0.19
"""How far a crop is moved on at a time, as a share of its sides."""

_COARSE = 56
"""Longest side, px, at which a crop is first looked at: three to four cells to a squint."""

_SEEN = 320
"""Longest side, px, of the photo that crops are looked at in."""

_FOR_SIZE = 0.1
"""Share of its promise that a crop loses by leaving out nearly all of the place."""

_READ = 10
"""Promising crops that are read in full."""

_LEAST_SHARE, _LEAST_SPAN = 0.1, 35.0
"""Share of light and of dark, and L* from dark to light, below which a pattern loses in clarity (our own numbers)."""

_ALIKE, _SAME_PLACE = 0.85, 0.5
"""Correlation of tones, and share that two crops have in common, from which on two proposals are the same."""


@dataclass(frozen=True)
class Proposal:
    """part: (x0, y0, x1, y1) in 0..1 of the photo. clarity: 0..1, see `clarity`. nearest: the arrangement it came near
    to: the one asked for, else the nearest of all; None in an archive without arrangements. reason: in a sentence."""

    part: Part
    reading: Reading
    clarity: float
    nearest: Belonging | None
    reason: str


def propose(
    rgb: NDArray[np.uint8],
    aspect: float,
    *,
    count: int = 3,
    placer: Placer | None = None,
    like: tuple[str, NDArray[np.float32]] | None = None,
) -> tuple[Proposal, ...]:
    """Up to `count` crops of a photo, (h, w, 3) uint8 sRGB, of the format `aspect`, width to height.

    placer: says which arrangement a crop is near. like: slug of an arrangement and its mean pattern, as from
    `pattern_of`, when crops near to it are looked for; otherwise the clearest are. Fewer come back when the photo has
    no more that differ, none when it shows one even tone. ValueError for an aspect that is not positive.
    """
    if not aspect > 0:
        message = "A format needs a width and a height above nothing."
        raise ValueError(message)
    seen = Image.fromarray(_small(_luminance(rgb), _SEEN))
    looked = [_look(seen, part, like) for part in crops(rgb.shape[1] / rgb.shape[0], aspect)]
    looked = [each for each in looked if each.promise > 0]
    looked.sort(key=lambda each: -each.promise)
    read: list[Proposal] = []
    for each in _differing(looked, _READ if like else count):
        reading = read_tone(crop(rgb, each.part))
        if reading.measures.values_present > 1:
            read.append(_proposal(each.part, reading, placer, like[0] if like else ""))
    if like:
        read.sort(key=lambda each: -(each.nearest.degree if each.nearest else 0.0))
    return tuple(read[:count])


def crops(photo: float, aspect: float) -> Iterator[Part]:
    """All crops that are looked at, of the format `aspect` in a photo of the format `photo`, the largest first."""
    width, height = min(1.0, aspect / photo), min(1.0, photo / aspect)
    for size in _SIZES:
        w, h = width * size, height * size
        for y in _starts(h):
            for x in _starts(w):
                yield x, y, x + w, y + h


def crop(rgb: NDArray[np.uint8], part: Part) -> Picture:
    """A part of a photo, (h, w, 3) uint8 sRGB, as a picture to be read: nothing is trimmed."""
    height, width = rgb.shape[:2]
    x0, y0 = round(part[0] * width), round(part[1] * height)
    x1, y1 = max(x0 + 1, round(part[2] * width)), max(y0 + 1, round(part[3] * height))
    seen = np.ascontiguousarray(rgb[y0:y1, x0:x1])
    shown = Image.fromarray(seen)
    shown.thumbnail((DISPLAY_SIDE, DISPLAY_SIDE), Image.Resampling.BICUBIC)
    field = _small(_luminance(seen), WORKING_SIDE)
    return Picture(np.asarray(shown), field, None, width, height, (x0, y0, x1, y1), (), "sRGB")


def clarity(tones: FloatArray) -> float:
    """How clearly a picture, (h, w) L*, parts into light, middle and dark, 0..1.

    The share of its variance that three values explain, times how much of the light and of the dark lies in one mass
    each, less when there is hardly any of either or when they lie close (our own measure).
    """
    thresholds, present = find_thresholds(tones, 3)
    total = float(tones.var())
    if present == 1 or total < 1e-6:
        return 0.0
    labels = np.digitize(tones, thresholds)
    explained = _explained(labels, tones)
    gathered, least = 1.0, 1.0
    for value in (0, 2):
        shapes, masses = ndimage.label(labels == value)
        areas = np.bincount(shapes.ravel())[1:] if masses else np.zeros(1)
        gathered *= float(areas.max() / max(1, areas.sum()))
        least = min(least, float(areas.sum()) / tones.size)
    span = float(np.percentile(tones, 95) - np.percentile(tones, 5))
    enough = min(1.0, least / _LEAST_SHARE) * min(1.0, span / _LEAST_SPAN)
    return float(np.clip(explained * np.sqrt(gathered) * enough, 0.0, 1.0))


def pattern_of(archive: Archive, slug: str) -> NDArray[np.float32] | None:
    """(GRID, GRID) mean pattern of an arrangement, standardised; None when it has no works.

    Works that lie the other way round are turned to face as the first one does.
    """
    rows = [work["row"] for work in archive.works(where={"arrangement": slug}, sort="-degree", size=200).works]
    rows = [row for row in rows if row is not None]
    if not rows:
        return None
    tones = _standard(fields(np.asarray(archive.signatures()[rows])))
    first = tones[0]
    turned = (tones * first).sum(axis=(1, 2)) < (tones[:, :, ::-1] * first).sum(axis=(1, 2))
    mean = np.where(turned[:, None, None], tones[:, :, ::-1], tones).mean(axis=0)
    return np.asarray(_standard(mean[None])[0], dtype=np.float32)


@dataclass(frozen=True)
class _Looked:
    part: Part
    promise: float
    tones: NDArray[np.float32]


def _look(seen: Image.Image, part: Part, like: tuple[str, NDArray[np.float32]] | None) -> _Looked:
    """A crop of a field of luminance looked at coarsely: how much it promises, and its standardised tones."""
    box = (part[0] * seen.width, part[1] * seen.height, part[2] * seen.width, part[3] * seen.height)
    wide, tall = box[2] - box[0], box[3] - box[1]
    scale = min(1.0, _COARSE / max(wide, tall))
    size = (max(1, round(wide * scale)), max(1, round(tall * scale)))
    light = np.asarray(seen.resize(size, Image.Resampling.BOX, box=box))
    soft = ndimage.gaussian_filter(light, DEFAULT_SHARE * float(np.hypot(*light.shape)), mode="nearest")
    tones = lightness_CIE1976(soft)
    grid = np.asarray(Image.fromarray(tones).resize((GRID, GRID), Image.Resampling.BILINEAR))
    standard = _standard(grid[None])[0]
    promise = clarity(tones)
    if like is not None and promise > 0:
        pattern = like[1]
        facing = max(float((standard * pattern).mean()), float((standard[:, ::-1] * pattern).mean()))
        promise = max(0.0, facing)
    # Of two crops with the same promise the one that takes in more of the place comes first.
    return _Looked(part, promise * (1 - _FOR_SIZE * (1 - wide * tall / (seen.width * seen.height))), standard)


def _differing(looked: Sequence[_Looked], most: int) -> list[_Looked]:
    """The most promising crops that lie elsewhere than the ones before or show another pattern."""
    chosen: list[_Looked] = []
    for each in looked:
        if len(chosen) == most:
            break
        if all(
            _common(each.part, other.part) < _SAME_PLACE and float((each.tones * other.tones).mean()) < _ALIKE
            for other in chosen
        ):
            chosen.append(each)
    return chosen


def _proposal(part: Part, reading: Reading, placer: Placer | None, asked: str) -> Proposal:
    measured = clarity(reading.squinted)
    placed = placer.place([reading])[0] if placer is not None else ()
    nearest = next((each for each in placed if not asked or each.slug == asked), None)
    seen = reading.measures
    gathered = f"the light lies in {_count(seen.light_masses)}, the dark in {_count(seen.dark_masses)}"
    if asked and nearest is not None:
        reason = f"Comes near “{nearest.name}” with a degree of {nearest.degree:.2f}: {gathered}."
    else:
        told = _explained(reading.maps[3].labels, reading.squinted)
        reason = (
            f"Three values tell {fraction(told)} of its tones, with {seen.lightness_span:.0f} L* from dark to light; "
            f"{gathered}."
        )
    rounded = tuple(round(edge, 4) for edge in part)
    return Proposal((rounded[0], rounded[1], rounded[2], rounded[3]), reading, measured, nearest, reason)


def _explained(labels: NDArray[np.integer], tones: FloatArray) -> float:
    """Share of the variance of tones (h, w) that their values, labels (h, w), explain."""
    total = float(tones.var())
    within = sum(float(tones[labels == value].var() * (labels == value).mean()) for value in np.unique(labels))
    return 1.0 - within / total if total > 1e-6 else 0.0


def _starts(extent: float) -> list[float]:
    free = 1.0 - extent
    steps = max(1, round(free / (_STEP * extent))) if free > 1e-6 else 0
    return [free * step / steps for step in range(steps + 1)] if steps else [0.0]


def _common(first: Part, second: Part) -> float:
    """Intersection over union of two crops."""
    wide = min(first[2], second[2]) - max(first[0], second[0])
    tall = min(first[3], second[3]) - max(first[1], second[1])
    if wide <= 0 or tall <= 0:
        return 0.0
    areas = [(x1 - x0) * (y1 - y0) for x0, y0, x1, y1 in (first, second)]
    return wide * tall / (sum(areas) - wide * tall)


def _luminance(rgb: NDArray[np.uint8]) -> FloatArray:
    return np.asarray(LIGHT_OF_CODE[rgb] @ np.asarray(LUMINANCE_ROW, dtype=np.float32))


def _small(field: FloatArray, side: int) -> FloatArray:
    scale = side / max(field.shape)
    if scale >= 1:
        return field
    size = (max(1, round(field.shape[1] * scale)), max(1, round(field.shape[0] * scale)))
    return np.asarray(Image.fromarray(field).resize(size, Image.Resampling.BOX))


def _standard(tones: FloatArray) -> FloatArray:
    centred = tones - tones.mean(axis=(1, 2), keepdims=True)
    return np.asarray(centred / np.maximum(centred.std(axis=(1, 2), keepdims=True), 1.0), dtype=np.float32)


def _count(masses: int) -> str:
    if not masses:
        return "accents only"
    return "one mass" if masses == 1 else f"{number(masses)} masses"
