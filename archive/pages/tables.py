"""Datasette's own pages of the archive: pictures in cells, facets, words for tables, ways back to ours."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from datasette.utils.asgi import Response
from markupsafe import Markup, escape

from archive.pages.frame import PLUGIN
from archive.pages.leaves import arrangement_url, picture_url, work_url
from archive.pages.room import room_of

DATABASE = "archive"

_PICTURE = re.compile(r"[0-9a-f]{2}/[0-9a-f]{64}\.(?:jpeg|png|webp)")
_CELL = 72
"""Height of a picture in a cell, px."""

_WHAT = {
    "painting": "painting", "thumb": "painting", "squint": "squint", "map2": "two values",
    "map3": "three values", "map5": "five values", "mean": "mean pattern", "spread": "spread",
}  # fmt: skip

CONFIG = {
    "works": {
        "facets": ["arrangement", "century", "collection", "culture"],
        "size": 50,
        "label_column": "title",
        "fts_table": "works_fts",
        "fts_pk": "rowid",
    },
    "works_with_measures": {"facets": ["register", "scale", "arrangement", "century"], "size": 50},
    "measures": {"facets": ["register", "scale", "light_masses", "dark_masses"]},
    "arrangements": {"label_column": "name", "sort_desc": "members"},
    "types": {"label_column": "name", "sort": "place"},
    "measure_meanings": {"label_column": "measure", "sort": "place"},
    "work_types": {"facets": ["type"], "sort_desc": "degree"},
    "work_subjects": {"facets": ["subject"], "sort": "subject"},
    "masses": {"facets": ["value", "touches"]},
    "sources": {"label_column": "obtained_from"},
    "set_aside": {"facets": ["kind", "reason"]},
    "signatures": {"hidden": True},
}
"""How Datasette shows each table."""

DESCRIPTIONS = {
    "works": "The paintings, each with its pictures, its source and its rights.",
    "works_with_measures": "Every work with all its measures; sort, filter and count by any.",
    "arrangements": "Groups of works that are built alike.",
    "types": "Named ways of laying out a picture in light and dark, with the books they come from.",
    "work_types": "How far each work is of each type, 0 to 1.",
    "work_subjects": "What works show, as far as their records say.",
    "measures": "What was measured in each work: measurements, never marks.",
    "measure_meanings": "What each measure says, its unit and its source.",
    "masses": "The connected shapes of each work's three-value map, greatest first.",
    "sources": "Where the pictures were obtained from.",
    "set_aside": "Files that gave no work, each with the reason.",
    "settings": "What this archive was built with.",
}
"""What each table holds, in a sentence."""

_OF_A_WORK = ("works", "works_with_measures", "measures")


def metadata() -> dict[str, Any]:
    """Titles and descriptions for Datasette, with what each measure says as the description of its column."""
    import dataclasses

    from ingest.measures import Measures

    says = {
        field.name: f"{field.metadata['says']} ({field.metadata['unit']})" for field in dataclasses.fields(Measures)
    }
    described: dict[str, dict[str, Any]] = {name: {"description": words} for name, words in DESCRIPTIONS.items()}
    for name in ("measures", "works_with_measures"):
        described[name]["columns"] = says
    return {
        "title": "The tables behind Blotbook",
        "description": "Paintings reduced to light, middle and dark; all of them in the public domain.",
        "databases": {DATABASE: {"description": "One archive.", "tables": described}},
    }


async def databases(datasette: Any, request: Any) -> Any:
    """Datasette's list of its databases, with the name of each file and without its folder."""
    await datasette.ensure_permission(action="view-instance", actor=request.actor)
    listed = [
        {
            "name": name,
            "route": database.route,
            "path": Path(database.path).name if database.path else None,
            "size": database.size,
            "is_mutable": database.is_mutable,
            "is_memory": database.is_memory,
            "hash": database.hash,
        }
        for name, database in datasette.databases.items()
    ]
    return Response.json({"ok": True, "databases": listed})


def is_ours(datasette: Any, database: str) -> bool:
    """Whether a page shows the database of an archive that this Datasette was built for."""
    return database == DATABASE and room_of(datasette) is not None


def picture_cell(datasette: Any, row: Any, value: Any, column: str) -> Markup | None:
    """A name of a picture as the picture itself, linked to its full size; None for any other value."""
    if not isinstance(value, str) or not _PICTURE.fullmatch(value):
        return None
    known = set(row.keys()) if row is not None else set()
    words = row["sentence"] if "sentence" in known else ""
    name = (row["title"] if "title" in known else row["name"] if "name" in known else "") or ""
    alt = ": ".join(part for part in (_WHAT.get(column, column), str(name or words)) if part)
    url = escape(picture_url(datasette, value))
    return Markup(
        f'<a href="{url}"><img class="blotbook-cell" src="{url}" height="{_CELL}" alt="{escape(alt)}" '
        'loading="lazy" decoding="async"></a>'
    )


def style_sheets(datasette: Any, template: str) -> list[str]:
    """Our style sheet for Datasette's pages; none for our own pages and in other Datasettes."""
    if room_of(datasette) is None or template.startswith("blotbook/"):
        return []
    return [datasette.static("tables.css", plugin=PLUGIN)]


def ways_back(datasette: Any) -> list[dict[str, str]]:
    """Links for Datasette's menu."""
    if room_of(datasette) is None:
        return []
    ways = (
        ("/", "Blotbook: arrangements"),
        ("/-/find", "Blotbook: show a study"),
        ("/-/about", "Blotbook: about"),
    )
    return [{"href": datasette.urls.path(path), "label": label} for path, label in ways]


def page_of_row(datasette: Any, table: str, row: Any) -> list[dict[str, str]]:
    """A link from a row to its page, where it has one."""
    if table in _OF_A_WORK:
        return [{"href": work_url(datasette, row["work"]), "label": "The leaf of this work"}]
    if table == "arrangements":
        return [{"href": arrangement_url(datasette, row["slug"]), "label": "The page of this arrangement"}]
    return []
