"""Nine ways of laying a picture in three values, compared: run ``python tests/benchmarks/value_map_ways.py``.

On made pictures, whose masses are known: how many pixels are right, how many masses and how much border there are for
each true one, the worst proportion, and what a half black, half white picture is given of middle. On the clean parts
of the samples, and on the pictures of a folder with ``--also DIR``: how much of the map changes with JPEG at quality 60
and with half the size, how many shapes and specks it has, and the time that the processor spends on it. ``--sheet
FILE`` lays six samples out in six of the ways; ``--squints`` compares our own way at several squints.

The graph cut needs PyMaxflow and is left out with a word where that is not installed.
"""

from __future__ import annotations

import argparse
import io
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import made_changes
import made_pages
import made_tones as made
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage
from skimage.filters import threshold_multiotsu
from skimage.measure import label
from skimage.restoration import denoise_tv_chambolle
from skimage.segmentation import quickshift
from sklearn.cluster import KMeans

from ingest.lightness import lightness_CIE1976
from ingest.picture import read_picture
from ingest.picture_file import UnreadablePicture
from ingest.squint import squint
from ingest.value_map import map_picture, value_map

try:
    import maxflow
except ImportError:
    maxflow = None

Tone = NDArray[np.float32]
Labels = NDArray[np.uint8]
Way = Callable[[Tone], Labels]
"""Relative luminance (h, w) 0..1, linear, to labels 0 dark, 1 mid, 2 light."""

_SPECK = 0.002
"""Shapes under this share of the picture are specks where a way takes them away."""


def _otsu(tones: Tone) -> Labels:
    """Multi-level Otsu (Liao, Chen & Chung 2001); of two tones the one is dark and the other light."""
    return np.digitize(tones, _cuts(tones)).astype(np.uint8)


def _cuts(tones: Tone) -> NDArray[np.float64]:
    try:
        return np.asarray(threshold_multiotsu(tones, 3, nbins=200), dtype=np.float64)
    except ValueError:
        middle = (float(tones.min()) + float(tones.max())) / 2
        return np.array([middle, middle])


def _without_specks(labels: Labels) -> Labels:
    shapes = label(labels, background=255, connectivity=1)
    small = (np.bincount(shapes.ravel()) < _SPECK * labels.size)[shapes]
    if small.any() and not small.all():
        near = ndimage.distance_transform_edt(small, return_distances=False, return_indices=True)
        labels = labels[near[0], near[1]]
    return labels


def _diagonal(tones: Tone) -> float:
    return float(np.hypot(*tones.shape))


def raw(light: Tone) -> Labels:
    return _otsu(lightness_CIE1976(light))


def gaussian(light: Tone) -> Labels:
    """Blurred by a hundredth of the diagonal, in linear light."""
    return _otsu(lightness_CIE1976(ndimage.gaussian_filter(light, 0.01 * _diagonal(light))))


def wide_gaussian(light: Tone) -> Labels:
    """Blurred by two hundredths, as much as our squint."""
    return _otsu(lightness_CIE1976(ndimage.gaussian_filter(light, 0.02 * _diagonal(light))))


def median(light: Tone) -> Labels:
    """The median of a window of a twenty-fifth of the diagonal."""
    return _otsu(ndimage.median_filter(lightness_CIE1976(light), 2 * round(0.02 * _diagonal(light)) + 1))


def total_variation(light: Tone) -> Labels:
    """Rudin, Osher & Fatemi 1992 by Chambolle 2004, weight 0.5, then specks away."""
    smooth = denoise_tv_chambolle(lightness_CIE1976(light) / 100, weight=0.5, max_num_iter=200)
    return _without_specks(_otsu(np.asarray(smooth, dtype=np.float32)))


def k_means(light: Tone) -> Labels:
    """Clusters of L* and place, many of them, each then given the value of its mean."""
    tones = ndimage.gaussian_filter(lightness_CIE1976(light), 1.0)
    height, width = tones.shape
    y, x = np.mgrid[:height, :width] / _diagonal(light)
    features = np.stack([tones.ravel() / 100, 0.25 * x.ravel(), 0.25 * y.ravel()], axis=1)
    found = KMeans(60, n_init=1, max_iter=40, random_state=0).fit(features[::5]).predict(features)
    means = np.bincount(found, tones.ravel()) / np.maximum(np.bincount(found), 1)
    return _without_specks(_otsu(means[found].reshape(tones.shape).astype(np.float32)))


def mean_shift(light: Tone) -> Labels:
    """Modes of L* and place (Comaniciu & Meer 2002) by quick shift (Vedaldi & Soatto 2008), at half the size."""
    tones = lightness_CIE1976(light)
    small = ndimage.zoom(ndimage.uniform_filter(tones, 2), 0.5, order=1)
    segments = quickshift(
        small[..., None], ratio=0.35, kernel_size=0.01 * _diagonal(small), max_dist=0.05 * _diagonal(small),
        convert2lab=False, rng=0,
    )  # fmt: skip
    means = np.bincount(segments.ravel(), small.ravel()) / np.maximum(np.bincount(segments.ravel()), 1)
    shown = Image.fromarray(_otsu(means[segments].astype(np.float32)))
    return _without_specks(np.asarray(shown.resize(tones.shape[::-1], Image.Resampling.NEAREST)))


def graph_cut(light: Tone) -> Labels:
    """A Potts labelling by alpha-expansion (Boykov, Veksler & Zabih 2001), then specks away."""
    tones = lightness_CIE1976(light)
    smooth = ndimage.gaussian_filter(tones, 0.004 * _diagonal(light))
    rough = np.digitize(smooth, _cuts(smooth))
    values = [smooth[rough == value] for value in range(3) if (rough == value).any()]
    means = [float(held.mean()) for held in values]
    spread = float(np.mean([held.std() for held in values])) + 1e-6
    costs = np.stack([((smooth - mean) / (2 * spread)) ** 2 for mean in means], axis=-1).clip(0, 12)
    found = maxflow.fastmin.aexpansion_grid(costs.astype(np.float64), 2.5 * (1 - np.eye(len(values))))
    return _without_specks((found * (2 if len(values) == 2 else 1)).astype(np.uint8))


def at_squint(share: float) -> Way:
    return lambda light: value_map(squint(light, share), 3).labels


def ours(light: Tone) -> Labels:
    return value_map(squint(light), 3).labels


WAYS: dict[str, Way] = {
    "Otsu, raw": raw,
    "Gauss 1 % + Otsu": gaussian,
    "Gauss 2 % + Otsu": wide_gaussian,
    "median + Otsu": median,
    "total variation": total_variation,
    "k-means": k_means,
    "mean shift": mean_shift,
    **({} if maxflow is None else {"graph cut": graph_cut}),
    "ours": ours,
}
SHOWN = ("Otsu, raw", "Gauss 2 % + Otsu", "total variation", "k-means", "graph cut", "ours")
SQUINTS = (0.005, 0.01, 0.015, 0.02, 0.03, 0.04)
PAINTED = ("plain", "brush", "impasto")
"""Textures of paint alone; the others are those of printing."""

SHEET = (
    "met-14-40-623.jpg",
    "met-14-40-618.jpg",
    "met-1993-132.jpg",
    "met-2000-51.jpg",
    "met-61-101-1.jpg",
    "met-object-438490.webp",
)


@dataclass
class Found:
    """What is collected of one way, a number for each picture."""

    right: list[float] = field(default_factory=list)
    painted: list[float] = field(default_factory=list)
    masses: list[float] = field(default_factory=list)
    pieces: list[float] = field(default_factory=list)
    border: list[float] = field(default_factory=list)
    proportion: list[float] = field(default_factory=list)
    jpeg: list[float] = field(default_factory=list)
    half: list[float] = field(default_factory=list)
    shapes: list[int] = field(default_factory=list)
    specks: list[int] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)


def perimeter(labels: Labels) -> int:
    """How many neighbouring pixels differ."""
    return int((labels[1:] != labels[:-1]).sum() + (labels[:, 1:] != labels[:, :-1]).sum())


def count_shapes(labels: Labels) -> tuple[int, int]:
    """Shapes of a hundredth of the picture or more, and those below."""
    sizes = np.bincount(label(labels, background=255, connectivity=1).ravel())[1:]
    large = int((sizes >= 0.01 * labels.size).sum())
    return large, len(sizes) - large


def middle_between() -> Tone:
    """Half black, half white, with a little noise of the camera."""
    codes = np.where(np.arange(320) < 160, 12, 243) + np.random.default_rng(1).normal(0, 4, (240, 320))
    return luminance_of(Image.fromarray(codes.clip(0, 255).astype(np.uint8)))


def luminance_of(image: Image.Image | bytes) -> Tone:
    if isinstance(image, bytes):
        return read_picture(image, trim=False).luminance
    return read_picture(made_changes.png(image), trim=False).luminance


def on_made(pictures: int, found: dict[str, Found]) -> int:
    """Fill in what made pictures tell; returns how many there were."""
    count = 0
    for texture in made.TEXTURES:
        for soft in (False, True):
            for layout in made.LAYOUTS:
                rng = np.random.default_rng([23, soft, *texture.encode(), *layout.encode()])
                for _ in range(pictures):
                    picture = made.make(layout, texture, rng, soft=soft)
                    light = luminance_of(Image.fromarray(picture.pixels))
                    size = light.shape[::-1]
                    truth = np.asarray(Image.fromarray(picture.labels).resize(size, Image.Resampling.NEAREST))
                    count += 1
                    for name, way in WAYS.items():
                        labels = way(light)
                        off = np.bincount(labels.ravel(), minlength=3)[:3] / labels.size - picture.shares()
                        here = found[name]
                        here.right.append(float((labels == truth).mean()))
                        if texture in PAINTED:
                            here.painted.append(here.right[-1])
                        large, small = count_shapes(labels)
                        here.masses.append(large / picture.masses())
                        here.pieces.append((large + small) / picture.masses())
                        here.border.append(perimeter(labels) / max(1, perimeter(truth)))
                        here.proportion.append(float(np.abs(off).max()))
    return count


def on_paintings(images: Iterator[Image.Image], found: dict[str, Found]) -> int:
    """Fill in what paintings tell; returns how many there were."""
    count = 0
    for image in images:
        count += 1
        light = luminance_of(image)
        compressed = luminance_of(made_changes.jpeg(image))
        half = luminance_of(made_changes.scaled(image, 0.5))
        for name, way in WAYS.items():
            here = found[name]
            begun = time.process_time()
            labels = way(light)
            here.seconds.append(time.process_time() - begun)
            large, small = count_shapes(labels)
            here.shapes.append(large)
            here.specks.append(small)
            here.jpeg.append(_differing(labels, way(compressed)))
            here.half.append(_differing(labels, way(half)))
    return count


def _differing(own: Labels, other: Labels) -> float:
    fitted = Image.fromarray(other).resize(own.shape[::-1], Image.Resampling.NEAREST)
    return float((np.asarray(fitted) != own).mean())


def also(folder: Path, every: int) -> Iterator[Image.Image]:
    """Every so many of the pictures of a folder, trimmed as we trim; files that can't be read are left out."""
    for file in sorted(path for path in folder.rglob("*") if path.suffix.lower() in (".jpg", ".jpeg", ".png"))[::every]:
        try:
            yield Image.fromarray(read_picture(file).rgb)
        except UnreadablePicture as problem:
            print(f"left out {file.name}: {problem}")


def sheet(file: Path, side: int = 132) -> None:
    """Six samples, each as it is and in six ways, in rows."""
    ways = [name for name in SHOWN if name in WAYS]
    rows: list[list[Image.Image]] = []
    for name in SHEET:
        picture = read_picture(made_pages.SAMPLES / name)
        row = [Image.fromarray(picture.rgb)]
        row += [map_picture(WAYS[way](picture.luminance), 3).convert("RGB") for way in ways]
        for cell in row:
            cell.thumbnail((side, side), Image.Resampling.LANCZOS)
        rows.append(row)
    heights = [row[0].height + 6 for row in rows]
    page = Image.new("RGB", ((side + 6) * (len(ways) + 1) + 6, sum(heights) + 6), (128, 128, 128))
    top = 6
    for row, height in zip(rows, heights, strict=True):
        for column, cell in enumerate(row):
            page.paste(cell, (6 + column * (side + 6) + (side - cell.width) // 2, top))
        top += height
    held = io.BytesIO()
    page.save(held, "WEBP", quality=72, method=6)
    file.write_bytes(held.getvalue())
    print(f"{file}: the painting, then {', '.join(ways)}; {len(held.getvalue()) // 1000} kB")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pictures", type=int, default=1, help="made pictures of each layout, texture and border (1)")
    parser.add_argument("--every", type=int, default=12, help="take every so many of the paintings (12)")
    parser.add_argument("--also", type=Path, help="a folder with more paintings")
    parser.add_argument("--squints", action="store_true", help="compare our own way at several squints instead")
    parser.add_argument("--sheet", type=Path, metavar="FILE.webp", help="only lay out the sheet of pictures")
    options = parser.parse_args()
    if options.squints:
        WAYS.clear()
        WAYS.update({f"squint {share}": at_squint(share) for share in SQUINTS})
    elif maxflow is None:
        print("The graph cut is left out: PyMaxflow is not installed.\n")
    if options.sheet is not None:
        sheet(options.sheet)
        return
    found = {name: Found() for name in WAYS}
    count = on_made(options.pictures, found)
    halves = middle_between()
    print(f"{count} made pictures; masses, shapes and border against the true ones; halves: middle in black and white")
    print(f"| {'way':16} | right | paint only | worst | masses | in a fifth | shapes | border | proportion ", end="")
    print("| worst | halves |\n|---|" + "---:|" * 10)
    for name, way in WAYS.items():
        here = found[name]
        print(
            f"| {name:16} | {np.mean(here.right):.3f} | {np.mean(here.painted):.3f} "
            f"| {min(here.right):.3f} | {np.mean(here.masses):.2f} "
            f"| {np.mean(np.abs(np.array(here.masses) - 1) <= 0.2):.0%} | {np.mean(here.pieces):.1f} "
            f"| {np.mean(here.border):.2f} | {np.mean(here.proportion):.3f} | {max(here.proportion):.3f} "
            f"| {float((way(halves) == 1).mean()):.3f} |"
        )
    sources = {"samples": (image for _, image in made_pages.clean_parts(options.every))}
    if options.also is not None:
        sources["the other folder"] = also(options.also, options.every)
    for source, images in sources.items():
        found = {name: Found() for name in WAYS}
        count = on_paintings(images, found)
        print(f"\n{count} paintings of {source}; changed share of the map; shapes from 1 % of the picture, and below")
        print(f"| {'way':16} | JPEG 60 | worst | half size | worst | shapes | specks | ms |")
        print("|---|---:|---:|---:|---:|---:|---:|---:|")
        for name, here in found.items():
            print(
                f"| {name:16} | {np.mean(here.jpeg):.3f} | {max(here.jpeg):.3f} | {np.mean(here.half):.3f} "
                f"| {max(here.half):.3f} | {np.mean(here.shapes):.1f} | {np.mean(here.specks):.1f} "
                f"| {1000 * np.median(here.seconds):.0f} |"
            )


if __name__ == "__main__":
    main()
