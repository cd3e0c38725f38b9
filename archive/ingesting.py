"""Takes the pictures of records into an archive: only what is new or changed, and nothing lost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Generator, Iterable, Iterator
from contextlib import ExitStack, closing
from dataclasses import dataclass, field, replace
from itertools import islice
from pathlib import Path
from typing import TypeVar

from archive import keeping
from archive.edition import PICTURE_COLUMNS, Edition
from archive.errors import ArchiveError
from ingest.engines import Engine, EngineFault, Processes
from ingest.fetching import is_address
from ingest.pipeline import Failed, Outcome, Reduced, reduce, street_version
from ingest.provenance import Problem, Records, SourceRecord

BATCH = 24
"""Works that are committed together, and so the most that a stop can cost."""

OnProgress = Callable[[int, int], None]
_Item = TypeVar("_Item")
_Came = tuple[SourceRecord, Outcome, dict[str, str]]
"""A record, what came of its picture, and the names of the pictures that are kept of it."""


@dataclass
class Summary:
    """What an ingest did, counted in works.

    ``new`` came in; ``again`` were there and were read again, since their bytes, the part of the file that is
    theirs, or the way of reading had changed; ``updated`` had a changed record alone; ``unchanged`` needed
    nothing; ``withdrawn`` were taken out, since their record no longer places them in the public domain;
    ``withheld`` stay out, since somebody took them out by hand.
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
    withheld: int = 0
    refused: Counter[str] = field(default_factory=Counter)
    unread: list[tuple[str, str]] = field(default_factory=list)
    remarks: list[Problem] = field(default_factory=list)
    arranged: list[str] = field(default_factory=list)
    works: int = 0

    @property
    def works_named(self) -> int:
        """How many works of the records are in the archive."""
        return self.new + self.again + self.updated + self.unchanged


@dataclass(frozen=True)
class Chosen:
    """Which rows of the records are taken: all of them, unless ``aside`` asks for those alone that gave no work
    before, or ``works`` names some."""

    aside: bool = False
    works: Collection[str] = ()


def ingest(
    records: Records | Iterable[Records],
    folder: Path,
    *,
    workers: int = 1,
    scheduler: str = "",
    chosen: Chosen = Chosen(),
    on_progress: OnProgress | None = None,
) -> Summary:
    """Take ``records``, or those of several files one after another, into the archive in ``folder``, which is made if
    there is none.

    A work is read when its bytes are new or were read in another way, or when its record names another part of
    the file; anything else that changed in a record is only written over the old one.  A picture that cannot be
    read is set aside with its reason and does not touch what was read of the work before.  When anything
    changed, the arrangements are fitted again and a new edition is put in place.  ``workers`` processes read, or the
    workers of the Dask cluster at ``scheduler``.  ``on_progress`` gets the number of pictures done and their total,
    for each file anew.  Raises `ArchiveError`.

    Stopped at any moment, also by an exception out of ``on_progress``, the batches that were finished are
    kept, and the next ingest goes on after them.
    """
    from archive.arranging import is_settled, settle_edition

    with Edition.begin(folder) as edition, ExitStack() as stack:
        if not edition.published:
            # An archive that can be opened is there from the first moment on.
            edition.publish()
        taking = _Taking(edition, chosen)
        try:
            engine: Engine = Processes(workers)
            if scheduler:
                from ingest.cluster import Cluster

                engine = stack.enter_context(Cluster(scheduler))
            for each in [records] if isinstance(records, Records) else records:
                taking.take(each, engine, on_progress)
        except EngineFault as error:
            raise ArchiveError(str(error)) from error
        summary = taking.summary
        if edition.changed or not is_settled(edition):
            summary.arranged = settle_edition(edition)
        if edition.changed:
            edition.publish()
        (summary.works,) = edition.connection.execute("SELECT count(*) FROM works").fetchone()
        taking.check_all_named()
    return summary


class _Taking:
    """One ingest under way; opens a transaction only when there is something to write."""

    def __init__(self, edition: Edition, chosen: Chosen) -> None:
        self._edition = edition
        self._version = street_version()
        self._aside = keeping.set_aside_rows(edition.connection)
        self._of_works: dict[str, set[keeping.Key]] = {}
        for key, aside in self._aside.items():
            if key[1] and aside.kind != "withdrawn":
                self._of_works.setdefault(key[1], set()).add(key)
        self._withheld = {work for (_, work), aside in self._aside.items() if aside.kind == "withdrawn"}
        self._chosen = chosen
        self._missing = set(chosen.works)
        # Which works earlier files of this ingest named: on the disk, since they may be many millions.
        edition.connection.execute("CREATE TEMP TABLE IF NOT EXISTS named (work TEXT PRIMARY KEY) WITHOUT ROWID")
        edition.connection.execute("DELETE FROM temp.named")
        self._first = True
        self._problems: set[keeping.Key] = set()
        self.summary = Summary()

    def take(self, records: Records, engine: Engine, on_progress: OnProgress | None) -> None:
        """Take the records of one file."""
        records = self._named_once(self._those_chosen(records))
        self._take_problems(records)
        total = len(records.records)
        if isinstance(records.folder, Path) and not all(is_address(each.file) for each in records.records):
            engine.see(records.folder)
        outcomes: Generator[Outcome, None, None] = reduce(
            records.records,
            records.folder,
            known=self._read_before,
            engine=engine,
            on_progress=(lambda done: on_progress(done, total)) if on_progress else None,
        )
        with closing(outcomes):
            for batch in _batches(self._pictures_kept(zip(records.records, outcomes, strict=True))):
                self._take_batch(batch)

    def check_all_named(self) -> None:
        """Raises `ArchiveError` when works were asked for that no file names."""
        if self._missing:
            some = ", ".join(sorted(self._missing)[:5])
            message = f"The records name no such work: {some}."
            raise ArchiveError(message)

    def _those_chosen(self, records: Records) -> Records:
        works, aside = set(self._chosen.works), self._chosen.aside
        if not works and not aside:
            return records

        def wanted(file: str, work: str) -> bool:
            again = not aside or (file, work) in self._aside or work in self._of_works
            return again and (not works or work in works)

        self._missing -= {record.work for record in records.records} | {problem.work for problem in records.problems}
        return replace(
            records,
            records=tuple(each for each in records.records if wanted(each.file, each.work)),
            problems=tuple(each for each in records.problems if wanted(_where(each), each.work)),
        )

    def _named_once(self, records: Records) -> Records:
        """Without works that are to stay out, and without those that an earlier file of this ingest named."""
        here = self._edition.connection
        kept: list[SourceRecord] = []
        problems = list(records.problems)
        for record in records.records:
            if record.work in self._withheld:
                self.summary.withheld += 1
            elif not self._first and here.execute("SELECT 1 FROM temp.named WHERE work = ?", (record.work,)).fetchone():
                reason = f"another of the records files names the same work (“{record.work}”); give each its own id"
                problems.append(Problem("record", 0, record.file, record.work, record.title, reason))
            else:
                kept.append(record)
        here.executemany("INSERT OR IGNORE INTO temp.named VALUES (?)", ((record.work,) for record in kept))
        self._first = False
        return replace(records, records=tuple(kept), problems=tuple(problems))

    def _read_before(self, record: SourceRecord) -> str:
        """The hash of what was read of a work in today's way, as the part that its record names; '' for none."""
        row = self._edition.connection.execute(
            "SELECT sha256 FROM works WHERE work = ? AND reading_version = ? AND coalesce(part, '') = ?",
            (record.work, self._version, record.part),
        ).fetchone()
        return "" if row is None else str(row[0])

    def _take_problems(self, records: Records) -> None:
        """Note the rows that give no work, and take out works whose rights are now refused."""
        news: list[tuple[keeping.Key, keeping.Aside]] = []
        for problem in records.problems:
            if problem.kind == "remark":
                self.summary.remarks.append(problem)
                continue
            if problem.kind == "rights":
                self.summary.refused[problem.rights] += 1
            else:
                self.summary.unread.append((_where(problem), problem.reason))
            key = (_where(problem), problem.work)
            self._problems.add(key)
            aside = keeping.Aside(problem.title, problem.kind, problem.reason, problem.rights)
            if self._aside.get(key) != aside:
                news.append((key, aside))
        if news:
            with self._edition.batch() as connection:
                for key, aside in news:
                    keeping.set_aside(connection, key, aside)
                    if aside.kind == "rights" and keeping.withdraw(connection, key[1]):
                        self.summary.withdrawn += 1

    def _pictures_kept(self, items: Iterable[tuple[SourceRecord, Outcome]]) -> Iterator[_Came]:
        """What came of each record, its pictures put on the disk under the names that go with it.

        They are written one work after another while the next are being read, and not all of a batch at its end, or
        those who read would wait for the disk.
        """
        for record, outcome in items:
            names: dict[str, str] = {}
            if isinstance(outcome, Reduced):
                for name in PICTURE_COLUMNS:
                    shown = outcome.pictures[name]
                    names[name] = self._edition.keep_picture(shown.content, shown.suffix)
            yield record, outcome, names

    def _take_batch(self, batch: Iterable[_Came]) -> None:
        """Write what came of a few pictures, all of it or nothing."""
        here = self._edition.connection
        counts: Counter[str] = Counter()
        unread: list[tuple[str, str]] = []
        asides: dict[keeping.Key, keeping.Aside] = {}
        settled: set[keeping.Key] = set()
        updates: list[SourceRecord] = []
        readings: list[tuple[SourceRecord, Reduced, dict[str, str]]] = []
        for record, outcome, pictures in batch:
            key = record.file, record.work
            # What an earlier record of the work was set aside for, perhaps under another file, is over.
            settled |= self._of_works.get(record.work, set()) - self._problems
            if isinstance(outcome, Failed):
                unread.append((record.file, outcome.reason))
                aside = keeping.Aside(record.title, "picture", outcome.reason, "")
                settled.discard(key)
                if self._aside.get(key) != aside:
                    asides[key] = aside
                continue
            if isinstance(outcome, Reduced):
                counts["again" if keeping.has_work(here, record.work) else "new"] += 1
                readings.append((record, outcome, pictures))
            elif keeping.record_changed(here, record):
                counts["updated"] += 1
                updates.append(record)
            else:
                counts["unchanged"] += 1
        if asides or settled or updates or readings:
            with self._edition.batch() as connection:
                for key in sorted(settled):
                    keeping.no_longer_aside(connection, key)
                for key, aside in asides.items():
                    keeping.set_aside(connection, key, aside)
                for record in updates:
                    keeping.update_record(connection, record)
                for record, reduced, pictures in readings:
                    keeping.put_work(connection, record, reduced, pictures, self._version)
        self.summary.unread += unread
        for name, count in counts.items():
            setattr(self.summary, name, getattr(self.summary, name) + count)


def _where(problem: Problem) -> str:
    return problem.file or f"line {problem.line}"


def _batches(items: Iterator[_Item]) -> Iterator[list[_Item]]:
    while batch := list(islice(items, BATCH)):
        yield batch
