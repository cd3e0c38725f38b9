"""Value maps of pictures whose masses are known: run ``python tests/benchmarks/reading_synthetic.py``.

Targets: at least 97 % of the pixels right, the number of masses within a fifth, no proportion off by more than 0.02.
"""

from __future__ import annotations

import argparse
import io
from dataclasses import dataclass
from pathlib import Path

import made_tones as made
import numpy as np
from PIL import Image

from ingest.reading import read
from ingest.value_map import map_picture


@dataclass(frozen=True)
class Score:
    """right: share of pixels. masses: found against true, as a ratio. proportion: the worst error of the three.
    light, dark: found less true."""

    right: float
    masses: float
    proportion: float
    light: float
    dark: float
    name: str


def score(picture: made.MadePicture, name: str, save: Path | None = None) -> Score:
    buffer = io.BytesIO()
    Image.fromarray(picture.pixels).save(buffer, "PNG", compress_level=1)
    labels = read(buffer.getvalue(), trim=False).maps[3].labels
    height, width = labels.shape
    truth = np.asarray(Image.fromarray(picture.labels).resize((width, height), Image.Resampling.NEAREST))
    off = np.bincount(labels.ravel(), minlength=3)[:3] / labels.size - picture.shares()
    found = made.count_masses(labels)
    result = Score(
        right=float((labels == truth).mean()),
        masses=found / max(1, picture.masses()),
        proportion=float(np.abs(off).max()),
        light=float(off[2]),
        dark=float(off[0]),
        name=name,
    )
    if save is not None:
        sheet = Image.new("L", (3 * width + 8, height), 128)
        sheet.paste(Image.fromarray(picture.pixels).resize((width, height), Image.Resampling.BOX), (0, 0))
        sheet.paste(map_picture(truth, 3), (width + 4, 0))
        sheet.paste(map_picture(labels, 3), (2 * width + 8, 0))
        sheet.save(save / f"{name.replace(' ', '-')}-{result.right:.3f}.png")
    return result


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pictures", type=int, default=3, help="pictures of each layout, texture and border")
    parser.add_argument("--seed", type=int, default=11, help="another seed makes other pictures (default 11)")
    parser.add_argument("--save", type=Path, help="folder for sheets of picture, truth and map")
    options = parser.parse_args()
    if options.save is not None:
        options.save.mkdir(parents=True, exist_ok=True)
    scores: list[Score] = []
    groups: dict[str, list[Score]] = {}
    for texture in made.TEXTURES:
        for soft in (False, True):
            for layout in made.LAYOUTS:
                rng = np.random.default_rng([options.seed, soft, *texture.encode(), *layout.encode()])
                for number in range(options.pictures):
                    name = f"{texture} {'soft' if soft else 'hard'} {layout} {number}"
                    result = score(made.make(layout, texture, rng, soft=soft), name, options.save)
                    scores.append(result)
                    for group in (texture, layout, "soft borders" if soft else "hard borders"):
                        groups.setdefault(group, []).append(result)
    heads = ("right", "worst", "masses", "in a fifth", "proportion", "worst", "light", "dark")
    print(f"{'':14}{'n':>4}" + "".join(f"{head:>11}" for head in heads))
    for name, found in [*groups.items(), ("all", scores)]:
        print(_line(name, found))
    print("\nworst by pixels:")
    for result in sorted(scores, key=lambda s: s.right)[:10]:
        print(f"  {result.right:.3f}  masses x{result.masses:.2f}  proportion {result.proportion:.3f}  {result.name}")
    print("worst by number of masses:")
    for result in sorted(scores, key=lambda s: -abs(np.log(max(s.masses, 0.01))))[:10]:
        print(f"  {result.right:.3f}  masses x{result.masses:.2f}  proportion {result.proportion:.3f}  {result.name}")


def _line(name: str, found: list[Score]) -> str:
    right = np.array([s.right for s in found])
    masses = np.array([s.masses for s in found])
    off = np.array([s.proportion for s in found])
    within = float((np.abs(masses - 1) <= 0.2).mean())
    light, dark = (float(np.mean([getattr(s, value) for s in found])) for value in ("light", "dark"))
    return (
        f"{name:14}{len(found):4}{right.mean():11.4f}{right.min():11.3f}{masses.mean():11.2f}{within:11.1%}"
        f"{off.mean():11.4f}{off.max():11.3f}{light:+11.4f}{dark:+11.4f}"
    )


if __name__ == "__main__":
    main()
