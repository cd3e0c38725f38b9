"""How well the picture is found in its file: run ``python tests/benchmarks/trimming.py [--pages N] [--save FOLDER]``.

Pages of known truth are made round clean parts of the samples; the part of the file that the reader keeps is held
against the truth as intersection over union, of the masks where the picture is not a rectangle. Untouched pictures
must be left alone. Targets: mean at least 0.985, none under 0.93; untouched pictures lose under half a hundredth of
their area in 99 of 100 cases.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import made_pages as made
import numpy as np
from PIL import Image

from ingest.picture import Picture, read_picture
from ingest.picture_file import UnreadablePicture

LOSS = 0.005


def kept(picture: Picture) -> made.Truth:
    """What the reader kept, as a mask over the upright file."""
    x0, y0, x1, y1 = picture.trimmed
    whole = np.zeros((picture.height, picture.width), dtype=bool)
    if picture.mask is None:
        whole[y0:y1, x0:x1] = True
    else:
        inside = Image.fromarray(picture.mask).resize((x1 - x0, y1 - y0), Image.Resampling.NEAREST)
        whole[y0:y1, x0:x1] = np.asarray(inside).astype(bool)
    return whole


def read_kept(pixels: made.Pixels) -> made.Truth:
    try:
        return kept(read_picture(made.encode(pixels)))
    except UnreadablePicture:
        return np.zeros(pixels.shape[:2], dtype=bool)


def run_kind(
    name: str, parts: list[tuple[str, Image.Image]], pages: int, seed: int, save: Path | None
) -> list[tuple[float, str]]:
    rng = np.random.default_rng([seed, *name.encode()])
    scores: list[tuple[float, str]] = []
    for at in rng.permutation(len(parts)):
        file, image = parts[at]
        page = made.KINDS[name](made.sized(image), rng)
        if not made.stands_out(page):
            continue
        found = read_kept(page.pixels)
        score = made.overlap(page.truth, found)
        scores.append((score, file))
        if save is not None:
            show(page, found, save / f"{name.replace(' ', '-')}-{score:.3f}-{Path(file).stem}.jpg")
        if len(scores) == pages:
            break
    return scores


def show(page: made.Page, found: made.Truth, file: Path) -> None:
    """The page with what was cut off in red and the truth's outline in green."""
    pixels = page.pixels.copy()
    pixels[~found] = pixels[~found] // 2 + np.array([120, 0, 0], dtype=np.uint8)
    outline = page.truth & ~(
        np.roll(page.truth, 2, 0) & np.roll(page.truth, -2, 0) & np.roll(page.truth, 2, 1) & np.roll(page.truth, -2, 1)
    )
    pixels[outline] = (0, 230, 0)
    Image.fromarray(pixels).save(file, quality=85)


def untouched(parts: list[tuple[str, Image.Image]], seed: int, save: Path | None) -> list[tuple[float, str]]:
    """Area lost by each clean part and by two further parts of each."""
    rng = np.random.default_rng([seed, 1857])
    views = (
        (f"{file} view {number}", view)
        for file, image in parts
        for number, view in enumerate((image, made.sub_picture(image, rng), made.sub_picture(image, rng)))
    )
    return [(lost(view, name, save), name) for name, view in views]


def flat_studies(parts: list[tuple[str, Image.Image]], seed: int, save: Path | None) -> list[tuple[float, str]]:
    """Area lost by each clean part laid in three flat greys, as a study is."""
    rng = np.random.default_rng([seed, 1783])
    views = ((f"{file} in three greys", made.flat_study(image, rng)) for file, image in parts)
    return [(lost(view, name, save), name) for name, view in views]


def lost(view: Image.Image, name: str, save: Path | None) -> float:
    """Share of a picture's area that was taken off."""
    pixels = made.sized(view)
    found = read_kept(pixels)
    share = 1.0 - float(found.mean())
    if save is not None and share >= LOSS:
        show(
            made.Page(pixels, np.ones_like(found)), found, save / f"untouched-{share:.3f}-{name.replace(' ', '-')}.jpg"
        )
    return share


def say_losses(name: str, losses: list[tuple[float, str]]) -> None:
    good = float(np.mean([share < LOSS for share, _ in losses]))
    print(f"\n{name}: {len(losses)} pictures, {good:.1%} lose under {LOSS:.1%} of their area")
    for share, file in sorted(losses, reverse=True)[:10]:
        if share >= LOSS:
            print(f"  {share:7.2%}  {file}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pages", type=int, default=14, help="pages of each kind (default 14)")
    parser.add_argument("--seed", type=int, default=7, help="another seed makes other pages (default 7)")
    parser.add_argument("--save", type=Path, help="folder for pictures of what was cut")
    parser.add_argument("--kind", action="append", choices=[*made.KINDS, "untouched"], help="only this kind")
    options = parser.parse_args()
    if options.save is not None:
        options.save.mkdir(parents=True, exist_ok=True)
    parts = list(made.clean_parts())
    every: list[tuple[float, str]] = []
    print(f"{'kind':24}{'pages':>6}{'mean IoU':>10}{'worst':>8}{'< 0.93':>8}  worst page")
    for name in made.KINDS:
        if options.kind and name not in options.kind:
            continue
        scores = run_kind(name, parts, options.pages, options.seed, options.save)
        every += scores
        print(_line(name, scores))
    if every:
        print(_line("all", every))
    if not options.kind or "untouched" in options.kind:
        say_losses("untouched", untouched(parts, options.seed, options.save))
        say_losses("flat studies", flat_studies(parts, options.seed, options.save))


def _line(name: str, scores: list[tuple[float, str]]) -> str:
    values = np.array([score for score, _ in scores])
    worst, file = min(scores)
    return f"{name:24}{len(scores):6}{values.mean():10.4f}{worst:8.3f}{int((values < 0.93).sum()):8}  {file}"


if __name__ == "__main__":
    main()
