"""As many pictures as a benchmark needs, made by transforming the samples: cropped, turned about, lighter or darker."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image

SAMPLES = Path(__file__).parents[2] / "public_domain_samples" / "pictures"


def with_grain(image: Image.Image) -> Image.Image:
    """The picture with the grain that a photograph has and an enlargement lacks, so that it costs as much to decode."""
    grain = Image.effect_noise((512, 512), 24).convert("RGB")
    grained = image.copy()
    for left in range(0, image.width, 512):
        for top in range(0, image.height, 512):
            box = (left, top, min(left + 512, image.width), min(top + 512, image.height))
            part = image.crop(box)
            grained.paste(Image.blend(part, grain.crop((0, 0, *part.size)), 0.3), box)
    return grained


def write_transformed(folder: Path, count: int, side: int, quality: int = 90, *, grain: bool = False) -> Path:
    """``count`` JPEG files whose longest side has ``side`` px, below ``folder``, and their records without hashes."""
    (folder / "pictures").mkdir(parents=True)
    rng = np.random.default_rng(5)
    samples = sorted(SAMPLES.iterdir())
    rows = ["id,file,rights,title,artist,begin_year,collection,accession_number,obtained_from"]
    opened: dict[Path, Image.Image] = {}
    for number in range(count):
        sample = samples[number % len(samples)]
        if sample not in opened:
            with Image.open(sample) as image:
                opened[sample] = image.convert("RGB")
        image = opened[sample]
        left, top, right, bottom = rng.uniform(0, 0.12, 4)
        box = (left * image.width, top * image.height, (1 - right) * image.width, (1 - bottom) * image.height)
        scale = side / max(box[2] - box[0], box[3] - box[1])
        size = (max(1, round((box[2] - box[0]) * scale)), max(1, round((box[3] - box[1]) * scale)))
        changed = image.resize(size, Image.Resampling.BICUBIC, box=box)
        if rng.random() < 0.5:
            changed = changed.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
        bend = rng.uniform(0.8, 1.25)
        changed = changed.point([round(255 * (level / 255) ** bend) for level in range(256)] * 3)
        changed = with_grain(changed) if grain else changed
        name = f"pictures/{number:06}.jpg"
        changed.save(folder / name, "JPEG", quality=quality)
        rows.append(
            f"t-{number:06},{name},CC0,Picture {number},Painter {number % 50},{1500 + number % 400},"
            f"Made,M.{number},made"
        )
    (folder / "records.csv").write_text("\n".join(rows) + "\n")
    return folder / "records.csv"
