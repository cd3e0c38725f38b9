"""The next edition of an archive: prepared beside the one in use, and put in its place in one step.

``archive.db`` is opened by readers as a file that never changes, so it is never written to.  Changes go into
a working copy, ``archive.next.db``, batch by batch, each batch in one transaction; what a batch names under
``pictures/`` is written before it.  `Edition.publish` then builds a fresh database from the working copy, in
the order of the works' names, and renames it over ``archive.db``.

* Stopped at any moment, the old edition stays whole, and the working copy keeps every batch that was
  committed; the next `Edition.begin` goes on from there.
* The published file depends on the content alone: not on the order in which works came, nor on how many
  workers read them.
* One edition is prepared at a time: the working copy is locked while it is open.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from archive.edition_copy import SIGNATURES_SHA256, UNPUBLISHED, copy_edition
from archive.errors import ArchiveError, is_damage, version_in, whose_damage
from archive.picture_files import keep_picture, sweep
from archive.schema import VERSION, migrate, version_of
from archive.schema.reading_tables import follow_readings
from archive.signature_file import SIGNATURES, pending_name, remove_pending, write_signatures
from archive.store import DATABASE, PICTURES

WORKING = "archive.next.db"
_FRESH = "archive.fresh.db"
PICTURE_COLUMNS = ("painting", "thumb", "squint", "map2", "map3", "map5")


class Edition:
    """A working copy of an archive; use it as a context manager.

    Leaving without `publish` keeps the working copy if anything in it was committed, and removes it
    otherwise. Every method raises `ArchiveError` with one sentence when the disk or the database will not
    have it.
    """

    def __init__(self, folder: Path, connection: sqlite3.Connection) -> None:
        self.folder = folder
        self.connection = connection

    @classmethod
    def begin(cls, folder: Path) -> Edition:
        """Open the working copy in ``folder``, made from the edition in use if there is none yet."""
        with _saying(folder):
            (folder / PICTURES).mkdir(parents=True, exist_ok=True)
            connection = _open_locked(folder / WORKING, folder)
            waiting = True
            try:
                waiting = _has_unpublished(connection)
                _finish_last(folder)
                # A working copy without anything of its own may be older than the edition in use.
                if (folder / DATABASE).exists() and not waiting:
                    _copy_in(folder / DATABASE, connection)
                connection.execute("PRAGMA foreign_keys = ON")
                migrate(connection)
                connection.execute("BEGIN")
                follow_readings(connection)
                connection.execute("COMMIT")
            except BaseException:
                # A copy with nothing of its own would look like what a stopped ingest left.
                if not waiting:
                    with contextlib.suppress(OSError):
                        (folder / WORKING).unlink()
                connection.close()
                raise
            return cls(folder, connection)

    def __enter__(self) -> Edition:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the working copy, and remove it if nothing in it waits to be published."""
        try:
            if self.connection.in_transaction:
                self.connection.execute("ROLLBACK")
            waiting = self.changed
        except sqlite3.Error:
            waiting = True
        if not waiting:
            (self.folder / WORKING).unlink(missing_ok=True)
        self.connection.close()

    @property
    def changed(self) -> bool:
        """Whether anything was committed that the edition in use does not have."""
        return self.setting(UNPUBLISHED) == "1"

    @property
    def published(self) -> bool:
        """Whether there is an edition in use."""
        return (self.folder / DATABASE).exists()

    def setting(self, name: str) -> str:
        """A value of the table ``settings``; '' if there is none."""
        row = self.connection.execute("SELECT value FROM settings WHERE name = ?", (name,)).fetchone()
        return "" if row is None else str(row[0])

    @contextlib.contextmanager
    def batch(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all of it is kept, or nothing.  Gives the connection to write with."""
        with _saying(self.folder):
            self.connection.execute("BEGIN")
            try:
                yield self.connection
                self.connection.execute("INSERT OR REPLACE INTO settings (name, value) VALUES (?, '1')", (UNPUBLISHED,))
                self.connection.execute("COMMIT")
            except BaseException:
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")
                raise

    def keep_picture(self, content: bytes, suffix: str) -> str:
        """Put a picture under ``pictures/`` and return its name there."""
        with _saying(self.folder):
            return keep_picture(self.folder / PICTURES, content, suffix)

    def publish(self) -> None:
        """Build the fresh edition, put it in the place of the one in use, and tidy up after it.

        The working copy stays open and equal to the new edition.
        """
        with _saying(self.folder):
            fresh = self.folder / _FRESH
            _remove_database(fresh)
            try:
                # The signatures lie ready under a name of their own before the edition that needs them
                # appears, so that no moment has an edition without its signatures.
                pending, digest = self._write_signatures()
                self._build(fresh, digest)
                _sync(fresh)
                fresh.replace(self.folder / DATABASE)
                pending.replace(self.folder / SIGNATURES)
                _sync(self.folder)
            finally:
                _remove_database(fresh)
                remove_pending(self.folder)
            self.connection.execute("DELETE FROM settings WHERE name = ?", (UNPUBLISHED,))
            sweep(self.folder / PICTURES, set(needed_pictures(self.connection)))

    def _write_signatures(self) -> tuple[Path, str]:
        from ingest.signature import SIGNATURE_LENGTH

        (count,) = self.connection.execute(
            "SELECT count(*) FROM signatures WHERE length(signature) = ?", (SIGNATURE_LENGTH,)
        ).fetchone()
        rows = self.connection.execute(
            "SELECT signature FROM signatures WHERE length(signature) = ? ORDER BY work", (SIGNATURE_LENGTH,)
        )
        return write_signatures(self.folder, (row for (row,) in rows), count, SIGNATURE_LENGTH)

    def _build(self, fresh: Path, digest: str) -> None:
        with _scratch(fresh) as connection:
            connection.execute("PRAGMA foreign_keys = ON")
            migrate(connection)
        here = self.connection
        here.execute("ATTACH ? AS fresh", (str(fresh),))
        try:
            # Nobody reads the file before it is whole, so it needs no journal of its own.
            here.execute("PRAGMA fresh.journal_mode = OFF")
            here.execute("PRAGMA fresh.synchronous = OFF")
            here.execute("BEGIN")
            try:
                copy_edition(here, digest)
                here.execute("COMMIT")
            except BaseException:
                here.execute("ROLLBACK")
                raise
        finally:
            here.execute("DETACH fresh")
        with _scratch(fresh) as connection:
            connection.execute("INSERT INTO works_fts(works_fts) VALUES ('rebuild')")
            connection.execute("INSERT INTO works_fts(works_fts) VALUES ('optimize')")
            connection.execute("VACUUM")
            connection.execute("PRAGMA journal_mode = DELETE")


def _open_locked(path: Path, folder: Path) -> sqlite3.Connection:
    busy = f"Another 'blotbook' is changing the archive in {folder}; wait until it is done."
    path.touch()
    before = path.stat()
    connection = sqlite3.connect(path, isolation_level=None, timeout=0)
    try:
        connection.execute("PRAGMA locking_mode = EXCLUSIVE")
        connection.execute("BEGIN EXCLUSIVE")
        connection.execute("COMMIT")
        # Whoever had it open a moment ago may have removed it between our finding it and our locking it.
        if not path.exists() or path.stat().st_ino != before.st_ino:
            raise ArchiveError(busy)
    except sqlite3.OperationalError as error:
        connection.close()
        if "locked" in str(error):
            raise ArchiveError(busy) from error
        raise
    except (ArchiveError, sqlite3.DatabaseError):
        connection.close()
        raise
    return connection


def needed_pictures(connection: sqlite3.Connection) -> Iterator[str]:
    """The names of all pictures that works and arrangements need, in order."""
    columns = [("works", name) for name in PICTURE_COLUMNS] + [("arrangements", "mean"), ("arrangements", "spread")]
    sql = " UNION ".join(f"SELECT {name} AS name FROM {table} WHERE {name} IS NOT NULL" for table, name in columns)
    for (name,) in connection.execute(f"{sql} ORDER BY name"):
        yield str(name)


def _has_unpublished(connection: sqlite3.Connection) -> bool:
    if version_of(connection) == 0:
        return False
    row = connection.execute("SELECT 1 FROM settings WHERE name = ?", (UNPUBLISHED,)).fetchone()
    return row is not None


def _finish_last(folder: Path) -> None:
    """Tidy up after a publishing that was stopped: its signatures may still wait for their name."""
    if (folder / DATABASE).exists():
        address = (folder / DATABASE).resolve().as_uri() + "?mode=ro&immutable=1"
        with contextlib.closing(sqlite3.connect(address, uri=True)) as connection:
            version_in(connection, folder / DATABASE)
            row = connection.execute("SELECT value FROM settings WHERE name = ?", (SIGNATURES_SHA256,)).fetchone()
        pending = folder / pending_name("" if row is None else row[0])
        if pending.exists():
            pending.replace(folder / SIGNATURES)
    remove_pending(folder)
    _remove_database(folder / _FRESH)


def _copy_in(database: Path, connection: sqlite3.Connection) -> None:
    address = database.resolve().as_uri() + "?mode=ro&immutable=1"
    with contextlib.closing(sqlite3.connect(address, uri=True)) as source:
        if version_of(source) > VERSION:
            message = f"The archive in {database.parent} was made by a newer Blotbook; this one cannot change it."
            raise ArchiveError(message)
        source.backup(connection)


@contextlib.contextmanager
def _scratch(path: Path) -> Iterator[sqlite3.Connection]:
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = OFF")
        connection.execute("PRAGMA synchronous = OFF")
        yield connection


@contextlib.contextmanager
def _saying(folder: Path) -> Iterator[None]:
    """Turns what the disk and the database refuse into one sentence."""
    try:
        yield
    except sqlite3.Error as error:
        if is_damage(error):
            raise whose_damage(folder / DATABASE, folder / WORKING, error) from error
        message = (
            f"The archive in {folder} could not be written ({error}); "
            "what was finished before is kept, and the same command goes on from there."
        )
        raise ArchiveError(message) from error
    except OSError as error:
        message = (
            f"The archive in {folder} could not be written ({error.strerror or error}); "
            "what was finished before is kept, and the same command goes on from there."
        )
        raise ArchiveError(message) from error


def _remove_database(path: Path) -> None:
    for end in ("", "-journal"):
        path.with_name(path.name + end).unlink(missing_ok=True)


def _sync(path: Path) -> None:
    """See to it that a file, or what a folder names, is on the disk (not asked of Windows folders)."""
    if os.name == "nt" and path.is_dir():
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
