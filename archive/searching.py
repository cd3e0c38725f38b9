"""Turns what a person types into a query for SQLite's full-text search."""

from __future__ import annotations

import re

MOST_WORDS = 24

_KEYS = {"high": "upper", "middle": "middle", "low": "lower"}
"""How the studio calls a key, and the register of that key (Harrison 1909, Landscape Painting, chapter V)."""

_TOGETHER = {
    **{(register, "register"): f'"{register} register"' for register in _KEYS.values()},
    **{(scale, "scale"): f'"{scale} scale"' for scale in ("limited", "moderate", "extended")},
    **{(level, side): f'"{level} {side}"' for level in ("upper", "lower") for side in ("left", "right")},
    **{(key, "key"): f'("{register} register" OR ("{key}"* AND "key"*))' for key, register in _KEYS.items()},
}
"""Words that mean something only side by side: 'upper' may be a register or a place."""


def fts_query(text: str) -> str:
    """A query that finds rows having every word of ``text``, each also as the beginning of a longer word.

    A register, a scale or a corner is found by its two words together, a register by the name of its key too.  Quotes,
    commas and the operators of FTS5 (https://www.sqlite.org/fts5.html, section 3) mean nothing special: only letters
    and digits are kept.  '' when there are none.
    """
    words = re.findall(r"[^\W_]+", text)[:MOST_WORDS]
    parts, at = [], 0
    while at < len(words):
        pair = _TOGETHER.get((words[at].lower(), words[at + 1].lower())) if at + 1 < len(words) else None
        parts.append(pair or f'"{words[at]}"*')
        at += 2 if pair else 1
    return " AND ".join(parts)
