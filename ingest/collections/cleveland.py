"""Cleveland Museum of Art: its Open Access API, or ``data.json`` of its open data on this computer.

Documentation: https://openaccess-api.clevelandart.org/ (``/api/artworks/`` with ``q``, ``type``, ``has_image``,
``limit`` and ``skip``) and https://github.com/ClevelandMuseumArt/openaccess.  There are three pictures of a work:
``web`` (a JPEG of about 1,260 px on its longest side), ``print`` and ``full``; the first is enough.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from ingest.collections.fields import kind_of, mentions, name_and_bio, size, span, statement, text
from ingest.collections.source import (
    KIND,
    KINDS,
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

API = "https://openaccess-api.clevelandart.org/api"
PAGE = 100

_TYPES = {"paintings": "Painting", "drawings": "Drawing", "prints": "Print"}


class Cleveland:
    """The Cleveland Museum of Art."""

    name = "cleveland"
    title = "The Cleveland Museum of Art"
    asked_of = ""
    manners = Manners(
        pace=1.0,
        says="no rate is stated; one request a second is asked, as of a museum that states one",
        rights="`share_license_status`, which is `CC0` or not (https://www.clevelandart.org/open-access)",
        maps="`title`, `creators[0].description` (name, nationality and dates), `creation_date`, "
        "`creation_date_earliest`, `creation_date_latest`, `technique`, `culture` (and its first word before a comma "
        "as country), `accession_number`, `creditline`, `url`, `type` (kind), `images.web`",
        docs=("https://openaccess-api.clevelandart.org/", "https://github.com/ClevelandMuseumArt/openaccess"),
    )

    def __init__(self, api: str = API) -> None:
        self._api = api

    def listing(self, ask: Asks, wanted: Wanted, cursor: str) -> Listing:
        """A page of one kind after the other, or all of ``data.json``."""
        if wanted.held is not None:
            return _dump(wanted.held, wanted)
        kinds = [kind for kind in KINDS if kind in wanted.kinds]
        kind, skip = (int(part) for part in (cursor or "0 0").split())
        asked = {"type": _TYPES[kinds[kind]], "has_image": 1, "limit": PAGE, "skip": skip}
        if wanted.query:
            asked["q"] = wanted.query
        answer = ask.json(f"{self._api}/artworks/?{urlencode(asked)}")
        try:
            total = int(answer["info"]["total"])
            entries = tuple(Entry(str(item["id"]), item) for item in answer["data"])
        except (KeyError, TypeError, ValueError) as error:
            message = f"Cleveland's answer has not the form that its documentation gives ({error!r})."
            raise CollectionProblem(message) from error
        if entries and skip + len(entries) < total:
            following = f"{kind} {skip + len(entries)}"
        else:
            following = f"{kind + 1} 0" if kind + 1 < len(kinds) else ""
        return Listing(entries, following, total if len(kinds) == 1 else None)

    def work(self, ask: Asks, wanted: Wanted, entry: Entry) -> Work | LeftOut:
        """The record is in the list already."""
        return read(entry.held, wanted)


def read(item: dict[str, Any], wanted: Wanted) -> Work | LeftOut:
    """One artwork as published."""
    key, title = str(item.get("id", "")), text(item.get("title"))
    if kind_of(item.get("type")) not in wanted.kinds:
        return LeftOut(key, KIND, f"it is of the type “{text(item.get('type')) or 'not stated'}”", title)
    creators = [creator for creator in item.get("creators") or () if isinstance(creator, dict)]
    artist, bio = name_and_bio(text(creators[0].get("description"))) if creators else ("", "")
    nationality, _, dates = bio.partition(", ")
    culture = text(item.get("culture"))
    place = culture.split(",")[0].strip()
    web = (item.get("images") or {}).get("web") or {}
    address, date = text(web.get("url")), text(item.get("creation_date"))
    return admit(
        "cleveland",
        key,
        # A notice of copyright outweighs the flag.
        rights="In Copyright" if text(item.get("copyright")) else statement(item.get("share_license_status")),
        rights_basis="share_license_status is CC0 in the museum's record",
        pictures=(address,) if address else (),
        received=item,
        shape=size(web.get("width"), web.get("height")),
        title=title,
        artist=artist,
        artist_dates=dates or (nationality if any(char.isdigit() for char in nationality) else ""),
        date=date,
        **span(item.get("creation_date_earliest"), item.get("creation_date_latest"), date),
        medium=text(item.get("technique")),
        culture=culture,
        country="" if " or " in place else place,
        collection=Cleveland.title,
        accession_number=text(item.get("accession_number")),
        object_url=text(item.get("url")),
        credit_line=text(item.get("creditline")),
        obtained_from=f"{Cleveland.title}, {API}",
    )


def _dump(source: Path, wanted: Wanted) -> Listing:
    path = source / "data.json" if source.is_dir() else source
    try:
        items = json.loads(path.read_text(encoding="utf-8"))
        items = items.get("data", items) if isinstance(items, dict) else items
        keyed = [(str(item["id"]), item) for item in items]
    except (OSError, ValueError, KeyError, TypeError) as error:
        message = f"{path} cannot be read as the museum's data.json ({error})."
        raise CollectionProblem(message) from error
    counted: Counter[tuple[str, str]] = Counter()
    entries = []
    for key, item in keyed:
        if kind_of(item.get("type")) not in wanted.kinds:
            counted[KIND, "another kind of work"] += 1
        elif mentions(wanted.query, item.get("title"), item.get("tombstone"), item.get("technique")):
            entries.append(Entry(key, item))
    return Listing(tuple(entries), "", len(entries), counted=counted)
