"""Brings the picture of one work to its place, checks it and writes it down."""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import shutil
from pathlib import Path

from ingest.collections.source import NO_PICTURE, LeftOut, Work, with_file
from ingest.gather_answers import WebProblem
from ingest.gather_journal import Journal
from ingest.gather_output import ARRIVING, PICTURES, RECEIVED, put_in_place, write_received
from ingest.gather_picture import ENDINGS, NoPicture, check_picture
from ingest.gather_web import Web

PLACEHOLDER = "placeholder"
"""Why a work is left out whose picture stands for no work: see `ingest.gather_picture`."""

MOST_ALIKE = 3
"""From so many works with the very same picture on, it is a placeholder."""


class Bringing:
    """Pictures of one collection into one folder.

    ``came`` are the keys of the works that came or changed, ``undone`` how many that were there turned out to be
    placeholders.
    """

    def __init__(self, collection: str, folder: Path, web: Web, journal: Journal) -> None:
        self.came: set[str] = set()
        self.undone = 0
        self._name = collection
        self._folder = folder
        self._web = web
        self._journal = journal

    def bring(self, work: Work, known: str) -> LeftOut | None:
        """Bring the picture of a work, check it and write it down; or why the work is left out.

        ``known`` is the ETag of the picture that came earlier.  Raises `WebProblem` for a passing trouble.
        """
        earlier = self._journal.record_of(self._name, work.key)
        file = self._file_of(work.record.work)
        etag = ""
        if file is not None and earlier is None:
            # It came whole, but the stop was quicker than the journal.
            with contextlib.suppress(NoPicture):
                check_picture(file, work.shape)
                return self._keep(work, file, etag)
        part = self._folder / ARRIVING / f"{work.record.work}.part"
        part.parent.mkdir(parents=True, exist_ok=True)
        known = known if file is not None else ""
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
        if not Path(address).is_file():
            message = "there is no such file"
            raise WebProblem(message, lasting=True)
        try:
            shutil.copyfile(address, part)
        except PermissionError as error:
            message = "its file may not be read"
            raise WebProblem(message, lasting=True) from error
        return "", False

    def _keep(self, work: Work, file: Path, etag: str) -> LeftOut | None:
        data = file.read_bytes()
        sha256 = hashlib.sha256(data).hexdigest()
        alike = [key for key, _ in self._journal.same_picture(self._name, sha256) if key != work.key]
        if self._journal.is_placeholder(sha256) or len(alike) + 1 >= MOST_ALIKE:
            self._journal.add_placeholder(sha256)
            reason = "the very same picture came for several works"
            for key, title in self._journal.same_picture(self._name, sha256):
                self.take_away(key)
                self._journal.left_out(self._name, LeftOut(key, PLACEHOLDER, reason, title))
                self.came.discard(key)
                self.undone += 1
            file.unlink(missing_ok=True)
            return LeftOut(work.key, PLACEHOLDER, reason, work.record.title)
        earlier = self._journal.record_of(self._name, work.key)
        record = with_file(work.record, file.relative_to(self._folder).as_posix(), sha256)
        write_received(self._folder, record.work, work.received)
        self._journal.got(self._name, work.key, dataclasses.asdict(record), etag=etag, sha256=sha256, size=len(data))
        if earlier is None or earlier["sha256"] != sha256:
            self.came.add(work.key)
        return None

    def _file_of(self, work: str) -> Path | None:
        places = (self._folder / PICTURES / f"{work}{ending}" for ending in dict.fromkeys(ENDINGS.values()))
        return next((place for place in places if place.exists()), None)

    def take_away(self, key: str) -> None:
        """Remove the picture and the record of a work that came earlier."""
        record = self._journal.record_of(self._name, key)
        if record is not None:
            (self._folder / record["file"]).unlink(missing_ok=True)
            (self._folder / RECEIVED / f"{record['work']}.json").unlink(missing_ok=True)
