"""National Gallery of Art, Washington: the CSV files of its open data.

Documentation: https://github.com/NationalGalleryOfArt/opendata (the data dictionary and the files under ``data/``,
renewed daily).  ``objects.csv`` and ``published_images.csv`` are needed, asked for once and kept; of the others that
lie beside them ``constituents.csv`` with ``objects_constituents.csv`` and ``objects_terms.csv`` are read for
nationality, dates and themes.  Pictures are IIIF Image 2.1 at ``iiifurl``; only those with ``openaccess`` 1 are open
(https://www.nga.gov/imagepolicy).
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from ingest.collections.fields import kind_of, mentions, several, size, span, text
from ingest.collections.iiif_image import within
from ingest.collections.source import (
    KIND,
    NO_PICTURE,
    RIGHTS,
    Asks,
    CollectionProblem,
    Entry,
    LeftOut,
    Listing,
    Manners,
    Wanted,
    Work,
    admit,
)

DATA = "https://raw.githubusercontent.com/NationalGalleryOfArt/opendata/main/data"
NEEDED = {
    "objects": {"objectid", "title", "classification", "accessionnum"},
    "published_images": {"iiifurl", "viewtype", "depictstmsobjectid", "openaccess"},
}
_BASIS = "openaccess is 1 for its picture in the gallery's data; the gallery gives such pictures under CC0"
_NOT_OPEN = "its picture is not under the gallery's open access"


class NationalGallery:
    """The National Gallery of Art."""

    name = "nga"
    title = "National Gallery of Art, Washington"
    asked_of = ""
    manners = Manners(
        pace=1.0,
        says="the data are five files, asked for once and kept; no rate is stated for pictures; one request a second "
        "is asked",
        rights="`openaccess` of `published_images.csv`: such pictures are CC0 (https://www.nga.gov/imagepolicy)",
        maps="`title`, `attribution`, `displaydate`, `beginyear`, `endyear`, `medium`, `accessionnum`, `creditline`, "
        "`classification` (kind); `nationality` and `displaydate` of the artist; terms of the type Theme (subject); "
        "`iiifurl`, `width`, `height`",
        docs=("https://github.com/NationalGalleryOfArt/opendata", "https://iiif.io/api/image/2.1/"),
    )

    def __init__(self, data: str = DATA) -> None:
        self._data = data

    def listing(self, ask: Asks, wanted: Wanted, cursor: str) -> Listing:
        """All of the wanted works in one page."""
        if wanted.held is not None:
            return read_files(wanted.held, wanted)
        names = [f"{name}.csv" for name in (*NEEDED, "constituents", "objects_constituents", "objects_terms")]
        folders = {ask.file(f"{self._data}/{name}", f"nga/{name}").parent for name in names}
        return read_files(folders.pop(), wanted)

    def work(self, ask: Asks, wanted: Wanted, entry: Entry) -> Work | LeftOut:
        """The rows are in the list already."""
        return read(entry.held, wanted)


def read(rows: dict[str, Any], wanted: Wanted) -> Work | LeftOut:
    """A work from its rows: ``object``, ``image`` and, where there are any, ``artist`` and ``themes``."""
    row, image, artist = rows["object"], rows["image"], rows.get("artist") or {}
    key, date = row["objectid"], text(row.get("displaydate"))
    shape = size(image.get("width"), image.get("height"))
    service = text(image.get("iiifurl"))
    return admit(
        "nga",
        key,
        rights="CC0",
        rights_basis=_BASIS,
        pictures=within(service, wanted.side, shape) if service else (),
        received=rows,
        shape=shape,
        title=text(row.get("title")),
        artist=text(row.get("attribution")),
        artist_dates=text(artist.get("displaydate")),
        date=date,
        **span(row.get("beginyear"), row.get("endyear"), date),
        medium=text(row.get("medium")),
        culture=text(artist.get("nationality")),
        subject=several(rows.get("themes") or ()),
        collection=NationalGallery.title,
        accession_number=text(row.get("accessionnum")),
        object_url=f"https://www.nga.gov/collection/art-object-page.{key}.html",
        credit_line=text(row.get("creditline")),
        obtained_from=f"{NationalGallery.title}, {NationalGallery.manners.docs[0]}",
    )


def read_files(folder: Path, wanted: Wanted) -> Listing:
    """The works of the gallery's CSV files that are wanted, and how many are not."""
    folder = folder / "data" if (folder / "data").is_dir() else folder
    images: dict[str, dict[str, str]] = {}
    for image in _rows(folder, "published_images"):
        if image["viewtype"] == "primary" and image["depictstmsobjectid"]:
            images.setdefault(image["depictstmsobjectid"], image)
    entries: dict[str, dict[str, Any]] = {}
    left_out: list[LeftOut] = []
    counted: Counter[tuple[str, str]] = Counter()
    for row in _rows(folder, "objects"):
        key, title = row["objectid"], text(row["title"])
        if kind_of(row["classification"]) not in wanted.kinds:
            counted[KIND, "another kind of work"] += 1
        elif not mentions(wanted.query, title, row.get("attribution"), row.get("medium")):
            continue
        elif key not in images:
            left_out.append(LeftOut(key, NO_PICTURE, "the gallery publishes no picture of it", title))
        elif images[key]["openaccess"] != "1":
            left_out.append(LeftOut(key, RIGHTS, _NOT_OPEN, title))
        else:
            entries[key] = {"object": row, "image": images[key]}
    _add_artists(folder, entries)
    _add_themes(folder, entries)
    found = tuple(Entry(key, held) for key, held in entries.items())
    return Listing(found, "", len(found) + len(left_out), tuple(left_out), counted)


def _add_artists(folder: Path, entries: dict[str, dict[str, Any]]) -> None:
    if not ((folder / "constituents.csv").exists() and (folder / "objects_constituents.csv").exists()):
        return
    first: dict[str, str] = {}
    for row in _rows(folder, "objects_constituents"):
        if row.get("roletype") == "artist" and row["objectid"] in entries:
            first.setdefault(row["objectid"], row["constituentid"])
    people = set(first.values())
    kept = {row["constituentid"]: row for row in _rows(folder, "constituents") if row["constituentid"] in people}
    for key, person in first.items():
        if person in kept:
            entries[key]["artist"] = {name: kept[person].get(name, "") for name in ("nationality", "displaydate")}


def _add_themes(folder: Path, entries: dict[str, dict[str, Any]]) -> None:
    if not (folder / "objects_terms.csv").exists():
        return
    for row in _rows(folder, "objects_terms"):
        if row.get("termtype") == "Theme" and row["objectid"] in entries:
            entries[row["objectid"]].setdefault("themes", []).append(row.get("term", ""))


def _rows(folder: Path, name: str) -> Iterator[dict[str, str]]:
    path = folder / f"{name}.csv"
    try:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            rows = csv.DictReader(stream)
            missing = NEEDED.get(name, set()) - set(rows.fieldnames or ())
            if missing:
                message = f"{path} has no column '{min(missing)}'; a newer copy of the gallery's data has it."
                raise CollectionProblem(message)
            yield from rows
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        message = f"{path} cannot be read as the gallery's data ({error})."
        raise CollectionProblem(message) from error
