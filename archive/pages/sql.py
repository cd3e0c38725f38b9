"""SQL on the tables: bounds that keep a question from harming the server, and functions that explain the works.

likeness(work, other)   how alike two works are built, 0 to 1, either of them mirrored or whole
words(work)             the pattern of a work in words
built_of(work)          its masses in words: how many light and dark ones there are
value_name(L)           'dark', 'middle' or 'light' of a lightness L*, 0 to 100, parted into thirds
"""

from __future__ import annotations

import sqlite3
from typing import Any

from archive.match import Gallery
from archive.pages.room import need_room
from archive.pages.student import masses_words
from archive.works import measured

LONGEST_VALUE = 4 * 1024 * 1024
"""Bytes of the largest text or blob that SQL may make."""

_DENIED = {sqlite3.SQLITE_ATTACH, sqlite3.SQLITE_DETACH}
_HIDDEN = {"pragma_database_list", "pragma_module_list"}
"""Tables that SQLite makes up and that tell of this computer; Datasette's own PRAGMAs are asked otherwise."""


def prepare(connection: sqlite3.Connection, datasette: Any) -> None:
    """Give a connection of Datasette its bounds and our functions."""
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LONGEST_VALUE)
    connection.setlimit(sqlite3.SQLITE_LIMIT_SQL_LENGTH, 100_000)
    connection.setlimit(sqlite3.SQLITE_LIMIT_LIKE_PATTERN_LENGTH, 1_000)
    connection.set_authorizer(_authorized)
    room = need_room(datasette)
    gallery = room.gallery

    def likeness(work: object, other: object) -> float | None:
        return _likeness(gallery, work, other)

    def words(work: object) -> str | None:
        found = room.archive.work(str(work))
        return None if found is None else str(found["sentence"])

    def built_of(work: object) -> str | None:
        found = room.archive.work(str(work))
        if found is None:
            return None
        counted = measured(found)
        return masses_words(int(counted["light_masses"]), int(counted["dark_masses"]))

    connection.create_function("likeness", 2, likeness, deterministic=True)
    connection.create_function("words", 1, words, deterministic=True)
    connection.create_function("built_of", 1, built_of, deterministic=True)
    connection.create_function("value_name", 1, value_name, deterministic=True)


def value_name(lightness: object) -> str | None:
    """'dark', 'middle' or 'light': the third of the scale that an L* lies in; None for no number."""
    if isinstance(lightness, bool) or not isinstance(lightness, (int, float)):
        return None
    return "dark" if lightness < 100 / 3 else "middle" if lightness < 200 / 3 else "light"


def _likeness(gallery: Gallery, work: object, other: object) -> float | None:
    try:
        return gallery.likeness(str(work), str(other))
    except KeyError:
        return None


def _authorized(action: int, first: str | None, *_: object) -> int:
    if action in _DENIED:
        return sqlite3.SQLITE_DENY
    if action == sqlite3.SQLITE_READ and (first or "").lower() in _HIDDEN:
        return sqlite3.SQLITE_DENY
    return sqlite3.SQLITE_OK
