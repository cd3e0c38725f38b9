"""Open collections: one small module each, from published records to source records.

`collection` gives one by its name; nothing is loaded before.  How to add one is told in docs/collections.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ingest.collections.source import Collection

MUSEUMS = {
    "aic": "ArtInstitute",
    "cleveland": "Cleveland",
    "met": "TheMet",
    "nga": "NationalGallery",
    "rijksmuseum": "Rijksmuseum",
    "smk": "Smk",
}
"""The museums by their names, each a module here and the class in it."""


def museum(name: str) -> Collection:
    """One of `MUSEUMS`; KeyError for any other name."""
    made: Collection = getattr(import_module(f"ingest.collections.{name}"), MUSEUMS[name])()
    return made


def collection(named: str, columns: Mapping[str, str] | None = None) -> Collection:
    """The collection that a person names: one of `MUSEUMS`, the address of a IIIF document, or a folder or table.

    ``columns`` tells a table's own names of columns by ours.  Raises `ingest.collections.source.CollectionProblem`
    when there is none of that name.
    """
    from ingest.collections.folder import Folder
    from ingest.collections.iiif import Iiif
    from ingest.collections.source import CollectionProblem

    if named in MUSEUMS:
        return museum(named)
    if named.lower().startswith(("http://", "https://")):
        return Iiif(named)
    if Path(named).exists():
        return Folder(Path(named), columns)
    message = (
        f"There is no collection '{named}': name one of {', '.join(MUSEUMS)}, the address of a IIIF manifest or "
        "collection, or a folder with a table in it."
    )
    raise CollectionProblem(message)
