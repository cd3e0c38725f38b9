"""Brings the works of an open collection into a folder: pictures, records, hashes.

    folder/records.csv      what `blotbook ingest` reads
    folder/pictures/        the pictures, named by their works
    folder/received/        each record as it was received
    folder/left-out.csv     what did not come, and why
    folder/gathering.db     the journal (`ingest.gather_journal`), by which a stop costs nothing

Works are taken one after another: the hosts are asked by one program, one thing at a time.
"""

from __future__ import annotations

import contextlib
import dataclasses
import json
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from ingest.collections.source import (
    NO_PICTURE,
    NOT_USABLE,
    RIGHTS,
    Collection,
    CollectionProblem,
    Entry,
    LeftOut,
    Wanted,
)
from ingest.gather_answers import WebProblem
from ingest.gather_asking import Asking
from ingest.gather_bring import Bringing
from ingest.gather_journal import FAILED, GOT, LISTED, Journal, Pending
from ingest.gather_journal_file import JournalProblem
from ingest.gather_output import ARRIVING, write_left_out, write_records
from ingest.gather_web import Web

MOST_IN_A_ROW = 5
"""After so many works in a row that failed for a passing reason, nothing more is asked."""


@dataclass(frozen=True)
class Gathered:
    """What a gathering came to.

    came: works that came now. there: works that were there. reasons: why others did not come: (why, reason, how
    many), the most first. failed: how many of them will be tried again when the command is given again. complete:
    whether the whole list was gone through. stopped: the sentence that says why it ended early, or ''. records: the
    records file. left_out: the table of what did not come.
    """

    came: int
    there: int
    reasons: tuple[tuple[str, str, int], ...]
    failed: int
    complete: bool
    stopped: str
    records: Path
    left_out: Path


def gather(
    collection: Collection,
    folder: Path,
    wanted: Wanted,
    web: Web,
    *,
    limit: int | None = None,
    again: bool = False,
    on_progress: Callable[[int, int], None] | None = None,
) -> Gathered:
    """Bring up to ``limit`` works of a collection into a folder, going on from where an earlier call stopped.

    ``again`` asks for the list and all records once more and for pictures that have changed.  ``on_progress`` is told
    how many works have been looked at and how many there are to look at in this call.  Raises `CollectionProblem` when
    the collection has not the published form, `ingest.gather_journal_file.JournalProblem` when the folder is in use.
    """
    folder.mkdir(parents=True, exist_ok=True)
    journal = Journal(folder)
    try:
        run = _Run(collection, folder, wanted, web, journal, again=again)
        try:
            run.go(limit, on_progress or _say_nothing)
        except BaseException:
            # What came is to be usable whatever stopped us; the first trouble is the one to tell of.
            with contextlib.suppress(OSError, sqlite3.Error):
                run.write_tables()
            raise
        return run.gathered()
    except sqlite3.Error as error:
        message = f"The journal in {folder} could not be written or read on ({error}); what came is kept."
        raise JournalProblem(message) from error
    finally:
        journal.close()


class _Run:
    def __init__(
        self, collection: Collection, folder: Path, wanted: Wanted, web: Web, journal: Journal, *, again: bool
    ) -> None:
        self._collection = collection
        self._folder = folder
        self._wanted = wanted
        self._web = web
        self._journal = journal
        self._again = again
        self._number = journal.begin(collection.name, _asked(collection, wanted), again=again)
        self._bringing = Bringing(collection.name, folder, web, journal)
        self._in_a_row = 0
        self._stopped = ""

    # -- the round -------------------------------------------------------------------------------------------

    def go(self, limit: int | None, on_progress: Callable[[int, int], None]) -> None:
        ask = Asking(self._web, self._folder, self._journal, again=self._again)
        ask_list = Asking(self._web, self._folder, None, again=self._again)
        done, place, left, have = 0, 0, self._left(), self._have()
        while limit is None or have < limit:
            pending = self._journal.next_work(self._number, place)
            if pending is None:
                cursor = self._journal.cursor(self._number)
                if cursor is None:
                    break
                try:
                    page = self._collection.listing(ask_list, self._wanted, cursor)
                except WebProblem as problem:
                    self._stopped = f"The list could not be read on: {problem}."
                    break
                for gone in (left_out for left_out in page.left_out if left_out.why == RIGHTS):
                    self._bringing.take_away(gone.key)
                self._journal.add_page(self._number, self._collection.name, page, again=self._again)
                left, have = self._left(), self._have()
                continue
            if not self._one(ask, pending):
                break
            place = pending.place
            # Counting them all after each would take longer the more there are; only placeholders found out undo some.
            if self._bringing.undone:
                self._bringing.undone, have = 0, self._have()
            else:
                have += self._journal.is_there(self._collection.name, pending.key)
            done, left = done + 1, max(left - 1, 0)
            ahead = left if limit is None else min(left, max(0, limit - have))
            on_progress(done, done + ahead)
        self.write_tables()

    def _have(self) -> int:
        return self._journal.states(self._number).get(GOT, 0)

    def _left(self) -> int:
        states = self._journal.states(self._number)
        listed = sum(states.values())
        return states.get(LISTED, 0) + max(0, (self._journal.total(self._number) or listed) - listed)

    def _one(self, ask: Asking, pending: Pending) -> bool:
        """Look at one work; whether to go on with the next."""
        title = ""
        try:
            work = self._collection.work(ask, self._wanted, Entry(pending.key, pending.held))
            if isinstance(work, LeftOut):
                left: LeftOut | None = work
            else:
                title = work.record.title
                left = self._bringing.bring(work, pending.etag)
            if left is not None:
                self._leave_out(dataclasses.replace(left, key=pending.key))
        except WebProblem as problem:
            if problem.lasting:
                self._leave_out(LeftOut(pending.key, NO_PICTURE, str(problem), title))
            else:
                return self._failed(pending.key, title, problem)
        except CollectionProblem:
            raise
        except (ValueError, LookupError, TypeError, AttributeError) as error:
            # One record that has not the published form costs the others nothing.
            reason = f"its record has not the published form ({type(error).__name__}: {error})"
            self._leave_out(LeftOut(pending.key, NOT_USABLE, reason[:300], title))
        self._in_a_row = 0
        return True

    def _leave_out(self, left: LeftOut) -> None:
        """Leave a work out; one that came earlier stays as it is, unless its rights are gone."""
        name = self._collection.name
        if left.why != RIGHTS and self._journal.keep(name, left.key):
            return
        self._bringing.take_away(left.key)
        self._journal.left_out(name, left)

    def _failed(self, key: str, title: str, problem: WebProblem) -> bool:
        self._journal.failed(self._collection.name, key, title, str(problem))
        self._in_a_row += 1
        if problem.stop:
            self._stopped = f"Stopped: {problem}."
        elif self._in_a_row >= MOST_IN_A_ROW:
            self._stopped = f"Stopped, since {MOST_IN_A_ROW} works in a row did not come: {problem}."
        return not self._stopped

    # -- the end ---------------------------------------------------------------------------------------------

    def write_tables(self) -> None:
        self._records = write_records(self._folder, self._journal.records())
        self._left_out = write_left_out(self._folder, self._journal.aside())
        with contextlib.suppress(OSError):
            (self._folder / ARRIVING).rmdir()  # It stays when something in it can be gone on with.

    def gathered(self) -> Gathered:
        states = self._journal.states(self._number)
        return Gathered(
            came=len(self._bringing.came),
            there=states.get(GOT, 0) - len(self._bringing.came),
            reasons=tuple(self._journal.reasons(self._number)),
            failed=states.get(FAILED, 0),
            complete=self._journal.cursor(self._number) is None and not states.get(LISTED),
            stopped=self._stopped,
            records=self._records,
            left_out=self._left_out,
        )


def _say_nothing(done: int, total: int) -> None:
    del done, total


def _asked(collection: Collection, wanted: Wanted) -> str:
    """What is asked for, in a form in which the same is always the same."""
    asked = {
        "query": wanted.query,
        "kinds": sorted(wanted.kinds),
        "side": wanted.side,
        "held": str(wanted.held.resolve()) if wanted.held else "",
        "of": collection.asked_of,
    }
    return json.dumps(asked, sort_keys=True, ensure_ascii=False)
