"""The Metropolitan Museum of Art: its Collection API, and the CSV of its open data.

Documentation: https://metmuseum.github.io/ (``/public/collection/v1.1/search``, paged by ``offset`` and ``limit`` up to
the first 10,000, and ``/public/collection/v1/objects/{id}``) and https://github.com/metmuseum/openaccess
(``MetObjects.csv``).  The CSV has no addresses of pictures, so a work listed in it is asked for by its number all the
same, but only where the CSV says that it is wanted.
"""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from ingest.collections.fields import kind_of, mentions, several, span, text
from ingest.collections.source import (
    KIND,
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

API = "https://collectionapi.metmuseum.org/public/collection"
PAGE, MOST = 100, 10_000

_TYPES = {"paintings": "Paintings", "drawings": "Drawings", "prints": "Prints"}
_BASIS = "isPublicDomain is true in the museum's record; the museum gives pictures of such works under CC0"
_NOT_FREE = "the museum does not mark it as being in the public domain"


class TheMet:
    """The Metropolitan Museum of Art."""

    name = "met"
    title = "The Metropolitan Museum of Art"
    asked_of = ""
    manners = Manners(
        pace=1.0,
        says="at most 80 requests a second, says the documentation; its network is known to shut out programs that "
        "come faster than one or two a second, so one a second is asked",
        rights="`isPublicDomain` (`Is Public Domain` in the CSV): data and pictures of such works are CC0 "
        "(https://www.metmuseum.org/hubs/open-access)",
        maps="`title`, `artistDisplayName`, `artistDisplayBio`, `artistNationality` or `culture`, `objectDate`, "
        "`objectBeginDate`, `objectEndDate`, `medium`, `country`, `tags` (subject), `accessionNumber`, `creditLine`, "
        "`objectURL`, `classification` and `objectName` (kind), `primaryImageSmall`",
        docs=("https://metmuseum.github.io/", "https://github.com/metmuseum/openaccess"),
    )

    def __init__(self, api: str = API) -> None:
        self._api = api

    def listing(self, ask: Asks, wanted: Wanted, cursor: str) -> Listing:
        """A page of the search, or all of ``MetObjects.csv``."""
        if wanted.held is not None:
            return read_csv(wanted.held, wanted)
        offset = int(cursor or 0)
        asked = {
            "q": wanted.query or "*",
            "hasImages": "true",
            "medium": "|".join(_TYPES[kind] for kind in sorted(wanted.kinds)),
            "offset": offset,
            "limit": PAGE,
        }
        answer = ask.json(f"{self._api}/v1.1/search?{urlencode(asked)}")
        try:
            total = min(int(answer["total"]), MOST)
            keys = [str(int(key)) for key in answer["objectIDs"] or ()]
        except (KeyError, TypeError, ValueError) as error:
            message = f"The Met's answer has not the form that its documentation gives ({error!r})."
            raise CollectionProblem(message) from error
        more = bool(keys) and offset + len(keys) < total
        return Listing(tuple(Entry(key) for key in keys), str(offset + len(keys)) if more else "", total)

    def work(self, ask: Asks, wanted: Wanted, entry: Entry) -> Work | LeftOut:
        """One object, asked for by its number."""
        return read(ask.json(f"{self._api}/v1/objects/{entry.key}"), wanted)


def read(item: dict[str, Any], wanted: Wanted) -> Work | LeftOut:
    """One object as the API publishes it."""
    key, title = str(item.get("objectID", "")), text(item.get("title"))
    # Paintings of the American Wing have no classification.
    kind = kind_of(text(item.get("classification")) or item.get("objectName"))
    if kind not in wanted.kinds:
        stated = text(item.get("classification")) or text(item.get("objectName")) or "not stated"
        return LeftOut(key, KIND, f"it is of the type “{stated}”", title)
    if item.get("isPublicDomain") is not True:
        return LeftOut(key, RIGHTS, _NOT_FREE, title)
    date = text(item.get("objectDate"))
    pictures = (text(item.get("primaryImageSmall")), text(item.get("primaryImage")))
    artist = [text(item.get(part)) for part in ("artistPrefix", "artistDisplayName", "artistSuffix")]
    return admit(
        "met",
        key,
        rights="CC0",
        rights_basis=_BASIS,
        pictures=tuple(dict.fromkeys(address for address in pictures if address)),
        received=item,
        title=title,
        artist=" ".join(part for part in artist if part),
        artist_dates=text(item.get("artistDisplayBio")),
        date=date,
        **span(item.get("objectBeginDate"), item.get("objectEndDate"), date),
        medium=text(item.get("medium")),
        culture=text(item.get("culture")) or text(item.get("artistNationality")).split("|")[0],
        country=text(item.get("country")).split("|")[0],
        subject=several(tag.get("term") for tag in item.get("tags") or ()),
        collection=TheMet.title,
        accession_number=text(item.get("accessionNumber")),
        object_url=text(item.get("objectURL")) or f"https://www.metmuseum.org/art/collection/search/{key}",
        credit_line=text(item.get("creditLine")),
        obtained_from=f"{TheMet.title}, {API}",
    )


def read_csv(source: Path, wanted: Wanted) -> Listing:
    """The objects of ``MetObjects.csv`` that are wanted, and how many are not."""
    path = source / "MetObjects.csv" if source.is_dir() else source
    entries: list[Entry] = []
    left_out: list[LeftOut] = []
    counted: Counter[tuple[str, str]] = Counter()
    try:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            rows = csv.DictReader(stream)
            if not {"Object ID", "Is Public Domain", "Classification"} <= set(rows.fieldnames or ()):
                message = f"{path} has not the columns of MetObjects.csv."
                raise CollectionProblem(message)
            for row in rows:
                title = text(row.get("Title"))
                if kind_of(row["Classification"].strip() or row.get("Object Name")) not in wanted.kinds:
                    counted[KIND, "another kind of work"] += 1
                elif not mentions(wanted.query, title, row.get("Artist Display Name"), row.get("Tags")):
                    continue
                elif row["Is Public Domain"].strip().lower() != "true":
                    left_out.append(LeftOut(row["Object ID"], RIGHTS, _NOT_FREE, title))
                else:
                    entries.append(Entry(row["Object ID"]))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        message = f"{path} cannot be read as the museum's CSV ({error})."
        raise CollectionProblem(message) from error
    return Listing(tuple(entries), "", len(entries) + len(left_out), tuple(left_out), counted)
