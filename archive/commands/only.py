"""``--only NAME=VALUE``: works that the records choose, and what was meant when none has the value."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from archive.store import Archive

_FEW = 16
"""So many values or fewer are all named."""

_MOST_MEANT = 5


def chosen_works(archive: Archive, only: Sequence[str]) -> list[str]:
    """The works of which all of ``only`` is true, each written NAME=VALUE, by their ids.

    Raises `click.UsageError` for what is not written so, and `ArchiveError` for a name that nothing is chosen by or a
    value that no work has.
    """
    from archive.errors import ArchiveError

    where = dict(_named_value(each) for each in only)
    for name, value in where.items():
        if value and not archive.chosen({name: value}):
            message = f"No work of the archive has {name}={value}{_meant(value, _values(archive, name))}."
            raise ArchiveError(message)
    return archive.chosen(where)


def _named_value(given: str) -> tuple[str, str]:
    name, equals, value = given.partition("=")
    if not equals or not name.strip():
        message = f"'{given}' should be NAME=VALUE, as in --only century=17."
        raise click.UsageError(message)
    return name.strip(), value.strip()


def _values(archive: Archive, name: str) -> list[str]:
    """The values that works have, in order; none for a measure in numbers, which says nothing in a list."""
    from archive.works import FACETS

    if name == "arrangement":
        return sorted(str(row["slug"]) for row in archive.arrangements() if row["members"])
    if name == "type":
        return sorted(str(row["type"]) for row in archive.types() if row["works"])
    if name in FACETS:
        return [str(value) for value in sorted(row["value"] for row in archive.facet(name))]
    rows = archive.connection.execute(f'SELECT DISTINCT "{name}" FROM measures WHERE typeof("{name}") = \'text\'')
    return sorted(value for (value,) in rows)


def _meant(value: str, known: Sequence[str]) -> str:
    from ingest.provenance import slug

    # Accents, capitals, hyphens: what nobody wants to have to write alike.
    by_slug = {slug(each): each for each in known}
    wanted = slug(value)
    likely = [each for plain, each in by_slug.items() if wanted and wanted in plain]
    likely = likely or [by_slug[plain] for plain in difflib.get_close_matches(wanted, by_slug, _MOST_MEANT)]
    # A number is not like another for having a digit of it.
    likely = [] if wanted.isdigit() else likely
    if likely:
        named = " or ".join(f"'{each}'" for each in likely[:_MOST_MEANT])
        more = f", or one of {len(likely) - _MOST_MEANT} more," if len(likely) > _MOST_MEANT else ""
        return f"; perhaps {named}{more} is meant"
    if not known:
        return ""
    if len(known) <= _FEW:
        return f"; there {'is' if len(known) == 1 else 'are'} {', '.join(known)}"
    return f"; there are {len(known)} others, and a part of a name brings up those that have it"
