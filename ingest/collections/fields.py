"""Turns values as museums publish them into the fields of a source record."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from ingest.collections.source import KINDS

_KIND_WORDS = {
    "paintings": r"\bpainting|\bmaleri|\bschilderij|\bgemälde|\bpeinture|\btableau|\bdipint|\bpintura|\bminiature",
    "drawings": r"\bdrawing|\bwatercolou?r|\bpastel|\bsketch|\btegning|\btekening|\bzeichnung|\bdessin|\bakvarel",
    "prints": r"\bprints?\b|\betching|\bengraving|\bwoodcut|\blithograph|\bgrafik|\bprent\b|\bestampe|\bmezzotint",
}
_DASH = r"\s*[–—-]\s*"
_CENTURY = re.compile(
    r"\b(early|mid|late)?[ -]*(\d{1,2})(?:st|nd|rd|th)?[. ]+(?:century|århundrede|eeuw|jahrhundert)", re.I
)
_CENTURIES = re.compile(r"\b(\d{1,2})(?:st|nd|rd|th)" + _DASH + r"(\d{1,2})(?:st|nd|rd|th)[. ]+century", re.I)
_PARTS = {"early": (1, 33), "mid": (34, 66), "late": (67, 100)}


def text(value: Any) -> str:
    """A published value as one line: '' for nothing, lists joined by ', ', inner line ends as ', '."""
    if value is None or isinstance(value, bool):
        return ""
    if isinstance(value, (list, tuple)):
        return ", ".join(part for part in map(text, value) if part)
    if isinstance(value, dict):
        return ""
    lines = (" ".join(line.split()) for line in str(value).splitlines())
    return ", ".join(line for line in lines if line)


def statement(value: Any) -> str:
    """A published statement of rights: words as they stand, '' for anything that is no words."""
    return value.strip() if isinstance(value, str) else ""


def several(values: Iterable[Any]) -> str:
    """Published subjects as one field, parted by '; '."""
    return "; ".join(dict.fromkeys(part for part in (text(value).replace(";", ",") for value in values) if part))


def year(value: Any) -> int | None:
    """A published year: a number, '1889', '1889-01-01T00:00:00Z'; None for anything else and for the year 0."""
    match = re.match(r"\s*(-?\d{1,5})(?:-\d\d|\.0+)?", str(value)) if value not in (None, "", True, False) else None
    return int(match[1]) or None if match else None


def years(words: str) -> tuple[int | None, int | None]:
    """The first and last year that a date in words names, or (None, None).

    'c. 1550–1650', '1889/90', '1880s', 'late 14th century' (1367 to 1400).  How wide 'about' is, is not guessed.
    """
    if match := re.search(r"\b(\d{3}0)s\b", words):
        first = int(match[1])
        return first, first + (99 if first % 100 == 0 else 9)
    if match := re.search(rf"\b(\d{{3,4}})(?:{_DASH}|/)(?:c\.?a?\.?\s*)?(\d{{2,4}})\b", words):
        begun, ended = match[1], match[2]
        return int(begun), int(begun[: max(0, len(begun) - len(ended))] + ended)
    if found := re.findall(r"\b(\d{3,4})\b", words):
        return min(map(int, found)), max(map(int, found))
    if match := _CENTURIES.search(words):
        return (int(match[1]) - 1) * 100 + 1, int(match[2]) * 100
    if match := _CENTURY.search(words):
        start = (int(match[2]) - 1) * 100
        first_part, last_part = _PARTS.get((match[1] or "").lower(), (1, 100))
        return start + first_part, start + last_part
    return None, None


def span(begin: Any, end: Any, words: str = "") -> dict[str, Any]:
    """``begin_year`` and ``end_year`` from published years, or from the words where there are none in order."""
    first, last = year(begin), year(end)
    if first is not None and last is not None and first <= last:
        return {"begin_year": first, "end_year": last}
    only = first if last is None else last if first is None else None
    if only is not None:
        return {"begin_year": only, "end_year": only}
    first, last = years(words)
    return (
        {"begin_year": first, "end_year": last}
        if (first or 0) <= (last or 0)
        else {"begin_year": None, "end_year": None}
    )


def kind_of(*words: Any) -> str:
    """Which of `KINDS` the first telling one of some published types is, or ''."""
    for word in words:
        said = text(word).lower()
        for kind in KINDS:
            if said and re.search(_KIND_WORDS[kind], said):
                return kind
    return ""


def mentions(query: str, *values: Any) -> bool:
    """Whether every word of a query stands in one of some published values; always for an empty query."""
    held = " ".join(map(text, values)).casefold()
    return all(word in held for word in query.casefold().split())


def name_and_bio(words: str) -> tuple[str, str]:
    """'Claude Monet (French, 1840-1926)' as the name and what stands in the last brackets."""
    match = re.fullmatch(r"(.*?)\s*\(([^()]*)\)\s*", words)
    return (match[1], match[2]) if match and match[1] else (words, "")


def size(width: Any, height: Any) -> tuple[int, int] | None:
    """Published width and height in pixels, numbers or words, or None."""
    try:
        pair = int(float(width)), int(float(height))
    except (TypeError, ValueError):
        return None
    return pair if min(pair) > 0 else None


def dicts(values: Any) -> list[dict[str, Any]]:
    """Those of a published list that are objects; none when it is no list."""
    return [value for value in values if isinstance(value, dict)] if isinstance(values, list) else []
