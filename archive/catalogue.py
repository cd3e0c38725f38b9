"""All works of an archive at a glance: what each can be chosen by, held in memory, so that every choice is counted
while one chooses.

A catalogue of a hundred thousand works takes some ten megabytes and is read once for each edition. Choosing by any
number of conditions, counting all others under them and laying out the shares takes a few milliseconds.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from archive.searching import fts_query
from archive.store import Archive
from archive.works import HELD

SHARES = ("light", "mid", "dark")
"""What works can be chosen by between two bounds, each in hundredths of the picture."""

CHOICES = (
    "arrangement", "type", "register", "scale", "light_masses", "dark_masses",
    "artist", "century", "subject", "country", "culture", "collection",
)  # fmt: skip
"""What works can be chosen by in words: names of arrangements and types are their slugs, all else stands as it is."""

NONE = "none"
"""The value that chooses works without an arrangement."""

BINS = 20
"""Columns of a histogram over shares of 0 to 1."""

MANY_MASSES = 5
"""So many masses or more are one choice."""

_MOST_WEIGHED = 4000
"""Works found by words that are put in order of how well they fit; of more, the order says nothing."""

_HEARD = 16
"""Searches by words whose answers are kept."""

Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Wanted:
    """What is looked for: words, values by name of `CHOICES`, bounds (0..100) by name of `SHARES`."""

    text: str = ""
    chosen: Mapping[str, str] = field(default_factory=dict)
    shares: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    sort: str = "painter"


@dataclass(frozen=True)
class Spread:
    """How a share is spread: works in each of `BINS` columns, of all and of those found, and the middle half of the
    found between two hundredths (None when none is found)."""

    everywhere: tuple[int, ...]
    found: tuple[int, ...]
    middle: tuple[int, int] | None


@dataclass(frozen=True)
class Found:
    """total: how many works are found; works: the ids of those asked for, in order; counts: for each choice its values
    with the works that would be found by them, all other conditions kept, in the order of the values."""

    total: int
    works: tuple[str, ...]
    counts: Mapping[str, Sequence[tuple[str, int]]]
    spreads: Mapping[str, Spread]


_Counts = tuple[Mapping[str, Sequence[tuple[str, int]]], Mapping[str, Spread]]


@dataclass(frozen=True)
class _Column:
    """values: in order. codes: (n,) of each work, -1 for none; or pairs (rows, codes) where a work has any number."""

    values: tuple[str, ...]
    codes: NDArray[np.int32]
    rows: NDArray[np.int32] | None = None

    def mask(self, value: str, count: int) -> Mask:
        code = self.values.index(value) if value in self.values else -2
        code = -1 if value == NONE and code == -2 else code
        if self.rows is None:
            return np.asarray(self.codes == code)
        held = np.zeros(count, dtype=bool)
        held[self.rows[self.codes == code]] = True
        return held

    def counts(self, among: Mask | None) -> NDArray[np.int64]:
        """How many of the works under a mask have each value."""
        codes = self.codes
        if among is not None:
            codes = codes[among if self.rows is None else among[self.rows]]
        return np.bincount(codes[codes >= 0] if self.rows is None else codes, minlength=len(self.values))


class Catalogue:
    """See the module; made by `of`."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        connection = archive.connection
        self.works: list[str] = []
        rowids: list[int] = []
        for rowid, work in connection.execute("SELECT rowid, work FROM works ORDER BY rowid"):
            rowids.append(rowid)
            self.works.append(work)
        self._rowids = np.array(rowids, dtype=np.int64)
        self._columns = {name: self._column(connection, name) for name in CHOICES}
        self._everywhere = {name: column.counts(None) for name, column in self._columns.items()}
        measured = {work: at for at, work in enumerate(self.works)}
        shares = np.full((len(SHARES), len(self.works)), np.nan)
        for work, *measures in connection.execute(f"SELECT work, {', '.join(SHARES)} FROM measures"):
            shares[:, measured[work]] = [np.nan if share is None else share for share in measures]
        known = ~np.isnan(shares)
        # -1 for what was not measured; bins of hundredths would put 0.099 and 0.101 into one column.
        self._hundredths = np.where(known, np.rint(np.nan_to_num(shares) * 100), -1).astype(np.int16)
        self._bins = np.where(known, np.minimum(BINS - 1, np.nan_to_num(shares) * BINS), -1).astype(np.int16)
        self._orders: dict[str, NDArray[np.int64]] = {}
        self._idle: _Counts | None = None
        self._heard: dict[str, NDArray[np.int64]] = {}

    @classmethod
    def of(cls, archive: Archive) -> Catalogue:
        """The catalogue of an edition."""
        return cls(archive)

    def __len__(self) -> int:
        return len(self.works)

    def values(self, choice: str) -> tuple[str, ...]:
        """All values of one of `CHOICES`, in order."""
        return self._columns[choice].values

    def find(self, wanted: Wanted, start: int = 0, size: int = 24) -> Found:
        """The works that meet all conditions, from `start` on; unknown values are met by none."""
        masks, all_of, found = self._chosen(wanted)
        if not masks and self._idle is None:
            self._idle = self._count({}, None)
        counts, spreads = self._idle if not masks and self._idle else self._count(masks, all_of)
        return Found(
            total=len(found),
            works=tuple(self.works[at] for at in found[start : start + size]),
            counts=counts,
            spreads=spreads,
        )

    def _count(self, masks: Mapping[str, Mask], all_of: Mask | None) -> _Counts:
        return (
            {name: self._counted(name, masks, all_of) for name in CHOICES},
            {name: self._spread(at, name, masks, all_of) for at, name in enumerate(SHARES)},
        )

    def page(self, wanted: Wanted, start: int, size: int) -> tuple[int, list[str]]:
        """How many works meet all conditions, and the ids of some of them; nothing else is counted."""
        _, _, found = self._chosen(wanted)
        return len(found), [self.works[at] for at in found[start : start + size]]

    def _chosen(self, wanted: Wanted) -> tuple[dict[str, Mask], Mask | None, NDArray[np.int64]]:
        """The works that meet each condition and all of them, and where these lie, in the order asked for."""
        fitting = self._by_words(wanted.text) if wanted.text else None
        masks: dict[str, Mask] = {}
        if fitting is not None:
            masks["text"] = np.zeros(len(self), dtype=bool)
            masks["text"][fitting] = True
        for name, value in wanted.chosen.items():
            masks[name] = self._columns[name].mask(value, len(self))
        for name, (low, high) in wanted.shares.items():
            share = self._hundredths[SHARES.index(name)]
            masks[name] = (share >= low) & (share <= high)
        all_of = _both(masks, "")
        order = fitting if wanted.sort == "fit" and fitting is not None else self._order(wanted.sort)
        return masks, all_of, order if all_of is None else order[all_of[order]]

    def _counted(self, name: str, masks: Mapping[str, Mask], all_of: Mask | None) -> list[tuple[str, int]]:
        column = self._columns[name]
        among = _both(masks, name) if name in masks else all_of
        counts = self._everywhere[name] if among is None else column.counts(among)
        return [(value, int(count)) for value, count in zip(column.values, counts, strict=True) if count]

    def _spread(self, at: int, name: str, masks: Mapping[str, Mask], all_of: Mask | None) -> Spread:
        among = _both(masks, name) if name in masks else all_of
        return Spread(
            _columns(self._bins[at], None, BINS),
            _columns(self._bins[at], among, BINS),
            _middle(_columns(self._hundredths[at], all_of, 101)),
        )

    def _by_words(self, text: str) -> NDArray[np.int64]:
        """Where the works lie that have the words, the best fit first where they are few enough to be put in order.

        The last few answers are kept: whoever turns leaves or moves a slider asks for the same words again.
        """
        found = self._heard.get(text)
        if found is None:
            found = self._look_up(text)
            for older in list(self._heard)[: 1 - _HEARD]:
                self._heard.pop(older, None)
            self._heard[text] = found
        return found

    def _look_up(self, text: str) -> NDArray[np.int64]:
        query = fts_query(text)
        if not query:
            return np.zeros(0, dtype=np.int64)
        connection = self._archive.connection
        # As one text: a hundred thousand rows one by one would take longer than the search.
        (listed,) = connection.execute(
            "SELECT group_concat(rowid) FROM works_fts WHERE works_fts MATCH ?", (query,)
        ).fetchone()
        rowids = np.fromstring(listed or "", dtype=np.int64, sep=",")
        if len(rowids) <= _MOST_WEIGHED:
            # A word in the title or the artist's name says more than one in the sentence.
            rows = connection.execute(
                "SELECT rowid FROM works_fts WHERE works_fts MATCH ? "
                "ORDER BY bm25(works_fts, 8.0, 6.0, 2.0, 1.0, 1.0, 1.0), rowid",
                (query,),
            )
            rowids = np.array([rowid for (rowid,) in rows], dtype=np.int64)
        return np.searchsorted(self._rowids, rowids)

    def prepare(self) -> None:
        """Put the works in the orders that are asked for most, which takes a moment where they are many."""
        for sort in ("painter", "clearest"):
            self._order(sort)

    def _order(self, sort: str) -> NDArray[np.int64]:
        """Where the works lie, in an order; what is not known comes last."""
        if sort not in self._orders:
            terms = {
                "painter": "artist IS NULL, artist COLLATE NOCASE, begin_year, title COLLATE NOCASE",
                "title": "title IS NULL, title COLLATE NOCASE",
                "date": "coalesce(begin_year, end_year) IS NULL, coalesce(begin_year, end_year)",
                "lightest": "median_lightness IS NULL, median_lightness DESC",
                "darkest": "median_lightness IS NULL, median_lightness",
                "clearest": "degree IS NULL, degree DESC",
            }
            by = terms.get(sort, terms["painter"])
            rows = self._archive.connection.execute(
                f"SELECT works.rowid FROM works LEFT JOIN measures USING (work) ORDER BY {by}, work"
            )
            self._orders[sort] = np.searchsorted(self._rowids, np.array([row[0] for row in rows], dtype=np.int64))
        return self._orders[sort]

    def _column(self, connection: sqlite3.Connection, name: str) -> _Column:
        if name in ("subject", "type"):
            sql = {
                "subject": "SELECT works.rowid, subject FROM work_subjects JOIN works USING (work)",
                "type": "SELECT works.rowid, type FROM work_types JOIN works USING (work) "
                f"WHERE work_types.degree >= {HELD}",
            }[name]
            pairs = connection.execute(sql).fetchall()
            values, codes = _coded([value for _, value in pairs])
            rows = np.searchsorted(self._rowids, np.array([rowid for rowid, _ in pairs], dtype=np.int64))
            return _Column(values, codes, rows.astype(np.int32))
        source = {
            "arrangement": "SELECT slug FROM works LEFT JOIN arrangements USING (arrangement) ORDER BY works.rowid",
            "register": "SELECT register FROM works LEFT JOIN measures USING (work) ORDER BY works.rowid",
            "scale": "SELECT scale FROM works LEFT JOIN measures USING (work) ORDER BY works.rowid",
        }
        for value in ("light", "dark"):
            source[f"{value}_masses"] = (
                f"SELECT min({value}_masses, {MANY_MASSES}) FROM works LEFT JOIN measures USING (work) "
                "ORDER BY works.rowid"
            )
        listed = connection.execute(source.get(name, f"SELECT {name} FROM works ORDER BY rowid"))
        return _Column(*_coded([value for (value,) in listed]))


def _columns(places: NDArray[np.int16], among: Mask | None, count: int) -> tuple[int, ...]:
    """How many works under a mask have each place, 0 to count - 1; those at -1 have none."""
    chosen = places if among is None else places[among]
    return tuple(np.bincount(chosen + 1, minlength=count + 1)[1:].tolist())


def _middle(counts: Sequence[int]) -> tuple[int, int] | None:
    """Between which hundredths the middle half of the works lies; None when there is none."""
    reached = np.cumsum(counts)
    if not reached[-1]:
        return None
    low, high = (int(np.searchsorted(reached, share * reached[-1])) for share in (0.25, 0.75))
    return low, high


def _both(masks: Mapping[str, Mask], without: str) -> Mask | None:
    """All masks but one laid over each other; None when there is none."""
    kept = [mask for name, mask in masks.items() if name != without]
    return np.logical_and.reduce(kept) if kept else None


def _coded(values: Sequence[Any]) -> tuple[tuple[str, ...], NDArray[np.int32]]:
    """The distinct values in order, as text, and the place of each given one among them, -1 for None."""
    known = sorted({value for value in values if value is not None and value != ""})
    places = {value: place for place, value in enumerate(known)}
    codes = np.fromiter((places.get(value, -1) for value in values), dtype=np.int32, count=len(values))
    return tuple(str(value) for value in known), codes
