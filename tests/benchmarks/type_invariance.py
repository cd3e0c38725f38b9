"""Whether a picture keeps its type when only the file changes: run ``python tests/benchmarks/type_invariance.py``.

The clean parts of the samples are mirrored, recoloured at equal luminance, cut by 3 % a side and photographed again
(a softer lens, a flatter tone curve, light that falls off to one side, noise, JPEG). Targets: a mirrored picture has
every degree within 0.05; the others keep the strongest type in 95 % of the samples.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor

import made_pages
import numpy as np
from made_changes import cropped, jpeg, png, recoloured
from PIL import Image, ImageFilter

from ingest.arrangement_types import CLEAR, TYPES, strongest
from ingest.reading import read


def photographed(image: Image.Image, seed: int = 1783) -> Image.Image:
    """The picture as a camera on a stand may see it again."""
    rng = np.random.default_rng(seed)
    soft = image.convert("RGB").filter(ImageFilter.GaussianBlur(0.001 * max(image.size)))
    code = np.asarray(soft, dtype=np.float64) / 255
    across = np.linspace(1.03, 0.97, image.width)[None, :, None]
    seen = (0.03 + 0.93 * code**1.08) * across + rng.normal(0, 0.008, code.shape)
    return Image.fromarray(np.rint(seen.clip(0, 1) * 255).astype(np.uint8))


CHANGES: dict[str, Callable[[Image.Image], bytes]] = {
    "mirrored": lambda image: png(image.transpose(Image.Transpose.FLIP_LEFT_RIGHT)),
    "recoloured": lambda image: png(recoloured(image)),
    "3 % cut off": lambda image: png(cropped(image, 0.03)),
    "photographed": lambda image: jpeg(photographed(image), 75),
}


def degrees_of(item: tuple[str, Image.Image]) -> tuple[str, dict[str, float], dict[str, dict[str, float]]]:
    """The file, its degrees, and those of each changed copy."""
    file, image = item
    changed = {name: read(make(image), trim=False).types for name, make in CHANGES.items()}
    return file, read(png(image), trim=False).types, changed


def name_of(types: dict[str, float]) -> str:
    best = strongest(types)
    return best.slug if best else "none"


def compare(own: dict[str, float], other: dict[str, float]) -> tuple[bool, bool, float]:
    """Whether the strongest type is the same, whether it is the same or was within 0.1 of it, the largest change."""
    first, second = name_of(own), name_of(other)
    close = first == second or abs(own.get(first, CLEAR) - own.get(second, CLEAR)) <= 0.1
    return first == second, close, max(abs(own[kind.slug] - other[kind.slug]) for kind in TYPES)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--every", type=int, default=4, help="take every so many samples (default 4)")
    parser.add_argument("--list", action="store_true", help="list the pictures that changed their type")
    options = parser.parse_args()
    items = list(made_pages.clean_parts())[:: options.every]
    with ProcessPoolExecutor(2) as workers:
        found = list(workers.map(degrees_of, items))
    print(f"{'change':14}{'n':>4}{'same':>8}{'or close':>10}{'median':>8}{'95th':>7}{'worst':>7}")
    for name in CHANGES:
        results = [compare(own, changed[name]) for _, own, changed in found]
        moved = np.array([result[2] for result in results])
        same, close = (float(np.mean([result[at] for result in results])) for at in (0, 1))
        print(
            f"{name:14}{len(results):4}{same:8.1%}{close:10.1%}{np.median(moved):8.3f}"
            f"{np.quantile(moved, 0.95):7.2f}{moved.max():7.2f}"
        )
    if options.list:
        for file, own, changed in found:
            for name, other in changed.items():
                if name_of(own) != name_of(other):
                    both = ", ".join(
                        f"{slug} {own.get(slug, 0):.2f} -> {other.get(slug, 0):.2f}"
                        for slug in (name_of(own), name_of(other))
                    )
                    print(f"{file}: {name}: {both}")


if __name__ == "__main__":
    main()
