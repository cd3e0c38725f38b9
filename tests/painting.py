"""Small pictures of plain layouts, drawn by code, for tests that walk the real street."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

LAYOUTS = ("light-mass", "dark-mass", "bands", "uprights", "slant", "ring", "scattered", "grade")
SIZE = (240, 180)


def paint(layout: str, seed: int = 0, size: tuple[int, int] = SIZE) -> Image.Image:
    """An RGB picture of one of `LAYOUTS`; another ``seed`` shifts its shapes a little."""
    rng = np.random.default_rng(seed)
    width, height = size
    shift = rng.integers(-width // 12, width // 12 + 1, size=4)
    ground = (205, 196, 178) if layout in ("dark-mass", "scattered") else (52, 44, 38)
    image = Image.new("RGB", size, ground)
    draw = ImageDraw.Draw(image)
    light, mid, dark = (228, 218, 196), (128, 116, 98), (36, 30, 28)
    if layout in ("light-mass", "ring"):
        box = (width // 4, height // 4, 3 * width // 4, 3 * height // 4)
        draw.ellipse([edge + int(move) for edge, move in zip(box, shift, strict=True)], fill=light)
        if layout == "ring":
            draw.ellipse((width // 3, height // 3, 2 * width // 3, 2 * height // 3), fill=dark)
    elif layout == "dark-mass":
        draw.rectangle((width // 3 + int(shift[0]), height // 4, 3 * width // 4, height), fill=dark)
    elif layout == "bands":
        draw.rectangle((0, 0, width, height // 3 + int(shift[0]) // 2), fill=light)
        draw.rectangle((0, height // 3 + int(shift[0]) // 2, width, 2 * height // 3), fill=mid)
    elif layout == "uprights":
        for at, fill in enumerate((light, dark, mid, dark, light)):
            left = at * width // 5 + int(shift[0]) // 2
            draw.rectangle((left, 0, left + width // 5, height), fill=fill)
    elif layout == "slant":
        draw.polygon([(0, height + int(shift[0])), (width, int(shift[1])), (width, height)], fill=light)
    elif layout == "scattered":
        for x, y in rng.uniform(0.1, 0.9, (9, 2)):
            radius = width // 18
            centre = x * width, y * height
            draw.ellipse([*(c - radius for c in centre), *(c + radius for c in centre)], fill=dark)
    elif layout == "grade":
        ramp = np.linspace(30, 225, width) + float(shift[0]) / 2
        image = Image.fromarray(np.repeat(ramp[None], height, axis=0).clip(0, 255).astype(np.uint8)).convert("RGB")
    else:
        raise ValueError(layout)
    # Brushwork, so that no side of the picture is as even as a margin is.
    strokes = Image.fromarray(rng.normal(0, 1, (9, 12)).astype(np.float32)).resize(size, Image.Resampling.BICUBIC)
    grain = 14 * np.asarray(strokes)[..., None] + rng.normal(0, 4, (height, width, 1))
    codes = np.asarray(image.filter(ImageFilter.GaussianBlur(1.0)), dtype=np.float64) + grain
    return Image.fromarray(codes.clip(0, 255).astype(np.uint8))


def write_collection(folder: Path, count: int = 16) -> Path:
    """``count`` pictures of all layouts under ``folder`` with their records; the path of the records."""
    (folder / "pictures").mkdir(parents=True)
    rows = ["id,file,title,artist,begin_year,end_year,collection,accession_number,rights,obtained_from,sha256"]
    for number in range(count):
        layout = LAYOUTS[number % len(LAYOUTS)]
        file = f"pictures/{layout}-{number:02}.png"
        paint(layout, number).save(folder / file)
        digest = hashlib.sha256((folder / file).read_bytes()).hexdigest()
        rows.append(
            f"made-{number:02},{file},“{layout.title()}” no. {number},Painter {'ABC'[number % 3]},"
            f"{1600 + 20 * number},{1610 + 20 * number},Made Pictures,M.{number},"
            f"CC0,drawn by code ({'first' if number % 2 else 'second'} half),{digest}"
        )
    records = folder / "records.csv"
    records.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return records
