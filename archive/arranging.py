"""Groups the works of an archive by how they are laid out, and keeps the groups.

Groups that persist keep their numbers, names and addresses: a new group takes over those of the old one with which
it shares most of its works. New works are assigned by the model of the last fit; only when an archive has grown or
shrunk by half since then, or on demand, are the groups found anew.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from archive.arrangement_changes import Members, changes, inherit, members_of
from archive.arrangement_kept import MODEL, Kept, Places
from archive.arrangement_pictures import grey_png
from archive.arrangement_readings import Readings
from archive.edition import Edition

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from ingest.arrangements import Arrangements, Model

FEWEST = 4
"""Works below which there is nothing to group."""

SPREAD_SHOWN = 40.0
"""Difference from the mean, in L*, that is shown as white in the picture of a group's spread."""

_REFIT = 1.5
"""How many times as many works, or as few, bring on a new fit with the next ingest."""

_DIGITS = 6
_MAP_DIGITS = 4


def arrange(folder: Path) -> list[str]:
    """Fit the arrangements of the archive in ``folder`` again and put a new edition in place if they changed.

    Gives sentences that say what changed.  Raises `ArchiveError`.
    """
    from archive.store import Archive

    Archive.open(folder).close()
    with Edition.begin(folder) as edition:
        said = arrange_edition(edition)
        if edition.changed:
            edition.publish()
    return said


def arrange_edition(edition: Edition) -> list[str]:
    """Fit the arrangements of a working copy, write them into it, and say what changed in sentences.

    Works that were read by an older Blotbook and not again since take no part.
    """
    readings = Readings.of(edition)
    had = members_of(edition.connection)
    kept = Kept([], [], {}, {}, "", "")
    if len(readings.works) >= FEWEST:
        kept = _kept(edition, readings, _fit(readings), had)
    if kept != Kept.of(edition):
        kept.write(edition)
    return changes(had, members_of(edition.connection))


def settle_edition(edition: Edition) -> list[str]:
    """Give the works of a working copy their places in the arrangements there are, and say what changed.

    The groups are found anew when there are none, when they were found in another way, or when the archive has
    grown or shrunk by half since.
    """
    from ingest.arrangements import CLEAR

    readings = Readings.of(edition)
    stored = _stored_model(edition)
    if stored is None or not stored[0].works / _REFIT <= len(readings.works) <= stored[0].works * _REFIT:
        return arrange_edition(edition)
    model, numbers = stored
    had = members_of(edition.connection)
    before = Kept.of(edition)
    points = model.points(readings.signatures, readings.measures)
    shares = model.degrees(points)
    best = shares.argmax(axis=1)
    belongs = {
        work: (numbers[group], round(float(row[group]), _DIGITS))
        for work, group, row in zip(readings.works, best, shares, strict=True)
        if row[group] >= CLEAR
    }
    members = [number for number, _ in belongs.values()]
    medoids = _medoids(readings.works, points, model, best)
    rows = [
        {
            **row,
            "members": members.count(row["arrangement"]),
            "medoid": row["medoid"] if row["medoid"] in readings.place else medoids[numbers.index(row["arrangement"])],
        }
        for row in before.rows
    ]
    places = _placed(readings.works, points, before.places)
    kept = dataclasses.replace(before, rows=rows, belongs=belongs, places=places)
    if kept != before:
        kept.write(edition)
    return changes(had, members_of(edition.connection))


def is_settled(edition: Edition) -> bool:
    """Whether the groups, if there can be any, were found in today's way."""
    (works,) = edition.connection.execute("SELECT count(*) FROM signatures").fetchone()
    return works < FEWEST or _stored_model(edition) is not None


def _fit(readings: Readings) -> Arrangements:
    import sklearn.cluster  # noqa: F401
    from threadpoolctl import threadpool_limits

    from ingest.arrangements import fit

    # Sums taken by several threads differ in their last digits from run to run, and threads that wait for each other
    # take several times the time of one. Only libraries that are loaded already can be told.
    with threadpool_limits(1):
        return fit(readings.signatures, readings.types, readings.measures)


def _kept(edition: Edition, readings: Readings, found: Arrangements, had: dict[int, Members]) -> Kept:
    """What is to be kept of a fit, under the numbers and names that persisting groups had before."""
    works = readings.works
    belongs_to = [
        frozenset(work for work, label in zip(works, found.labels, strict=True) if label == group)
        for group in range(len(found.groups))
    ]
    titles = inherit(had, [(group.slug, group.name) for group in found.groups], belongs_to)
    rows = [
        {
            "arrangement": title.number,
            "slug": title.slug,
            "name": title.name,
            "sentence": group.sentence,
            "mean": edition.keep_picture(grey_png(group.mean), "png"),
            "spread": edition.keep_picture(grey_png(group.spread * (100.0 / SPREAD_SHOWN)), "png"),
            "medoid": works[group.medoid],
            "members": len(members),
        }
        for title, group, members in zip(titles, found.groups, belongs_to, strict=True)
    ]
    neighbours = [
        {"arrangement": title.number, "place": place, "neighbour": titles[near.group].number, "but": near.but}
        for title, group in zip(titles, found.groups, strict=True)
        for place, near in enumerate(group.neighbours, 1)
    ]
    model = found.model.to_json() | {"numbers": [title.number for title in titles]}
    stability = {
        str(count): {
            name: round(value, _MAP_DIGITS)
            for name, value in (
                ("found", one.found),
                ("spread", one.spread),
                ("null", one.null),
                ("null_spread", one.null_spread),
            )
        }
        for count, one in found.stability.items()
    }
    return Kept(
        sorted(rows, key=lambda row: int(row["arrangement"])),
        sorted(neighbours, key=lambda row: (row["arrangement"], row["place"])),
        {
            work: (titles[label].number, round(float(degree), _DIGITS))
            for work, label, degree in zip(works, found.labels, found.degrees, strict=True)
            if label >= 0
        },
        {work: _place(place) for work, place in zip(works, found.places, strict=True)},
        json.dumps(model, sort_keys=True),
        json.dumps(stability, sort_keys=True) if stability else "",
    )


def _stored_model(edition: Edition) -> tuple[Model, list[int]] | None:
    """The model of the last fit with the numbers of its groups; None when there is none that can be used."""
    from ingest.arrangement_features import VERSION
    from ingest.arrangements import Model

    try:
        stored = json.loads(edition.setting(MODEL))
        model, numbers = Model.from_json(stored), [int(number) for number in stored["numbers"]]
    except (KeyError, TypeError, ValueError):
        return None
    known = {number for (number,) in edition.connection.execute("SELECT arrangement FROM arrangements")}
    return (model, numbers) if model.version == VERSION and set(numbers) == known else None


def _medoids(works: list[str], points: NDArray[np.float64], model: Model, best: NDArray[np.int64]) -> list[str | None]:
    """The most central work of each group, None for a group without any."""
    from ingest.grouping import distances

    found: list[str | None] = []
    away = distances(points[:, : model.centres.shape[1]], model.centres)
    for group in range(len(model.centres)):
        here = [row for row, at in enumerate(best) if at == group]
        found.append(works[min(here, key=lambda row: float(away[row, group]))] if here else None)
    return found


def _placed(works: list[str], points: NDArray[np.float64], had: Places) -> Places:
    """Where works lie on the map; those that are new to it come between those that they are most like."""
    import numpy as np

    from ingest.layout import lay_out, place_among

    known = [row for row, work in enumerate(works) if work in had]
    fresh = [row for row, work in enumerate(works) if work not in had]
    if not known:
        return {work: _place(place) for work, place in zip(works, lay_out(points), strict=True)}
    found = {works[row]: had[works[row]] for row in known}
    if fresh:
        there = np.array([had[works[row]] for row in known])
        laid = place_among(points[fresh], points[known], there)
        found |= {works[row]: _place(place) for row, place in zip(fresh, laid, strict=True)}
    return found


def _place(place: Sequence[float]) -> tuple[float, float]:
    return round(float(place[0]), _MAP_DIGITS), round(float(place[1]), _MAP_DIGITS)
