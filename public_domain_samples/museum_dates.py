"""Years out of the words in which museums date works and lives."""

from __future__ import annotations

import re


def years(date: str) -> tuple[int | None, int | None]:
    """Return first and last year of a museum's date in words, or (None, None) where it cannot be told.

    'ca. 1835' is taken as 1835 to 1835: how wide 'about' is, the words do not say. 'late 14th century' is the
    last third of the century less its closing year (1367 to 1399), as the Met's own records have it.
    """
    if match := re.search(r"\b(\d{4})s\b", date):
        first = int(match[1])
        return first, first + (99 if first % 100 == 0 else 9)
    if match := re.search(r"\b(\d{4})\s*[–-]\s*(\d{2,4})\b", date):
        first = int(match[1])
        return first, int(match[1][: 4 - len(match[2])] + match[2])
    if match := re.search(r"\b(\d{4})\b", date):
        return int(match[1]), int(match[1])
    if match := re.search(r"\b(early|late)?\s*(\d{1,2})(?:st|nd|rd|th) century\b", date):
        start = (int(match[2]) - 1) * 100
        first, last = {"early": (0, 33), "late": (67, 99)}.get(match[1] or "", (0, 99))
        return start + first, start + last
    return None, None


def life_dates(biography: str) -> str:
    """Return the dates in a museum's short biography without the places, '' where it has none.

    'Netherlandish, Breda (?) ca. 1525–1569 Brussels' gives 'ca. 1525–1569'.
    """
    start = re.search(r"\bactive\b|\bca\. ?\d|\?\d|\d", biography)
    ends = list(re.finditer(r"\d\??|\bcentury\b", biography))
    if start is None or not ends:
        return ""
    return biography[start.start() : ends[-1].end()]
