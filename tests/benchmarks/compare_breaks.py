"""Whether the comparison names what was broken, and whether it keeps silent where nothing was.

    python tests/benchmarks/compare_breaks.py [--works N]

Of every work a hand-like study is made (tests/study_maker.py, which shares no code with the reader). In a copy of it
the principal light is cut in two by a band of the middle tone, and in another the dark is lifted to 8 L* under the
middle. Printed: how often the cut is named at its place, how often one is named in the study that was left alone, how
often the close values are said (or the study is said to have two), and how often they are said of the one left alone.
"""

from __future__ import annotations

import argparse
import csv
import io
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage
from study_maker import study_of

from archive.advice import definite
from archive.compare import Comparison, Gap, compare
from archive.habits import Habits
from ingest.lightness import grey_code, lightness_CIE1976, srgb_lightness
from ingest.picture import read_picture
from ingest.reading import Reading, read, read_tone
from public_domain_samples import FOLDER, RECORDS

_LONG = 400
_BAND = 0.04
"""Width of the cut, as a share of the diagonal: twice the squint."""

_NEAR = 0.12
"""How far from the cut, in shares of the frame, the place that is named may lie."""

_NOTHING = Habits("", "", 0, {})


def _as_read(study: NDArray[np.uint8]) -> Reading:
    held = io.BytesIO()
    Image.fromarray(study).save(held, "PNG")
    return read(held.getvalue(), trim=False)


def _cut(study: NDArray[np.uint8], reading: Reading) -> tuple[NDArray[np.uint8], float, float] | None:
    """The study with its largest light parted by a band, and where; None when it has no light large enough."""
    shapes, count = ndimage.label(reading.maps[3].labels == 2)
    if not count:
        return None
    areas = np.bincount(shapes.ravel())[1:]
    light = shapes == 1 + int(areas.argmax())
    if light.mean() < 0.05:
        return None
    y, x = ndimage.center_of_mass(light)
    rows, columns = np.nonzero(light)
    height, width = light.shape
    band = _BAND * float(np.hypot(height, width))
    upright = np.ptp(columns) >= np.ptp(rows)
    place = np.arange(width)[None, :] - x if upright else np.arange(height)[:, None] - y
    mask = np.broadcast_to(np.abs(place) < band / 2, light.shape)
    large = np.asarray(Image.fromarray(mask).resize(study.shape[::-1], Image.Resampling.NEAREST))
    lit = srgb_lightness(np.repeat(study[..., None], 3, axis=2)) > reading.maps[3].thresholds[1]
    changed = study.copy()
    changed[large & lit] = grey_code(reading.maps[3].means[1])
    return changed, x / width, y / height


def _close(study: NDArray[np.uint8], reading: Reading) -> NDArray[np.uint8]:
    """The study with its dark lifted to 8 L* under its middle."""
    laid = reading.maps[3]
    labels = np.asarray(Image.fromarray(laid.labels).resize(study.shape[::-1], Image.Resampling.NEAREST))
    changed = study.copy()
    changed[labels == 0] = grey_code(laid.means[1] - 8)
    return changed


def _named(compared: Comparison, x: float, y: float) -> bool:
    return any(gap.value == "light" and np.hypot(gap.x - x, gap.y - y) < _NEAR for gap in compared.parted)


def _has(gaps: Sequence[Gap]) -> bool:
    return any(gap.value == "light" for gap in gaps)


def _joined(master: Reading, x: float, y: float) -> bool:
    labels = master.maps[3].labels
    height, width = labels.shape
    return bool(labels[min(height - 1, int(y * height)), min(width - 1, int(x * width))] == 2)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--works", type=int, default=217)
    asked = parser.parse_args()
    with RECORDS.open(newline="", encoding="utf-8") as table:
        files = [FOLDER / row["file"] for row in csv.DictReader(table)][: asked.works]
    named = alone = cut = close = close_alone = three = 0
    for seed, file in enumerate(files):
        picture = read_picture(file)
        master = read_tone(picture)
        tone = lightness_CIE1976(picture.luminance)
        study = study_of(tone, "near", seed, picture.mask)
        reading = _as_read(study)
        alone += _has(compare(reading, master).parted)
        made = _cut(study, reading)
        # Only where the work has light at the cut, and in one piece, can it be said to be joined there.
        if made is not None and _joined(master, made[1], made[2]) and not _has(compare(reading, master).closed):
            changed, x, y = made
            cut += 1
            named += _named(compare(_as_read(changed), master), x, y)
        if reading.measures.values_present == 3:
            three += 1
            close_alone += definite(reading, _NOTHING).seen.startswith("The middle and the dark come close")
            close += definite(_as_read(_close(study, reading)), _NOTHING).measure in ("gap_mid_dark", "mid")
    print(f"works: {len(files)}")
    print(f"a cut through the principal light: named at its place in {named} of {cut} ({named / max(1, cut):.2f})")
    print(f"studies left alone in which a broken light is named: {alone} of {len(files)} ({alone / len(files):.2f})")
    print(f"dark lifted to 8 L* under the middle: said in {close} of {three} ({close / max(1, three):.2f})")
    print(f"studies left alone of which it is said: {close_alone} of {three} ({close_alone / max(1, three):.2f})")


if __name__ == "__main__":
    main()
