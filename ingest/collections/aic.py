"""Art Institute of Chicago: its API, or its data dump on this computer.

Documentation: https://api.artic.edu/docs/ (endpoints, paging, fields, rates, pictures).  The search takes a query in
JSON by ``params`` and pages by ``page`` and ``limit`` (100 at most, and no further than 10,000 records); for more the
museum asks that its data dump be taken (https://github.com/art-institute-of-chicago/api-data: one JSON file a record
under ``json/artworks``), which ``held`` reads.  Pictures are IIIF Image 2 at ``config.iiif_url``; the museum asks for
the width 843, which it keeps ready.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from ingest.collections.fields import kind_of, mentions, several, size, span, text
from ingest.collections.iiif_image import picture
from ingest.collections.source import (
    KIND,
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

API = "https://api.artic.edu/api/v1"
IIIF = "https://www.artic.edu/iiif/2"
PAGE, MOST = 100, 10_000
WIDTH = 843

_TYPES = {"paintings": "Painting", "drawings": "Drawing and Watercolor", "prints": "Print"}
_FIELDS = (
    "id", "title", "main_reference_number", "date_start", "date_end", "date_display", "artist_display", "artist_title",
    "place_of_origin", "medium_display", "credit_line", "is_public_domain", "copyright_notice", "artwork_type_title",
    "classification_title", "subject_titles", "image_id", "thumbnail", "updated_at",
)  # fmt: skip
_BASIS = "is_public_domain is true in the museum's record; the museum gives pictures of such works under CC0"


class ArtInstitute:
    """The Art Institute of Chicago."""

    name = "aic"
    title = "Art Institute of Chicago"
    asked_of = ""
    manners = Manners(
        pace=1.0,
        says="no more than one request a second, by one program at a time; 60 a minute are let through; a User-Agent "
        "with a way to reach you; pictures 843 px wide; beyond 10,000 records the data dump",
        rights="`is_public_domain`: pictures of such works are given under CC0 (https://www.artic.edu/image-licensing)",
        maps="`title`, `artist_display` (name, then nationality and dates), `date_display`, `date_start`, `date_end`, "
        "`medium_display`, `place_of_origin` (country), `subject_titles`, `main_reference_number` (accession number), "
        "`credit_line`, `artwork_type_title` (kind), `thumbnail` (size of the picture), `image_id`",
        docs=("https://api.artic.edu/docs/", "https://github.com/art-institute-of-chicago/api-data"),
    )

    def __init__(self, api: str = API) -> None:
        self._api = api

    def listing(self, ask: Asks, wanted: Wanted, cursor: str) -> Listing:
        """A page of the search, or all of a data dump."""
        if wanted.held is not None:
            return _dump(wanted.held, wanted)
        number = int(cursor or 1)
        types = [_TYPES[kind] for kind in sorted(wanted.kinds)]
        filters = [{"terms": {"artwork_type_title.keyword": types}}, {"exists": {"field": "image_id"}}]
        query: dict[str, Any] = {"query": {"bool": {"filter": filters}}, "fields": list(_FIELDS)}
        if wanted.query:
            query["q"] = wanted.query
        else:
            query["sort"] = {"id": {"order": "asc"}}
        asked = urlencode({"params": json.dumps(query, separators=(",", ":")), "page": number, "limit": PAGE})
        answer = ask.json(f"{self._api}/artworks/search?{asked}")
        try:
            total = int(answer["pagination"]["total"])
            items = list(answer["data"])
            iiif = text(answer.get("config", {}).get("iiif_url")) or IIIF
            entries = tuple(Entry(str(item["id"]), {"item": item, "iiif": iiif}) for item in items)
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            message = f"The Art Institute's answer has not the form that its documentation gives ({error!r})."
            raise CollectionProblem(message) from error
        more = bool(items) and number * PAGE < min(total, MOST)
        return Listing(entries, str(number + 1) if more else "", min(total, MOST))

    def work(self, ask: Asks, wanted: Wanted, entry: Entry) -> Work | LeftOut:
        """The record is in the list already."""
        return read(entry.held["item"], entry.held["iiif"], wanted)


def read(item: dict[str, Any], iiif: str, wanted: Wanted) -> Work | LeftOut:
    """One artwork as published."""
    key, title = str(item.get("id", "")), text(item.get("title"))
    kind = kind_of(item.get("artwork_type_title"), item.get("classification_title"))
    if kind not in wanted.kinds:
        return LeftOut(key, KIND, f"it is of the type “{text(item.get('artwork_type_title')) or 'not stated'}”", title)
    artist, _, bio = str(item.get("artist_display") or "").strip().partition("\n")
    culture, _, dates = text(bio).partition(", ")
    if not dates and any(char.isdigit() for char in culture):
        culture, dates = "", culture
    free, notice = item.get("is_public_domain"), text(item.get("copyright_notice"))
    image, thumbnail = text(item.get("image_id")), item.get("thumbnail") or {}
    shape = size(thumbnail.get("width"), thumbnail.get("height"))
    wide = min(WIDTH, shape[0]) if shape else WIDTH
    return admit(
        "aic",
        key,
        rights="In Copyright" if free is False or notice else "CC0" if free is True else "",
        rights_basis=_BASIS,
        pictures=(picture(f"{iiif}/{image}", f"{wide},"),) if image else (),
        received=item,
        shape=shape,
        title=title,
        artist=text(item.get("artist_title")) or text(artist),
        artist_dates=dates,
        date=text(item.get("date_display")),
        **span(item.get("date_start"), item.get("date_end"), text(item.get("date_display"))),
        medium=text(item.get("medium_display")),
        culture=culture,
        country=text(item.get("place_of_origin")),
        subject=several(item.get("subject_titles") or ()),
        collection=ArtInstitute.title,
        accession_number=text(item.get("main_reference_number")),
        object_url=f"https://www.artic.edu/artworks/{key}",
        credit_line=text(item.get("credit_line")),
        obtained_from=f"{ArtInstitute.title}, https://api.artic.edu",
    )


def _dump(folder: Path, wanted: Wanted) -> Listing:
    below = folder / "json" / "artworks"
    files = sorted((below if below.is_dir() else folder).glob("*.json"))
    entries, counted = [], dict[tuple[str, str], int]()
    for file in files:
        try:
            item = json.loads(file.read_text(encoding="utf-8"))
            item = item.get("data", item)
            key = str(item["id"])
        except (OSError, ValueError, KeyError, AttributeError):
            continue
        if "artwork_type_title" not in item:
            continue
        if not mentions(wanted.query, item.get("title"), item.get("artist_display"), item.get("subject_titles")):
            continue
        if kind_of(item["artwork_type_title"], item.get("classification_title")) in wanted.kinds:
            kept = {name: item.get(name) for name in _FIELDS}
            entries.append(Entry(key, {"item": kept, "iiif": IIIF}))
        else:
            why = (KIND, "another kind of work")
            counted[why] = counted.get(why, 0) + 1
    if not entries and not counted:
        message = f"{folder} has no records of artworks in it, such as json/artworks of the museum's data dump."
        raise CollectionProblem(message)
    return Listing(tuple(entries), "", len(entries), counted=counted)
