"""The records of a board as CSV (RFC 4180), to be opened by any spreadsheet."""

from __future__ import annotations

import csv as comma_separated
import io

from archive.board import RECORD_FIELDS
from archive.press import words
from archive.press.caption import number
from archive.press.content import Pressed

COLUMNS = ("leaf", "work", "study", "part", "showing", *RECORD_FIELDS, "note", "question")
"""``leaf`` is '3', or '3a' and '3b' of a pair; ``part`` is 'x0,y0,x1,y1' in shares of the picture; ``showing`` has
spaces between its ways; the others are the record as it is kept, ``credit`` the whole line to print."""


def csv(pressed: Pressed) -> str:
    """One row for each picture that the board shows, and a row of names above, in UTF-8 with CRLF."""
    buffer = io.StringIO(newline="")
    rows = comma_separated.DictWriter(buffer, COLUMNS, lineterminator="\r\n")
    rows.writeheader()
    for leaf, piece in pressed.pieces():
        record = {name: piece.record.get(name, "") for name in RECORD_FIELDS}
        if piece.work:
            record["credit"] = words.whole_credit(piece.record)
        own = {
            "leaf": number(leaf, leaf.pieces.index(piece)),
            "work": piece.work,
            "study": piece.study,
            "part": ",".join(f"{share:g}" for share in piece.part) if piece.part else "",
            "showing": " ".join(plate.showing for plate in piece.plates),
            "note": leaf.note,
            "question": leaf.question,
        }
        rows.writerow({name: _inert(text) for name, text in {**own, **record}.items()})
    return buffer.getvalue()


def _inert(text: str) -> str:
    """A text that no spreadsheet takes for a formula: one that begins like one gets an apostrophe before it."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
