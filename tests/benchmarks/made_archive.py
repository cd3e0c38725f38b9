"""Archives of any size for measuring speed: made signatures that are distributed as those of real works are.

Each is a mixture of two real works, turned, cropped and bent by chance, mixed in the space of their principal
components so that means and covariances stay those of the real ones; what the components leave out is taken from one
of the two, and so are the values' thresholds and the format.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from made_patterns import behind
from numpy.typing import NDArray
from scipy import ndimage

from archive.edition import Edition
from ingest.signature import GRID, SIGNATURE_LENGTH, fields

_BASES = 8000
_COMPONENTS = 96
_CHUNK = 20_000

Floats = NDArray[np.float32]


def made_signatures(real: NDArray[np.uint8], count: int, seed: int = 0) -> NDArray[np.uint8]:
    """(count, SIGNATURE_LENGTH) signatures like the real ones (n, SIGNATURE_LENGTH)."""
    rng = np.random.default_rng(seed)
    bases, tails = _bases(real, rng)
    mean = bases.mean(axis=0)
    _, axes = np.linalg.eigh(np.cov(bases, rowvar=False))
    axes = axes[:, ::-1][:, :_COMPONENTS].astype(np.float32)
    places = (bases - mean) @ axes
    rest = bases - mean - places @ axes.T
    made = np.empty((count, SIGNATURE_LENGTH), dtype=np.uint8)
    for at in range(0, count, _CHUNK):
        many = min(_CHUNK, count - at)
        one, other = rng.integers(0, len(bases), (2, many))
        share = rng.uniform(0.5, 1.0, (many, 1)).astype(np.float32)
        mixed = np.sqrt(share) * places[one] + np.sqrt(1 - share) * places[other]
        tones = mean + mixed @ axes.T + rest[one]
        made[at : at + many, : GRID * GRID] = np.rint(np.clip(tones, 0, 255))
        made[at : at + many, GRID * GRID :] = tails[one]
    return made


def write_archive(folder: Path, signatures: NDArray[np.uint8]) -> None:
    """An archive on disk with these signatures, its works named by number; their pictures are left out."""
    told = ("", "CC0", "Made by code.", "made.png", "", 1, 1, "[0, 0, 1, 1]", "[]", "sRGB", 1, 1)
    columns = (
        *("title", "rights", "credit", "file", "sha256", "width", "height", "trimmed", "trims", "profile"),
        *("display_width", "display_height", "painting", "thumb", "squint", "map2", "map3", "map5", "sentence"),
        "reading_version",
    )
    told = (*told, *[""] * (len(columns) - len(told)))
    with Edition.begin(folder) as edition:
        with edition.batch() as connection:
            marks = ", ".join("?" for _ in range(len(columns) + 1))
            connection.executemany(
                f"INSERT INTO works (work, {', '.join(columns)}) VALUES ({marks})",
                ((name(row), *told) for row in range(len(signatures))),
            )
            connection.executemany(
                "INSERT INTO signatures (work, signature) VALUES (?, ?)",
                ((name(row), each.tobytes()) for row, each in enumerate(signatures)),
            )
        edition.publish()


def name(row: int) -> str:
    """The id of a made work; their order is that of the rows."""
    return f"made-{row:07}"


def as_painting(signature: NDArray[np.uint8]) -> Floats:
    """(h, w) L* of a picture that has this signature, as far as it tells: what a study can be drawn of."""
    aspect = 2 ** ((float(signature[-1]) - 128) / 24)
    width, height = (320, round(320 / aspect)) if aspect > 1 else (round(320 * aspect), 320)
    tone = fields(signature[None])[0]
    v, u = np.meshgrid((np.arange(height) + 0.5) / height, (np.arange(width) + 0.5) / width, indexing="ij")
    return ndimage.map_coordinates(tone, [v * GRID - 0.5, u * GRID - 0.5], order=1, mode="nearest")


def _bases(real: NDArray[np.uint8], rng: np.random.Generator) -> tuple[Floats, NDArray[np.uint8]]:
    """Codes (n, GRID²) of real works as another hand or frame would have them, and their tails."""
    patterns = fields(real)
    rows = np.resize(np.arange(len(real)), max(_BASES, len(real)))
    bases = np.empty((len(rows), GRID * GRID), dtype=np.float32)
    for number, (row, bend) in enumerate(zip(rows, _bends(len(rows), rng), strict=True)):
        left, top, right, bottom = rng.uniform(0, 0.2, 4)
        seen = behind(patterns[row], (left, top, 1 - right, 1 - bottom), bend)
        bases[number] = 2.55 * (seen[:, ::-1] if number % 2 else seen).ravel()
    return bases, real[rows, GRID * GRID :]


def _bends(count: int, rng: np.random.Generator) -> Iterator[Floats]:
    for _ in range(count):
        bend = ndimage.zoom(rng.normal(0, 0.02, (2, 4, 4)), (1, GRID / 4, GRID / 4), order=1)
        yield bend.astype(np.float32)
