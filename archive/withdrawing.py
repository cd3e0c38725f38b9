"""Takes works out of an archive by hand, to stay out until somebody lets them in again."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

from archive import keeping
from archive.edition import Edition
from archive.errors import ArchiveError
from archive.store import Archive


def withdraw(folder: Path, works: Sequence[str], reason: str) -> int:
    """Take ``works`` out of the archive in ``folder`` with all that was read from them, and put a new edition in place.

    The works are noted under ``set_aside`` with ``reason``, and every later ingest leaves them out.  Boards keep their
    leaves: what a leaf says of its work was written down when it was put there.  How many works were taken out just
    now.  Raises `ArchiveError`, and changes nothing, when the archive knows nothing of one of them.
    """
    from archive.arranging import settle_edition

    Archive.open(folder).close()
    with Edition.begin(folder) as edition:
        rows = {work: _row(edition.connection, work) for work in dict.fromkeys(works)}
        unknown = [work for work, row in rows.items() if row is None]
        if unknown:
            message = f"There is no such work in the archive: {', '.join(unknown[:5])}."
            raise ArchiveError(message)
        gone = 0
        with edition.batch() as connection:
            for work, row in rows.items():
                file, title = row or ("", "")
                gone += keeping.withdraw(connection, work)
                connection.execute("DELETE FROM set_aside WHERE work = ?", (work,))
                keeping.set_aside(connection, (file, work), keeping.Aside(title, "withdrawn", reason, ""))
        settle_edition(edition)
        edition.publish()
    return gone


def let_in(folder: Path, works: Sequence[str]) -> None:
    """Forget that ``works`` were taken out by hand, so that the next ingest of their records brings them back.

    Raises `ArchiveError`, and changes nothing, when one of them was not.
    """
    Archive.open(folder).close()
    with Edition.begin(folder) as edition:
        with edition.batch() as connection:
            for work in dict.fromkeys(works):
                sql = "DELETE FROM set_aside WHERE work = ? AND kind = 'withdrawn'"
                if not connection.execute(sql, (work,)).rowcount:
                    message = f"“{work}” was not taken out by hand."
                    raise ArchiveError(message)
        edition.publish()


def boards_showing(folder: Path, works: Sequence[str]) -> list[str]:
    """The titles of the boards on which any of ``works`` is shown."""
    from archive.boards_file import BOARDS, read_only

    if not (folder / BOARDS).is_file():
        return []
    marks = ", ".join("?" for _ in works)
    try:
        with closing(read_only(folder)) as connection:
            rows = connection.execute(
                f"SELECT DISTINCT board, title FROM shown_on_boards WHERE work IN ({marks}) ORDER BY title", list(works)
            )
            return [title for _, title in rows]
    except sqlite3.Error:
        return []


def _row(connection: sqlite3.Connection, work: str) -> tuple[str, str] | None:
    """File and title of a work that is in the archive or set aside."""
    for table in ("works", "set_aside"):
        row = connection.execute(f"SELECT file, coalesce(title, '') FROM {table} WHERE work = ?", (work,)).fetchone()
        if row is not None:
            return str(row[0]), str(row[1])
    return None
