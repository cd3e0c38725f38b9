"""Groups the works of an archive by how they are laid out, and keeps the groups."""

from __future__ import annotations

import dataclasses
import io
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from archive.edition import Edition

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from ingest.arrangements import Arrangements, Group
    from ingest.measures import Measures

FEWEST = 4
"""Works below which there is nothing to group."""

MODEL = "arrangement_model"
"""The setting that holds what assigns a new work to the groups."""

MAP_SIDE = 256
SPREAD_SHOWN = 40.0
"""Difference from the mean, in L*, that is shown as white in the picture of a group's spread."""

_DIGITS = 6


def arrange(folder: Path) -> list[str]:
    """Fit the arrangements of the archive in ``folder`` again and put a new edition in place if they changed.

    Gives sentences that say what changed.  Raises `ArchiveError`.
    """
    from archive.store import Archive

    Archive.open(folder).close()
    with Edition.begin(folder) as edition:
        changes = arrange_edition(edition)
        if edition.changed:
            edition.publish()
    return changes


def arrange_edition(edition: Edition) -> list[str]:
    """Fit the arrangements of a working copy, write them into it, and say what changed in sentences.

    An arrangement's number goes with its slug, so links to it stay good, and the same works give the same
    numbers whatever was in the archive before.  Works that were read by an older Blotbook and not again since
    take no part.
    """
    works, signatures, types, measures = _readings(edition)
    had = _members(edition)
    rows: list[dict[str, Any]] = []
    of_work: dict[str, tuple[int, float]] = {}
    model = ""
    if len(works) >= FEWEST:
        found = _fit(signatures, types, measures)
        numbers = _numbers(found.groups)
        for row, (label, degree) in enumerate(zip(found.labels, found.degrees, strict=True)):
            if label >= 0:
                of_work[works[row]] = numbers[label], round(float(degree), _DIGITS)
        rows = [
            {
                "arrangement": number,
                "slug": group.slug,
                "name": group.name,
                "sentence": group.sentence,
                "mean": edition.keep_picture(_grey_png(group.mean), "png"),
                "spread": edition.keep_picture(_grey_png(group.spread * (100.0 / SPREAD_SHOWN)), "png"),
                "medoid": works[group.medoid],
                "members": sum(number == arrangement for arrangement, _ in of_work.values()),
            }
            for number, group in zip(numbers, found.groups, strict=True)
        ]
        model = json.dumps(found.model.to_json(), sort_keys=True)
    if _differs(edition, rows, of_work, model):
        _write(edition, rows, of_work, model)
    return _changes(had, _members(edition))


def _readings(
    edition: Edition,
) -> tuple[list[str], NDArray[np.uint8], NDArray[np.float64], list[Measures]]:
    import numpy as np

    from ingest.arrangement_types import TYPES
    from ingest.measures import Measures
    from ingest.signature import SIGNATURE_LENGTH

    names = [field.name for field in dataclasses.fields(Measures)]
    read = " AND ".join(f'"{name}" IS NOT NULL' for name in names)
    rows = edition.connection.execute(
        f"SELECT work, signature, {', '.join(names)} FROM signatures JOIN measures USING (work) "
        f"WHERE length(signature) = ? AND {read} ORDER BY work",
        (SIGNATURE_LENGTH,),
    ).fetchall()
    works = [row[0] for row in rows]
    signatures = np.frombuffer(b"".join(row[1] for row in rows), dtype=np.uint8).reshape(-1, SIGNATURE_LENGTH)
    measures = [Measures(**dict(zip(names, row[2:], strict=True))) for row in rows]
    at = {work: row for row, work in enumerate(works)}
    place = {kind.slug: number for number, kind in enumerate(TYPES)}
    degrees = np.zeros((len(works), len(TYPES)))
    for work, slug, degree in edition.connection.execute("SELECT work, type, degree FROM work_types"):
        if work in at and slug in place:
            degrees[at[work], place[slug]] = degree
    return works, signatures, degrees, measures


def _fit(signatures: NDArray[np.uint8], types: NDArray[np.float64], measures: list[Measures]) -> Arrangements:
    from threadpoolctl import threadpool_limits  # type: ignore[import-untyped]

    from ingest.arrangements import fit

    # Sums taken by several threads differ in their last digits from run to run.
    with threadpool_limits(1):
        return fit(signatures, types, measures)


def _numbers(groups: Sequence[Group]) -> list[int]:
    """1 to 99 for groups named after a type, by the type's place; from 101 for the others."""
    from ingest.arrangement_types import TYPES

    places = {kind.slug: place for place, kind in enumerate(TYPES, 1)}
    return [places.get(group.slug, 100 + at) for at, group in enumerate(groups, 1)]


def _grey_png(lightness: NDArray[np.float32]) -> bytes:
    """A field of L*, (n, n), as a square grey PNG of `MAP_SIDE` px."""
    import numpy as np
    from PIL import Image

    from ingest.lightness import luminance_CIE1976, srgb_from_linear

    field = Image.fromarray(np.clip(lightness, 0.0, 100.0).astype(np.float32))
    large = np.asarray(field.resize((MAP_SIDE, MAP_SIDE), Image.Resampling.BICUBIC))
    greys = np.rint(255 * srgb_from_linear(luminance_CIE1976(np.clip(large, 0.0, 100.0)))).astype(np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(greys).save(buffer, "PNG")
    return buffer.getvalue()


def _differs(edition: Edition, rows: list[dict[str, Any]], of_work: dict[str, tuple[int, float]], model: str) -> bool:
    columns = "arrangement, slug, name, sentence, mean, spread, medoid, members"
    had_rows = set(edition.connection.execute(f"SELECT {columns} FROM arrangements"))
    had_works = {
        work: (arrangement, degree)
        for work, arrangement, degree in edition.connection.execute(
            "SELECT work, arrangement, degree FROM works WHERE arrangement IS NOT NULL"
        )
    }
    new_rows = {tuple(row.values()) for row in rows}
    return (had_rows, had_works, edition.setting(MODEL)) != (new_rows, of_work, model)


def _write(edition: Edition, rows: list[dict[str, Any]], of_work: dict[str, tuple[int, float]], model: str) -> None:
    with edition.batch() as connection:
        connection.execute("UPDATE works SET arrangement = NULL, degree = NULL")
        connection.execute("DELETE FROM arrangements")
        connection.executemany(
            "INSERT INTO arrangements (arrangement, slug, name, sentence, mean, spread, medoid, members) "
            "VALUES (:arrangement, :slug, :name, :sentence, :mean, :spread, :medoid, :members)",
            rows,
        )
        connection.executemany(
            "UPDATE works SET arrangement = ?, degree = ? WHERE work = ?",
            [(*belongs, work) for work, belongs in of_work.items()],
        )
        connection.execute("DELETE FROM settings WHERE name = ?", (MODEL,))
        if model:
            connection.execute("INSERT INTO settings (name, value) VALUES (?, ?)", (MODEL, model))


class _Members(NamedTuple):
    name: str
    works: frozenset[str]


def _members(edition: Edition) -> dict[str, _Members]:
    """The members of each arrangement by its slug."""
    works: dict[str, set[str]] = {}
    names: dict[str, str] = {}
    for slug, name, work in edition.connection.execute(
        "SELECT slug, name, work FROM arrangements LEFT JOIN works USING (arrangement) ORDER BY arrangement"
    ):
        names[slug] = name
        works.setdefault(slug, set()).update([work] if work else [])
    return {slug: _Members(name, frozenset(works[slug])) for slug, name in names.items()}


def _changes(had: dict[str, _Members], has: dict[str, _Members]) -> list[str]:
    """What became of each arrangement, in sentences; those that are as they were are not named."""
    said = []
    gone = {slug: group for slug, group in had.items() if slug not in has}
    for slug, (name, works) in has.items():
        if slug in had:
            came, went = len(works - had[slug].works), len(had[slug].works - works)
            if came or went:
                said.append(f"“{name}” has {_count(works)}: {came} came, {went} went.")
            continue
        # A group lives on under another name if most of both is the same.
        before = max(gone, key=lambda other: len(gone[other].works & works), default="")
        if before and 2 * len(gone[before].works & works) > max(len(works), len(gone[before].works)):
            said.append(f"“{gone.pop(before).name}” is now called “{name}”, with {_count(works)}.")
        else:
            said.append(f"“{name}” is new, with {_count(works)}.")
    return [*said, *(f"“{group.name}” is gone." for group in gone.values())]


def _count(works: frozenset[str]) -> str:
    return "1 work" if len(works) == 1 else f"{len(works)} works"
