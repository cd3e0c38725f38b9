"""A copy of the boards of an archive, to hand on: kept studies stay behind unless they are asked for."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from archive.boards_file import read_only
from archive.errors import ArchiveError


def copy_boards(folder: Path, to: Path, *, studies: bool) -> None:
    """Copy the boards beside the archive in ``folder`` into the new file ``to``.

    Without ``studies``, neither kept studies nor the leaves that show or showed one come along, nor what was changed on
    such leaves; nothing of them is left in the file's free pages.  Raises `ArchiveError`.
    """
    whole = to.with_name(to.name + ".whole")
    try:
        with closing(read_only(folder)) as source:
            # A copy through SQLite has what the journal holds, and leaves out what was deleted.
            source.execute("VACUUM INTO ?", (str(whole),))
        with closing(sqlite3.connect(whole, isolation_level=None)) as copy:
            if not studies:
                _leave_studies_behind(copy)
            copy.execute("VACUUM INTO ?", (str(to),))
    except sqlite3.Error as error:
        message = f"The boards of {folder} could not be copied ({error}); 'blotbook verify' tells more."
        raise ArchiveError(message) from error
    finally:
        whole.unlink(missing_ok=True)


def _leave_studies_behind(copy: sqlite3.Connection) -> None:
    (there,) = copy.execute("SELECT count(*) FROM sqlite_master WHERE name = 'studies'").fetchone()
    if there:
        copy.execute("DELETE FROM studies")
    shown = "SELECT 1 FROM json_each(document, '$.shown') AS each WHERE json_extract(each.value, '$.study') != ''"
    for board, leaf in copy.execute(f"SELECT board, leaf FROM leaves WHERE EXISTS ({shown})").fetchall():
        copy.execute("DELETE FROM changes WHERE board = ? AND (what = ? OR what LIKE ? || '/%')", (board, leaf, leaf))
        copy.execute("DELETE FROM leaves WHERE board = ? AND leaf = ?", (board, leaf))
