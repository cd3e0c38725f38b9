"""Reads works out of an archive's database: a page of many, or all that is known of one."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from archive.errors import ArchiveError
from archive.searching import fts_query

Work = dict[str, Any]
"""A row of ``works`` by column name, with ``arrangement_slug`` and ``arrangement_name``."""

FACETS = ("artist", "century", "culture", "country", "subject", "medium", "collection", "rights", "source")
"""What works can be counted by in `Archive.facet` and chosen by in `Archive.works`: columns, and their subjects."""

HELD = 0.55
"""The degree from which a work counts as being of a type when works are chosen by type:
`ingest.arrangement_types.CLEAR`, which is not imported for a number alone."""

MOST_AT_ONCE = 1000

_NUMBERS = frozenset(
    {"begin_year", "end_year", "century", "width", "height", "display_width", "display_height", "degree",
     "degree_of_type", "row", "arrangement", "source"}
)  # fmt: skip
_JOINED = "FROM works LEFT JOIN arrangements ON arrangements.arrangement = works.arrangement"
_COLUMNS = "works.*, arrangements.slug AS arrangement_slug, arrangements.name AS arrangement_name"
_SORTS = {
    "work": "works.work",
    "title": "works.title COLLATE NOCASE",
    "artist": "works.artist COLLATE NOCASE",
    "date": "coalesce(works.begin_year, works.end_year)",
    "degree": "works.degree",
}


@dataclass(frozen=True)
class WorksPage:
    """One page of works: the rows, how many there are in all, and the token that asks for the next page."""

    works: list[Work]
    total: int
    next: str | None


def find_works(
    connection: sqlite3.Connection,
    where: Mapping[str, str | int],
    *,
    search: str,
    sort: str,
    size: int,
    next: str | None,
    measures: Sequence[str],
) -> WorksPage:
    """See `archive.store.Archive.works`; ``measures`` are the measures that this archive has."""
    columns = _COLUMNS + (", work_types.degree AS degree_of_type" if "type" in where else "")
    by = sort.removeprefix("-")
    tables, terms, values = _choosing(where, measures, measured=by in measures)
    if search:
        query = fts_query(search)
        if not query:
            return WorksPage([], 0, None)
        tables += " JOIN works_fts ON works_fts.rowid = works.rowid"
        terms.append("works_fts MATCH ?")
        values.append(query)
    order = _order(by, measures, searched=bool(search), typed="type" in where)
    order += " DESC" if sort.startswith("-") else ""
    start, size = offset(next), max(1, min(size, MOST_AT_ONCE))
    chosen = tables + (" WHERE " + " AND ".join(terms) if terms else "")
    (total,) = connection.execute(f"SELECT count(*) {chosen}", values).fetchone()
    rows = connection.execute(
        f"SELECT {columns} {chosen} ORDER BY {order} NULLS LAST, works.work LIMIT {size} OFFSET {start}",
        values,
    )
    found = [_plain(row) for row in rows]
    return WorksPage(found, total, str(start + size) if start + size < total else None)


def chosen_ids(connection: sqlite3.Connection, where: Mapping[str, str | int], measures: Sequence[str]) -> list[str]:
    """See `archive.store.Archive.chosen`."""
    tables, terms, values = _choosing(where, measures, measured=False)
    chosen = tables + (" WHERE " + " AND ".join(terms) if terms else "")
    return [work for (work,) in connection.execute(f"SELECT works.work {chosen} ORDER BY works.work", values)]


def _choosing(
    where: Mapping[str, str | int], measures: Sequence[str], *, measured: bool
) -> tuple[str, list[str], list[str | int]]:
    """The joined tables, the terms and their values that choose works by names and values."""
    tables, terms, values = _JOINED, list[str](), list[str | int]()
    if "type" in where:
        tables += " JOIN work_types ON work_types.work = works.work"
        terms.append(f"work_types.type = ? AND work_types.degree >= {HELD}")
        values.append(where["type"])
    if measured or any(name in measures for name in where):
        tables += " JOIN measures ON measures.work = works.work"
    for name, value in where.items():
        if name == "type":
            continue
        if name == "subject":
            # A work has any number of them.
            of_it = "SELECT 1 FROM work_subjects WHERE work_subjects.work = works.work"
            terms.append(f"NOT EXISTS ({of_it})" if value == "" else f"EXISTS ({of_it} AND subject = ?)")
            values += [value] if value != "" else []
            continue
        column = _column_to_choose_by(name, measures)
        if value == "":
            terms.append(f"{column} IS NULL")
        else:
            terms.append(f"{column} = ?")
            values.append(value)
    return tables, terms, values


def one_work(connection: sqlite3.Connection, work: str) -> Work | None:
    """See `archive.store.Archive.work`."""
    row = connection.execute(f"SELECT {_COLUMNS} {_JOINED} WHERE works.work = ?", (work,)).fetchone()
    if row is None:
        return None
    found = _plain(row)
    found["trimmed"] = json.loads(found["trimmed"])
    found["trims"] = json.loads(found["trims"])
    source = connection.execute("SELECT obtained_from FROM sources WHERE source = ?", (found["source"],))
    found["obtained_from"] = "".join(name for (name,) in source)
    measured = connection.execute("SELECT * FROM measures WHERE work = ?", (work,)).fetchone()
    values = {} if measured is None else dict(measured)
    meanings = connection.execute("SELECT measure, unit, says, source FROM measure_meanings ORDER BY place")
    found["measures"] = [
        {**dict(meaning), "value": values[meaning["measure"]]}
        for meaning in meanings
        if values.get(meaning["measure"]) is not None
    ]
    masses = connection.execute("SELECT * FROM masses WHERE work = ? ORDER BY mass", (work,))
    found["masses"] = [dict(mass) for mass in masses]
    types = connection.execute(
        "SELECT type, name, sentence, degree FROM work_types JOIN types USING (type) WHERE work = ? "
        "ORDER BY degree DESC, place",
        (work,),
    )
    found["types"] = [dict(kind) for kind in types]
    subjects = connection.execute("SELECT subject FROM work_subjects WHERE work = ? ORDER BY subject", (work,))
    found["subjects"] = [subject for (subject,) in subjects]
    return found


def measured(work: Work) -> dict[str, Any]:
    """What was measured in a work as `one_work` gives it, by the names of the measures."""
    return {row["measure"]: row["value"] for row in work["measures"]}


def works_named(connection: sqlite3.Connection, works: Sequence[str]) -> list[Work]:
    """See `archive.store.Archive.named`."""
    marks = ", ".join("?" for _ in works)
    rows = connection.execute(f"SELECT {_COLUMNS} {_JOINED} WHERE works.work IN ({marks})", tuple(works))
    found = {row["work"]: _plain(row) for row in rows}
    return [found[work] for work in works if work in found]


def _column_to_choose_by(name: str, measures: Sequence[str]) -> str:
    if name == "arrangement":
        return "arrangements.slug"
    if name in FACETS:
        return f"works.{name}"
    if name in measures:
        return f'measures."{name}"'
    message = f"Works cannot be chosen by '{name}'."
    raise ArchiveError(message)


def _order(by: str, measures: Sequence[str], *, searched: bool, typed: bool) -> str:
    if by in _SORTS:
        return _SORTS[by]
    if by in measures:
        return f'measures."{by}"'
    if by == "relevance" and searched:
        # A word in the title or the artist's name says more than one in the sentence.
        return "bm25(works_fts, 8.0, 6.0, 2.0, 1.0, 1.0, 1.0)"
    if by == "degree_of_type" and typed:
        return "work_types.degree"
    message = f"Works cannot be sorted by '{by}'."
    raise ArchiveError(message)


def _plain(row: sqlite3.Row) -> Work:
    return {
        name: "" if value is None and name not in _NUMBERS else value
        for name, value in zip(row.keys(), row, strict=True)
    }


def offset(token: str | None) -> int:
    """Where a page of works begins, by its token. Raises `ArchiveError` for a token that is none."""
    if not token:
        return 0
    if not (token.isascii() and token.isdigit() and len(token) < 12):
        message = "The page asked for is not known; begin again at the first."
        raise ArchiveError(message)
    return int(token)


def works_in_words(count: int) -> str:
    """How many works, in words."""
    return "1 work" if count == 1 else f"{count:,} works"
