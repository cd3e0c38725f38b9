"""Pictures of known masses in three values, with the textures that a squint has to see through.

Nothing here uses ``ingest``, so the truth does not depend on what is measured.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import ndimage

Labels = NDArray[np.uint8]
Field = NDArray[np.float64]

SIZE = (960, 720)
"""Width and height of a made picture in pixels, three times the size that tone is read at."""

_STEP = 3
"""Shapes are made clean at a third of the size."""

SMALLEST = 0.02
"""No mass of a made picture holds less of its area, so that how many there are is beyond dispute."""


@dataclass(frozen=True)
class MadePicture:
    """pixels: (h, w) uint8 sRGB grey. labels: (h, w) uint8, 0 dark, 1 mid, 2 light: the truth."""

    pixels: NDArray[np.uint8]
    labels: Labels

    def masses(self, least: float = 0.01) -> int:
        """How many connected shapes of at least so much of the area there are."""
        return count_masses(self.labels, least)

    def shares(self) -> NDArray[np.float64]:
        """Shares of dark, mid and light."""
        return np.bincount(self.labels.ravel(), minlength=3)[:3] / self.labels.size


def count_masses(labels: NDArray[np.uint8], least: float = 0.01) -> int:
    found = 0
    for value in range(3):
        shapes, _ = ndimage.label(labels == value)
        found += int((np.bincount(shapes.ravel())[1:] >= least * labels.size).sum())
    return found


def make(layout: str, texture: str, rng: np.random.Generator, *, soft: bool = False) -> MadePicture:
    """One picture. layout: of `LAYOUTS`; texture: of `TEXTURES`; soft: borders that fade over about a hundredth of
    the diagonal, rather than over a pixel."""
    labels = _drawn(layout, rng)
    tones = _tones(rng)
    field = np.zeros(labels.shape)
    for value in range(3):
        shapes, count = ndimage.label(labels == value)
        own = tones[value] + np.concatenate([[0.0], rng.uniform(-2.5, 2.5, count)])
        field = np.where(shapes > 0, own[shapes], field)
    diagonal = float(np.hypot(*SIZE))
    field = ndimage.gaussian_filter(field, 0.004 * diagonal if soft else 0.8, mode="nearest")
    return MadePicture(TEXTURES[texture](field, rng), labels)


def _drawn(layout: str, rng: np.random.Generator) -> Labels:
    """The layout drawn again and again until each of its values has a fifteenth of the picture or more."""
    values = [0, 2] if layout == "two values" else [0, 1, 2]
    while True:
        labels = tidy(LAYOUTS[layout](rng)[::_STEP, ::_STEP])
        shares = np.bincount(labels.ravel(), minlength=3)[values] / labels.size
        if shares.min() >= 1 / 15:
            return _enlarged(labels)


def _enlarged(labels: Labels) -> Labels:
    """The labels at full size, their borders smooth."""
    votes = [ndimage.gaussian_filter((labels == value).astype(np.float32), 0.8) for value in range(3)]
    large = [np.asarray(Image.fromarray(vote).resize(SIZE, Image.Resampling.BICUBIC)) for vote in votes]
    return np.argmax(large, axis=0).astype(np.uint8)


def tidy(labels: Labels, rounds: int = 3) -> Labels:
    """The labels without shapes under `SMALLEST` and without necks and slivers narrower than 1.5 % of the diagonal."""
    radius = 0.008 * float(np.hypot(*labels.shape))
    for _ in range(rounds):
        votes = [
            ndimage.gaussian_filter((labels == value).astype(np.float32), radius, truncate=2.5) for value in range(3)
        ]
        labels = np.argmax(votes, axis=0).astype(np.uint8)
        small = np.zeros(labels.shape, dtype=bool)
        for value in range(3):
            shapes, _ = ndimage.label(labels == value)
            sizes = np.bincount(shapes.ravel())
            few = sizes < SMALLEST * labels.size
            few[0] = False
            small |= few[shapes]
        if small.any() and not small.all():
            near = ndimage.distance_transform_edt(small, return_distances=False, return_indices=True)
            labels = labels[tuple(near)]
    return labels


def _tones(rng: np.random.Generator) -> Field:
    """L* of dark, mid and light, in any register, at least 18 apart."""
    dark = rng.uniform(10, 34)
    mid = dark + rng.uniform(20, 32)
    return np.array([dark, mid, min(mid + rng.uniform(20, 34), 93)])


def _blobs(rng: np.random.Generator) -> Labels:
    """Rounded shapes cut from two fields of noise, so that any value may touch any other."""
    width, height = SIZE
    noise = [ndimage.gaussian_filter(rng.standard_normal((height // 8, width // 8)), 11, mode="reflect") for _ in "ab"]
    first, second = (
        np.asarray(Image.fromarray(n.astype(np.float32)).resize(SIZE, Image.Resampling.BICUBIC)) for n in noise
    )
    labels = np.ones((height, width), dtype=np.uint8)
    labels[first > np.quantile(first, rng.uniform(0.5, 0.75))] = 2
    labels[second > np.quantile(second, rng.uniform(0.5, 0.75))] = 0
    return labels


def _polygons(rng: np.random.Generator) -> Labels:
    width, height = SIZE
    image = Image.new("L", SIZE, int(rng.integers(3)))
    draw = ImageDraw.Draw(image)
    for _ in range(int(rng.integers(4, 8))):
        x, y = rng.uniform(0, width), rng.uniform(0, height)
        reach = rng.uniform(0.12, 0.32) * height
        turns = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(3, 6))))
        draw.polygon([(x + reach * np.cos(t), y + reach * np.sin(t)) for t in turns], fill=int(rng.integers(3)))
    return np.asarray(image)


def _bands(rng: np.random.Generator) -> Labels:
    """Bands from side to side, their borders rolling or straight."""
    width, height = SIZE
    count = int(rng.integers(3, 6))
    cuts = np.sort(rng.uniform(0.12, 0.88, count - 1)) * height
    x = np.arange(width) / width
    labels = np.zeros((height, width), dtype=np.uint8)
    value = int(rng.integers(3))
    rolls = rng.uniform(0, 0.05) * height
    labels[:] = value
    for cut in cuts:
        value = (value + int(rng.integers(1, 3))) % 3
        line = cut + rolls * np.sin(2 * np.pi * (rng.uniform(0.5, 3) * x + rng.uniform()))
        labels[np.arange(height)[:, None] > line[None]] = value
    return labels


def _figure(rng: np.random.Generator) -> Labels:
    """A figure before a ground: head, body and base, light or dark against its opposite, with one middle wall."""
    width, height = SIZE
    ground, figure = (0, 2) if rng.integers(2) else (2, 0)
    image = Image.new("L", SIZE, ground)
    draw = ImageDraw.Draw(image)
    wall = rng.uniform(0.2, 0.4) * width
    draw.rectangle((0, 0, wall, height) if rng.integers(2) else (width - wall, 0, width, height), fill=1)
    x = rng.uniform(0.4, 0.6) * width
    draw.polygon([(x - 60, 0.42 * height), (x + 70, 0.42 * height), (x + 190, height), (x - 170, height)], fill=figure)
    draw.ellipse((x - 75, 0.16 * height, x + 75, 0.44 * height), fill=figure)
    draw.rectangle((0, rng.uniform(0.82, 0.9) * height, width, height), fill=int(rng.integers(2)))
    return np.asarray(image)


def _two_values(rng: np.random.Generator) -> Labels:
    """Shapes of light and dark alone."""
    labels = _blobs(rng)
    return np.where(labels == 2, 2, 0).astype(np.uint8)


LAYOUTS: dict[str, Callable[[np.random.Generator], Labels]] = {
    "blobs": _blobs,
    "polygons": _polygons,
    "bands": _bands,
    "figure": _figure,
    "two values": _two_values,
}


def luminance(star: Field) -> Field:
    """Relative luminance 0..1 of L* (ISO/CIE 11664-4)."""
    return np.where(star > 8, ((star + 16) / 116) ** 3, star * 27 / 24389)


def coded(light: Field) -> NDArray[np.uint8]:
    """8-bit sRGB grey of linear light 0..1 (IEC 61966-2-1)."""
    y = np.clip(light, 0, 1)
    return np.rint(255 * np.where(y <= 0.0031308, 12.92 * y, 1.055 * y ** (1 / 2.4) - 0.055)).astype(np.uint8)


def _plain(field: Field, _rng: np.random.Generator) -> NDArray[np.uint8]:
    return coded(luminance(field))


def _noise(shape: tuple[int, ...], spread: tuple[float, float], rng: np.random.Generator) -> Field:
    """Smooth noise of mean 0 and deviation 1; the smoother, the coarser the net that it is made on."""
    step = max(1, int(min(spread) // 3))
    net = (shape[0] // step + 1, shape[1] // step + 1)
    coarse = ndimage.gaussian_filter(rng.standard_normal(net), np.array(spread) / step, mode="wrap")
    image = Image.fromarray(coarse.astype(np.float32)).resize(shape[::-1], Image.Resampling.BICUBIC)
    field = np.asarray(image, dtype=np.float64)
    return np.asarray((field - field.mean()) / field.std())


def _brush(field: Field, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Strokes some 3 % of the diagonal long and a fifth as wide, lying one way here and another there, sd 6 L*."""
    strokes = (_noise(field.shape, (3, 14), rng), _noise(field.shape, (14, 3), rng))
    where = _noise(field.shape, (60, 60), rng) > 0
    return coded(luminance(np.clip(field + 6.0 * np.where(where, *strokes), 0, 100)))


def _impasto(field: Field, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Heavy strokes, sd 10 L*, and bristle marks upon them."""
    strokes = 8.5 * _noise(field.shape, (5, 18), rng) + 5.0 * _noise(field.shape, (1.2, 12), rng)
    return coded(luminance(np.clip(field + strokes, 0, 100)))


def _grain(field: Field, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Canvas weave and the grain of a photograph."""
    y, x = np.mgrid[: field.shape[0], : field.shape[1]]
    weave = 4 * (np.sin(2 * np.pi * x / 5.3) + np.sin(2 * np.pi * y / 4.7))
    return coded(luminance(np.clip(field + weave + rng.normal(0, 8, field.shape), 0, 100)))


_WHITE, _BLACK = 0.84, 0.03
"""Luminance of printing paper and of ink."""


def _covered(field: Field) -> Field:
    """How much of the paper the ink covers so that the mean light is that of the field."""
    return np.clip((_WHITE - luminance(field)) / (_WHITE - _BLACK), 0, 1)


def _halftone(field: Field, rng: np.random.Generator) -> NDArray[np.uint8]:
    """A printer's screen at 45 degrees, its dots four pixels apart at the size that tone is read at."""
    pitch = rng.uniform(9, 12)
    y, x = np.mgrid[: field.shape[0], : field.shape[1]]
    u, v = (x + y) / np.sqrt(2), (x - y) / np.sqrt(2)
    screen = np.cos(2 * np.pi * u / pitch) + np.cos(2 * np.pi * v / pitch)
    return _inked(field, _ranked(screen))


def _engraving(field: Field, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Lines that swell with the tone, crossed by a second set in the darker half."""
    pitch = rng.uniform(9, 13)
    y, x = np.mgrid[: field.shape[0], : field.shape[1]]
    bend = 12 * _noise(field.shape, (90, 90), rng)
    lines = _ranked(np.cos(2 * np.pi * (0.4 * x + 0.92 * y + bend) / pitch))
    crossed = _ranked(np.cos(2 * np.pi * (0.85 * x - 0.53 * y + bend) / pitch))
    cover = _covered(field)
    # Two sets each covering c leave (1 - c)^2 of the paper.
    alone, both = np.minimum(cover, 0.5), 1 - np.sqrt(1 - cover)
    inked = np.where(cover <= 0.5, lines < alone, (lines < both) | (crossed < both))
    return coded(np.where(inked, _BLACK, _WHITE))


def _ranked(screen: Field) -> Field:
    """A screen turned into ranks 0..1, so that ranks under c cover the share c."""
    order = np.empty(screen.size)
    order[np.argsort(screen, axis=None)] = np.arange(screen.size) / screen.size
    return order.reshape(screen.shape)


def _inked(field: Field, ranks: Field) -> NDArray[np.uint8]:
    return coded(np.where(ranks < _covered(field), _BLACK, _WHITE))


TEXTURES: dict[str, Callable[[Field, np.random.Generator], NDArray[np.uint8]]] = {
    "plain": _plain,
    "brush": _brush,
    "impasto": _impasto,
    "grain": _grain,
    "halftone": _halftone,
    "engraving": _engraving,
}
