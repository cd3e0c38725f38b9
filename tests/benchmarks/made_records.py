"""Records, measures and arrangements made up for the works of a made archive, so that its pages have much to show.

Names and words are made of syllables; how many painters there are for so many works and how unevenly works fall to
them is like in real archives. Pictures are named but not there.
"""

from __future__ import annotations

import hashlib
import sqlite3
from pathlib import Path
from typing import Any

import numpy as np
from made_archive import name

from archive.arrangement_pictures import grey_png
from archive.edition import Edition
from ingest.arrangement_types import TYPES
from ingest.signature import GRID

ARRANGEMENTS = 14
_SYLLABLES = tuple(
    consonant + vowel for consonant, vowel in zip("bcdfghjklmnprstvwxyz", "aeiouaeiouaeiouaeiou", strict=True)
)
_CULTURES = ("French", "Italian", "Dutch", "Spanish", "German", "British", "American", "Japanese", None)
_SUBJECTS = ("people", "landscape", "sea", "flowers", "saint", "animals", "town", "interior", "still life")
_WORDS = ("light", "dark", "ringed", "middle", "towards", "edge", "largest", "register")


def fill(folder: Path, count: int, seed: int = 0) -> None:
    """Give the works of the archive in `folder`, `count` of them, all that the pages show."""
    rng = np.random.default_rng(seed)
    with Edition.begin(folder) as edition:
        means = [
            edition.keep_picture(grey_png(rng.uniform(20, 80, (GRID, GRID)).astype(np.float32)), ".png")
            for _ in range(ARRANGEMENTS)
        ]
        with edition.batch() as connection:
            _arrangements(connection, means, count, rng)
            _works(connection, count, rng)
            _measures(connection, count, rng)
            _more(connection, count, rng)
        edition.publish()


def _word(rng: np.random.Generator, syllables: int) -> str:
    return "".join(rng.choice(_SYLLABLES, syllables)).capitalize()


def _arrangements(connection: sqlite3.Connection, means: list[str], count: int, rng: np.random.Generator) -> None:
    connection.execute("INSERT OR IGNORE INTO sources VALUES (1, 'made by code')")
    for number, mean in enumerate(means):
        connection.execute(
            "INSERT INTO arrangements (arrangement, slug, name, sentence, mean, spread, medoid, members) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (number + 1, f"made-{number}", f"made pattern {number}", "Made by code.", mean, mean,
             name(int(rng.integers(count))), count // len(means)),
        )  # fmt: skip
    connection.executemany(
        "INSERT OR IGNORE INTO types (type, place, name, sentence, source) VALUES (?, ?, ?, ?, ?)",
        [(kind.slug, place, kind.name, kind.sentence, kind.source) for place, kind in enumerate(TYPES)],
    )


def _works(connection: sqlite3.Connection, count: int, rng: np.random.Generator) -> None:
    painters = [f"{_word(rng, 2)} {_word(rng, 3)}" for _ in range(max(3, count // 8))]
    whose = (len(painters) * rng.random(count) ** 2.5).astype(int)
    words = [_word(rng, 2).lower() for _ in range(400)]
    year = rng.integers(1300, 1950, count)
    arrangement, degree = rng.integers(1, ARRANGEMENTS + 1, count), rng.random(count)
    places = rng.random((count, 2))

    def row(at: int) -> tuple[Any, ...]:
        hashed = hashlib.sha256(str(at).encode()).hexdigest()
        picture = f"{hashed[:2]}/{hashed}.webp"
        title = " ".join(rng.choice(words, 4)).capitalize()
        sentence = " ".join(rng.choice(_WORDS, 14)).capitalize() + "."
        culture = _CULTURES[at % len(_CULTURES)]
        return (
            title, painters[whose[at]], str(year[at]), int(year[at]), int(year[at]), int((year[at] - 1) // 100 + 1),
            culture, "oil on canvas", f"Collection {at % 7}", 1, *([picture] * 6), 480, 360 + at % 240,
            None if degree[at] < 0.1 else int(arrangement[at]), None if degree[at] < 0.1 else float(degree[at]),
            sentence, float(places[at, 0]), float(places[at, 1]), name(at),
        )  # fmt: skip

    connection.executemany(
        "UPDATE works SET title = ?, artist = ?, date = ?, begin_year = ?, end_year = ?, century = ?, culture = ?, "
        "medium = ?, collection = ?, source = ?, painting = ?, thumb = ?, squint = ?, map2 = ?, map3 = ?, map5 = ?, "
        "display_width = ?, display_height = ?, arrangement = ?, degree = ?, sentence = ?, map_x = ?, map_y = ? "
        "WHERE work = ?",
        (row(at) for at in range(count)),
    )


def _measures(connection: sqlite3.Connection, count: int, rng: np.random.Generator) -> None:
    columns = [column for _, column, *_ in connection.execute("PRAGMA table_info(measures)")]
    shares = rng.dirichlet((2.0, 3.0, 3.0), count)
    words = {
        "register": rng.choice(["lower", "middle", "upper"], count),
        "scale": rng.choice(["limited", "moderate", "extended"], count),
    }
    held = {"light": shares[:, 0], "mid": shares[:, 1], "dark": shares[:, 2]}
    counts = {
        column: rng.integers(1, 8, count) for column in columns if column.endswith("_masses") or "present" in column
    }
    rest = rng.random((count, len(columns)))

    def value(at: int, place: int, column: str) -> Any:
        if column == "work":
            return name(at)
        if column in words:
            return str(words[column][at])
        if column in counts:
            return int(counts[column][at])
        if column in ("median_lightness", "lightness_span"):
            return 100 * float(rest[at, place])
        return float(held[column][at] if column in held else rest[at, place])

    marks = ", ".join("?" for _ in columns)
    connection.executemany(
        f"INSERT INTO measures VALUES ({marks})",
        ([value(at, place, column) for place, column in enumerate(columns)] for at in range(count)),
    )


def _more(connection: sqlite3.Connection, count: int, rng: np.random.Generator) -> None:
    held = rng.random((count, len(TYPES)))
    connection.executemany(
        "INSERT INTO work_types (work, type, degree) VALUES (?, ?, ?)",
        (
            (name(at), TYPES[kind].slug, float(held[at, kind]))
            for at in range(count)
            for kind in range(0, len(TYPES), 3)
        ),
    )
    connection.executemany(
        "INSERT OR IGNORE INTO work_subjects (work, subject) VALUES (?, ?)",
        ((name(at), _SUBJECTS[int(s)]) for at in range(count) for s in rng.integers(len(_SUBJECTS), size=2)),
    )
    mass = ("light", 0.2, 0.5, 0.5, 0.2, 0.2, 0.8, 0.8, "top", 0.2, 0.4, 0.4)
    connection.executemany(
        "INSERT INTO masses VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        ((name(at), number, *mass) for at in range(count) for number in range(4)),
    )
