"""Takes the pictures of a records file into an archive: only what is new or changed, and nothing lost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import TypeVar

from archive import keeping
from archive.edition import PICTURE_COLUMNS, Edition
from ingest.pipeline import Failed, Outcome, Reduced, reduce, street_version
from ingest.provenance import Problem, Records, SourceRecord

BATCH = 24
"""Works that are committed together, and so the most that a stop can cost."""

OnProgress = Callable[[int, int], None]
_Item = TypeVar("_Item")


@dataclass
class Summary:
    """What an ingest did, counted in works.

    ``new`` came in; ``again`` were there and were read again, since their bytes, the part of the file that is
    theirs, or the way of reading had changed; ``updated`` had a changed record alone; ``unchanged`` needed
    nothing; ``withdrawn`` were taken out, since their record no longer places them in the public domain.
    ``refused`` counts rows by rights statement; ``unread`` are (file, reason) of pictures and rows that could
    not be used; ``remarks`` are parts of records that were left out.  ``arranged`` says how the arrangements
    changed, a sentence each.
    ``works`` is how many the archive then has.
    """

    new: int = 0
    again: int = 0
    updated: int = 0
    unchanged: int = 0
    withdrawn: int = 0
    refused: Counter[str] = field(default_factory=Counter)
    unread: list[tuple[str, str]] = field(default_factory=list)
    remarks: list[Problem] = field(default_factory=list)
    arranged: list[str] = field(default_factory=list)
    works: int = 0

    @property
    def works_named(self) -> int:
        """How many works of the records are in the archive."""
        return self.new + self.again + self.updated + self.unchanged


def ingest(records: Records, folder: Path, *, workers: int = 1, on_progress: OnProgress | None = None) -> Summary:
    """Take ``records`` into the archive in ``folder``, which is made if there is none.

    A work is read when its bytes are new or were read in another way, or when its record names another part of
    the file; anything else that changed in a record is only written over the old one.  A picture that cannot be
    read is set aside with its reason and does not touch what was read of the work before.  When anything
    changed, the arrangements are fitted again and a new edition is put in place.  ``on_progress`` gets the number
    of pictures done and their total.  Raises `ArchiveError`.

    Stopped at any moment, also by an exception out of ``on_progress``, the batches that were finished are
    kept, and the next ingest goes on after them.
    """
    from archive.arranging import settle_edition

    with Edition.begin(folder) as edition:
        if not edition.published:
            # An archive that can be opened is there from the first moment on.
            edition.publish()
        taking = _Taking(edition)
        taking.take_problems(records)
        total = len(records.records)
        outcomes = reduce(
            records.records,
            records.folder,
            known=taking.read_before(records.records),
            workers=workers,
            on_progress=(lambda done: on_progress(done, total)) if on_progress else None,
        )
        with closing(outcomes):
            for batch in _batches(zip(records.records, outcomes, strict=True)):
                taking.take_batch(batch)
        summary = taking.summary
        if edition.changed:
            summary.arranged = settle_edition(edition)
            edition.publish()
        (summary.works,) = edition.connection.execute("SELECT count(*) FROM works").fetchone()
    return summary


class _Taking:
    """One ingest under way; opens a transaction only when there is something to write."""

    def __init__(self, edition: Edition) -> None:
        self._edition = edition
        self._version = street_version()
        self._aside = keeping.set_aside_rows(edition.connection)
        self.summary = Summary()

    def read_before(self, records: Iterable[SourceRecord]) -> dict[str, str]:
        """Works that were read in today's way, as the part their record names, and the hash of what was read."""
        rows = self._edition.connection.execute(
            "SELECT work, sha256, coalesce(part, '') FROM works WHERE reading_version = ?", (self._version,)
        )
        parts = {record.work: record.part for record in records}
        return {work: sha256 for work, sha256, part in rows if parts.get(work) == part}

    def take_problems(self, records: Records) -> None:
        """Note the rows that give no work, and take out works whose rights are now refused."""
        news: list[tuple[keeping.Key, keeping.Aside]] = []
        for problem in records.problems:
            where = problem.file or f"line {problem.line}"
            if problem.kind == "remark":
                self.summary.remarks.append(problem)
                continue
            if problem.kind == "rights":
                self.summary.refused[problem.rights] += 1
            else:
                self.summary.unread.append((where, problem.reason))
            aside = keeping.Aside(problem.title, problem.kind, problem.reason, problem.rights)
            if self._aside.get((where, problem.work)) != aside:
                news.append(((where, problem.work), aside))
        if news:
            with self._edition.batch() as connection:
                for key, aside in news:
                    keeping.set_aside(connection, key, aside)
                    if aside.kind == "rights" and keeping.withdraw(connection, key[1]):
                        self.summary.withdrawn += 1

    def take_batch(self, batch: Iterable[tuple[SourceRecord, Outcome]]) -> None:
        """Write what came of a few pictures, all of it or nothing."""
        here = self._edition.connection
        counts: Counter[str] = Counter()
        unread: list[tuple[str, str]] = []
        asides: dict[keeping.Key, keeping.Aside] = {}
        settled: list[keeping.Key] = []
        updates: list[SourceRecord] = []
        readings: list[tuple[SourceRecord, Reduced, dict[str, str]]] = []
        for record, outcome in batch:
            key = record.file, record.work
            if isinstance(outcome, Failed):
                unread.append((record.file, outcome.reason))
                aside = keeping.Aside(record.title, "picture", outcome.reason, "")
                if self._aside.get(key) != aside:
                    asides[key] = aside
                continue
            if key in self._aside:
                settled.append(key)
            if isinstance(outcome, Reduced):
                counts["again" if keeping.has_work(here, record.work) else "new"] += 1
                readings.append((record, outcome, self._keep_pictures(outcome)))
            elif keeping.record_changed(here, record):
                counts["updated"] += 1
                updates.append(record)
            else:
                counts["unchanged"] += 1
        if asides or settled or updates or readings:
            with self._edition.batch() as connection:
                for key, aside in asides.items():
                    keeping.set_aside(connection, key, aside)
                for key in settled:
                    keeping.no_longer_aside(connection, key)
                for record in updates:
                    keeping.update_record(connection, record)
                for record, reduced, pictures in readings:
                    keeping.put_work(connection, record, reduced, pictures, self._version)
        self.summary.unread += unread
        for name, count in counts.items():
            setattr(self.summary, name, getattr(self.summary, name) + count)

    def _keep_pictures(self, reduced: Reduced) -> dict[str, str]:
        return {
            name: self._edition.keep_picture(reduced.pictures[name].content, reduced.pictures[name].suffix)
            for name in PICTURE_COLUMNS
        }


def _batches(items: Iterator[_Item]) -> Iterator[list[_Item]]:
    while batch := list(islice(items, BATCH)):
        yield batch
