"""What the measurements of matching share: works as arrays, studies of them, and a folder that keeps both.

Reading a thousand pictures takes minutes, so what was read is kept in a folder of the reader's choice, under a name
made from the pictures and from the code that read them; when either changes, they are read again.
"""

from __future__ import annotations

import dataclasses
import hashlib
import io
import pickle
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

TESTS = Path(__file__).resolve().parent.parent
for folder in (TESTS, TESTS.parent):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

import numpy as np  # noqa: E402
from numpy.typing import NDArray  # noqa: E402
from paper_archive import PaperArchive  # noqa: E402
from PIL import Image  # noqa: E402
from study_maker import PRESETS, part_of, study_of  # noqa: E402

from archive.match import Gallery  # noqa: E402
from ingest.lightness import lightness_CIE1976  # noqa: E402
from ingest.picture_file import UnreadablePicture  # noqa: E402
from ingest.reading import Reading, read  # noqa: E402
from public_domain_samples import FOLDER  # noqa: E402

KINDS = tuple(PRESETS)
"""What studies there are: of the whole, of a part, and so on."""

LONG_SIDE = 480
"""Pixels on the long side of the lightness that is kept of a work: half as much again as a study has."""

_READERS = (
    *("balance", "lightness", "margins", "masses", "measures", "picture", "profile", "rounded", "signature"),
    *("squint", "structure", "value_map"),
)
"""The modules of `ingest` on which signatures and measures depend."""

_PICTURES = {".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff"}


@dataclass(frozen=True)
class Works:
    """ids: names of files without their endings; signatures (n, L) uint8; lightness: L* as uint8, 255 for 100;
    masks: where the picture is, for ovals and arches."""

    ids: list[str]
    signatures: NDArray[np.uint8]
    lightness: list[NDArray[np.uint8]]
    masks: list[NDArray[np.bool_] | None]

    def __len__(self) -> int:
        return len(self.ids)

    def gallery(self) -> Gallery:
        """The works ready to be matched with."""
        return Gallery(PaperArchive(self.ids, self.signatures))

    def tone(self, row: int) -> NDArray[np.float32]:
        """(h, w) L* of one work."""
        return self.lightness[row].astype(np.float32) / np.float32(2.55)


@dataclass(frozen=True)
class Study:
    """A study of work number `row`: what the street read of it, and its own L* on a 64 x 64 frame."""

    row: int
    seed: int
    reading: Reading
    small: NDArray[np.float32]


def load_works(cache: Path, also: Sequence[Path] = ()) -> Works:
    """The samples and all pictures under the folders `also`, read or taken from the folder `cache`."""
    files = [file for folder in (FOLDER / "pictures", *also) for file in _pictures_in(folder)]
    kept = cache / f"works-{_mark([*_code(), *(str(file).encode() for file in files)])}.pickle"
    if kept.exists():
        return _load(kept)
    ids, signatures, lightness, masks = [], [], [], []
    for file in progress(files, "reading works"):
        try:
            reading = read(file)
        except UnreadablePicture as error:
            print(f"{file.name}: {error}", file=sys.stderr)
            continue
        tone = Image.fromarray(lightness_CIE1976(reading.picture.luminance))
        tone.thumbnail((LONG_SIDE, LONG_SIDE), Image.Resampling.BOX)
        ids.append(file.stem)
        signatures.append(reading.signature)
        lightness.append(np.rint(np.asarray(tone) * 2.55).clip(0, 255).astype(np.uint8))
        mask = reading.picture.mask
        masks.append(None if mask is None else np.asarray(Image.fromarray(mask).resize(tone.size)))
    return _keep(kept, Works(ids, np.stack(signatures), lightness, masks))


def choose(works: Works, count: int, half: str) -> list[tuple[int, int]]:
    """`count` pairs of work and seed, always the same: each work of the half once before any comes twice.

    half: 'tune' are the works with an even number, 'report' those with an odd one, 'all' are all.
    """
    rows = [row for row in range(len(works)) if half == "all" or (row % 2 == 0) == (half == "tune")]
    order = np.random.default_rng(11).permutation(rows)
    return [(int(order[at % len(order)]), at // len(order)) for at in range(count)]


def load_studies(cache: Path, works: Works, kind: str, chosen: Sequence[tuple[int, int]], *, trim: bool) -> list[Study]:
    """The studies of the chosen works and seeds, made and read or taken from the folder `cache`."""
    maker = (TESTS / "study_maker.py").read_bytes()
    asked = f"{kind} {chosen} {trim}".encode()
    kept = cache / f"studies-{_mark([*_code(), maker, works.signatures.tobytes(), asked])}.pickle"
    if kept.exists():
        return _load(kept)
    made = [_study(works, row, seed, kind, trim) for row, seed in progress(chosen, f"drawing {kind}")]
    return _keep(kept, made)


def drawn(works: Works, row: int, seed: int, kind: str) -> NDArray[np.uint8]:
    """The picture (h, w) of a study."""
    return study_of(works.tone(row), kind, _chance(row, seed), works.masks[row])


def true_part(row: int, seed: int, kind: str) -> tuple[float, float, float, float]:
    """The rectangle (x0, y0, x1, y1) of the work, in 0..1, that a study shows."""
    return part_of(kind, _chance(row, seed))


def _chance(row: int, seed: int) -> int:
    return 1000 * seed + row


def small_tone(lightness: NDArray[np.floating[Any]], side: int = 64) -> NDArray[np.float32]:
    """(side, side) L* of a picture, each cell the mean of what it covers."""
    image = Image.fromarray(np.asarray(lightness, dtype=np.float32))
    return np.asarray(image.resize((side, side), Image.Resampling.BOX))


def progress(things: Iterable[Any], doing: str) -> Iterator[Any]:
    """Go through things and say on the error stream how far it is."""
    every = list(things)
    for number, thing in enumerate(every, 1):
        if number % 50 == 0 or number == len(every):
            print(f"\r{doing}: {number} of {len(every)}", end="", file=sys.stderr, flush=True)
        yield thing
    print(file=sys.stderr)


def _study(works: Works, row: int, seed: int, kind: str, trim: bool) -> Study:
    held = io.BytesIO()
    Image.fromarray(drawn(works, row, seed, kind)).save(held, "PNG")
    reading = read(held.getvalue(), trim=trim)
    small = small_tone(lightness_CIE1976(reading.picture.luminance))
    # Matching looks at signature, measures and format; whole fields of thousands of studies would fill the memory.
    bare = np.zeros((1, 1), dtype=np.float32)
    picture = dataclasses.replace(reading.picture, rgb=np.zeros((1, 1, 3), dtype=np.uint8), luminance=bare, mask=None)
    squinted = reading.squinted[::4, ::4]
    return Study(row, seed, dataclasses.replace(reading, picture=picture, squinted=squinted, maps={}), small)


def _pictures_in(folder: Path) -> list[Path]:
    return sorted(file for file in folder.rglob("*") if file.suffix.lower() in _PICTURES)


def _code() -> list[bytes]:
    form = f"{LONG_SIDE} {list(Works.__annotations__)} {list(Study.__annotations__)}".encode()
    return [form, *((TESTS.parent / "ingest" / f"{name}.py").read_bytes() for name in _READERS)]


def _mark(parts: Iterable[bytes]) -> str:
    digest = hashlib.sha256()
    for part in parts:
        digest.update(part)
    return digest.hexdigest()[:16]


def _load(file: Path) -> Any:
    with file.open("rb") as opened:
        return pickle.load(opened)


def _keep(file: Path, made: Any) -> Any:
    file.parent.mkdir(parents=True, exist_ok=True)
    part = file.with_suffix(".part")
    with part.open("wb") as opened:
        pickle.dump(made, opened, protocol=pickle.HIGHEST_PROTOCOL)
    part.replace(file)
    return made
