"""How arrangements persist from one fit to the next, and what changed, in sentences."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import NamedTuple

PERSISTS = 0.5
"""Share of the works of both together that an old and a new group must have in common to be one and the same."""


class Members(NamedTuple):
    """The slug and name of an arrangement, and the works that belong to it clearly."""

    slug: str
    name: str
    works: frozenset[str]


class Title(NamedTuple):
    """What an arrangement is known by."""

    number: int
    slug: str
    name: str


def members_of(connection: sqlite3.Connection) -> dict[int, Members]:
    """The members of each arrangement by its number."""
    works: dict[int, set[str]] = {}
    titles: dict[int, tuple[str, str]] = {}
    for number, slug, name, work in connection.execute(
        "SELECT arrangement, slug, name, work FROM arrangements LEFT JOIN works USING (arrangement) "
        "ORDER BY arrangement"
    ):
        titles[number] = slug, name
        works.setdefault(number, set()).update([work] if work else [])
    return {number: Members(slug, name, frozenset(works[number])) for number, (slug, name) in titles.items()}


def inherit(had: dict[int, Members], found: Sequence[tuple[str, str]], works: Sequence[frozenset[str]]) -> list[Title]:
    """Numbers, slugs and names for new groups: those of the old group that each continues, or new ones.

    had: the old groups by number. found: slug and name that the fit proposes for each new group. works: theirs.
    A group continues the old one with which it has most in common, if that is at least `PERSISTS`, or half of it
    when the fit proposes the very name that the old one has; a name that an old group keeps is not given twice.
    """
    common = {(number, at): _overlap(old.works, new) for number, old in had.items() for at, new in enumerate(works)}
    titles: dict[int, Title] = {}
    continued: set[int] = set()
    for (number, at), share in sorted(common.items(), key=lambda item: (-item[1], item[0])):
        least = PERSISTS / 2 if found[at][0] == had[number].slug else PERSISTS
        if share >= least and number not in continued and at not in titles:
            titles[at] = Title(number, had[number].slug, had[number].name)
            continued.add(number)
    fresh = max(had, default=0)
    for at, (slug, name) in enumerate(found):
        if at in titles:
            continue
        fresh += 1
        taken = {title.slug for title in titles.values()}
        mark = next(mark for mark in ("", *(f"-{n}" for n in range(2, 99))) if f"{slug}{mark}" not in taken)
        titles[at] = Title(fresh, f"{slug}{mark}", f"{name}{mark.replace('-', ' ')}")
    return [titles[at] for at in range(len(found))]


def changes(had: dict[int, Members], has: dict[int, Members]) -> list[str]:
    """What became of each arrangement, in sentences; those that are as they were are not named."""
    said = []
    for number, (_, name, works) in has.items():
        if number not in had:
            said.append(f"“{name}” is new, with {_count(works)}.")
            continue
        before = had[number]
        came, went = len(works - before.works), len(before.works - works)
        if before.name != name:
            said.append(f"“{before.name}” is now called “{name}”, with {_count(works)}.")
        elif came or went:
            said.append(f"“{name}” has {_count(works)}: {came} came, {went} went.")
    return [*said, *(f"“{group.name}” is gone." for number, group in had.items() if number not in has)]


def _overlap(first: frozenset[str], second: frozenset[str]) -> float:
    """Jaccard's index, 0..1."""
    together = len(first | second)
    return len(first & second) / together if together else 0.0


def _count(works: frozenset[str]) -> str:
    return "1 work" if len(works) == 1 else f"{len(works)} works"
