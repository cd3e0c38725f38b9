"""Make hand-like studies of a painting, to try the matching with: a student with charcoal or wash.

It shares no code with ``ingest``: it squints, parts the values and simplifies in its own way, so that a match
is found because the pictures are alike and not because the same steps were applied to both. Everything random
comes from the generator given, so a seed gives the same study again.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

LONG_SIDE = 320
SMALLEST_SHAPE = 0.004
"""Shapes below this share of the area are not drawn."""

EDGE = 0.015
"""Share of width and height along each side that nobody draws: a line of page, mount or frame left in the picture,
or its shadow. Two pixels of white page must not become a band of light when the hand runs on past the edge."""

PAPER, MIDDLE, DARK = 94.0, 55.0, 22.0
"""L* of the paper, of the middle tone and of the dark."""

Field = NDArray[np.float64]
Labels = NDArray[np.intp]
Medium = Literal["charcoal", "wash"]
Sides = tuple[float, float, float, float]


def make_study(
    lightness: NDArray[np.floating[Any]],
    rng: np.random.Generator,
    *,
    warp: float = 0.03,
    shift: tuple[float, float] = (0.0, 0.0),
    scale: tuple[float, float] = (1.0, 1.0),
    crop: Sides = (0.0, 0.0, 0.0, 0.0),
    mirrored: bool = False,
    values: Literal[2, 3] = 3,
    medium: Medium = "charcoal",
    uneven_light: float = 0.0,
    frame: NDArray[np.bool_] | None = None,
) -> NDArray[np.uint8]:
    """Return a study of a painting as an sRGB grey picture (h, w), its long side 320 px.

    ``lightness`` is the painting's L* field, 0 to 100, of any size. ``crop`` is what is cut off left, top,
    right and bottom, as shares of width and height. ``warp`` is how far shapes stray at most, as a share of
    the diagonal; ``shift`` (right, down, as shares of width and height) and ``scale`` (across, down) move and
    stretch the whole. ``uneven_light`` is the share of light lost from one side of the sheet to the other.
    ``frame`` (bool, as large as ``lightness``) is where an oval or arched picture is: the student draws its
    outline first, as others draw a rectangle, and leaves the paper outside of it bare.
    """
    field = np.asarray(lightness, dtype=float)
    if frame is not None:
        # Page and mount outside of the outline, and their shadow on its rim, have no part in what she sees.
        seen = ndimage.binary_erosion(frame, iterations=max(1, round(EDGE * min(frame.shape))), border_value=1)
        field = field[tuple(ndimage.distance_transform_edt(~seen, return_distances=False, return_indices=True))]
    labels = draw_shapes(field, rng, warp=warp, shift=shift, scale=scale, crop=crop, mirrored=mirrored, values=values)
    if frame is not None:
        labels = np.where(_outline(frame, labels.shape, rng, crop=crop, mirrored=mirrored), labels, values - 1)
    tone = lay_tone(labels, rng, values=values, medium=medium)
    return _photograph(tone, rng, uneven_light)


def draw_shapes(
    lightness: NDArray[np.floating[Any]],
    rng: np.random.Generator,
    *,
    warp: float,
    shift: tuple[float, float],
    scale: tuple[float, float],
    crop: Sides,
    mirrored: bool,
    values: Literal[2, 3],
) -> Labels:
    """Return the study's flat shapes (h, w): 0 is dark, ``values`` - 1 the paper."""
    seen = _reduced(_cropped(_without_edge(np.asarray(lightness, dtype=float)), crop))
    if mirrored:
        seen = seen[:, ::-1]
    diagonal = float(np.hypot(*seen.shape))
    squinted = ndimage.gaussian_filter(seen, 0.02 * diagonal, mode="nearest")
    labels = _without_small_shapes(np.digitize(squinted, _choose_values(squinted, values, rng)), values)
    return _redrawn(labels, values, rng, warp=warp * diagonal, shift=shift, scale=scale)


def lay_tone(labels: Labels, rng: np.random.Generator, *, values: Literal[2, 3], medium: Medium = "charcoal") -> Field:
    """Return L* (h, w) of the shapes filled in by hand; no two people's middle tone is the same."""
    planned = [DARK, PAPER] if values == 2 else [DARK, MIDDLE, PAPER]
    tones = np.array(planned) + rng.normal(0, [3.0] * (values - 1) + [1.0])
    flat = np.clip(tones, 5, 97)[labels]
    return _charcoal(flat, rng) if medium == "charcoal" else _wash(flat, rng)


def near(rng: np.random.Generator) -> dict[str, Any]:
    """Return how a careful student strays: shapes by 2 to 5 %, place and size by up to 6 %."""
    return {
        "warp": rng.uniform(0.02, 0.05),
        "shift": tuple(rng.uniform(-0.06, 0.06, 2)),
        "scale": tuple(rng.uniform(0.94, 1.06, 2)),
        "medium": str(rng.choice(["charcoal", "wash"])),
    }


def viewfinder(rng: np.random.Generator) -> dict[str, Any]:
    """Return the same for a part of the work, up to 22 % off each side."""
    return {**near(rng), "crop": tuple(rng.uniform(0, 0.22, 4))}


def mirrored_viewfinder(rng: np.random.Generator) -> dict[str, Any]:
    """Return the same for a part of the work seen in a mirror."""
    return {**viewfinder(rng), "mirrored": True}


def two_value_near(rng: np.random.Generator) -> dict[str, Any]:
    """Return the same as ``near`` in black and white alone."""
    return {**near(rng), "values": 2}


PRESETS: dict[str, Callable[[np.random.Generator], dict[str, Any]]] = {
    "near": near,
    "viewfinder": viewfinder,
    "mirrored viewfinder": mirrored_viewfinder,
    "two-value near": two_value_near,
}


def study_of(
    lightness: NDArray[np.floating[Any]], preset: str, seed: int, frame: NDArray[np.bool_] | None = None
) -> NDArray[np.uint8]:
    """Return the study of one painting that preset and seed give, always the same."""
    rng = _chance(preset, seed)
    return make_study(lightness, rng, **PRESETS[preset](rng), frame=frame)


def part_of(preset: str, seed: int) -> Sides:
    """Return the rectangle (x0, y0, x1, y1) of the painting, in 0 to 1, that the study of preset and seed shows.

    Where the hand went past the painting's edge it ends there.
    """
    drawn = PRESETS[preset](_chance(preset, seed))
    left, top, right, bottom = drawn.get("crop", (0.0, 0.0, 0.0, 0.0))
    mirrored = drawn.get("mirrored", False)
    x0, x1 = _shown(left, 1 - right, drawn["shift"][0] * (-1 if mirrored else 1), drawn["scale"][0])
    y0, y1 = _shown(top, 1 - bottom, drawn["shift"][1], drawn["scale"][1])
    return x0, y0, x1, y1


def _shown(start: float, end: float, shift: float, scale: float) -> tuple[float, float]:
    """Return what of the line from start to end is left when it is shifted and scaled within its frame."""
    low, high = (((at - 0.5 - shift) / scale + 0.5) * (end - start) + start for at in (0.0, 1.0))
    return max(start, low), min(end, high)


def _chance(preset: str, seed: int) -> np.random.Generator:
    return np.random.default_rng([seed, zlib.crc32(preset.encode())])


def _cropped(field: Field, crop: Sides) -> Field:
    height, width = field.shape
    left, top, right, bottom = crop
    rows = slice(round(top * height), height - round(bottom * height))
    return field[rows, round(left * width) : width - round(right * width)]


def _without_edge(field: Field) -> Field:
    """Return the field with what lies along its sides replaced by what lies just inside, its size unchanged."""
    rows, columns = (round(EDGE * side) for side in field.shape)
    inside = field[rows : field.shape[0] - rows, columns : field.shape[1] - columns]
    return np.pad(inside, ((rows, rows), (columns, columns)), mode="edge")


def _outline(
    frame: NDArray[np.bool_],
    shape: tuple[int, ...],
    rng: np.random.Generator,
    *,
    crop: Sides,
    mirrored: bool,
) -> NDArray[np.bool_]:
    """Return where the picture is on the study's sheet: its frame as drawn by hand, a hundredth off at most."""
    seen = _reduced(_cropped(frame.astype(float), crop))
    seen = seen[:, ::-1] if mirrored else seen
    diagonal = float(np.hypot(*shape))
    stray = np.stack([_blots(shape, 0.1 * diagonal, rng) for _ in range(2)])
    stray *= 0.01 * diagonal / max(float(np.hypot(*stray).max()), 1e-9)
    at = np.mgrid[: shape[0], : shape[1]] + stray
    return np.asarray(ndimage.map_coordinates(seen, at, order=1, mode="constant") > 0.5)


def _reduced(field: Field) -> Field:
    """Return the field at 320 px on the long side, each pixel the mean of what it covers."""
    ratio = LONG_SIDE / max(field.shape)
    size = [max(8, round(side * ratio)) for side in field.shape]
    if ratio < 1:
        field = ndimage.gaussian_filter(field, 0.45 / ratio, mode="nearest")
    axes = [(np.arange(new) + 0.5) * old / new - 0.5 for new, old in zip(size, field.shape, strict=True)]
    return np.asarray(ndimage.map_coordinates(field, np.meshgrid(*axes, indexing="ij"), order=1, mode="nearest"))


def _choose_values(field: Field, values: Literal[2, 3], rng: np.random.Generator) -> Field:
    """Return the L* at which this student parts the values, lowest first.

    Mostly where the values part by themselves (Otsu), partly so that each gets its share of the sheet, and
    never quite the same twice.
    """
    parting = _otsu(field, values)
    shared = np.quantile(field, np.arange(1, values) / values)
    trust = rng.uniform(0.55, 1.0)
    chosen = trust * parting + (1 - trust) * shared + rng.normal(0, 1.5, values - 1)
    low, high = np.quantile(field, [0.02, 0.98])
    return np.sort(np.clip(chosen, low, max(low, high)))


def _otsu(field: Field, values: Literal[2, 3]) -> Field:
    """Return the thresholds with the least variance inside the values, searched over 64 steps."""
    lightest = max(float(field.max()), float(field.min()) + 1.0)
    counts, edges = np.histogram(field, bins=64, range=(float(field.min()), lightest))
    middles = (edges[:-1] + edges[1:]) / 2
    number, total = (np.concatenate([[0], np.cumsum(x)]) for x in (counts, counts * middles))

    def between(first: int, last: int) -> float:
        amount = number[last] - number[first]
        return float((total[last] - total[first]) ** 2 / amount) if amount else 0.0

    if values == 2:
        best = max(range(1, 64), key=lambda cut: between(0, cut) + between(cut, 64))
        return edges[[best]]
    pairs = ((low, high) for low in range(1, 63) for high in range(low + 1, 64))
    low, high = max(pairs, key=lambda pair: between(0, pair[0]) + between(pair[0], pair[1]) + between(pair[1], 64))
    return edges[[low, high]]


def _without_small_shapes(labels: Labels, values: int) -> Labels:
    """Return the shapes with those too small to draw given to what lies around them."""
    kept = np.zeros(labels.shape, dtype=bool)
    for value in range(values):
        parts, count = ndimage.label(labels == value)
        sizes = np.bincount(parts.ravel(), minlength=count + 1) / labels.size
        sizes[0] = 0
        kept |= sizes[parts] >= SMALLEST_SHAPE
    if not kept.any():
        return np.full_like(labels, np.bincount(labels.ravel()).argmax())
    nearest = ndimage.distance_transform_edt(~kept, return_distances=False, return_indices=True)
    return np.asarray(labels[tuple(nearest)])


def _redrawn(
    labels: Labels,
    values: int,
    rng: np.random.Generator,
    *,
    warp: float,
    shift: tuple[float, float],
    scale: tuple[float, float],
) -> Labels:
    """Return the shapes as the hand puts them down: strayed by up to ``warp`` px, corners rounded."""
    height, width = labels.shape
    diagonal = float(np.hypot(height, width))
    stray = np.stack([_blots(labels.shape, 0.12 * diagonal, rng) for _ in range(2)])
    stray *= warp / max(float(np.hypot(*stray).max()), 1e-9)
    stray += 0.0022 * diagonal * np.stack([_blots(labels.shape, 0.012 * diagonal, rng) for _ in range(2)])
    rows, columns = np.mgrid[:height, :width].astype(float)
    at = [
        (rows - height / 2 - shift[1] * height) / scale[1] + height / 2 + stray[0],
        (columns - width / 2 - shift[0] * width) / scale[0] + width / 2 + stray[1],
    ]
    shares = [
        ndimage.map_coordinates(
            ndimage.gaussian_filter((labels == value).astype(float), 0.007 * diagonal, mode="nearest"),
            at,
            order=1,
            mode="nearest",
        )
        for value in range(values)
    ]
    return np.asarray(np.argmax(shares, axis=0))


def _charcoal(flat: Field, rng: np.random.Generator) -> Field:
    """Return L* of hatched charcoal: grain of the paper, strokes, dust, a smear or two."""
    rows, columns = np.mgrid[: flat.shape[0], : flat.shape[1]].astype(float)
    turn = rng.uniform(0.4, 1.1)
    across = -np.sin(turn) * columns + np.cos(turn) * rows + 1.2 * _blots(flat.shape, 20, rng)
    strokes = np.sin(2 * np.pi * across / rng.uniform(4, 6))
    grain = _blots(flat.shape, 0.8, rng) + 0.5 * _blots(flat.shape, 1.6, rng)
    laid = np.clip((96 - flat) / 70, 0, 1)
    # Grain shows most where the tone is neither bare paper nor pressed full.
    shown = 4 * laid * (1 - laid) + 0.35 * laid
    tone = flat + shown * (7 * grain + 3 * strokes) + 0.8 * _blots(flat.shape, 1.0, rng)
    dust = ndimage.gaussian_filter(tone, 2.5)
    smeared = ndimage.uniform_filter1d(dust, 25, axis=int(rng.integers(2)))
    where = np.clip(_blots(flat.shape, 28, rng) - 1.0, 0, 1) * 0.7
    tone = 0.8 * tone + 0.2 * dust
    return np.clip(tone + where * (smeared - tone), 3, 98)


def _wash(flat: Field, rng: np.random.Generator) -> Field:
    """Return L* of ink wash: mottled, with a darker line where each pool dried along its edge."""
    wet = np.clip((96 - flat) / 70, 0, 1)
    soft = ndimage.gaussian_filter(flat, 0.7)
    pooled = np.clip(ndimage.gaussian_filter(flat, 3.0) - soft, 0, None)
    mottled = 3.5 * _blots(flat.shape, 16, rng) + 1.5 * _blots(flat.shape, 5, rng)
    grain = 1.0 * _blots(flat.shape, 0.9, rng)
    return np.clip(soft - 0.35 * pooled + wet * mottled + grain, 3, 98)


def _photograph(tone: Field, rng: np.random.Generator, uneven_light: float) -> NDArray[np.uint8]:
    """Return L* as 8-bit sRGB grey, the light on the sheet falling off to one side."""
    above = (tone + 16) / 116
    light = np.where(tone > 8, above**3, tone * 27 / 24389)
    turn = rng.uniform(0, 2 * np.pi)
    rows, columns = (np.linspace(-1, 1, side) for side in tone.shape)
    side = (np.cos(turn) * columns[None, :] + np.sin(turn) * rows[:, None]) / np.sqrt(2)
    light = np.clip(light * (1 - uneven_light * (side + 1) / 2), 0, 1)
    encoded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.round(255 * encoded).astype(np.uint8)


def _blots(shape: tuple[int, ...], sigma: float, rng: np.random.Generator) -> Field:
    """Return smooth noise of mean 0 and deviation 1, its blots about ``sigma`` px wide."""
    field = ndimage.gaussian_filter(rng.standard_normal(shape), sigma, mode="reflect")
    return np.asarray((field - field.mean()) / max(float(field.std()), 1e-12))
