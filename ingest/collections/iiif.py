"""Any IIIF manifest or collection: one work of each manifest, its first picture.

Documentation: https://iiif.io/api/presentation/3.0/ and https://iiif.io/api/presentation/2.1/ for manifests and
collections, https://iiif.io/api/image/3.0/ and https://iiif.io/api/image/2.1/ for pictures.  The rights are those of
``rights`` (version 3) or ``license`` (version 2), or a label of the metadata that holds the address of a statement.
What a manifest says of a work stands in its metadata under labels that everybody chooses; `LABELS` are those known.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from ingest.collections.fields import dicts, kind_of, span, text
from ingest.collections.fields import size as pixels
from ingest.collections.iiif_image import from_information, level, within
from ingest.collections.source import (
    KIND,
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
from ingest.rights import read_rights

LABELS = {
    "artist": "artist|artists|creator|creators|maker|painter|author|artist/maker|kunstner|künstler|"
    "kunstenaar|vervaardiger|artiste|auteur|autore|artista",
    "artist_dates": "artist dates|artist life dates|life dates",
    "date": "date|dates|dated|date created|creation date|date of creation|datering|datierung|data|fecha",
    "medium": "medium|technique|materials|material|materials and techniques|technik|techniek|teknik",
    "culture": "culture|nationality|school",
    "country": "country|place of origin|origin|place made|made in",
    "subject": "subject|subjects|depicts",
    "accession_number": "accession number|accession|accession no|object number|inventory number|inventory no|inv no|"
    "identifier|shelfmark|inventarnummer|inventaris nummer",
    "credit_line": "credit line|credit|creditline",
    "collection": "collection|repository|institution|museum|holding institution|owner|provider",
    "kind": "type|object type|work type|classification|genre|object name|category|objecttype",
    "rights": "rights|license|licence|rights statement|rights status|copyright|image rights",
}
"""The labels, in small letters, that stand for each of our fields."""

_FIELD = {label: field for field, labels in LABELS.items() for label in labels.split("|")}
_PAGE_KEYS = ("items", "manifests", "collections", "members")


class Iiif:
    """A manifest or collection at an address that a person gives."""

    name = "iiif"
    title = "IIIF"
    manners = Manners(
        pace=1.0,
        says="whatever the institution states; one request a second is asked, fewer with `--pace`",
        rights="`rights` (version 3), `license` (version 2), or a metadata label such as Rights with an address",
        maps="`label` (title), `metadata` by label, `homepage` or `related`, `provider`, the first canvas's picture",
        docs=(
            "https://iiif.io/api/presentation/3.0/",
            "https://iiif.io/api/presentation/2.1/",
            "https://iiif.io/api/image/3.0/",
            "https://iiif.io/api/image/2.1/",
        ),
    )

    def __init__(self, address: str) -> None:
        self._address = self.asked_of = address

    def listing(self, ask: Asks, wanted: Wanted, cursor: str) -> Listing:
        """The manifests of one collection document at a time; collections in collections follow one another.

        The cursor is the documents still to read, oldest first, parted by spaces.
        """
        waiting = cursor.split() if cursor else [self._address]
        here, *later = waiting
        document = ask.json(here, accept="application/ld+json, application/json")
        if not isinstance(document, dict) or "iiif.io/api/presentation" not in str(document.get("@context")):
            message = f"{here} is no IIIF manifest or collection of version 2 or 3."
            raise CollectionProblem(message)
        if _type(document) == "manifest":
            return Listing((Entry(_id(document) or here, {"manifest": document}),), " ".join(later))
        if _type(document) != "collection":
            message = f"{here} is neither a IIIF manifest nor a collection."
            raise CollectionProblem(message)
        entries: list[Entry] = []
        for item in (each for key in _PAGE_KEYS for each in dicts(document.get(key))):
            if _type(item) == "collection" and _id(item) and _id(item) not in waiting:
                later.append(_id(item))
            elif _type(item) == "manifest" and _id(item):
                entries.append(Entry(_id(item)))
        for following in (document.get("first"), document.get("next")):
            address = following if isinstance(following, str) else _id(following) if isinstance(following, dict) else ""
            if address and address not in waiting:
                later.insert(0, address)
        total = len(entries) if not later and here == self._address else None
        return Listing(tuple(entries), " ".join(later), total)

    def work(self, ask: Asks, wanted: Wanted, entry: Entry) -> Work | LeftOut:
        """The work of one manifest; its image information is asked for where the manifest does not tell enough."""
        manifest = (entry.held or {}).get("manifest") or ask.json(entry.key, accept="application/ld+json")
        if not isinstance(manifest, dict) or _type(manifest) != "manifest":
            return LeftOut(entry.key, NOT_USABLE, "there is no IIIF manifest at its address")
        found = read(entry.key, manifest, wanted)
        if isinstance(found, LeftOut):
            return found
        service = image_of(manifest).get("service")
        if service is None or (level(service) == 2 and found.shape is not None):
            return found
        try:
            sized = from_information(ask.json(f"{_id(service).rstrip('/')}/info.json"), wanted.side)
        except ValueError as problem:
            return LeftOut(entry.key, NO_PICTURE, str(problem), found.record.title)
        return Work(found.key, found.record, sized, found.received, found.shape)


def read(key: str, manifest: dict[str, Any], wanted: Wanted) -> Work | LeftOut:
    """A work from a manifest alone."""
    said = metadata(manifest)
    title = words(manifest.get("label"))
    kind = kind_of(said.get("kind"))
    # A manifest that states no type was named by a person who wants it.
    if said.get("kind") and kind not in wanted.kinds:
        return LeftOut(key, KIND, f"it is of the type “{said['kind']}”", title)
    image = image_of(manifest)
    service, shape = image.get("service"), pixels(image.get("width"), image.get("height"))
    if service is not None:
        version = 3 if "3" in str(service.get("type") or service.get("@context") or "")[-40:] else 2
        pictures = within(_id(service), wanted.side, shape, version=version)
    else:
        pictures = (image["id"],) if image.get("id") else ()
    rights = _rights(manifest, said)
    provider = words(next(iter(dicts(manifest.get("provider"))), {}).get("label"))
    date = said.get("date", "")
    return admit(
        "iiif",
        key,
        rights=rights,
        rights_basis="stated in its IIIF manifest",
        pictures=pictures,
        received=manifest,
        shape=shape,
        title=title,
        artist=said.get("artist", ""),
        artist_dates=said.get("artist_dates", ""),
        date=date,
        **span(None, None, date),
        medium=said.get("medium", ""),
        culture=said.get("culture", ""),
        country=said.get("country", ""),
        subject=said.get("subject", ""),
        collection=provider or said.get("collection", ""),
        accession_number=said.get("accession_number", ""),
        object_url=_homepage(manifest) or key,
        credit_line=said.get("credit_line", ""),
        obtained_from=key,
    )


def metadata(manifest: dict[str, Any]) -> dict[str, str]:
    """What the metadata of a manifest say, by our fields; the first of several labels for one field counts."""
    said: dict[str, str] = {}
    for pair in dicts(manifest.get("metadata")):
        field = _FIELD.get(words(pair.get("label")).strip(" :.").casefold())
        value = words(pair.get("value"), parted="; " if field == "subject" else ", ")
        if field and value:
            said.setdefault(field, value)
    return said


def words(value: Any, parted: str = ", ") -> str:
    """A label or value of either version without markup: English, else of no language, else the first there is."""
    if isinstance(value, dict) and "@value" not in value:
        chosen = next((value[key] for key in ("en", "en-GB", "en-US", "none", "@none") if key in value), None)
        return words(chosen if chosen is not None else next(iter(value.values()), ""), parted)
    if isinstance(value, dict):
        return words(value["@value"], parted)
    if isinstance(value, list):
        tagged = [each for each in value if isinstance(each, dict) and str(each.get("@language", ""))[:2] == "en"]
        return parted.join(part for part in (words(each, parted) for each in tagged or value) if part)
    return text(re.sub(r"<[^>]*>", "", str(value))) if value is not None else ""


def image_of(manifest: dict[str, Any]) -> dict[str, Any]:
    """The picture painted on the first canvas: ``id``, ``width``, ``height`` and its Image API ``service``, if any."""
    for body in _bodies(manifest):
        services = body.get("service")
        listed = dicts(services) if isinstance(services, list) else dicts([services])
        service = next((each for each in listed if _is_image_service(each) and _id(each)), None)
        found = {"id": _id(body), "width": body.get("width"), "height": body.get("height"), "service": service}
        if found["id"] or service:
            return found
    return {}


def _bodies(manifest: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for canvas in dicts(manifest.get("items")):
        for page in dicts(canvas.get("items")):
            for annotation in dicts(page.get("items")):
                body = annotation.get("body")
                for each in dicts(body if isinstance(body, list) else [body]):
                    yield from dicts(each.get("items")) if each.get("type") == "Choice" else [each]
    for sequence in dicts(manifest.get("sequences"))[:1]:
        for canvas in dicts(sequence.get("canvases")):
            for image in dicts(canvas.get("images")):
                resource = image.get("resource")
                for each in dicts([resource]):
                    yield each.get("default", each) if each.get("@type") == "oa:Choice" else each


def _is_image_service(service: dict[str, Any]) -> bool:
    stated = " ".join(str(service.get(key)) for key in ("@context", "context", "type", "@type", "profile", "protocol"))
    return "ImageService" in stated or "iiif.io/api/image" in stated or "iiif/image-api" in stated


def _rights(manifest: dict[str, Any], said: dict[str, str]) -> str:
    for stated in (manifest.get("rights"), manifest.get("license"), said.get("rights")):
        for each in stated if isinstance(stated, list) else [stated]:
            if isinstance(each, str) and each.strip():
                address = re.search(r"https?://[^\s,;]+", each)
                return address[0] if address and read_rights(address[0]).uri else each
    return ""


def _homepage(manifest: dict[str, Any]) -> str:
    for key in ("homepage", "related"):
        value = manifest.get(key)
        for each in value if isinstance(value, list) else [value]:
            address = each if isinstance(each, str) else _id(each) if isinstance(each, dict) else ""
            if address.startswith("http"):
                return address
    return ""


def _type(document: dict[str, Any]) -> str:
    return str(document.get("type") or document.get("@type") or "").rsplit(":", 1)[-1].lower()


def _id(document: dict[str, Any]) -> str:
    return text(document.get("id") or document.get("@id"))
