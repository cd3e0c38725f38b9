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
import hashlib
import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ingest.collections.source import (
    NO_PICTURE,
    Collection,
    CollectionProblem,
    Entry,
    LeftOut,
    Wanted,
    Work,
    with_file,
)
from ingest.gather_journal import FAILED, GOT, LISTED, Journal, Pending
from ingest.gather_output import (
    ARRIVING,
    PICTURES,
    RECEIVED,
    put_in_place,
    write_left_out,
    write_received,
    write_records,
)
from ingest.gather_picture import NoPicture, check_picture
from ingest.gather_web import Web, WebProblem

PLACEHOLDER = "placeholder"
"""Why a work is left out whose picture stands for no work: see `ingest.gather_picture`."""

MOST_ALIKE = 3
"""From so many works with the very same picture on, it is a placeholder."""

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
    the collection has not the published form, `ingest.gather_journal.JournalProblem` when the folder is in use.
    """
    folder.mkdir(parents=True, exist_ok=True)
    journal = Journal(folder)
    try:
        run = _Run(collection, folder, wanted, web, journal, again=again)
        try:
            run.go(limit, on_progress or _say_nothing)
        except BaseException:
            # What came is to be usable whatever stopped us; the first trouble is the one to tell of.
            with contextlib.suppress(OSError):
                run.write_tables()
            raise
        return run.gathered()
    finally:
        journal.close()


class _Asking:
    """What a collection asks with: the web, remembering answers in the journal until their work is done."""

    def __init__(self, web: Web, folder: Path, journal: Journal | None, *, again: bool) -> None:
        self._web = web
        self._folder = folder
        self._journal = journal
        self._again = again

    def json(self, address: str, *, accept: str = "application/json") -> Any:
        if self._journal is None:
            return self._web.json(address, accept=accept)
        kept = self._journal.answer(address)
        if kept is None:
            kept = self._web.json(address, accept=accept)
            self._journal.keep_answer(address, kept)
        return kept

    def file(self, address: str, name: str) -> Path:
        path = self._folder / RECEIVED / name
        if path.exists() and not self._again:
            return path
        part = self._folder / ARRIVING / name.replace("/", "-")
        part.parent.mkdir(parents=True, exist_ok=True)
        self._web.download(address, part, picture=False)
        put_in_place(part, path)
        return path


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
        self._came: set[str] = set()
        self._in_a_row = 0
        self._stopped = ""

    # -- the round -------------------------------------------------------------------------------------------

    def go(self, limit: int | None, on_progress: Callable[[int, int], None]) -> None:
        ask = _Asking(self._web, self._folder, self._journal, again=self._again)
        ask_list = _Asking(self._web, self._folder, None, again=self._again)
        done, left = 0, self._left()
        have = self._have()
        while limit is None or have < limit:
            pending = self._journal.next_work(self._number)
            if pending is None:
                cursor = self._journal.cursor(self._number)
                if cursor is None:
                    break
                try:
                    page = self._collection.listing(ask_list, self._wanted, cursor)
                except WebProblem as problem:
                    self._stopped = f"The list could not be read on: {problem}."
                    break
                self._journal.add_page(self._number, self._collection.name, page, again=self._again)
                left, have = self._left(), self._have()
                continue
            if not self._one(ask, pending):
                break
            have = self._have()
            done, left = done + 1, max(left - 1, 0)
            ahead = left if limit is None else min(left, max(0, limit - have))
            on_progress(done, done + ahead)
        self.write_tables()

    def _have(self) -> int:
        return self._journal.count(self._number, GOT)

    def _left(self) -> int:
        states = self._journal.states(self._number)
        listed = sum(states.values())
        return states.get(LISTED, 0) + max(0, (self._journal.total(self._number) or listed) - listed)

    def _one(self, ask: _Asking, pending: Pending) -> bool:
        """Look at one work; whether to go on with the next."""
        name, title = self._collection.name, ""
        try:
            work = self._collection.work(ask, self._wanted, Entry(pending.key, pending.held))
            if isinstance(work, LeftOut):
                left: LeftOut | None = work
            else:
                title = work.record.title
                left = self._bring(work, pending)
            if left is not None:
                self._take_away(pending.key)
                self._journal.left_out(name, dataclasses.replace(left, key=pending.key))
        except WebProblem as problem:
            if problem.lasting:
                self._journal.left_out(name, LeftOut(pending.key, NO_PICTURE, str(problem), title))
            else:
                return self._failed(pending.key, title, problem)
        except CollectionProblem:
            raise
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            # One record that has not the published form costs the others nothing.
            reason = f"its record has not the published form ({type(error).__name__}: {error})"
            self._journal.left_out(name, LeftOut(pending.key, "record", reason[:300], title))
        self._in_a_row = 0
        return True

    def _failed(self, key: str, title: str, problem: WebProblem) -> bool:
        self._journal.failed(self._collection.name, key, title, str(problem))
        self._in_a_row += 1
        if problem.stop:
            self._stopped = f"Stopped: {problem}."
        elif self._in_a_row >= MOST_IN_A_ROW:
            self._stopped = f"Stopped, since {MOST_IN_A_ROW} works in a row did not come: {problem}."
        return not self._stopped

    # -- one picture -----------------------------------------------------------------------------------------

    def _bring(self, work: Work, pending: Pending) -> LeftOut | None:
        """Bring the picture of a work, check it and write it down; or why the work is left out."""
        earlier = self._journal.record_of(self._collection.name, pending.key)
        file = self._file_of(work.record.work)
        etag = ""
        if file is not None and earlier is None:
            # It came whole, but the stop was quicker than the journal.
            with contextlib.suppress(NoPicture):
                check_picture(file, work.shape)
                return self._keep(work, file, etag)
        part = self._folder / ARRIVING / f"{work.record.work}.part"
        part.parent.mkdir(parents=True, exist_ok=True)
        known = pending.etag if file is not None else ""
        for number, address in enumerate(work.pictures, 1):
            try:
                etag, unchanged = self._fetch(address, part, known)
                if unchanged and file is not None:
                    return self._keep(work, file, etag)
                ending = check_picture(part, work.shape)
                break
            except WebProblem as problem:
                if not problem.lasting:
                    raise
                if number == len(work.pictures):
                    return LeftOut(work.key, NO_PICTURE, str(problem), work.record.title)
            except NoPicture as problem:
                part.unlink(missing_ok=True)
                if number == len(work.pictures) or problem.placeholder:
                    why = PLACEHOLDER if problem.placeholder else NO_PICTURE
                    return LeftOut(work.key, why, str(problem), work.record.title)
        place = self._folder / PICTURES / f"{work.record.work}{ending}"
        if file is not None and file != place:
            file.unlink()
        put_in_place(part, place)
        return self._keep(work, place, etag)

    def _fetch(self, address: str, part: Path, known: str) -> tuple[str, bool]:
        """Bring what lies at an address (or is a file on this computer) into ``part``: its ETag, and whether it is the
        one we have."""
        if address.lower().startswith(("http://", "https://")):
            arrived = self._web.download(address, part, known=known)
            return arrived.etag, arrived.unchanged
        try:
            shutil.copyfile(address, part)
        except FileNotFoundError as error:
            message = "there is no such file"
            raise WebProblem(message, lasting=True) from error
        return "", False

    def _keep(self, work: Work, file: Path, etag: str) -> LeftOut | None:
        data = file.read_bytes()
        sha256 = hashlib.sha256(data).hexdigest()
        name = self._collection.name
        alike = [key for key, _ in self._journal.same_picture(name, sha256) if key != work.key]
        if self._journal.is_placeholder(sha256) or len(alike) + 1 >= MOST_ALIKE:
            self._journal.add_placeholder(sha256)
            reason = "the very same picture came for several works"
            for key, title in self._journal.same_picture(name, sha256):
                self._take_away(key)
                self._journal.left_out(name, LeftOut(key, PLACEHOLDER, reason, title))
                self._came.discard(key)
            file.unlink(missing_ok=True)
            return LeftOut(work.key, PLACEHOLDER, reason, work.record.title)
        earlier = self._journal.record_of(name, work.key)
        record = with_file(work.record, file.relative_to(self._folder).as_posix(), sha256)
        write_received(self._folder, record.work, work.received)
        self._journal.got(name, work.key, dataclasses.asdict(record), etag=etag, sha256=sha256, size=len(data))
        if earlier is None or earlier["sha256"] != sha256:
            self._came.add(work.key)
        return None

    def _file_of(self, work: str) -> Path | None:
        return next((path for path in sorted((self._folder / PICTURES).glob(f"{work}.*"))), None)

    def _take_away(self, key: str) -> None:
        """Remove the picture and the record of a work that came earlier."""
        record = self._journal.record_of(self._collection.name, key)
        if record is not None:
            (self._folder / record["file"]).unlink(missing_ok=True)
            (self._folder / RECEIVED / f"{record['work']}.json").unlink(missing_ok=True)

    # -- the end ---------------------------------------------------------------------------------------------

    def write_tables(self) -> None:
        self._records = write_records(self._folder, self._journal.records())
        self._left_out = write_left_out(self._folder, self._journal.aside())

    def gathered(self) -> Gathered:
        states = self._journal.states(self._number)
        return Gathered(
            came=len(self._came),
            there=states.get(GOT, 0) - len(self._came),
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
