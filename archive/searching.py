"""Turns what a person types into a query for SQLite's full-text search."""

from __future__ import annotations

import re

MOST_WORDS = 24


def fts_query(text: str) -> str:
    """A query that finds rows having every word of ``text``, each also as the beginning of a longer word.

    Quotes, commas and the operators of FTS5 (https://www.sqlite.org/fts5.html, section 3) mean nothing
    special: only letters and digits are kept.  '' when there are none.
    """
    words = re.findall(r"[^\W_]+", text)
    return " ".join(f'"{word}"*' for word in words[:MOST_WORDS])
