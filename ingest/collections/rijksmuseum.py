"""Rijksmuseum, Amsterdam: its data services, as a harvest of the whole or as a search.

The whole of the paintings is harvested by OAI-PMH in EDM, fifty records a page, as the museum wishes
(https://data.rijksmuseum.nl/docs/oai-pmh/).  A search, and other kinds of work, go by Linked Art:
https://data.rijksmuseum.nl/docs/search (``/search/collection`` with ``type``, ``imageAvailable``,
``title``, ``creator`` and others; pages of 100 by ``next``) and https://data.rijksmuseum.nl/docs/http/ (records at
``https://data.rijksmuseum.nl/<number>`` by content negotiation); the model is https://linked.art/model/.  A work is
three records: the object, what it shows (a VisualItem, where the rights of the picture stand) and the digital object
with the address of the picture, IIIF Image at iiif.micr.io.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit

from ingest.collections.edm import read_page
from ingest.collections.fields import dicts, kind_of, several, span, statement, text, year
from ingest.collections.iiif_image import within
from ingest.collections.source import (
    KIND,
    KINDS,
    NO_PICTURE,
    NOT_USABLE,
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

API = "https://data.rijksmuseum.nl"

PAINTINGS = "261208"
"""The set of the museum's paintings ('schilderijen') in its OAI-PMH."""

SEARCHES = ("title", "objectNumber", "creator", "creationDate", "description", "technique", "material")
"""What a query may name, as in ``creator=Judith Leyster``; one without a name is looked for in the titles."""

_TYPES = {"paintings": "painting", "drawings": "drawing", "prints": "print"}
_LINKED_ART = "application/ld+json"
_HARVEST = "@"
"""Before the token of a page of the harvest, in a cursor."""

_ENGLISH, _DUTCH = "http://vocab.getty.edu/aat/300388277", "http://vocab.getty.edu/aat/300388256"
_SERVICE = re.compile(r"(?P<service>https?://.+)/full/[^/]+/0/(?:default|native|color)\.\w+$")


class Rijksmuseum:
    """The Rijksmuseum."""

    name = "rijksmuseum"
    title = "Rijksmuseum"
    asked_of = ""
    manners = Manners(
        pace=1.0,
        says="no rate is stated; one request a second is asked; all paintings come by OAI-PMH, as the museum wishes, "
        "fifty records a request; a search takes three requests for each record",
        rights="`edm:rights`, and in Linked Art `subject_to[].classified_as[].id` of the VisualItem: the address of a "
        "statement (https://www.rijksmuseum.nl/en/research/conduct-research/data/policy)",
        maps="in EDM `dc:title`, `dc:creator` (with `dateOfBirth`, `dateOfDeath`), `dcterms:created`, "
        "`dcterms:medium`, `dc:subject`, `dc:identifier` (accession number), `dc:type` (kind), `edm:isShownBy`; in "
        "Linked Art `identified_by` (names, the English first, and the object number), `produced_by` (`timespan`, "
        "`carried_out_by`, `referred_to_by`), `made_of` and statements of materials, `digitally_shown_by`, "
        "`access_point`",
        docs=(
            "https://data.rijksmuseum.nl/docs/oai-pmh/",
            "https://pro.europeana.eu/page/edm-documentation",
            "https://data.rijksmuseum.nl/docs/search",
            "https://data.rijksmuseum.nl/docs/http/",
            "https://linked.art/model/",
        ),
    )

    def __init__(self, api: str = API) -> None:
        self._api = api

    def listing(self, ask: Asks, wanted: Wanted, cursor: str) -> Listing:
        """A page of the harvest, or of the search of one kind after the other."""
        if not wanted.query and wanted.kinds == {"paintings"}:
            page = self._harvest(ask, cursor.removeprefix(_HARVEST)) if cursor[:1] in ("", _HARVEST) else None
            if page is not None:
                return page
        kinds = [kind for kind in KINDS if kind in wanted.kinds]
        number, _, token = (cursor or "0").partition(" ")
        asked = {"type": _TYPES[kinds[int(number)]], "imageAvailable": "true"}
        if wanted.query:
            name, named, value = wanted.query.partition("=")
            asked |= {name: value} if named and name in SEARCHES else {"title": wanted.query}
        if token:
            asked["pageToken"] = token
        answer = ask.json(f"{self._api}/search/collection?{urlencode(asked)}", accept=_LINKED_ART)
        try:
            entries = tuple(Entry(_number(item["id"])) for item in answer.get("orderedItems") or ())
            total = answer.get("partOf", {}).get("totalItems")
            following = dict(parse_qsl(urlsplit((answer.get("next") or {}).get("id") or "").query)).get("pageToken", "")
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            message = f"The Rijksmuseum's answer has not the form that its documentation gives ({error!r})."
            raise CollectionProblem(message) from error
        if following and entries:
            after = f"{number} {following}"
        else:
            after = str(int(number) + 1) if int(number) + 1 < len(kinds) else ""
        return Listing(entries, after, total if isinstance(total, int) and len(kinds) == 1 else None)

    def work(self, ask: Asks, wanted: Wanted, entry: Entry) -> Work | LeftOut:
        """The harvested record, or the three records of one object."""
        if entry.held is not None:
            return read_harvested(entry.key, entry.held, wanted)
        thing = self._record(ask, entry.key)
        title = _content(thing.get("identified_by"), "Name")
        shown = next(iter(dicts(thing.get("shows"))), None)
        if shown is None:
            return LeftOut(entry.key, NO_PICTURE, "its record names nothing that it shows", title)
        item = self._record(ask, _number(shown.get("id")))
        digital = next(iter(dicts(item.get("digitally_shown_by"))), None)
        if digital is None:
            return LeftOut(entry.key, NO_PICTURE, "its record names no picture", title)
        if "access_point" not in digital:
            digital = self._record(ask, _number(digital.get("id")))
        return read(entry.key, {"object": thing, "visual_item": item, "digital_object": digital}, wanted)

    def _harvest(self, ask: Asks, token: str) -> Listing | None:
        """A page of all paintings; None where the museum does not hand them out so (any more)."""
        asked = {"verb": "ListRecords"}
        asked |= {"resumptionToken": token} if token else {"metadataPrefix": "edm", "set": PAINTINGS}
        try:
            page = read_page(ask.text(f"{self._api}/oai?{urlencode(asked)}", accept="text/xml"))
            entries = tuple(Entry(_number(record["identifier"]), record) for record in page.records)
        except ValueError as problem:
            message = f"The Rijksmuseum's OAI-PMH answers otherwise than the protocol has it: {problem}."
            raise CollectionProblem(message) from problem
        if page.error and not token:
            return None
        if page.error:
            message = f"The Rijksmuseum's OAI-PMH says {page.error}; give the command with --again to begin anew."
            raise CollectionProblem(message)
        return Listing(entries, f"{_HARVEST}{page.token}" if page.token else "", page.total)

    def _record(self, ask: Asks, number: str) -> dict[str, Any]:
        record = ask.json(f"{self._api}/{number}", accept=_LINKED_ART)
        return record if isinstance(record, dict) else {}


def read(key: str, records: dict[str, Any], wanted: Wanted) -> Work | LeftOut:
    """The three records of a work; the kind is that of the list, since types are given by number alone."""
    thing, item, digital = records["object"], records["visual_item"], records["digital_object"]
    title = _content(thing.get("identified_by"), "Name")
    made = thing.get("produced_by") or {}
    if not isinstance(made, dict):
        return LeftOut(key, NOT_USABLE, "its record says of its making what it should not", title)
    stated = made.get("timespan")
    time = next(iter(dicts(stated if isinstance(stated, list) else [stated])), {})
    date = _content(time.get("identified_by"), "Name")
    access = digital.get("access_point")
    address = text(next(iter(dicts(access if isinstance(access, list) else [access])), {}).get("id"))
    return admit(
        "rijksmuseum",
        key,
        rights=next(_rights(item), ""),
        rights_basis="stated of the picture in the museum's record",
        pictures=_pictures(address, wanted.side),
        received=records,
        title=title,
        artist=_artist(made),
        date=date,
        **span(time.get("begin_of_the_begin"), time.get("end_of_the_end"), date),
        medium=_statement(thing, "300435429") or _labels(thing.get("made_of")),
        collection=Rijksmuseum.title,
        accession_number=_content(thing.get("identified_by"), "Identifier"),
        object_url=f"https://id.rijksmuseum.nl/{key}",
        credit_line=_statement(thing, "300026687"),
        obtained_from=f"{Rijksmuseum.title}, {API}",
    )


def read_harvested(key: str, held: dict[str, Any], wanted: Wanted) -> Work | LeftOut:
    """One record of the harvest, as `ingest.collections.edm` reads it."""
    title, types = held.get("title", ""), held.get("types") or []
    # Types are given by number; only where they are named as well can they tell another kind.
    if types and kind_of(*types) not in wanted.kinds:
        return LeftOut(key, KIND, f"it is of the type “{types[0]}”", title)
    lived = [year(held.get(end)) for end in ("born", "died")]
    date = held.get("created", "")
    return admit(
        "rijksmuseum",
        key,
        rights=statement(held.get("rights")),
        rights_basis="stated of the picture in the museum's record",
        pictures=_pictures(held.get("picture", ""), wanted.side),
        received=held,
        title=title,
        artist=held.get("creator", ""),
        artist_dates="–".join("" if end is None else str(end) for end in lived) if any(lived) else "",
        date=date,
        **span(None, None, date),
        medium=held.get("medium", ""),
        subject=several(held.get("subjects") or ()),
        collection=Rijksmuseum.title,
        accession_number=held.get("number", ""),
        object_url=f"https://id.rijksmuseum.nl/{key}",
        obtained_from=f"{Rijksmuseum.title}, {API}",
    )


def _pictures(address: str, side: int) -> tuple[str, ...]:
    """Addresses of a picture of a size: by IIIF where its address is of that form."""
    match = _SERVICE.match(address)
    return within(match["service"], side) if match else (address,) if address else ()


def _number(address: Any) -> str:
    number = str(address).rstrip("/").rsplit("/", 1)[-1]
    if not number.isdigit():
        message = f"'{str(address)[:80]}' is no number of a record"
        raise ValueError(message)
    return number


def _content(values: Any, kind: str) -> str:
    """The content of a Name, Identifier or statement: in English, else in no language, else in any."""
    found = [value for value in dicts(values) if value.get("type") == kind and text(value.get("content"))]
    return text(min(found, key=_foreign).get("content")) if found else ""


def _foreign(value: dict[str, Any]) -> int:
    languages = {language.get("id") for language in dicts(value.get("language"))}
    return 0 if _ENGLISH in languages else 1 if not languages else 2 if _DUTCH in languages else 3


def _statement(thing: dict[str, Any], concept: str) -> str:
    """A statement about the object, classified by a number of the Art & Architecture Thesaurus."""
    about = [
        each
        for each in dicts(thing.get("referred_to_by"))
        if any(str(kind.get("id")).endswith(concept) for kind in dicts(each.get("classified_as")))
    ]
    return _content(about, "LinguisticObject")


def _labels(values: Any) -> str:
    return text([_notation(value) or text(value.get("_label")) for value in dicts(values)])


def _notation(value: dict[str, Any]) -> str:
    notes = [note for note in dicts(value.get("notation")) if text(note.get("@value"))]
    return text(min(notes, key=lambda note: note.get("@language") != "en")["@value"]) if notes else ""


def _artist(made: dict[str, Any]) -> str:
    for part in (made, *dicts(made.get("part"))):
        for person in dicts(part.get("carried_out_by")):
            if name := _notation(person) or text(person.get("_label")):
                return name
    said = _content([*dicts(made.get("referred_to_by"))], "LinguisticObject")
    return re.sub(r"^(?:painter|schilder|artist|maker)s?:\s*", "", said, flags=re.I)


def _rights(item: dict[str, Any]) -> Iterator[str]:
    for right in dicts(item.get("subject_to")):
        for kind in dicts(right.get("classified_as")):
            if statement(kind.get("id")):
                yield statement(kind["id"])
