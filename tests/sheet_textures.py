"""What sheets are made of, for the photo maker: drawings, papers, tapes and what lies under the sheet.

Three kits: ``FIRST`` was there while the reader was built, ``OTHER`` was made apart, measured with, and then mended by
as well, and ``APART`` was kept apart until its first seeds had been read. Nothing here comes from ``ingest``. Tone is
L* 0..100; colour is CIE Lab made into linear sRGB by the formulas of ISO/CIE 11664-4 and IEC 61966-2-1.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from study_maker import lay_tone

Field = NDArray[np.float64]
Rng = np.random.Generator
Drawer = Callable[[NDArray[np.intp], Rng, float], Field]
Ground = Callable[[int, int, Rng], Field]

_WHITE = np.array([0.95047, 1.0, 1.08883])
_TO_SRGB = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])


def linear_of(lightness: Field | float, a: Field | float = 0.0, b: Field | float = 0.0) -> Field:
    """Linear sRGB (..., 3) of CIE Lab, clipped below at 0.001."""
    fy = (np.asarray(lightness, dtype=float) + 16) / 116
    f = np.stack(np.broadcast_arrays(fy + np.asarray(a) / 500, fy, fy - np.asarray(b) / 200), axis=-1)
    xyz = np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29)) * _WHITE
    return np.clip(xyz @ _TO_SRGB.T, 0.001, None)


def blots(shape: tuple[int, ...], size: float, rng: Rng) -> Field:
    """Smooth noise of mean 0 and deviation 1; made small and enlarged, so that size costs nothing."""
    step = max(1.0, size / 3)
    small = tuple(max(4, int(np.ceil(side / step)) + 4) for side in shape)
    noise = ndimage.gaussian_filter(rng.standard_normal(small), size / step)
    noise = (noise - noise.mean()) / max(float(noise.std()), 1e-9)
    at = np.meshgrid(*[np.arange(side) / step + 1 for side in shape], indexing="ij")
    return np.asarray(ndimage.map_coordinates(noise, at, order=1, mode="nearest"))


def composition(rng: Rng, shape: tuple[int, int], lights_at_border: bool) -> NDArray[np.intp]:
    """Three values laid out at random (h, w): 0 dark, 1 middle, 2 light; masses over a horizon."""
    height, width = shape
    y, x = np.mgrid[:height, :width] / np.array([height, width]).reshape(2, 1, 1)
    wander = 0.05 * blots(shape, 0.2 * width, rng)
    sky, land = rng.permutation(3)[:2]
    labels = np.where(y + wander + rng.uniform(-0.2, 0.2) * (x - 0.5) < rng.uniform(0.3, 0.7), sky, land)
    for _ in range(rng.integers(2, 5)):
        u, v = x - rng.uniform(0.1, 0.9), y - rng.uniform(0.1, 0.9)
        reach = (u / rng.uniform(0.08, 0.35)) ** 2 + (v / rng.uniform(0.08, 0.35)) ** 2
        labels = np.where(reach + 3 * wander < 1, rng.integers(0, 3), labels)
    if lights_at_border:
        side = rng.integers(0, 4)
        labels = np.where(np.rot90(np.ones(shape) * 0 + (y if side % 2 == 0 else x), 0) * (1 if side < 2 else -1)
                          + (0 if side < 2 else 1) + wander < 0.18, 2, labels)  # fmt: skip
    return labels.astype(np.intp)


def charcoal(labels: NDArray[np.intp], rng: Rng, _paper: float) -> Field:
    return lay_tone(labels, rng, values=3, medium="charcoal")


def wash(labels: NDArray[np.intp], rng: Rng, _paper: float) -> Field:
    return lay_tone(labels, rng, values=3, medium="wash")


def hatching(labels: NDArray[np.intp], rng: Rng, paper: float) -> Field:
    """Pen strokes in one direction, closer where it is darker."""
    height, width = labels.shape
    y, x = np.mgrid[:height, :width].astype(float)
    turn, gap = rng.uniform(0, np.pi), rng.uniform(4, 6)
    along = (x * np.cos(turn) + y * np.sin(turn) + 1.2 * blots(labels.shape, 30, rng)) % gap / gap
    dense = np.array([0.85, 0.4, 0.0])[labels] + 0.03 * blots(labels.shape, 6, rng)
    line = np.clip((dense - along) * gap, 0, 1)
    return paper - line * rng.uniform(55, 72)


def strokes(labels: NDArray[np.intp], rng: Rng, paper: float) -> Field:
    """Dry brush: broad streaks with paper showing through."""
    tones = np.array([24.0, 56.0, paper]) + rng.normal(0, 3, 3) * [1, 1, 0]
    turn = rng.uniform(0, 180)
    side = int(1.5 * max(labels.shape))
    streaks = ndimage.gaussian_filter(rng.standard_normal((side, side)), (0.7, 14))
    streaks = ndimage.rotate(streaks / streaks.std(), turn, reshape=False, order=1, mode="reflect")
    cut = (side - np.array(labels.shape)) // 2
    streak = streaks[cut[0] : cut[0] + labels.shape[0], cut[1] : cut[1] + labels.shape[1]]
    flat = ndimage.gaussian_filter(tones[labels], 1.2)
    return np.clip(np.where(labels < 2, flat + 6 * np.clip(streak, -1.2, 2.5), flat), 4, 97)


def stippling(labels: NDArray[np.intp], rng: Rng, paper: float) -> Field:
    """Dots of a fine pen, closer where it is darker, so that values pass softly into each other."""
    dense = ndimage.gaussian_filter(np.array([0.8, 0.42, 0.04])[labels], rng.uniform(1.5, 5.0))
    dots = rng.random(labels.shape) < 0.55 * dense
    ink = np.clip(2.2 * ndimage.gaussian_filter(dots.astype(float), 0.9), 0, 1)
    return paper - ink * rng.uniform(60, 78)


def marker(labels: NDArray[np.intp], rng: Rng, paper: float) -> Field:
    """Broad felt-tip strokes laid side by side, darker where they lie over each other."""
    height, width = labels.shape
    y, x = np.mgrid[:height, :width].astype(float)
    turn, broad = rng.uniform(0, np.pi), rng.uniform(12, 20)
    along = (x * np.cos(turn) + y * np.sin(turn) + 1.5 * blots(labels.shape, 60, rng)) % broad / broad
    tones = np.array([rng.uniform(18, 30), rng.uniform(52, 64), paper])[labels]
    return np.where((along < 0.18) & (labels < 2), tones - 7, tones) + 0.8 * blots(labels.shape, 2, rng)


def pastel(labels: NDArray[np.intp], rng: Rng, paper: float) -> Field:
    """Soft pastel rubbed over the tooth of the paper, with edges lost here and there."""
    tones = np.array([rng.uniform(14, 26), rng.uniform(45, 62), paper - 1.5])[labels]
    soft = ndimage.gaussian_filter(tones, rng.uniform(1, 4))
    tooth = np.clip(blots(labels.shape, 0.9, rng), -2, 2)
    return np.clip(soft + 0.12 * (paper - soft) * tooth + 2 * blots(labels.shape, 40, rng), 4, 97)


def wood(height: int, width: int, rng: Rng) -> Field:
    y, x = np.mgrid[:height, :width] / max(height, width)
    turn = rng.uniform(0, np.pi)
    across = x * np.cos(turn) + y * np.sin(turn) + 0.02 * blots((height, width), 160, rng)
    grain = np.sin(2 * np.pi * rng.uniform(15, 40) * across) + 0.6 * np.sin(2 * np.pi * 97 * across)
    board = 7.0 * np.floor(across * rng.uniform(2, 5)) % 3
    return linear_of(rng.uniform(28, 68) + 3.0 * grain + board, rng.uniform(5, 12), rng.uniform(12, 26))


def easel(height: int, width: int, rng: Rng) -> Field:
    """A drawing board with floor behind it, its edge at some angle, and a clip."""
    y, x = np.mgrid[:height, :width] / max(height, width)
    board = linear_of(rng.uniform(45, 72) + 2 * blots((height, width), 3, rng), 6, 20)
    floor = linear_of(rng.uniform(15, 40) + 4 * blots((height, width), 40, rng), 1, 4)
    edge = 0.02 + rng.uniform(0, 0.08) + rng.uniform(-0.06, 0.06) * y
    return np.where(((x < edge) | (y < edge * 0.8))[..., None], floor, board)


def grass(height: int, width: int, rng: Rng) -> Field:
    blades = 14 * blots((height, width), 1.6, rng) + 8 * blots((height, width), 6, rng)
    light = np.clip(40 + blades, 4, 90)
    return linear_of(light, -18 - 4 * blots((height, width), 9, rng), 30 + 6 * blots((height, width), 14, rng))


def table(height: int, width: int, rng: Rng) -> Field:
    tone = rng.uniform(20, 84)
    return linear_of(tone + 1.2 * blots((height, width), 2, rng) + 1.5 * blots((height, width), 90, rng),
                     rng.uniform(-2, 3), rng.uniform(-4, 8))  # fmt: skip


def tiles(height: int, width: int, rng: Rng) -> Field:
    y, x = np.mgrid[:height, :width] / max(height, width)
    turn, many = rng.uniform(0, np.pi / 2), rng.uniform(4, 9)
    u, v = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    joint = np.maximum(np.abs((u * many) % 1 - 0.5), np.abs((v * many) % 1 - 0.5)) > 0.47
    tone = rng.uniform(35, 75) + 3 * ((np.floor(u * many) * 7 + np.floor(v * many) * 5) % 3)
    return linear_of(np.where(joint, tone - 18, tone) + blots((height, width), 3, rng), 4, 9)


def cloth(height: int, width: int, rng: Rng) -> Field:
    y, x = np.mgrid[:height, :width].astype(float)
    folds = 9 * blots((height, width), 120, rng)
    stripes = 8 * (np.sin(x / rng.uniform(9, 25) + folds / 6) > 0.3)
    return linear_of(rng.uniform(30, 70) + folds + stripes + blots((height, width), 1, rng), 14, -6 + 0 * y)


def pavement(height: int, width: int, rng: Rng) -> Field:
    speckle = 7 * blots((height, width), 1.2, rng) + 4 * blots((height, width), 20, rng)
    return linear_of(np.clip(52 + speckle, 5, 92), 0.5, 4)


def cork(height: int, width: int, rng: Rng) -> Field:
    grains = 6 * blots((height, width), 2.5, rng) + 5 * np.clip(blots((height, width), 5, rng) - 1, 0, 2)
    return linear_of(np.clip(rng.uniform(48, 62) + grains, 5, 90), 11, 26)


def linen(height: int, width: int, rng: Rng) -> Field:
    """A pale cloth, its weave just seen, with folds that catch the light."""
    y, x = np.mgrid[:height, :width].astype(float)
    bent = 3 * blots((height, width), 200, rng)
    weave = 1.2 * (np.sin((x + bent) * 1.3) + np.sin((y + bent) * 1.3))
    folds = 7 * blots((height, width), 170, rng)
    return linear_of(np.clip(rng.uniform(58, 84) + weave + folds, 5, 96), 0.5, rng.uniform(-3, 6))


def desk(height: int, width: int, rng: Rng) -> Field:
    """A table top with things on it that have straight sides too: books, notes, pencils, a telephone."""
    y, x = np.mgrid[:height, :width].astype(float)
    tone = np.full((height, width), rng.uniform(30, 70)) + 1.5 * blots((height, width), 4, rng)
    a, b = np.full((height, width), rng.uniform(0, 8)), np.full((height, width), rng.uniform(2, 20))
    for _ in range(rng.integers(5, 12)):
        turn = rng.uniform(0, np.pi)
        u, v = x - rng.uniform(0, width), y - rng.uniform(0, height)
        u, v = u * np.cos(turn) + v * np.sin(turn), v * np.cos(turn) - u * np.sin(turn)
        long = rng.uniform(0.08, 0.3) * width
        thing = (np.abs(u) < long / 2) & (np.abs(v) < long * rng.choice([0.02, 0.25, 0.36]))
        tone = np.where(thing, rng.uniform(10, 88) + blots((height, width), 3, rng), tone)
        a, b = np.where(thing, rng.uniform(-25, 35), a), np.where(thing, rng.uniform(-30, 35), b)
    return linear_of(tone, a, b)


def concrete(height: int, width: int, rng: Rng) -> Field:
    """Cast concrete with stains and a crack or two."""
    y, x = np.mgrid[:height, :width] / max(height, width)
    tone = rng.uniform(45, 70) + 3 * blots((height, width), 30, rng) + 2.5 * blots((height, width), 1.5, rng)
    for _ in range(rng.integers(1, 4)):
        turn = rng.uniform(0, np.pi)
        off = x * np.cos(turn) + y * np.sin(turn) - rng.uniform(0, 1) + 0.02 * blots((height, width), 60, rng)
        tone = tone - 20 * np.exp(-((off / 0.002) ** 2))
    return linear_of(np.clip(tone, 5, 92), 0, 3)


@dataclass(frozen=True)
class Kit:
    """drawers and grounds to choose from; layouts as (rows, columns), (0, 0) for a free one; tapes and toned papers as
    CIE Lab; whether shadows may be curved."""

    drawers: tuple[Drawer, ...]
    grounds: tuple[Ground, ...]
    layouts: tuple[tuple[int, int], ...]
    tapes: tuple[tuple[float, float, float], ...]
    toned: tuple[tuple[float, float, float], ...]
    curved_shadows: bool


FIRST = Kit(
    (charcoal, wash),
    (wood, easel, grass, table),
    ((1, 1), (1, 2), (2, 1), (2, 2), (2, 2), (2, 3), (3, 2), (0, 0)),
    ((93.0, 0.0, 1.0), (86.0, 1.0, 14.0), (55.0, -8.0, -33.0)),
    ((66.0, 0.5, 2.0), (62.0, 6.0, 22.0), (68.0, -2.0, -7.0)),
    curved_shadows=False,
)
OTHER = Kit(
    (hatching, strokes),
    (tiles, cloth, pavement),
    ((1, 1), (1, 3), (3, 1), (2, 2), (2, 3), (3, 3), (0, 0)),
    ((90.0, -1.0, 5.0), (80.0, 3.0, 22.0), (62.0, -22.0, 12.0)),
    ((72.0, 2.0, 9.0), (57.0, 1.0, 4.0)),
    curved_shadows=True,
)
APART = Kit(
    (stippling, marker, pastel),
    (cork, linen, desk, concrete),
    ((1, 1), (1, 2), (2, 1), (2, 2), (1, 3), (2, 3), (3, 2), (0, 0)),
    ((88.0, 2.0, 8.0), (76.0, 5.0, 30.0), (48.0, -4.0, -38.0), (95.0, 0.0, 0.0)),
    ((70.0, 1.0, 5.0), (58.0, 3.0, 12.0), (64.0, -6.0, 4.0)),
    curved_shadows=True,
)
