"""Studies that a person chose to keep: kept, looked at, and deleted for good, in the archive's ``boards.db``.

Nothing comes in here unless it is asked for, and nothing of the file that a study came from: its picture is made anew
from pixels, so that place, camera and time stay with the person. A nickname is a word to find one's own studies by, no
account and no lock: whoever sits at this computer sees them.
"""

from __future__ import annotations

import dataclasses
import datetime
import io
import json
import sqlite3
import threading
import unicodedata
from contextlib import closing
from dataclasses import dataclass
from typing import Any, Literal
from weakref import WeakSet

from PIL import Image

from archive.board import BoardsError, new_id
from archive.board_studies import take_off
from archive.boards_file import BoardsFile
from archive.placing import Belonging
from ingest.reading import READING_VERSION, Reading
from ingest.value_map import map_picture

LONGEST = {"nickname": 40, "title": 120}
"""Characters of a nickname and of a title."""

MOST = 5000
"""Studies that one file may hold."""

Which = Literal["picture", "map3"]

_PATIENCE = 3.0
"""Seconds for which emptying the journal waits until nobody reads or writes the file."""

_emptied: WeakSet[BoardsFile] = WeakSet()
"""Files whose journal was emptied after the last deletion by this program; of others nobody knows."""

_emptying = threading.Lock()


class TracesLeft(BoardsError):
    """Studies are deleted, but the journal beside the file could not be emptied of them yet."""


@dataclass(frozen=True)
class Kept:
    """A kept study: its name everywhere else, whose it is ('' for nobody's in particular), what it is called, the day,
    the size of its picture in px, its pattern in words, the arrangement it came nearest to with how clearly, and its
    measures by name."""

    study: str
    nickname: str
    title: str
    kept_on: str
    width: int
    height: int
    sentence: str
    arrangement: str
    arrangement_name: str
    degree: float | None
    measures: dict[str, Any]


_COLUMNS = ", ".join(field.name for field in dataclasses.fields(Kept))


class Practice:
    """All kept studies of one file; safe to use from several threads."""

    def __init__(self, file: BoardsFile) -> None:
        self._file = file
        # Here or in a program that has ended, a deletion may have had to leave the journal as it was.
        if file not in _emptied:
            _empty_journal(file, patience=0.0)

    def keep(
        self,
        reading: Reading,
        *,
        nickname: str = "",
        title: str = "",
        nearest: Belonging | None = None,
        day: datetime.date | None = None,
    ) -> Kept:
        """Keep a study as it was read. Raises `BoardsError` when a name is too long or there is no room."""
        shown = Image.fromarray(reading.picture.rgb)
        kept = Kept(
            study=new_id(),
            nickname=_name(nickname, "nickname"),
            title=_name(title, "title"),
            kept_on=(day or datetime.date.today()).isoformat(),
            width=shown.width,
            height=shown.height,
            sentence=reading.sentence,
            arrangement=nearest.slug if nearest else "",
            arrangement_name=nearest.name if nearest else "",
            degree=nearest.degree if nearest else None,
            measures=dataclasses.asdict(reading.measures),
        )
        row = dataclasses.asdict(kept) | {
            "measures": json.dumps(kept.measures),
            "picture": _encoded(shown, "JPEG", quality=90, subsampling=0),
            "map3": _encoded(map_picture(reading.maps[3].labels, 3, max(shown.size)), "PNG", optimize=True),
            "reading_version": READING_VERSION,
        }
        with self._file.writing() as connection:
            (count,) = connection.execute("SELECT count(*) FROM studies").fetchone()
            if count >= MOST:
                message = f"There is room for {MOST:,} studies, and all of it is taken; delete some first."
                raise BoardsError(message)
            connection.execute(
                f"INSERT INTO studies ({', '.join(row)}) VALUES ({', '.join(f':{name}' for name in row)})", row
            )
        return kept

    def all(self, nickname: str | None = None) -> list[Kept]:
        """The kept studies, the first kept first; of one nickname only, when one is given ('' for those without)."""
        where, values = ("", ()) if nickname is None else ("WHERE nickname = ?", (nickname,))
        with self._file.reading() as connection:
            rows = connection.execute(f"SELECT {_COLUMNS} FROM studies {where} ORDER BY number", values).fetchall()
        return [_kept(row) for row in rows]

    def get(self, study: str) -> Kept | None:
        """One kept study, or None."""
        with self._file.reading() as connection:
            row = connection.execute(f"SELECT {_COLUMNS} FROM studies WHERE study = ?", (study,)).fetchone()
        return None if row is None else _kept(row)

    def picture(self, study: str, which: Which = "picture") -> bytes | None:
        """The picture of a kept study, JPEG, or its three-value map, PNG; None when there is no such study."""
        column = {"picture": "picture", "map3": "map3"}[which]
        with self._file.reading() as connection:
            row = connection.execute(f"SELECT {column} FROM studies WHERE study = ?", (study,)).fetchone()
        return None if row is None else bytes(row[0])

    def nicknames(self) -> list[tuple[str, int]]:
        """The nicknames in use, in the order of the alphabet, each with how many studies it has."""
        with self._file.reading() as connection:
            rows = connection.execute("SELECT nickname, count(*) FROM studies GROUP BY nickname ORDER BY nickname")
            return [(name, count) for name, count in rows]

    def forget(self, study: str) -> bool:
        """Delete a study for good, with all that was derived from it; it leaves every board. Whether there was one.

        What is deleted is overwritten in the file, and the journal is emptied, so that nothing of it stays readable.
        Raises `TracesLeft` when the study is deleted but somebody reads for so long that the journal cannot be emptied;
        whoever opens or deletes kept studies later empties it.
        """
        return self._forget("study = ?", study) > 0

    def forget_all(self, nickname: str) -> int:
        """Delete every study of a nickname for good, as `forget` does; how many there were."""
        return self._forget("nickname = ?", nickname)

    def _forget(self, where: str, value: str) -> int:
        with self._file.writing() as connection:
            connection.execute("PRAGMA secure_delete = ON")
            gone = [row[0] for row in connection.execute(f"SELECT study FROM studies WHERE {where}", (value,))]
            connection.execute(f"DELETE FROM studies WHERE {where}", (value,))
            take_off(connection, gone)
        if (gone or self._file not in _emptied) and not _empty_journal(self._file, _PATIENCE) and gone:
            message = (
                "What you deleted is gone, also from every board. But boards or kept studies were being read then, so "
                f"a copy may still lie in {self._file.file.name}-wal beside the archive. Open the kept studies again "
                "in a minute, and it is removed there too."
            )
            raise TracesLeft(message)
        return len(gone)


def _empty_journal(file: BoardsFile, patience: float) -> bool:
    """Bring everything from the journal into the file and cut the journal to nothing; whether that could be done.

    It cannot while others read or write; they are waited for, ``patience`` seconds.
    """
    _emptied.discard(file)
    if not _emptying.acquire(timeout=patience):
        return False
    try:
        with closing(sqlite3.connect(file.file, timeout=patience)) as connection:
            (busy, _, _) = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        if not busy:
            _emptied.add(file)
    except sqlite3.Error:
        busy = 1
    finally:
        _emptying.release()
    return not busy


def _kept(row: sqlite3.Row) -> Kept:
    values = dict(row)
    return Kept(**values | {"measures": json.loads(values["measures"])})


def _name(text: str, what: str) -> str:
    """A name as it is kept: composed, on one line, without spaces about it."""
    plain = "".join(" " if unicodedata.category(char) in ("Cc", "Zl", "Zp") else char for char in text)
    kept = " ".join(unicodedata.normalize("NFC", plain).split())
    if len(kept) > LONGEST[what]:
        message = f"A {what} may have up to {LONGEST[what]} characters."
        raise BoardsError(message)
    return kept


def _encoded(picture: Image.Image, kind: str, **options: Any) -> bytes:
    held = io.BytesIO()
    picture.save(held, kind, **options)
    return held.getvalue()
