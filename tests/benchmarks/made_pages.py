"""Pages, mounts, borders and shaped pictures made round the clean part of a sample, with the truth known.

Each maker takes a picture (h, w, 3) uint8 and a seeded generator, and returns a `Page`: the whole file as pixels and
what of it is picture, as a mask. Nothing here uses ``ingest``, so the truth does not depend on what is measured.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter, ImageFont

SAMPLES = Path(__file__).parents[2] / "public_domain_samples" / "pictures"
CLEAN_PARTS = Path(__file__).with_name("clean_parts.csv")
"""Parts of the samples, looked through by eye, that hold nothing but picture: file, x0, y0, x1, y1 in 0..1."""

Pixels = NDArray[np.uint8]
Truth = NDArray[np.bool_]
Tone = tuple[float, float, float]


@dataclass(frozen=True)
class Page:
    """pixels: (h, w, 3) uint8 sRGB. truth: (h, w) bool, True where there is picture."""

    pixels: Pixels
    truth: Truth


Maker = Callable[[Pixels, np.random.Generator], Page]


def clean_parts(every: int = 1) -> Iterator[tuple[str, Image.Image]]:
    """(file, picture) of every so many of the clean parts, in the order of the list."""
    with CLEAN_PARTS.open(encoding="utf-8", newline="") as rows:
        for row in list(csv.DictReader(rows))[::every]:
            with Image.open(SAMPLES / row["file"]) as opened:
                image = opened.convert("RGB")
            width, height = image.size
            box = (row["x0"], row["y0"], row["x1"], row["y1"])
            sides = (width, height, width, height)
            yield row["file"], image.crop(tuple(round(float(b) * s) for b, s in zip(box, sides, strict=True)))


def stands_out(page: Page) -> bool:
    """Whether the picture differs by 10 L* or more from what lies beside it, along most of each side.

    Where a black picture fades into a black border nobody could say where it ends.
    """
    tone = _lightness(page.pixels)
    depth = max(2, round(0.012 * max(tone.shape)))
    steps = []
    for field, inside in ((tone, page.truth), (tone.T, page.truth.T)):
        for rows, picture in ((field, inside), (field[::-1], inside[::-1])):
            columns = np.flatnonzero(picture.any(axis=0))
            first = picture.argmax(axis=0)[columns]
            within = np.mean([rows[first + at, columns] for at in range(1, depth)], axis=0)
            beside = np.mean([rows[np.maximum(first - at, 0), columns] for at in range(2, depth + 1)], axis=0)
            steps.append(float((np.abs(within - beside) >= 10)[first > 1].mean()) if (first > 1).any() else 1.0)
    return min(steps) >= 0.75


def overlap(truth: Truth, found: Truth) -> float:
    """Intersection over union of what is picture and what was kept."""
    return float((truth & found).sum() / max(1, (truth | found).sum()))


def encode(pixels: Pixels) -> bytes:
    """The page as a JPEG file."""
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "JPEG", quality=90)
    return buffer.getvalue()


def pale_margin(picture: Pixels, rng: np.random.Generator) -> Page:
    ground = _paper(rng, (244, 242, 238), noise=1.2)
    return _lay(picture, ground, _sides(rng, 0.02, 0.16))


def beige_margin(picture: Pixels, rng: np.random.Generator) -> Page:
    """Old paper, darker towards one corner."""
    ground = _paper(rng, (222, 205, 172), noise=2.5, fall=0.12)
    return _lay(picture, ground, _sides(rng, 0.03, 0.2))


def noisy_margin(picture: Pixels, rng: np.random.Generator) -> Page:
    """Coarse paper with spots and print that shows through."""
    ground = _paper(rng, (228, 218, 198), noise=5.0, fall=0.08, spots=40)
    return _lay(picture, ground, _sides(rng, 0.05, 0.2))


def captioned_page(picture: Pixels, rng: np.random.Generator) -> Page:
    """A book page: a line of caption or two under the plate, often a running head above it."""
    sides = np.array([rng.uniform(0.06, 0.2), rng.uniform(0.1, 0.2), rng.uniform(0.06, 0.2), rng.uniform(0.16, 0.3)])
    page = _lay(picture, _paper(rng, (238, 230, 214), noise=2.0, fall=0.05), sides)
    image = Image.fromarray(page.pixels)
    draw = ImageDraw.Draw(image)
    rows, columns = np.flatnonzero(page.truth.any(axis=1)), np.flatnonzero(page.truth.any(axis=0))
    unit = max(10, round(0.024 * max(picture.shape)))
    ink = (40, 36, 34)
    middle = (columns[0] + columns[-1]) // 2
    under = rows[-1] + round(rng.uniform(1.1, 2.0) * unit)
    for line in range(int(rng.integers(1, 4))):
        _print(draw, middle, under + round(1.5 * unit * line), unit, ink, rng, int(rng.integers(2, 7)))
    if rng.uniform() < 0.6:
        _print(draw, middle, round(0.3 * rows[0]), unit, ink, rng, 3)
    return Page(np.asarray(image), page.truth)


def page_on_black(picture: Pixels, rng: np.random.Generator) -> Page:
    """A page that does not fill the scanner: paper round the plate, black beside the paper."""
    inner = _lay(picture, _paper(rng, (232, 224, 206), noise=2.0), _sides(rng, 0.05, 0.14))
    outer = _lay(inner.pixels, _paper(rng, (14, 13, 12), noise=1.5), _sides(rng, 0.0, 0.06))
    return _within(outer, inner.truth)


def ruled_plate(picture: Pixels, rng: np.random.Generator) -> Page:
    """A plate with a thin printed line round it, some paper between, and a caption under it."""
    page = captioned_page(picture, rng)
    image = Image.fromarray(page.pixels)
    rows, columns = np.flatnonzero(page.truth.any(axis=1)), np.flatnonzero(page.truth.any(axis=0))
    gap = round(rng.uniform(0.008, 0.016) * max(picture.shape))
    line = (columns[0] - gap, rows[0] - gap, columns[-1] + gap, rows[-1] + gap)
    ImageDraw.Draw(image).rectangle(line, outline=(60, 54, 50), width=int(rng.integers(1, 3)))
    return Page(np.asarray(image), page.truth)


def gutter_shadow(picture: Pixels, rng: np.random.Generator) -> Page:
    """A page that sinks into the fold of its book at one side."""
    sides = np.array([rng.uniform(0.12, 0.2), *rng.uniform(0.06, 0.14, 3)])
    page = _lay(picture, _paper(rng, (234, 226, 208), noise=2.0), sides)
    reach = 0.6 * float(sides[0]) * max(picture.shape)
    shade = 1 - 0.75 * np.exp(-np.arange(page.pixels.shape[1]) / (reach / 2.5))
    shade = np.where(page.truth, 1.0, shade[None])
    dimmed = (page.pixels * shade[..., None]).clip(0, 255).astype(np.uint8)
    if rng.integers(2):
        return Page(dimmed[:, ::-1], page.truth[:, ::-1])
    return Page(dimmed, page.truth)


def wide_mount(picture: Pixels, rng: np.random.Generator) -> Page:
    """A small picture in a large card."""
    return _lay(picture, _paper(rng, (226, 220, 206), noise=1.5), _sides(rng, 0.3, 0.5))


def coloured_wall(picture: Pixels, rng: np.random.Generator) -> Page:
    wall = [(70, 96, 128), (142, 84, 60), (84, 110, 84), (196, 170, 96)][int(rng.integers(4))]
    return _lay(picture, _paper(rng, wall, noise=1.5, fall=0.1), _sides(rng, 0.03, 0.14))


def ragged_panel(picture: Pixels, rng: np.random.Generator) -> Page:
    """An old panel before black: its edges waver by a hundredth of its size and are worn."""
    height, width = picture.shape[:2]
    deep = 0.008 * max(height, width)
    inside = np.ones((height, width), dtype=bool)
    for axis, length in ((0, width), (1, height)):
        for flip in (False, True):
            steps = np.interp(np.arange(length), np.linspace(0, length, 14), rng.uniform(0, deep, 14))
            cut = np.arange(inside.shape[axis])[:, None] < steps[None]
            cut = cut if axis == 0 else cut.T
            inside &= ~(cut[::-1] if flip and axis == 0 else cut[:, ::-1] if flip else cut)
    return _shaped(picture, inside, _paper(rng, (9, 8, 8), noise=1.0), rng)


def black_border(picture: Pixels, rng: np.random.Generator) -> Page:
    return _lay(picture, _paper(rng, (9, 8, 8), noise=1.0), _sides(rng, 0.005, 0.12))


def slanting_black_border(picture: Pixels, rng: np.random.Generator) -> Page:
    page = _lay(picture, _paper(rng, (9, 8, 8), noise=0.0), _sides(rng, 0.03, 0.1))
    angle = float(rng.uniform(0.3, 0.7) * rng.choice([-1, 1]))
    turned = Image.fromarray(page.pixels).rotate(angle, Image.Resampling.BICUBIC, fillcolor=(9, 8, 8))
    truth = Image.fromarray(page.truth).rotate(angle, Image.Resampling.NEAREST)
    noisy = np.asarray(turned) + rng.normal(0, 1.0, page.pixels.shape)
    return Page(noisy.clip(0, 255).astype(np.uint8), np.asarray(truth).astype(bool))


def grey_backdrop(picture: Pixels, rng: np.random.Generator) -> Page:
    """A museum's photograph: the painting before a grey card, with its soft shadow."""
    page = _lay(picture, _paper(rng, (150, 150, 152), noise=1.2, fall=0.1), _sides(rng, 0.04, 0.15))
    reach = max(2, round(0.02 * max(picture.shape)))
    moved = np.roll(page.truth, (reach, reach // 2), (0, 1)).astype(np.float32) * 255
    soft = np.asarray(Image.fromarray(moved.astype(np.uint8)).filter(ImageFilter.GaussianBlur(reach))) / 255
    shade = np.where(page.truth, 1.0, 1.0 - 0.35 * soft)[..., None]
    return Page((page.pixels * shade).clip(0, 255).astype(np.uint8), page.truth)


def colour_bars(picture: Pixels, rng: np.random.Generator) -> Page:
    """A strip of colour patches and a grey ramp beside or under the painting."""
    under = bool(rng.integers(2))
    ground = _paper(rng, [(9, 8, 8), (150, 150, 152), (240, 240, 238)][int(rng.integers(3))], noise=1.0)
    sides = _sides(rng, 0.02, 0.06)
    sides[3 if under else 2] = rng.uniform(0.14, 0.2)
    page = _lay(picture, ground, sides)
    pixels = page.pixels.copy()
    rows, columns = np.flatnonzero(page.truth.any(axis=1)), np.flatnonzero(page.truth.any(axis=0))
    end = rows[-1] + 1 if under else columns[-1] + 1
    room = pixels.shape[0 if under else 1] - end
    length = pixels.shape[1 if under else 0]
    near, far = end + round(0.2 * room), end + round(0.85 * room)
    start, stop = round(0.06 * length), round(rng.uniform(0.6, 0.94) * length)
    patches = _patches(rng)
    cuts = np.linspace(start, stop, len(patches) + 1).round().astype(int)
    for patch, first, last in zip(patches, cuts[:-1], cuts[1:], strict=True):
        where = (slice(near, far), slice(first, last)) if under else (slice(first, last), slice(near, far))
        pixels[where] = patch
    return Page(pixels, page.truth)


def mount(picture: Pixels, rng: np.random.Generator) -> Page:
    """A card mount: a white bevel, lit from above, round the picture; sometimes a wall beyond the card."""
    bevel = max(2, round(0.008 * max(picture.shape)))
    framed = _ring(picture, bevel, [(226, 224, 220), (214, 212, 208), (250, 249, 247), (252, 251, 249)], rng)
    inner = np.zeros(framed.shape[:2], dtype=bool)
    inner[bevel:-bevel, bevel:-bevel] = True
    card = [(235, 230, 218), (205, 198, 184), (150, 146, 138), (86, 92, 88)][int(rng.integers(4))]
    outer = _lay(framed, _paper(rng, card, noise=1.5), _sides(rng, 0.08, 0.18))
    mounted = _within(outer, inner)
    if rng.uniform() < 0.4:
        wall = _lay(mounted.pixels, _paper(rng, (176, 172, 166), noise=1.5), _sides(rng, 0.02, 0.05))
        mounted = _within(wall, mounted.truth)
    return mounted


def simple_frame(picture: Pixels, rng: np.random.Generator) -> Page:
    """A plain moulding of wood, gold or black: a few steps of tone that run round the picture."""
    woods = [(112, 78, 48), (176, 140, 74), (38, 32, 28), (88, 62, 42)]
    base = np.array(woods[int(rng.integers(len(woods)))], dtype=float)
    framed, inner = picture, np.ones(picture.shape[:2], dtype=bool)
    for _ in range(int(rng.integers(2, 4))):
        wide = max(3, round(rng.uniform(0.01, 0.025) * max(picture.shape)))
        light = rng.uniform(0.6, 1.5)
        tones = [tuple(np.clip(base * light * side, 0, 255)) for side in (1.1, 0.9, 0.8, 1.2)]
        framed = _ring(framed, wide, tones, rng, noise=3.0)
        inner = np.pad(inner, wide)
    wall = [(176, 172, 166), (236, 234, 230), (60, 58, 56)][int(rng.integers(3))]
    outer = _lay(framed, _paper(rng, wall, noise=1.5), _sides(rng, 0.0, 0.08))
    return _within(outer, inner)


def oval_on_paper(picture: Pixels, rng: np.random.Generator) -> Page:
    return _shaped(picture, _oval(picture.shape), _paper(rng, (236, 228, 212), noise=2.0), rng)


def oval_on_black(picture: Pixels, rng: np.random.Generator) -> Page:
    return _shaped(picture, _oval(picture.shape), _paper(rng, (9, 8, 8), noise=1.0), rng)


def round_on_paper(picture: Pixels, rng: np.random.Generator) -> Page:
    square = _square(picture)
    return _shaped(square, _oval(square.shape), _paper(rng, (240, 236, 226), noise=1.5), rng)


def round_on_black(picture: Pixels, rng: np.random.Generator) -> Page:
    square = _square(picture)
    return _shaped(square, _oval(square.shape), _paper(rng, (9, 8, 8), noise=1.0), rng)


def arch_on_paper(picture: Pixels, rng: np.random.Generator) -> Page:
    return _shaped(picture, _arch(picture.shape), _paper(rng, (236, 228, 212), noise=2.0), rng)


def arch_on_black(picture: Pixels, rng: np.random.Generator) -> Page:
    return _shaped(picture, _arch(picture.shape), _paper(rng, (9, 8, 8), noise=1.0), rng)


def pointed_on_paper(picture: Pixels, rng: np.random.Generator) -> Page:
    return _shaped(picture, _pointed(picture.shape, rng), _paper(rng, (236, 228, 212), noise=2.0), rng)


def pointed_on_black(picture: Pixels, rng: np.random.Generator) -> Page:
    return _shaped(picture, _pointed(picture.shape, rng), _paper(rng, (9, 8, 8), noise=1.0), rng)


KINDS: dict[str, Maker] = {
    "pale scanner margin": pale_margin,
    "beige margin": beige_margin,
    "noisy margin": noisy_margin,
    "page with captions": captioned_page,
    "page on black": page_on_black,
    "black border": black_border,
    "slanting black border": slanting_black_border,
    "grey backdrop": grey_backdrop,
    "colour bars": colour_bars,
    "mount with bevel": mount,
    "simple frame": simple_frame,
    "ruled plate": ruled_plate,
    "shadow of the fold": gutter_shadow,
    "wide mount": wide_mount,
    "coloured wall": coloured_wall,
    "ragged panel on black": ragged_panel,
    "oval on paper": oval_on_paper,
    "oval on black": oval_on_black,
    "round on paper": round_on_paper,
    "round on black": round_on_black,
    "arch on paper": arch_on_paper,
    "arch on black": arch_on_black,
    "pointed arch on paper": pointed_on_paper,
    "pointed arch on black": pointed_on_black,
}


def sub_picture(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """A random part of a picture, half to nine tenths of each side: a full-bleed picture with other edges."""
    width, height = image.size
    wide, tall = (round(float(rng.uniform(0.5, 0.9)) * side) for side in image.size)
    x, y = int(rng.integers(0, width - wide + 1)), int(rng.integers(0, height - tall + 1))
    return image.crop((x, y, x + wide, y + tall))


def flat_study(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """The picture laid in three flat greys by shares that differ from sheet to sheet: it fills its paper."""
    grey = image.convert("L").filter(ImageFilter.GaussianBlur(0.015 * max(image.size)))
    codes = np.asarray(grey)
    low, high = np.quantile(codes, [rng.uniform(0.2, 0.45), rng.uniform(0.55, 0.85)])
    laid = np.array([52, 134, 238], dtype=np.uint8)[np.digitize(codes, [low, max(high, low + 1)])]
    return Image.fromarray(laid).convert("RGB")


def sized(image: Image.Image, side: int = 560) -> Pixels:
    """The picture with a longest side of at most so many pixels."""
    small = image.copy()
    small.thumbnail((side, side), Image.Resampling.LANCZOS)
    return np.asarray(small)


def _lightness(pixels: Pixels) -> NDArray[np.float64]:
    code = pixels.astype(np.float64) / 255
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    y = linear @ np.array([0.2126, 0.7152, 0.0722])
    return np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, y * 24389 / 27)


Ground = Callable[[tuple[int, int]], NDArray[np.float64]]


def _paper(rng: np.random.Generator, tone: Tone, *, noise: float, fall: float = 0.0, spots: int = 0) -> Ground:
    """A ground of any size: a tone, its grain, light that falls off to one side, spots of age."""

    def laid(shape: tuple[int, int]) -> NDArray[np.float64]:
        height, width = shape
        turn = rng.uniform(0, 2 * np.pi)
        across = np.cos(turn) * np.linspace(-1, 1, width)[None] + np.sin(turn) * np.linspace(-1, 1, height)[:, None]
        field = np.array(tone) * (1 - fall * (across + 1) / 2)[..., None]
        coarse = Image.fromarray(rng.normal(0, noise, (height // 3 + 1, width // 3 + 1)).astype(np.float32))
        field = field + np.asarray(coarse.resize((width, height), Image.Resampling.BICUBIC))[..., None]
        field = field + rng.normal(0, noise, (height, width, 1))
        for _ in range(spots):
            y, x, r = rng.uniform(0, height), rng.uniform(0, width), rng.uniform(1, 4)
            near = np.hypot(np.arange(height)[:, None] - y, np.arange(width)[None] - x) < r
            field[near] *= 0.8
        return field

    return laid


def _sides(rng: np.random.Generator, least: float, most: float) -> NDArray[np.float64]:
    """Widths left, top, right, bottom, as shares of the picture's longest side."""
    return rng.uniform(least, most, 4)


def _lay(picture: Pixels, ground: Ground, sides: NDArray[np.float64]) -> Page:
    height, width = picture.shape[:2]
    left, top, right, bottom = (round(float(side) * max(height, width)) for side in sides)
    shape = (height + top + bottom, width + left + right)
    pixels = ground(shape).clip(0, 255).astype(np.uint8)
    truth = np.zeros(shape, dtype=bool)
    truth[top : top + height, left : left + width] = True
    pixels[top : top + height, left : left + width] = picture
    return Page(pixels, truth)


def _within(outer: Page, inner: Truth) -> Page:
    """The outer page, with only that part of its picture that is picture within."""
    truth = np.zeros(outer.truth.shape, dtype=bool)
    truth[outer.truth] = inner.ravel()
    return Page(outer.pixels, truth)


def _ring(picture: Pixels, wide: int, tones: list[Any], rng: np.random.Generator, *, noise: float = 1.0) -> Pixels:
    """The picture with a mitred band round it; tones: left, top, right, bottom."""
    height, width = picture.shape[0] + 2 * wide, picture.shape[1] + 2 * wide
    y, x = np.mgrid[:height, :width]
    side = np.argmin(np.stack([x, y, width - 1 - x, height - 1 - y]), axis=0)
    field = np.array(tones, dtype=float)[side] + rng.normal(0, noise, (height, width, 1))
    pixels = field.clip(0, 255).astype(np.uint8)
    pixels[wide:-wide, wide:-wide] = picture
    return pixels


def _shaped(picture: Pixels, shape: Truth, ground: Ground, rng: np.random.Generator) -> Page:
    soft = np.asarray(Image.fromarray(shape).convert("L").filter(ImageFilter.GaussianBlur(0.7))) / 255
    under = ground(shape.shape)
    mixed = under + (picture - under) * soft[..., None]
    inside = mixed.clip(0, 255).astype(np.uint8)
    page = _lay(inside, ground, _sides(rng, 0.02, 0.12))
    return _within(page, shape)


def _oval(shape: tuple[int, ...]) -> Truth:
    height, width = shape[:2]
    y, x = np.mgrid[:height, :width]
    return ((x + 0.5) / width * 2 - 1) ** 2 + ((y + 0.5) / height * 2 - 1) ** 2 <= 1


def _arch(shape: tuple[int, ...]) -> Truth:
    """Upright sides under a half round."""
    height, width = shape[:2]
    rise = min(width / 2, height * 0.6)
    y, x = np.mgrid[:height, :width] + 0.5
    return (y >= rise) | (((x - width / 2) / (width / 2)) ** 2 + ((rise - y) / rise) ** 2 <= 1)


def _pointed(shape: tuple[int, ...], rng: np.random.Generator) -> Truth:
    """Two arcs that meet in a point: a blunt, an even-sided or a sharp arch, whose centres lie on the foot of it; a
    wide one may be cut off before its sides are upright."""
    height, width = shape[:2]
    radius = width * rng.uniform(0.75, 1.3)
    rise = np.sqrt(radius**2 - (radius - width / 2) ** 2)
    y, x = np.mgrid[:height, :width] + 0.5
    above = np.maximum(rise - y, 0)
    return np.asarray(np.hypot(np.abs(x - width / 2) + radius - width / 2, above) <= radius)


def _square(picture: Pixels) -> Pixels:
    side = min(picture.shape[:2])
    y, x = (picture.shape[0] - side) // 2, (picture.shape[1] - side) // 2
    return picture[y : y + side, x : x + side]


def _print(
    draw: ImageDraw.ImageDraw,
    x: float,
    y: float,
    unit: int,
    ink: tuple[int, int, int],
    rng: np.random.Generator,
    words: int,
) -> None:
    lengths = rng.integers(2, 10, words)
    text = " ".join("".join(rng.choice(list("AEIOURSTNLMDCP"), size)) for size in lengths)
    draw.text((x, y), text, fill=ink, font=ImageFont.load_default(unit), anchor="mt")


def _patches(rng: np.random.Generator) -> list[tuple[int, int, int]]:
    colours = [(190, 40, 48), (240, 200, 30), (60, 130, 70), (40, 70, 150), (180, 70, 140), (40, 150, 170)]
    ramp = [(int(g), int(g), int(g)) for g in np.linspace(246, 18, 8)]
    return [*colours, *ramp] if rng.integers(2) else [*ramp, *colours]
