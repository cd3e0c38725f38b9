"""What a collection is to the gathering: how it lists its works, and what one work becomes.

A collection turns published records into `Work`s and says of every other record why it is left out.  It never
opens a connection itself: it asks through `Asks`, which keeps to its `Manners`, so that a mapper is tested on a
record alone and the whole on a small server.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

from ingest.provenance import SourceRecord, slug
from ingest.rights import read_rights

KINDS = ("paintings", "drawings", "prints")
"""The kinds of work that can be asked for; paintings are always wanted."""

SIDE = 1200
"""Longest side, in pixels, of the pictures asked for: a quarter more than is kept for showing, since margins go."""

RIGHTS, KIND, NO_PICTURE, NOT_USABLE = "rights", "kind", "no picture", "record"
"""Why a record gives no work: see `LeftOut`."""


class CollectionProblem(Exception):
    """A collection as a whole cannot be read as it is published; the message is one sentence for people."""


@dataclass(frozen=True)
class Wanted:
    """What is asked for: words to search by ('' for everything), kinds out of `KINDS`, the longest side of the
    pictures in pixels, and the collection's data files if they are on this computer already."""

    query: str = ""
    kinds: frozenset[str] = frozenset({"paintings"})
    side: int = SIDE
    held: Path | None = None


@dataclass(frozen=True)
class Manners:
    """How a collection wants to be asked.

    pace: least seconds between two requests to one of its hosts. says: where that rate and the terms are
    published, and what they say. rights: the field that states the rights, and what it rests on. maps: which
    published fields become which of ours. docs: addresses of the documentation. All of it goes into docs/.
    """

    pace: float
    says: str
    rights: str
    maps: str
    docs: tuple[str, ...]


class Asks(Protocol):
    """What a collection may ask with.  All of it raises `ingest.gather_answers.WebProblem`."""

    def json(self, address: str, *, accept: str = "application/json") -> Any:
        """The JSON document at an address; asked for once, kept until the work is done."""

    def text(self, address: str, *, accept: str) -> str:
        """The text at an address, for lists."""

    def file(self, address: str, name: str) -> Path:
        """A large data file, kept under ``name`` beside the records; asked for once."""


@dataclass(frozen=True)
class Entry:
    """A record in a list: its key in the collection, and what the list says of it (JSON)."""

    key: str
    held: Any = None


@dataclass(frozen=True)
class LeftOut:
    """A record that gives no work.

    why: 'rights' (its rights do not place it in the public domain), 'kind' (not among the kinds asked for),
    'no picture' or 'record' (it cannot be used). reason: one sentence part for people.
    """

    key: str
    why: str
    reason: str
    title: str = ""


@dataclass(frozen=True)
class Listing:
    """One page of a collection's list.

    entries: records to look at. left_out: records whose list entry is enough to leave them out. counted: how many
    further ones were left out unnamed, by (why, reason). next: what asks for the next page; '' after the last.
    total: how many records there are in all, as far as the list says.
    """

    entries: tuple[Entry, ...]
    next: str = ""
    total: int | None = None
    left_out: tuple[LeftOut, ...] = ()
    counted: Mapping[tuple[str, str], int] = field(default_factory=dict)


@dataclass(frozen=True)
class Work:
    """A work that is admitted.

    record: its source record, without ``file`` and ``sha256``. pictures: addresses (or paths, for a folder), the
    best first; each is asked for only where the one before is not there. shape: (width, height) of the picture as
    the record states it. received: the record as it came, as JSON.
    """

    key: str
    record: SourceRecord
    pictures: tuple[str, ...]
    received: Any
    shape: tuple[int, int] | None = None


class Collection(Protocol):
    """An open collection; ``name`` is its name for the command, ``title`` the one for people, ``asked_of`` the address
    or path that a person gave for it ('' for a museum)."""

    name: str
    title: str
    asked_of: str
    manners: Manners

    def listing(self, ask: Asks, wanted: Wanted, cursor: str) -> Listing:
        """The page of the list that ``cursor`` asks for; '' asks for the first."""

    def work(self, ask: Asks, wanted: Wanted, entry: Entry) -> Work | LeftOut:
        """What a record in the list comes to."""


def work_id(collection: str, key: str) -> str:
    """The name of a work in an archive: the collection's short name and its own key, which it never changes."""
    return slug(f"{collection} {key}")


def admit(
    source: str,
    key: str,
    /,
    *,
    rights: str,
    rights_basis: str,
    pictures: tuple[str, ...],
    received: Any,
    shape: tuple[int, int] | None = None,
    **fields: Any,
) -> Work | LeftOut:
    """The work of a record whose rights admit it and that has a picture; otherwise why it is left out.

    ``fields`` are those of `SourceRecord`; ``rights`` is the statement as the record gives it.
    """
    title = fields.get("title", "")
    stated = read_rights(rights)
    if not stated.admits:
        return LeftOut(key, RIGHTS, stated.reason, title)
    if not pictures:
        return LeftOut(key, NO_PICTURE, "its record names no picture", title)
    record = SourceRecord(work=work_id(source, key), file="", rights=stated.uri, rights_basis=rights_basis, **fields)
    return Work(key, record, pictures, received, shape)


def with_file(record: SourceRecord, file: str, sha256: str) -> SourceRecord:
    """The record with the picture that came for it."""
    return dataclasses.replace(record, file=file, sha256=sha256)
