"""How well panels are read from photos of sheets: ``python tests/benchmarks/sheets.py [--photos N] [--kit other] …``.

Photos are made by ``tests/sheet_maker.py`` with the truth about them, which shares no code with the reader. Printed by
difficulty: panels found, the Jaccard index after rectification as in SmartDoc 2015, how even the strips of paper come
out, how true an even wash stays, and how far the proportions of light, middle and dark are from the clean scan's.
``--kit other`` takes drawings, grounds, tapes, layouts and shadows that were kept apart while the reader was built.
``--turned``, ``--matches`` and ``--speed`` ask for the rest. Photos take seconds each to make; ``--keep FOLDER`` keeps
them. With ``--parts FOLDER`` a long run can be left and gone on with, or shared out by ``--only``. ``--from SEED`` asks
all of these for photos of other seeds, so that a reader can be held against photos that it was not mended by.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import pickle
import sys
import time
from pathlib import Path

for _library in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_library, "1")
TESTS = Path(__file__).resolve().parent.parent
for folder in (TESTS, TESTS.parent):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

import numpy as np  # noqa: E402
from drawn_tone import png_of  # noqa: E402
from PIL import Image  # noqa: E402
from scipy import ndimage  # noqa: E402
from sheet_checks import FOUND, compare, jaccard, proportions, rotated, through, turned_back, wash_error  # noqa: E402
from sheet_maker import DIFFICULTIES, Difficulty, MadePanel, MadePhoto, make_photo  # noqa: E402
from sheet_textures import APART, FIRST, OTHER  # noqa: E402

from ingest.lightness import LIGHT_OF_CODE, LUMINANCE_ROW, FloatArray, lightness_CIE1976, linear_from_srgb  # noqa: E402
from ingest.reading import read, read_tone  # noqa: E402
from ingest.sheet import Sheet, panel_picture, read_sheet, reader  # noqa: E402
from ingest.sheet.finding import Found  # noqa: E402
from ingest.sheet.flatten import Flattened  # noqa: E402

KITS = {"first": FIRST, "other": OTHER, "apart": APART}


def photo(kit: str, difficulty: Difficulty, seed: int, keep: Path | None) -> MadePhoto:
    """The photo of that seed, made or as it was kept."""
    file = None if keep is None else keep / kit / f"{difficulty}-{seed}.pkl"
    if file is not None and file.exists():
        kept: MadePhoto = pickle.loads(file.read_bytes())
        return kept
    made = make_photo(seed, difficulty, KITS[kit])
    if file is not None:
        file.parent.mkdir(parents=True, exist_ok=True)
        part = file.with_suffix(".part")
        part.write_bytes(pickle.dumps(made))
        part.replace(file)
    return made


class Lights:
    """Remembers the light that was told in the last photo read, which a reading does not hand out."""

    def __init__(self) -> None:
        self.last: tuple[Found, Flattened] | None = None
        self._flatten = reader.flatten
        reader.flatten = self

    def __call__(self, found: Found) -> Flattened:
        told = self._flatten(found)
        self.last = (found, told)
        return told


def strip_spread(made: MadePhoto, lights: Lights) -> float | None:
    """Standard deviation of L* over the paper or tape close outside the panels, after the light is divided out."""
    if lights.last is None or lights.last[1].light is None:
        return None
    found, flattened = lights.last
    small = Image.open(io.BytesIO(made.jpeg))
    small.thumbnail((reader.FINDING_SIDE, reader.FINDING_SIDE), Image.Resampling.BOX)
    linear = LIGHT_OF_CODE[np.asarray(small)]
    to_photo = np.linalg.inv(made.to_sheet)
    points = []
    for panel in made.panels:
        middle = panel.rectangle.mean(axis=0)
        for start, end in zip(panel.rectangle, np.roll(panel.rectangle, -1, axis=0), strict=True):
            out = (start + end) / 2 - middle
            line = start + np.linspace(0.05, 0.95, 30)[:, None] * (end - start)
            points.append(line + 0.013 * out / np.hypot(*out))
    at = through(to_photo, np.concatenate(points)) * linear.shape[1] / made.width
    column, row = np.rint(at - 0.5).astype(int).T
    inside = (column > 2) & (row > 2) & (column < linear.shape[1] - 3) & (row < linear.shape[0] - 3)
    at, column, row = at[inside], column[inside], row[inside]
    seen = np.mean([linear[row + dy, column + dx] for dy in (-1, 0, 1) for dx in (-1, 0, 1)], axis=0)
    flat = seen / flattened.light_at(through(np.linalg.inv(found.frame.to_photo), at))
    star = lightness_CIE1976(flat @ np.asarray(LUMINANCE_ROW))
    # Notes, smudges and the like lie on some strips; they are the drawing's, not the light's.
    return float(star[np.abs(star - np.median(star)) < 12].std())


def measured(
    kit: str, difficulty: Difficulty, seed: int, keep: Path | None, lights: Lights, parts: Path | None
) -> dict[str, list[float]]:
    """What is measured on one photo; from a file in `parts`, when another run has left it there."""
    file = None if parts is None else parts / f"{kit}-{difficulty}-{seed}.json"
    if file is not None and file.exists():
        left: dict[str, list[float]] = json.loads(file.read_text())
        return left
    made = photo(kit, difficulty, seed, keep)
    lights.last = None
    start = time.process_time()
    sheet = read_sheet(made.jpeg)
    one = {"seconds": [time.process_time() - start], **judge(made, sheet, lights)}
    if file is not None:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(one))
    return one


def table(kit: str, seeds: range, keep: Path | None, parts: Path | None, only: list[Difficulty]) -> None:
    """Print the results by difficulty, and which photos were misread."""
    print(
        "| | photos | whole | panels found | taken for panels that are none | Jaccard index, mean of found "
        "| least, under 0.90 | in order | paper strips within 2 L* (median spread) "
        "| even wash within 3 L*: its middle, its worst twelfth | proportions within 0.03 (median) "
        "| the same, where nothing shines | toned told | seconds, median, nine in ten, most |\n|---|" + 13 * "---:|"
    )
    lights = Lights()
    everything: dict[str, list[float]] = {}
    misread = []
    for difficulty in only:
        rows: dict[str, list[float]] = {}
        for seed in seeds:
            one = measured(kit, difficulty, seed, keep, lights, parts)
            if min(one["jaccard"]) < 0.9 or one["extra"][0]:
                misread.append(f"{difficulty} {seed}: {np.round(one['jaccard'], 2)}, {one['extra'][0]:.0f} besides")
            for name, values in one.items():
                rows.setdefault(name, []).extend(values)
        line(difficulty, rows)
        for name, values in rows.items():
            everything.setdefault(name, []).extend(values)
    line("all", everything)
    print(*misread, sep="\n")
    whole, asked = np.array(everything["all found"]) > 0, np.array(everything["asked"]) > 0
    print(
        f"every panel found in {whole.sum()} of {len(whole)} photos; "
        f"corners asked for in {(asked & ~whole).sum()} of the others and in {(asked & whole).sum()} of these"
    )
    confidence, nearest = np.array(everything["confidence"]), np.array(everything["nearest"])
    for low, high in ((0, 0.7), (0.7, 0.85), (0.85, 0.95), (0.95, 1.01)):
        band = (confidence >= low) & (confidence < high)
        right, none = (nearest[band] >= 0.95).sum(), (nearest[band] <= FOUND).sum()
        if band.any():
            print(
                f"confidence {low:.2f} to {min(high, 1):.2f}: {band.sum()} panels, {right} with a Jaccard index of "
                f"0.95 or more, {none} that are none"
            )


def judge(made: MadePhoto, sheet: Sheet, lights: Lights) -> dict[str, list[float]]:
    """What is measured on one photo, as lists to be joined."""
    compared = compare(made, sheet)
    rows: dict[str, list[float]] = {
        "jaccard": [float(each) for each in compared.jaccard],
        "whole": [float(min(compared.jaccard) > 0 and not compared.extra)],
        "all found": [float(min(compared.jaccard) > 0)],
        "extra": [compared.extra],
        "asked": [float(bool(sheet.need_corners))],
        "order": [float(compared.in_order)],
    }
    spread = strip_spread(made, lights) if sheet.found else None
    rows["strips"] = [] if spread is None else [spread]
    truth = [through(made.to_sheet, panel.corners) for panel in made.panels]
    rows["confidence"] = [panel.confidence for panel in sheet.panels]
    rows["nearest"] = [
        max(jaccard(quad, through(made.to_sheet, np.array(panel.corners)), 200) for quad in truth)
        for panel in sheet.panels
    ]
    for name in ("wash", "worst", "proportions", "dull"):
        rows[name] = []
    rows["toned"] = [float(sheet.toned == made.toned)]
    for panel, seen in compared.pairs:
        if panel.even and not made.toned:
            middle, worst = wash_error(panel, seen)
            rows["wash"].append(abs(middle))
            rows["worst"].append(worst)
        elif not panel.even:
            scan, study = proportions(panel, seen)
            rows["proportions"].append(float(np.abs(scan - study).max()))
            if panel.shiny is None:
                rows["dull"].append(rows["proportions"][-1])
    return rows


def line(name: str, rows: dict[str, list[float]]) -> None:
    """One row of the table."""
    index = np.array(rows["jaccard"])
    found = index[index > 0]
    wash, worst, apart, dull = (np.array(rows[each]) for each in ("wash", "worst", "proportions", "dull"))
    strips, seconds = np.array(rows["strips"]), np.array(rows["seconds"])
    whole = int(sum(rows["whole"]))
    print(
        f"| {name} | {len(rows['extra'])} | {whole} ({whole / len(rows['extra']):.1%}) | {len(found)} of {len(index)} "
        f"| {int(sum(rows['extra']))} | {found.mean():.3f} | {found.min():.3f}, {(found < 0.9).sum()} "
        f"| {np.mean(rows['order']):.1%} | {(strips <= 2).mean():.1%} ({np.median(strips):.1f}) "
        f"| {(wash <= 3).sum()} of {len(wash)}, {(worst <= 3).sum()} of {len(worst)} "
        f"| {(apart <= 0.03).mean():.1%} ({np.median(apart):.3f}) | {(dull <= 0.03).mean():.1%} "
        f"| {np.mean(rows['toned']):.1%} "
        f"| {np.median(seconds):.1f}, {np.percentile(seconds, 90):.1f}, {seconds.max():.1f} |",
        flush=True,
    )


def turned(kit: str, seeds: range, keep: Path | None) -> None:
    """Print how often the four rotations give the same panels."""
    same, total, worst = 0, 0, 1.0
    for difficulty in DIFFICULTIES:
        for seed in seeds:
            made = photo(kit, difficulty, seed, keep)
            first = [np.array(panel.corners) for panel in read_sheet(rotated(made, 0)).panels]
            for quarters in (1, 2, 3):
                total += 1
                sheet = read_sheet(rotated(made, quarters))
                others = [
                    turned_back(np.array(panel.corners), quarters, made.width, made.height) for panel in sheet.panels
                ]
                if len(others) != len(first):
                    worst = 0.0
                    continue
                # Corners run clockwise from another one; as a quadrilateral it is the same.
                each = [max((jaccard(a, b, 300) for b in others), default=0.0) for a in first]
                same += min(each, default=1.0) >= 0.97
                worst = min(worst, min(each, default=1.0))
    print(f"the same panels in {same} of {total} turned photos (each J >= .97); least {worst:.3f}")


def scan_of(panel: MadePanel, side: int = 320) -> FloatArray:
    """L* of a panel cut out of a flat scan of its sheet: the drawing in the panel's own format, up to `side` pixels."""
    shape = (round(side / panel.proportion), side) if panel.proportion >= 1 else (side, round(side * panel.proportion))
    v, u = ((np.indices(shape) + 0.5) / np.reshape(shape, (2, 1, 1)))[..., None]
    first, second, third, fourth = panel.rectangle
    on_sheet = (1 - v) * ((1 - u) * first + u * second) + v * (u * third + (1 - u) * fourth)
    laid = (on_sheet - first) / (second[0] - first[0], fourth[1] - first[1])
    rows, columns = panel.lightness.shape
    at = [laid[..., 1] * rows - 0.5, laid[..., 0] * columns - 0.5]
    return np.asarray(ndimage.map_coordinates(panel.lightness, at, order=1, mode="nearest"), dtype=np.float32)


def matches(seeds: range, *, cut: bool) -> None:
    """Print how often a photo and the clean scan of a study find the same works; cut: photos cut out of larger ones.

    Each panel shows one of the dozen works whose format is nearest to the panel's, as a student would choose a format
    for her picture. What mere grain does to the five says how far apart the places of this gallery lie.
    """
    from sample_gallery import hang_samples
    from study_maker import study_of

    gallery = hang_samples()
    formats = np.log([lightness.shape[1] / lightness.shape[0] for lightness in gallery.lightness])
    lightness_of = np.array([lightness_CIE1976(linear_from_srgb(code / 255.0)) for code in range(256)])
    first, shared, shown, grained, formats_off = [], [], [], [], []
    for seed in seeds:
        rng = np.random.default_rng([11, seed])
        difficulty = DIFFICULTIES[seed % 3]
        blank = make_photo(seed, difficulty, drawings=(np.full((40, 40), 60.0),) * 4, plain=True, cut=cut)
        works: list[int] = []
        for panel in blank.panels:
            near = [int(work) for work in np.argsort(np.abs(formats - np.log(panel.proportion))) if work not in works]
            works.append(int(rng.choice(near[:12])))
        drawn = (study_of(gallery.lightness[work], "near", seed, gallery.masks[work]) for work in works)
        made = make_photo(
            seed, difficulty, drawings=tuple(lightness_of[each].astype(float) for each in drawn), plain=True, cut=cut
        )
        for panel, seen in compare(made, read_sheet(made.jpeg)).pairs:
            scan = scan_of(panel)
            grainy = np.clip(scan + np.random.default_rng([13, seed]).normal(0, 2, scan.shape), 0, 100)
            one, two, three = (
                [each.work for each in gallery.gallery.match(reading).matches]
                for reading in (
                    read(png_of(scan), part="whole"),
                    read_tone(panel_picture(seen)),
                    read(png_of(grainy), part="whole"),
                )
            )
            height, width = seen.rgb.shape[:2]
            formats_off.append(abs(width / height / panel.proportion - 1))
            first.append(one[0] == two[0])
            shared.append(len(set(one[:5]) & set(two[:5])))
            shown.append(set(one[:5]) <= set(two))
            grained.append(set(one[:5]) == set(three[:5]))
    many = np.array(shared)
    print(
        f"{'cut out of larger photos' if cut else 'as the camera took them'}: {len(many)} studies, formats off by "
        f"{np.median(formats_off):.1%} (nine in ten {np.percentile(formats_off, 90):.1%}): the same best work "
        f"{np.mean(first):.1%}, the same five as a set "
        f"{np.mean(many == 5):.1%}, at least four of the five {np.mean(many >= 4):.1%}, "
        f"of five shared on average {many.mean():.2f}, all five of the scan's among the twelve shown for the photo "
        f"{np.mean(shown):.1%}; the same scan with 2 L* of other grain keeps the five in {np.mean(grained):.1%}"
    )


def speed(kit: str, seeds: range, keep: Path | None) -> None:
    """Print how much processor time a photo of 12 megapixels takes on one core, and decoding it whole by itself."""
    ratios = []
    for difficulty in DIFFICULTIES:
        taken, decoded = [], []
        for seed in seeds:
            made = photo(kit, difficulty, seed, keep)
            size = (4000, 3000) if made.width > made.height else (3000, 4000)
            buffer = io.BytesIO()
            Image.open(io.BytesIO(made.jpeg)).resize(size, Image.Resampling.BICUBIC).save(buffer, "JPEG", quality=92)
            runs: dict[str, list[float]] = {"read": [], "decoded": []}
            for _ in range(3):
                start = time.process_time()
                read_sheet(buffer.getvalue())
                between = time.process_time()
                Image.open(buffer).load()
                runs["read"].append(between - start)
                runs["decoded"].append(time.process_time() - between)
            taken.append(min(runs["read"]))
            decoded.append(min(runs["decoded"]))
        ratios += [a / b for a, b in zip(taken, decoded, strict=True)]
        print(
            f"{difficulty}: of {len(seeds)} photos of 12 megapixels, seconds of one core: "
            f"median {np.median(taken):.2f}, least {min(taken):.2f}, most {max(taken):.2f}; "
            f"within 1.5 s {np.mean(np.array(taken) <= 1.5):.0%}; decoding alone {np.median(decoded):.2f}",
            flush=True,
        )
    print(f"times the whole decoding: median {np.median(ratios):.1f}, most {max(ratios):.1f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--photos", type=int, default=67, help="photos of each difficulty")
    parser.add_argument("--from", type=int, default=0, metavar="SEED", dest="first", help="the first seed of each")
    parser.add_argument("--kit", choices=sorted(KITS), default="first")
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--parts", type=Path, metavar="FOLDER", help="leave there what is measured, and go on from it")
    parser.add_argument("--only", choices=DIFFICULTIES, action="append", help="photos of these difficulties alone")
    parser.add_argument("--turned", type=int, default=0, metavar="N", help="also turn N photos of each difficulty")
    parser.add_argument("--matches", type=int, default=0, metavar="N", help="also match N sheets of four studies")
    parser.add_argument("--speed", type=int, default=0, metavar="N", help="also time N large photos of each difficulty")
    given = parser.parse_args()

    def seeds(many: int) -> range:
        return range(given.first, given.first + many)

    if given.photos:
        table(given.kit, seeds(given.photos), given.keep, given.parts, given.only or list(DIFFICULTIES))
    if given.turned:
        turned(given.kit, seeds(given.turned), given.keep)
    if given.matches:
        for cut in (False, True):
            matches(seeds(given.matches), cut=cut)
    if given.speed:
        speed(given.kit, seeds(given.speed), given.keep)


if __name__ == "__main__":
    main()
