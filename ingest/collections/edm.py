"""Records of the Europeana Data Model, as OAI-PMH hands them out in pages.

Documentation: https://www.openarchives.org/OAI/openarchivesprotocol.html (OAI-PMH 2.0: ``ListRecords``,
``resumptionToken``, errors) and https://pro.europeana.eu/page/edm-documentation (EDM: what is told of the thing
stands in ``edm:ProvidedCHO``, what is told of its picture in ``ore:Aggregation``; people, places and concepts stand
beside them and are referred to by address).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from xml.etree import ElementTree

from ingest.collections.fields import text

_SPACES = {
    "oai": "http://www.openarchives.org/OAI/2.0/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "dcterms": "http://purl.org/dc/terms/",
    "edm": "http://www.europeana.eu/schemas/edm/",
    "ore": "http://www.openarchives.org/ore/terms/",
    "skos": "http://www.w3.org/2004/02/skos/core#",
    "life": "http://rdvocab.info/ElementsGr2/",
}
_RESOURCE, _ABOUT = f"{{{_SPACES['rdf']}}}resource", f"{{{_SPACES['rdf']}}}about"
_LANGUAGE = "{http://www.w3.org/XML/1998/namespace}lang"

Element = ElementTree.Element


@dataclass(frozen=True)
class Page:
    """A page of records: each as `_read` gives it, the token of the next page ('' after the last), how many there are
    in all, and the code of an error ('' without)."""

    records: tuple[dict[str, Any], ...]
    token: str
    total: int | None
    error: str


def read_page(answer: str) -> Page:
    """The page in an answer to ``ListRecords``.  Raises ValueError when it is none."""
    try:
        root = ElementTree.fromstring(answer)
    except ElementTree.ParseError as problem:
        message = f"it is no XML ({problem})"
        raise ValueError(message) from problem
    if root.tag != f"{{{_SPACES['oai']}}}OAI-PMH":
        message = "it is no answer of OAI-PMH"
        raise ValueError(message)
    error = root.find("oai:error", _SPACES)
    token = root.find(".//oai:resumptionToken", _SPACES)
    total = "" if token is None else token.get("completeListSize", "")
    return Page(
        tuple(_records(root)),
        "" if token is None else (token.text or "").strip(),
        int(total) if total.isdigit() else None,
        "" if error is None else error.get("code", "unknown"),
    )


def _records(root: Element) -> Iterator[dict[str, Any]]:
    for record in root.iterfind("oai:ListRecords/oai:record", _SPACES):
        header, graph = record.find("oai:header", _SPACES), record.find("oai:metadata/rdf:RDF", _SPACES)
        if header is None or graph is None or header.get("status") == "deleted":
            continue
        yield {
            "identifier": (header.findtext("oai:identifier", "", _SPACES)).strip(),
            "xml": ElementTree.tostring(record, encoding="unicode"),
            **_read(graph),
        }


def _read(graph: Element) -> dict[str, Any]:
    """What a record says, by short names; of several languages the English, else what has none, else the first."""
    thing, picture = graph.find("edm:ProvidedCHO", _SPACES), graph.find("ore:Aggregation", _SPACES)
    if thing is None or picture is None:
        return {}
    known = {each.get(_ABOUT): each for each in graph if each.get(_ABOUT)}

    def said(name: str) -> list[str]:
        """The values of a property of the thing: names of what it refers to, or its words in the best language."""
        named = [known.get(each.get(_RESOURCE, "")) for each in thing.iterfind(name, _SPACES)]
        labels = [_best(each.findall("skos:prefLabel", _SPACES)) for each in named if each is not None]
        words = _best([each for each in thing.iterfind(name, _SPACES) if not each.get(_RESOURCE)])
        return [label for label in labels if label] + ([words] if words else [])

    maker = next((known.get(each.get(_RESOURCE, "")) for each in thing.iterfind("dc:creator", _SPACES)), None)
    return {
        "title": text(said("dc:title")[:1]),
        "number": text(said("dc:identifier")[:1]),
        "created": text(said("dcterms:created")[:1]),
        "creator": text(said("dc:creator")[:1]),
        "born": "" if maker is None else text(maker.findtext("life:dateOfBirth", "", _SPACES)),
        "died": "" if maker is None else text(maker.findtext("life:dateOfDeath", "", _SPACES)),
        "types": said("dc:type"),
        "medium": text(said("dcterms:medium") or said("dc:format")),
        "subjects": said("dc:subject"),
        "rights": _resource(picture, "edm:rights"),
        "picture": _resource(picture, "edm:isShownBy"),
    }


def _resource(element: Element, name: str) -> str:
    found = element.find(name, _SPACES)
    return "" if found is None else found.get(_RESOURCE, "").strip() or (found.text or "").strip()


def _best(values: list[Element]) -> str:
    spoken = [value for value in values if text(value.text)]
    order = {"en": 0, None: 1}
    return text(min(spoken, key=lambda value: order.get(value.get(_LANGUAGE), 2)).text) if spoken else ""
