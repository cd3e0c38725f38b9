"""Whether a picture keeps its type when only the file changes: run ``python tests/benchmarks/type_invariance.py``.

The clean parts of the samples are mirrored, recoloured at equal luminance, cut by 3 % (half of it on either side), by 3
% on every side, and photographed again (a softer lens, a flatter tone curve, light that falls off to one side, noise,
JPEG). Targets: a mirrored picture has every degree within 0.05; the others keep the strongest type in 95 % of the
samples.

How it is counted: 'clear': of the pictures that have a clear type, those whose copy holds the same one most. 'same':
the strongest is the same, where being of no clear type counts as a type of its own that every picture holds at the
degree from which types are clear: one that loses its clear type, or gains one, has changed. 'kept': the copy holds the
picture's strongest type, or none where it had none, within 0.1 of what the copy holds most; a picture of which two
types are held within 0.1 is said to be of both. 'by chance': the same asked of another picture's copy, which says how
little 'kept' is worth by itself. The works at even places of the list, counted from 0, were used to find the rules; the
others were held back.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor

import made_pages
import numpy as np
from made_changes import cropped, jpeg, png, recoloured
from PIL import Image, ImageFilter

from ingest.arrangement_types import CLEAR, NEAR, TYPES, named
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
    "cut by 3 %": lambda image: png(cropped(image, 0.015)),
    "3 % a side": lambda image: png(cropped(image, 0.03)),
    "photographed": lambda image: jpeg(photographed(image), 75),
}


def degrees_of(item: tuple[str, Image.Image]) -> tuple[str, dict[str, float], dict[str, dict[str, float]]]:
    """The file, its degrees, and those of each changed copy."""
    file, image = item
    changed = {name: read(make(image), trim=False).types for name, make in CHANGES.items()}
    return file, read(png(image), trim=False).types, changed


def with_none(types: dict[str, float]) -> dict[str, float]:
    """The degrees of the layouts, with none of them clear as one of its own."""
    return {kind.slug: types[kind.slug] for kind in TYPES if not kind.manner} | {"none": CLEAR}


def name_of(types: dict[str, float]) -> str:
    held = with_none(types)
    return max(held, key=lambda name: held[name])


def same(own: dict[str, float], other: dict[str, float]) -> bool:
    """Whether the strongest type is the same."""
    return name_of(own) == name_of(other)


def strongest(types: dict[str, float]) -> str:
    """The layout that is held most, clearly or not."""
    return max((kind.slug for kind in TYPES if not kind.manner), key=lambda slug: types[slug])


def kept(own: dict[str, float], other: dict[str, float]) -> bool:
    """Whether the strongest type is still held within `NEAR` of what is held most."""
    held = with_none(other)
    return held[name_of(own)] >= max(held.values()) - NEAR


def moved(own: dict[str, float], other: dict[str, float]) -> float:
    """The largest change of a degree."""
    return max(abs(own[kind.slug] - other[kind.slug]) for kind in TYPES)


def share(answers: Iterable[bool]) -> str:
    return f"{np.mean(list(answers)):8.1%}"


def report(part: str, found: list[tuple[str, dict[str, float], dict[str, dict[str, float]]]]) -> None:
    """Print the table of some of the works."""
    many = [len(named(own)) for _, own, _ in found]
    print(f"{part}, {len(found)} works: {share(count > 0 for count in many).strip()} of a clear type", end=", ")
    print(f"{share(count > 1 for count in many).strip()} of more than one")
    print(f"{'change':14}{'clear':>8}{'same':>8}{'kept':>8}{'chance':>8}{'median':>8}{'95th':>7}{'worst':>7}")
    for name in CHANGES:
        pairs = [(own, changed[name]) for _, own, changed in found]
        others = [pairs[(at + len(pairs) // 2) % len(pairs)][1] for at in range(len(pairs))]
        by_chance = [kept(own, other) for (own, _), other in zip(pairs, others, strict=True)]
        steps = np.array([moved(*pair) for pair in pairs])
        clear = [strongest(own) == strongest(other) for own, other in pairs if named(own)]
        print(
            f"{name:14}{share(clear)}{share(same(*pair) for pair in pairs)}{share(kept(*pair) for pair in pairs)}"
            f"{share(by_chance)}{np.median(steps):8.3f}{np.quantile(steps, 0.95):7.2f}{steps.max():7.2f}"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--every", type=int, default=1, help="take every so many samples (default all)")
    parser.add_argument("--list", action="store_true", help="list the pictures that changed their type")
    options = parser.parse_args()
    items = list(made_pages.clean_parts())[:: options.every]
    with ProcessPoolExecutor(2) as workers:
        found = list(workers.map(degrees_of, items))
    used = [at * options.every % 2 == 0 for at in range(len(found))]
    report("all", found)
    if not all(used):
        report("used to find the rules", [one for one, was in zip(found, used, strict=True) if was])
        report("held back", [one for one, was in zip(found, used, strict=True) if not was])
    if options.list:
        for file, own, changed in found:
            for name, other in changed.items():
                if not kept(own, other):
                    first, second = name_of(own), name_of(other)
                    held, now = with_none(own), with_none(other)
                    both = ", ".join(f"{slug} {held[slug]:.2f} -> {now[slug]:.2f}" for slug in (first, second))
                    print(f"{file}: {name}: {both}")


if __name__ == "__main__":
    main()
