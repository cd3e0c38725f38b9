"""Statens Museum for Kunst, the national gallery of Denmark: its API.

Documentation: https://api.smk.dk/api/v1/docs/ and https://www.smk.dk/en/article/smk-api/ (``/art/search/`` with
``keys``, ``filters`` such as ``[has_image:true]``, ``offset``, ``rows`` and ``lang``).  The list is filtered by nothing
but pictures: kinds and rights are judged here, so that they can be counted.  Pictures are IIIF Image 2 at
``image_iiif_id``.
"""

from __future__ import annotations

from collections import Counter
from typing import Any
from urllib.parse import urlencode

from ingest.collections.fields import kind_of, several, size, span, statement, text, year
from ingest.collections.iiif_image import within
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

API = "https://api.smk.dk/api/v1"
PAGE = 200


class Smk:
    """Statens Museum for Kunst."""

    name = "smk"
    title = "Statens Museum for Kunst"
    asked_of = ""
    manners = Manners(
        pace=1.0,
        says="no rate is stated; one request a second is asked, as of a museum that states one",
        rights="`rights`, the address of a statement, and `public_domain` beside it",
        maps="`titles` (the English one first), `production[0]` (`creator`, `creator_nationality`, "
        "`creator_date_of_birth`, `creator_date_of_death`), `production_date[0]` (`period`, `start`, `end`), "
        "`techniques`, `object_number` (accession number), `object_names` (kind), `image_iiif_id`, "
        "`image_width`, `image_height`, `frontend_url`",
        docs=("https://api.smk.dk/api/v1/docs/", "https://www.smk.dk/en/article/smk-api/"),
    )

    def __init__(self, api: str = API) -> None:
        self._api = api

    def listing(self, ask: Asks, wanted: Wanted, cursor: str) -> Listing:
        """A page of all objects with a picture."""
        offset = int(cursor or 0)
        asked = urlencode(
            {"keys": wanted.query or "*", "filters": "[has_image:true]", "offset": offset, "rows": PAGE, "lang": "en"}
        )
        answer = ask.json(f"{self._api}/art/search/?{asked}")
        try:
            total = int(answer["found"])
            items = [(str(item["object_number"]), item) for item in answer["items"]]
        except (KeyError, TypeError, ValueError) as error:
            message = f"The answer of Statens Museum for Kunst has not the form that is documented ({error!r})."
            raise CollectionProblem(message) from error
        counted: Counter[tuple[str, str]] = Counter()
        entries = []
        for key, item in items:
            if _kind(item) in wanted.kinds:
                entries.append(Entry(key, item))
            else:
                counted[KIND, "another kind of work"] += 1
        more = bool(items) and offset + len(items) < total
        return Listing(tuple(entries), str(offset + len(items)) if more else "", total, counted=counted)

    def work(self, ask: Asks, wanted: Wanted, entry: Entry) -> Work | LeftOut:
        """The record is in the list already."""
        return read(entry.held, wanted)


def read(item: dict[str, Any], wanted: Wanted) -> Work | LeftOut:
    """One object as published."""
    key = text(item.get("object_number"))
    title = _title(item)
    if _kind(item) not in wanted.kinds:
        return LeftOut(key, KIND, f"it is of the type “{_types(item) or 'not stated'}”", title)
    made = _first(item.get("production"))
    dated = _first(item.get("production_date"))
    period = text(dated.get("period"))
    lived = [year(made.get(f"creator_date_of_{end}")) for end in ("birth", "death")]
    image = text(item.get("image_iiif_id"))
    shape = size(item.get("image_width"), item.get("image_height"))
    rights = statement(item.get("rights"))
    return admit(
        "smk",
        key,
        # The statement alone does not do: the flag says that it is meant of the work.
        rights=rights if item.get("public_domain") is True else "In Copyright",
        rights_basis="the museum's record states this address and public_domain is true",
        pictures=within(image, wanted.side, shape) if image else (),
        received=item,
        shape=shape,
        title=title,
        artist=_artist(item, made),
        artist_dates="–".join("" if end is None else str(end) for end in lived) if any(lived) else "",
        date=period,
        **span(dated.get("start"), dated.get("end"), period),
        medium=text(item.get("techniques")) or text(item.get("medium")),
        culture=text(made.get("creator_nationality")),
        subject=several(item.get("content_subject") or ()),
        collection=Smk.title,
        accession_number=key,
        object_url=text(item.get("frontend_url")) or f"https://open.smk.dk/artwork/image/{key}",
        credit_line=text(item.get("credit_line")),
        obtained_from=f"{Smk.title}, {API}",
    )


def _first(values: Any) -> dict[str, Any]:
    return values[0] if isinstance(values, list) and values and isinstance(values[0], dict) else {}


def _types(item: dict[str, Any]) -> str:
    return text([name.get("name") for name in item.get("object_names") or () if isinstance(name, dict)])


def _kind(item: dict[str, Any]) -> str:
    return kind_of(_types(item))


def _title(item: dict[str, Any]) -> str:
    titles = [title for title in item.get("titles") or () if isinstance(title, dict) and text(title.get("title"))]
    english = [title for title in titles if text(title.get("language")).lower()[:3] == "eng"]
    return text((english or titles or [{}])[0].get("title"))


def _artist(item: dict[str, Any], made: dict[str, Any]) -> str:
    """The name as it is read out: 'Hammershøi, Vilhelm' is given turned round."""
    parts = [text(made.get("creator_forename")), text(made.get("creator_surname"))]
    if all(parts):
        return " ".join(parts)
    family, comma, given = text(made.get("creator")).partition(", ")
    return f"{given} {family}" if comma else family or text(item.get("artist"))
