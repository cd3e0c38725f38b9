"""A work's source record in full: as lines of print, and as columns of a table."""

from __future__ import annotations

from archive.press import words
from archive.press.content import Piece


def lines(piece: Piece) -> list[str]:
    """The record as sentences: the credit line, its address, the rights and what they rest on, where it is from."""
    record = piece.record
    if piece.study:
        told = [words.STUDY_KEPT.format(study=", ".join(filter(None, (piece.title, words.study_by_line(record)))))]
        return [*told, piece.missing] if piece.missing else told
    told = [words.whole_credit(record)]
    if record.get("object_url"):
        told.append(record["object_url"])
    if record.get("rights"):
        told.append(words.RIGHTS.format(name=words.rights_name(record), address=record["rights"]))
    if record.get("rights_basis"):
        told.append(words.RIGHTS_BASIS.format(basis=record["rights_basis"].rstrip(".")))
    if record.get("obtained_from"):
        told.append(words.OBTAINED.format(source=record["obtained_from"].rstrip(".")))
    if piece.missing:
        told.append(piece.missing)
    return told
