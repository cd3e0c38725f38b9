"""``boards.db``: what people make with an archive, in a file of its own beside it.

Rebuilding or replacing the archive never touches it.  A change is on the disk when `BoardsFile.writing` has ended
without an error: the journal is written ahead and synchronised at every commit, so that neither a killed program nor a
lost current takes away what was acknowledged::

    kept = BoardsFile.open(folder)
    with kept.writing() as connection:      # one writer at a time, others wait for their turn
        connection.execute(...)
    with kept.reading() as connection:      # sees one moment, also while somebody writes
        connection.execute(...)

Tables are append-only migrations in `archive.boards_schema`.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import threading
import time
from collections.abc import Iterator
from pathlib import Path

from archive.board import BoardsError
from archive.boards_schema import VERSION, migrate

BOARDS = "boards.db"

_PATIENCE = 20.0
"""Seconds that a writer waits for its turn, in this program and with another, all in all."""

_BUSY = "Another program is writing to boards.db just now. Nothing was changed; try again in a minute."
_CLOSED = "boards.db cannot be opened or written in the folder of the archive. Nothing was changed."
_DAMAGED = "boards.db is damaged; 'blotbook verify' tells more."
_REASONS = {
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_FULL: "The disk is full, and boards.db cannot be written. Nothing was changed; make room, then try "
    "again.",
    sqlite3.SQLITE_READONLY: _CLOSED,
    sqlite3.SQLITE_CANTOPEN: _CLOSED,
    sqlite3.SQLITE_PERM: _CLOSED,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_NOTADB: _DAMAGED,
}
"""What is said of SQLite's primary result codes."""


class BoardsFileError(BoardsError):
    """The file cannot be read or written just now. The message tells nothing of where it lies: a class reads it too."""


def _trouble(error: Exception) -> BoardsFileError:
    # An extended result code has the primary one in its lowest byte.
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    return BoardsFileError(_REASONS.get(code) or f"boards.db cannot be read or written just now ({error}).")


def read_only(archive_folder: Path) -> sqlite3.Connection:
    """A connection that cannot change the file in the folder of an archive, and does not bring it up to date.

    Somebody else may be writing meanwhile.  Raises `sqlite3.Error` when there is no file or it is damaged.
    """
    file = archive_folder / BOARDS
    # A disk that cannot be written has no room for the index of a journal, and without a journal no need of one.
    alone = "" if file.with_name(BOARDS + "-wal").exists() or os.access(archive_folder, os.W_OK) else "&immutable=1"
    return sqlite3.connect(file.resolve().as_uri() + "?mode=ro" + alone, uri=True, timeout=_PATIENCE)


class BoardsFile:
    """The opened file; may be used from several threads, and by several programs at the same time."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self._idle: list[sqlite3.Connection] = []
        self._guard = threading.Lock()
        # SQLite lets waiting writers in by chance; within one program they come in turn.
        self._turn = threading.Lock()
        self._closed = False

    @classmethod
    def open(cls, archive_folder: Path) -> BoardsFile:
        """Open the file in the folder of an archive, made if need be and brought up to date.

        Raises `BoardsFileError` when the folder cannot be written, the file is damaged, or a newer Blotbook made it.
        """
        opened = cls(archive_folder / BOARDS)
        try:
            connection = opened._connect()
            # Named once, in the file itself: readers and a writer then do not wait for one another.
            connection.execute("PRAGMA journal_mode = WAL")
            (version,) = connection.execute("PRAGMA user_version").fetchone()
            if version < VERSION:
                migrate(connection)
            opened._idle.append(connection)
        except sqlite3.Error as error:
            raise _trouble(error) from error
        if version > VERSION:
            opened.close()
            message = f"{BOARDS} was made by a newer Blotbook; this one cannot read it."
            raise BoardsFileError(message)
        return opened

    @contextlib.contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """A connection in a transaction that sees one moment of the file; rows come as `sqlite3.Row`."""
        with self._borrowed() as connection:
            connection.execute("BEGIN")
            try:
                yield connection
            finally:
                connection.execute("ROLLBACK")

    @contextlib.contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """A connection in a transaction of its own; it is kept when the block ends, dropped when the block raises.

        Raises `BoardsFileError` when the file cannot be written.
        """
        with self._in_turn() as until, self._borrowed() as connection:
            # Whoever stood in line here has waited already.
            _wait_for_others(connection, until - time.monotonic())
            connection.execute("BEGIN IMMEDIATE")
            _wait_for_others(connection, _PATIENCE)
            try:
                yield connection
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise

    def close(self) -> None:
        """Close the connections that are idle, and those in use as soon as they come back."""
        with self._guard:
            self._closed = True
            idle, self._idle = self._idle, []
        for connection in idle:
            connection.close()

    def __enter__(self) -> BoardsFile:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextlib.contextmanager
    def _in_turn(self) -> Iterator[float]:
        """The turn of one writer of this program; until when it may wait for other programs."""
        until = time.monotonic() + _PATIENCE
        if not self._turn.acquire(timeout=_PATIENCE):
            raise BoardsFileError(_BUSY)
        try:
            yield until
        finally:
            self._turn.release()

    @contextlib.contextmanager
    def _borrowed(self) -> Iterator[sqlite3.Connection]:
        with self._guard:
            if self._closed:
                message = f"{self.file} has been closed."
                raise BoardsError(message)
            connection = self._idle.pop() if self._idle else None
        try:
            connection = connection or self._connect()
            yield connection
        except (sqlite3.IntegrityError, sqlite3.ProgrammingError):
            # A fault of ours, and none of the file.
            raise
        except sqlite3.DatabaseError as error:
            raise _trouble(error) from error
        finally:
            if connection is not None:
                self._give_back(connection)

    def _give_back(self, connection: sqlite3.Connection) -> None:
        with self._guard:
            if not self._closed:
                self._idle.append(connection)
                return
        connection.close()

    def _connect(self) -> sqlite3.Connection:
        connection = sqlite3.connect(self.file, timeout=_PATIENCE, isolation_level=None, check_same_thread=False)
        connection.row_factory = sqlite3.Row
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        return connection


def _wait_for_others(connection: sqlite3.Connection, seconds: float) -> None:
    """How long a connection waits from now on for other programs that hold the file."""
    connection.execute(f"PRAGMA busy_timeout = {max(0, round(seconds * 1000))}")
