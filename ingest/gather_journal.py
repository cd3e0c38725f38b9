"""What a gathering has and still has to do, in one small SQLite file in its folder.

Everything that is learnt is written down before the next thing is asked: a page of a list together with the place to
go on from, each answer that belongs to a work until the work is done, and what became of the work.  So a stop at any
moment costs at most the answer that was under way.
"""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ingest.collections.source import KIND, RIGHTS, LeftOut, Listing
from ingest.gather_journal_file import open_journal

LISTED, GOT, LEFT_OUT, FAILED = "listed", "got", "left out", "failed"
"""The states of a work: still to look at, come, left out for good, to be tried again when the command comes again."""


@dataclass(frozen=True)
class Pending:
    """A work to look at: its place in the list, its key, what the list said of it, the ETag of the picture that we have
    of it."""

    place: int
    key: str
    held: Any
    etag: str


class Journal:
    """The journal of a folder.  One program at a time; opening it twice raises `JournalProblem`."""

    def __init__(self, folder: Path) -> None:
        self._connection = open_journal(folder)

    def close(self) -> None:
        """Let the folder go."""
        self._connection.close()

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield self._connection
        except BaseException:
            self._connection.execute("ROLLBACK")
            raise
        self._connection.execute("COMMIT")

    # -- gatherings and their lists ----------------------------------------------------------------------

    def begin(self, collection: str, asked: str, *, again: bool) -> int:
        """The number of the gathering of ``asked`` from a collection; ``again`` lists it from the start."""
        with self._writing() as connection:
            connection.execute(
                "INSERT OR IGNORE INTO gatherings (collection, asked) VALUES (?, ?)", (collection, asked)
            )
            (number,) = connection.execute(
                "SELECT gathering FROM gatherings WHERE collection = ? AND asked = ?", (collection, asked)
            ).fetchone()
            if again:
                connection.execute(
                    "UPDATE gatherings SET cursor = '', listed = 0, total = NULL WHERE gathering = ?", (number,)
                )
                for table in ("counts", "listings"):
                    connection.execute(f"DELETE FROM {table} WHERE gathering = ?", (number,))
                connection.execute("DELETE FROM answers")
            else:
                # What failed for a passing reason is tried again, once each time the command is given.
                connection.execute(
                    "UPDATE works SET state = ? WHERE state = ? AND collection = ? AND key IN "
                    "(SELECT key FROM listings WHERE gathering = ?)",
                    (LISTED, FAILED, collection, number),
                )
        return int(number)

    def cursor(self, gathering: int) -> str | None:
        """Where to go on with the list; None when all of it is there."""
        cursor, listed = self._connection.execute(
            "SELECT cursor, listed FROM gatherings WHERE gathering = ?", (gathering,)
        ).fetchone()
        return None if listed else str(cursor)

    def add_page(self, gathering: int, collection: str, page: Listing, *, again: bool) -> None:
        """Write down a page of the list and where it goes on."""
        with self._writing() as connection:
            for entry in page.entries:
                held = None if entry.held is None else json.dumps(entry.held, ensure_ascii=False)
                # A work that was left out for its kind alone may be wanted now.
                connection.execute(
                    "INSERT INTO works (collection, key, state, held) VALUES (?, ?, ?, ?) "
                    "ON CONFLICT (collection, key) DO UPDATE SET held = excluded.held, state = excluded.state "
                    "WHERE works.state != ? AND (works.state != ? OR works.why = ?) OR ?",
                    (collection, entry.key, LISTED, held, GOT, LEFT_OUT, KIND, again),
                )
                self._place(gathering, collection, entry.key)
            for left in page.left_out:
                connection.execute(
                    "INSERT INTO works (collection, key, state, title, why, reason) VALUES (?, ?, ?, ?, ?, ?) "
                    "ON CONFLICT (collection, key) DO UPDATE SET state = excluded.state, title = excluded.title, "
                    "why = excluded.why, reason = excluded.reason, held = NULL, sha256 = NULL, etag = '', "
                    "record = json_set(works.record, '$.rights', '', '$.sha256', '') "
                    "WHERE works.state != ? OR excluded.why = ?",
                    (collection, left.key, LEFT_OUT, left.title, left.why, left.reason, GOT, RIGHTS),
                )
                self._place(gathering, collection, left.key)
            for (why, reason), works in page.counted.items():
                connection.execute(
                    "INSERT INTO counts VALUES (?, ?, ?, ?) "
                    "ON CONFLICT (gathering, why, reason) DO UPDATE SET works = works + excluded.works",
                    (gathering, why, reason, works),
                )
            connection.execute(
                "UPDATE gatherings SET cursor = ?, listed = ?, total = coalesce(?, total) WHERE gathering = ?",
                (page.next, int(not page.next), page.total, gathering),
            )
            if not page.next:
                connection.execute(
                    "UPDATE gatherings SET total = (SELECT count(*) FROM listings WHERE gathering = ?1) "
                    "WHERE gathering = ?1",
                    (gathering,),
                )

    def _place(self, gathering: int, collection: str, key: str) -> None:
        self._connection.execute(
            "INSERT OR IGNORE INTO listings SELECT ?1, coalesce(max(place), 0) + 1, ?2, ?3 FROM listings "
            "WHERE gathering = ?1",
            (gathering, collection, key),
        )

    def next_work(self, gathering: int, after: int) -> Pending | None:
        """The first work of the list beyond the place ``after`` that is still to look at."""
        row = self._connection.execute(
            "SELECT place, key, held, etag FROM listings JOIN works USING (collection, key) "
            "WHERE gathering = ? AND place > ? AND state = ? ORDER BY place LIMIT 1",
            (gathering, after, LISTED),
        ).fetchone()
        if row is None:
            return None
        place, key, held, etag = row
        return Pending(place, key, None if held is None else json.loads(held), etag)

    # -- works ---------------------------------------------------------------------------------------------

    def answer(self, address: str) -> Any:
        """An answer that was kept, or None."""
        row = self._connection.execute("SELECT body FROM answers WHERE address = ?", (address,)).fetchone()
        return None if row is None else json.loads(zlib.decompress(row[0]))

    def keep_answer(self, address: str, body: Any) -> None:
        """Keep an answer until the work that it belongs to is done."""
        packed = zlib.compress(json.dumps(body, ensure_ascii=False).encode("utf-8", "surrogatepass"), 6)
        with self._writing() as connection:
            connection.execute("INSERT OR REPLACE INTO answers VALUES (?, ?)", (address, packed))

    def got(self, collection: str, key: str, record: dict[str, Any], *, etag: str, sha256: str, size: int) -> None:
        """A work came: its record with file and hash, the ETag of its picture, its size in bytes."""
        with self._writing() as connection:
            connection.execute(
                "UPDATE works SET state = ?, title = ?, held = NULL, record = ?, etag = ?, sha256 = ?, bytes = ?, "
                "why = '', reason = '' WHERE collection = ? AND key = ?",
                (GOT, record["title"], json.dumps(record, ensure_ascii=False), etag, sha256, size, collection, key),
            )
            connection.execute("DELETE FROM answers")

    def left_out(self, collection: str, left: LeftOut) -> None:
        """A work is left out for good.

        Of one that came earlier the record stays, without rights: so the archive that has it takes it out again.
        """
        with self._writing() as connection:
            connection.execute(
                "UPDATE works SET state = ?, title = ?, why = ?, reason = ?, held = NULL, "
                "record = json_set(record, '$.rights', '', '$.sha256', ''), sha256 = NULL, etag = '' "
                "WHERE collection = ? AND key = ?",
                (LEFT_OUT, left.title, left.why, left.reason, collection, left.key),
            )
            connection.execute("DELETE FROM answers")

    def keep(self, collection: str, key: str) -> bool:
        """Leave a work that came earlier, and may still be shown, as it was; whether there is such a work."""
        with self._writing() as connection:
            kept = connection.execute(
                "UPDATE works SET state = ?, held = NULL WHERE collection = ? AND key = ? "
                "AND sha256 IS NOT NULL AND coalesce(json_extract(record, '$.rights'), '') != ''",
                (GOT, collection, key),
            )
            connection.execute("DELETE FROM answers")
        return kept.rowcount > 0

    def failed(self, collection: str, key: str, title: str, reason: str) -> None:
        """A work did not come for a passing reason; what is known of it stays."""
        with self._writing() as connection:
            connection.execute(
                "UPDATE works SET state = ?, title = ?, why = 'failed', reason = ? WHERE collection = ? AND key = ?",
                (FAILED, title, reason, collection, key),
            )

    def record_of(self, collection: str, key: str) -> dict[str, Any] | None:
        """The record of a work that came earlier, or None."""
        row = self._connection.execute(
            "SELECT record FROM works WHERE collection = ? AND key = ?", (collection, key)
        ).fetchone()
        return json.loads(row[0]) if row is not None and row[0] is not None else None

    def same_picture(self, collection: str, sha256: str) -> list[tuple[str, str]]:
        """Key and title of the works of a collection that came with the very same picture."""
        rows = self._connection.execute(
            "SELECT key, title FROM works WHERE collection = ? AND sha256 = ? AND state = ?", (collection, sha256, GOT)
        )
        return [(key, title) for key, title in rows]

    def is_placeholder(self, sha256: str) -> bool:
        """Whether a picture is known to stand for many works."""
        found = self._connection.execute("SELECT 1 FROM placeholders WHERE sha256 = ?", (sha256,)).fetchone()
        return found is not None

    def add_placeholder(self, sha256: str) -> None:
        """Note a picture that stands for many works."""
        with self._writing() as connection:
            connection.execute("INSERT OR IGNORE INTO placeholders VALUES (?)", (sha256,))

    # -- what there is -------------------------------------------------------------------------------------

    def records(self) -> Iterator[dict[str, Any]]:
        """The records of all works that came, in the order of collections and keys.

        Works that came once and are left out now are among them, without rights.
        """
        rows = self._connection.execute(
            "SELECT record FROM works WHERE record IS NOT NULL ORDER BY collection, length(key), key"
        )
        for (record,) in rows:
            yield json.loads(record)

    def aside(self) -> list[tuple[str, str, str, str, str]]:
        """Collection, key, title, why and reason of every work that did not come."""
        return self._connection.execute(
            "SELECT collection, key, title, why, reason FROM works WHERE state IN (?, ?) "
            "ORDER BY collection, why, length(key), key",
            (LEFT_OUT, FAILED),
        ).fetchall()

    def states(self, gathering: int) -> dict[str, int]:
        """How many works of a gathering are in each state."""
        rows = self._connection.execute(
            "SELECT state, count(*) FROM listings JOIN works USING (collection, key) WHERE gathering = ? "
            "GROUP BY state",
            (gathering,),
        )
        return dict(rows.fetchall())

    def is_there(self, collection: str, key: str) -> bool:
        """Whether a work has come."""
        found = self._connection.execute(
            "SELECT 1 FROM works WHERE collection = ? AND key = ? AND state = ?", (collection, key, GOT)
        ).fetchone()
        return found is not None

    def total(self, gathering: int) -> int | None:
        """How many records the list has, as far as it says."""
        (total,) = self._connection.execute("SELECT total FROM gatherings WHERE gathering = ?", (gathering,)).fetchone()
        return None if total is None else int(total)

    def reasons(self, gathering: int) -> list[tuple[str, str, int]]:
        """Why works of a gathering did not come: why, reason, how many, the most first."""
        return self._connection.execute(
            "SELECT why, reason, sum(works) AS works FROM ("
            "SELECT why, reason, count(*) AS works FROM listings JOIN works USING (collection, key) "
            "WHERE gathering = ?1 AND state IN (?2, ?3) GROUP BY why, reason UNION ALL "
            "SELECT why, reason, works FROM counts WHERE gathering = ?1) "
            "GROUP BY why, reason ORDER BY works DESC, why, reason",
            (gathering, LEFT_OUT, FAILED),
        ).fetchall()
