"""Whether the value map stays when only the file changes: run ``python tests/benchmarks/reading_invariance.py``.

The clean parts of the samples, and of the others what the reader keeps, are turned, mirrored, scaled, stored anew,
recoloured at equal luminance and cut by 3 % a side; the three-value maps are laid over one another. Targets: under 3 %
of the pixels change and no proportion by more than 0.02; recolouring leaves 99.5 %. The last two are shown for
information: they change the light itself.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator

import made_pages
import numpy as np
from made_changes import CHANGES, differing, png, shares
from PIL import Image

from ingest.picture import read_picture
from ingest.reading import read

MOST_CHANGED = 0.03
MOST_RECOLOURED = 0.005
MOST_SHIFTED = 0.02


def pictures(every: int) -> Iterator[tuple[str, Image.Image]]:
    """(file, picture) of every so many of the clean parts, and of as many of the other samples as they are trimmed."""
    yield from made_pages.clean_parts(every)
    clean = {file for file, _ in made_pages.clean_parts()}
    for file in [file for file in sorted(made_pages.SAMPLES.iterdir()) if file.name not in clean][::every]:
        with Image.open(file) as opened:
            yield file.name, opened.convert("RGB").crop(read_picture(file).trimmed)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--every", type=int, default=4, help="take every so many samples (default 4)")
    options = parser.parse_args()
    found: dict[str, list[tuple[float, float, str]]] = {name: [] for name in CHANGES}
    for file, image in pictures(options.every):
        own = read(png(image), trim=False).maps[3].labels
        for name, change in CHANGES.items():
            other = read(change.make(image), trim=False).maps[3].labels
            shift = float(np.abs(shares(other) - shares(own, change)).max())
            found[name].append((differing(own, other, change), shift, file))
    header = f"{'change':18}{'n':>4}{'changed':>9}{'worst':>8}{'over':>7}{'shift':>8}{'worst':>8}{'> 0.02':>8}"
    print(header)
    for name, results in found.items():
        changed, shift = (np.array([result[at] for result in results]) for at in (0, 1))
        most = MOST_RECOLOURED if name == "recoloured" else MOST_CHANGED
        print(
            f"{name:18}{len(results):4}{changed.mean():9.4f}{changed.max():8.4f}{int((changed > most).sum()):7}"
            f"{shift.mean():8.4f}{shift.max():8.3f}{int((shift > MOST_SHIFTED).sum()):8}"
        )
    print("\nworst:")
    every = [(*result, name) for name, results in found.items() for result in results]
    for changed, shift, file, name in sorted((e for e in every if CHANGES[e[3]].same_light), reverse=True)[:15]:
        print(f"  {changed:6.1%} of the pixels, a proportion by {shift:.3f}: {file}, {name}")


if __name__ == "__main__":
    main()
