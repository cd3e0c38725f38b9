"""The mappers: small made-up records in each museum's published shape, and how each museum's list is turned over.

Shapes and field names are those of the documentation that each module names; works and people are made up.
"""

from __future__ import annotations

import csv
import dataclasses
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from museum_server import Answer, Asked, FakeTime, Museum, js, museum, picture

from ingest.collections import MUSEUMS, aic, cleveland, collection, met, nga, rijksmuseum, smk
from ingest.collections import museum as museum_named
from ingest.collections.fields import kind_of, mentions, name_and_bio, size, span, text, year, years
from ingest.collections.source import KINDS, Collection, CollectionProblem, LeftOut, Wanted, Work
from ingest.gather import Gathered, gather
from ingest.gather_web import Web
from ingest.provenance import read_records

CC0 = "https://creativecommons.org/publicdomain/zero/1.0/"
PDM = "https://creativecommons.org/publicdomain/mark/1.0/"
ALL = Wanted(kinds=frozenset(KINDS))


@pytest.fixture
def house() -> Iterator[Museum]:
    with museum() as made:
        yield made


def bring(found: Collection, house: Museum, folder: Path, wanted: Wanted | None = None, **more: Any) -> Gathered:
    time = FakeTime()
    with Web(pace=1.0, named=[house.address], timeout=2.0, sleep=time.sleep, clock=time.clock) as web:
        return gather(found, folder, wanted or Wanted(), web, **more)


def admitted(found: Work | LeftOut) -> Work:
    assert isinstance(found, Work), found
    return found


def left_out(found: Work | LeftOut) -> LeftOut:
    assert isinstance(found, LeftOut), found
    return found


# -- fields ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("1889", (1889, 1889)), ("c. 1550–1650", (1550, 1650)), ("1889/90", (1889, 1890)), ("June 1889", (1889, 1889)),
        ("1912–32", (1912, 1932)), ("1880s", (1880, 1889)), ("1800s", (1800, 1899)), ("after 1833", (1833, 1833)),
        # The nth century ends with the year n x 100, as historians count (common practice).
        ("17th century", (1601, 1700)), ("late 14th century", (1367, 1400)), ("15th–16th century", (1401, 1600)),
        ("n.d.", (None, None)), ("", (None, None)),
    ],
)  # fmt: skip
def test_dates_in_words(words: str, expected: tuple[int | None, int | None]) -> None:
    assert years(words) == expected


def test_years_and_spans_as_published() -> None:
    assert [year(value) for value in (1889, "1889", "1889.0", "1889-01-01T00:00:00Z", "-450", 0, "", None, True)] == [
        1889, 1889, 1889, 1889, -450, None, None, None, None,
    ]  # fmt: skip
    assert span(1550, 1650) == {"begin_year": 1550, "end_year": 1650}
    assert span(1550, None) == {"begin_year": 1550, "end_year": 1550}
    # What is out of order is not believed; the words may say it.
    assert span(1890, 1880, "1885") == {"begin_year": 1885, "end_year": 1885}
    assert span(None, None, "undated") == {"begin_year": None, "end_year": None}


def test_kinds_names_sizes_and_words() -> None:
    kinds = ("Painting", " Paintings", "Maleri", "schilderij", "Drawing and Watercolor", "Print", "Sculpture", "")
    assert [kind_of(word) for word in kinds] == [
        "paintings", "paintings", "paintings", "paintings", "drawings", "prints", "", "",
    ]  # fmt: skip
    assert kind_of("Glass-Painted") == ""
    assert kind_of("", "Painting") == "paintings"
    assert name_and_bio("Ada Painter (French, 1820–1890)") == ("Ada Painter", "French, 1820–1890")
    assert name_and_bio("Unknown") == ("Unknown", "")
    assert size("1263", 830.0) == (1263, 830)
    assert size(None, 3) is None
    assert size(0, 3) is None
    assert text(["Oil", None, " on\n canvas "]) == "Oil, on, canvas"
    assert mentions("ada HARBOUR", "Ada Painter", ["the harbour"])
    assert not mentions("ada river", "Ada Painter")


# -- Art Institute of Chicago ------------------------------------------------------------------------------------


def test_chicago_reads_its_dump_and_counts_other_kinds(tmp_path: Path) -> None:
    folder = tmp_path / "json" / "artworks"
    folder.mkdir(parents=True)
    for number, kind in enumerate(("Painting", "Print", "Painting", "Textile"), 1):
        item = {"id": number, "title": f"Work {number}", "artwork_type_title": kind, "image_id": "i", "extra": 1}
        (folder / f"{number}.json").write_text(json.dumps(item))
    (folder / "broken.json").write_text("{")
    listing = aic.ArtInstitute().listing(None, Wanted(held=tmp_path), "")  # type: ignore[arg-type]
    assert [entry.key for entry in listing.entries] == ["1", "3"]
    assert dict(listing.counted) == {("kind", "another kind of work"): 2}
    assert "extra" not in listing.entries[0].held["item"]
    with pytest.raises(CollectionProblem, match="no records of artworks"):
        aic.ArtInstitute().listing(None, Wanted(held=tmp_path / "json"), "")  # type: ignore[arg-type]


# -- The Met -----------------------------------------------------------------------------------------------------


def met_object(number: int, **more: Any) -> dict[str, Any]:
    return {
        "objectID": number, "isPublicDomain": True, "title": f"View {number}", "classification": "Paintings",
        "objectName": "Painting", "artistPrefix": "", "artistDisplayName": "Bea Painter", "artistSuffix": "",
        "artistDisplayBio": "Dutch, Delft 1630–1681 Amsterdam", "artistNationality": "Dutch", "culture": "",
        "objectDate": "ca. 1660", "objectBeginDate": 1657, "objectEndDate": 1662, "medium": "Oil on wood",
        "country": "", "accessionNumber": f"32.{number}", "creditLine": "Bequest, 1932", "tags": [{"term": "Rivers"}],
        "primaryImage": f"/original/{number}.jpg", "primaryImageSmall": f"/web-large/{number}.jpg",
        "objectURL": f"https://www.metmuseum.org/art/collection/search/{number}",
    } | more  # fmt: skip


def test_the_met_becomes_a_source_record() -> None:
    work = admitted(met.read(met_object(7), Wanted()))
    assert dataclasses.asdict(work.record) == {
        "work": "met-7", "file": "", "title": "View 7", "artist": "Bea Painter",
        "artist_dates": "Dutch, Delft 1630–1681 Amsterdam", "date": "ca. 1660", "begin_year": 1657, "end_year": 1662,
        "medium": "Oil on wood", "culture": "Dutch", "country": "", "subject": "Rivers",
        "collection": "The Metropolitan Museum of Art", "accession_number": "32.7",
        "object_url": "https://www.metmuseum.org/art/collection/search/7", "rights": CC0,
        "rights_basis": "isPublicDomain is true in the museum's record; the museum gives pictures of such works "
        "under CC0",
        "credit_line": "Bequest, 1932",
        "obtained_from": "The Metropolitan Museum of Art, https://collectionapi.metmuseum.org/public/collection",
        "sha256": "", "part": "",
    }  # fmt: skip
    assert work.pictures == ("/web-large/7.jpg", "/original/7.jpg")
    # The American Wing gives its paintings no classification.
    assert admitted(met.read(met_object(8, classification=""), Wanted())).key == "8"
    assert left_out(met.read(met_object(9, classification="Ceramics"), Wanted())).why == "kind"
    assert left_out(met.read(met_object(9, isPublicDomain=False), Wanted())).why == "rights"
    assert left_out(met.read(met_object(9, primaryImage="", primaryImageSmall=""), Wanted())).why == "no picture"


def test_the_met_is_searched_page_by_page_and_asked_for_each_object(
    house: Museum, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(met, "PAGE", 2)
    numbers = [11, 12, 13]

    def search(asked: Asked) -> Answer:
        offset, limit = int(asked.query["offset"]), int(asked.query["limit"])
        return js({"total": 3, "objectIDs": numbers[offset : offset + limit]})

    house.routes["/v1.1/search"] = search
    for number in numbers[:2]:
        small = f"{house.address}/web-large/{number}.jpg"
        house.routes[f"/v1/objects/{number}"] = js(met_object(number, primaryImageSmall=small, primaryImage=""))
        house.routes[f"/web-large/{number}.jpg"] = picture(seed=number)
    gathered = bring(met.TheMet(house.address), house, tmp_path, Wanted(query="rivers", kinds=frozenset(KINDS)))
    assert (gathered.came, gathered.complete) == (2, True)
    assert gathered.reasons == (("no picture", "there is nothing at its address (404)", 1),)
    assert house.asked[0].query == {
        "q": "rivers", "hasImages": "true", "medium": "Drawings|Paintings|Prints", "offset": "0", "limit": "2",
    }  # fmt: skip
    assert house.counts()["/v1.1/search"] == 2
    # Only so much is asked for as is needed: the small picture.
    assert house.pictures_asked() == ["/web-large/11.jpg", "/web-large/12.jpg"]
    received = json.loads((tmp_path / "received/met-11.json").read_text())
    assert received["objectID"] == 11


def test_the_mets_csv_says_what_need_not_be_asked_for(tmp_path: Path) -> None:
    columns = ("Object ID", "Is Public Domain", "Classification", "Object Name", "Title", "Artist Display Name", "Tags")
    rows = [
        ("1", "True", "Paintings", "Painting", "A river", "Bea", "Rivers"),
        ("2", "False", "Paintings", "Painting", "A river too", "Bea", ""),
        ("3", "True", "Ceramics", "Vase", "A vase", "", ""),
        ("4", "True", "", "Painting", "A road", "Bea", ""),
    ]
    with (tmp_path / "MetObjects.csv").open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream).writerows([columns, *rows])
    listing = met.read_csv(tmp_path, Wanted())
    assert [entry.key for entry in listing.entries] == ["1", "4"]
    assert [(left.key, left.why) for left in listing.left_out] == [("2", "rights")]
    assert sum(listing.counted.values()) == 1
    assert [entry.key for entry in met.read_csv(tmp_path, Wanted(query="river")).entries] == ["1"]
    (tmp_path / "MetObjects.csv").write_text("a,b\n")
    with pytest.raises(CollectionProblem, match="columns"):
        met.read_csv(tmp_path, Wanted())


# -- Cleveland ---------------------------------------------------------------------------------------------------


def cleveland_item(number: int, **more: Any) -> dict[str, Any]:
    return {
        "id": number, "accession_number": f"1953.{number}", "share_license_status": "CC0", "title": "A Head",
        "creation_date": "c. 1550–1650", "creation_date_earliest": 1550, "creation_date_latest": 1650,
        "culture": ["France, 16th century"], "technique": "oil on canvas", "type": "Painting", "copyright": None,
        "creditline": "A Fund", "url": f"https://clevelandart.org/art/1953.{number}",
        "creators": [{"description": "Cy Painter (French, 1540–1626)", "role": "artist"}],
        "images": {"web": {"url": f"/{number}_web.jpg", "width": "1263", "height": "830", "filesize": "7"}},
    } | more  # fmt: skip


def test_cleveland_becomes_a_source_record() -> None:
    work = admitted(cleveland.read(cleveland_item(4), Wanted()))
    record = work.record
    assert (record.artist, record.artist_dates, record.culture) == ("Cy Painter", "1540–1626", "France, 16th century")
    assert (record.country, record.begin_year, record.end_year) == ("France", 1550, 1650)
    assert (work.pictures, work.shape, record.rights) == (("/4_web.jpg",), (1263, 830), CC0)
    unsure = cleveland_item(4, culture=["Spain or Northern Italy, mid 16th century"], creators=[])
    assert admitted(cleveland.read(unsure, Wanted())).record.country == ""
    assert left_out(cleveland.read(cleveland_item(4, share_license_status="Copyrighted"), Wanted())).why == "rights"
    assert left_out(cleveland.read(cleveland_item(4, copyright="© A Painter"), Wanted())).why == "rights"
    assert left_out(cleveland.read(cleveland_item(4, type="Sculpture"), Wanted())).why == "kind"
    assert left_out(cleveland.read(cleveland_item(4, images={}), Wanted())).why == "no picture"


def test_cleveland_is_turned_over_kind_after_kind(
    house: Museum, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cleveland, "PAGE", 2)
    held = {"Painting": [1, 2, 3], "Print": [4]}

    def artworks(asked: Asked) -> Answer:
        numbers, skip = held[asked.query["type"]], int(asked.query["skip"])
        items = [
            cleveland_item(
                number, type=asked.query["type"],
                images={"web": {"url": f"{house.address}/{number}.jpg", "width": "640", "height": "480"}},
            )
            for number in numbers[skip : skip + int(asked.query["limit"])]
        ]  # fmt: skip
        return js({"info": {"total": len(numbers)}, "data": items})

    house.routes["/artworks/"] = artworks
    house.routes |= {f"/{number}.jpg": picture(seed=number) for number in range(1, 5)}
    wanted = Wanted(kinds=frozenset({"paintings", "prints"}))
    gathered = bring(cleveland.Cleveland(house.address), house, tmp_path, wanted)
    assert (gathered.came, gathered.complete) == (4, True)
    assert house.counts()["/artworks/"] == 3


def test_clevelands_file_is_read(tmp_path: Path) -> None:
    items = [cleveland_item(1), cleveland_item(2, type="Textile"), cleveland_item(3, title="A Boat")]
    (tmp_path / "data.json").write_text(json.dumps(items))
    listing = cleveland.Cleveland().listing(None, Wanted(held=tmp_path, query="boat"), "")  # type: ignore[arg-type]
    assert [entry.key for entry in listing.entries] == ["3"]
    assert sum(listing.counted.values()) == 1


# -- Statens Museum for Kunst ------------------------------------------------------------------------------------


def smk_item(number: int, **more: Any) -> dict[str, Any]:
    return {
        "id": f"{number}_object", "object_number": f"KMS{number}", "public_domain": True, "rights": PDM,
        "titles": [{"title": "En kat", "language": "dansk"}, {"title": "A Cat", "language": "engelsk"}],
        "production": [
            {"creator": "Maler, Dora", "creator_forename": "Dora", "creator_surname": "Maler",
             "creator_nationality": "Danish", "creator_date_of_birth": "1821-11-18T00:00:00.000Z",
             "creator_date_of_death": "1909-03-02T00:00:00.000Z"}
        ],
        "production_date": [
            {"period": "1870", "start": "1870-01-01T00:00:00.000Z", "end": "1870-12-31T00:00:00.000Z"}
        ],
        "techniques": ["Oil on canvas"], "object_names": [{"name": "painting"}],
        "image_iiif_id": f"https://iip.museum.example/iiif/jp2/{number}.tif.jp2", "image_width": 4800,
        "image_height": 6000,
    } | more  # fmt: skip


def test_copenhagen_becomes_a_source_record() -> None:
    work = admitted(smk.read(smk_item(5), Wanted()))
    record = work.record
    assert (record.title, record.artist, record.artist_dates) == ("A Cat", "Dora Maler", "1821–1909")
    assert (record.begin_year, record.end_year, record.culture, record.medium) == (
        1870,
        1870,
        "Danish",
        "Oil on canvas",
    )
    assert (record.work, record.accession_number, record.rights) == ("smk-kms5", "KMS5", PDM)
    assert work.pictures[0] == "https://iip.museum.example/iiif/jp2/5.tif.jp2/full/960,/0/default.jpg"
    turned = smk_item(5, production=[{"creator": "Maler, Dora"}], object_names=[{"name": "Maleri"}])
    assert admitted(smk.read(turned, Wanted())).record.artist == "Dora Maler"
    assert left_out(smk.read(smk_item(5, public_domain=False), Wanted())).why == "rights"
    assert left_out(smk.read(smk_item(5, rights="https://www.museum.example/terms"), Wanted())).why == "rights"
    assert left_out(smk.read(smk_item(5, image_iiif_id=None), Wanted())).why == "no picture"
    assert left_out(smk.read(smk_item(5, object_names=[{"name": "print"}]), Wanted())).why == "kind"


def test_copenhagen_is_turned_over_and_other_kinds_are_counted(
    house: Museum, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(smk, "PAGE", 2)
    items = [
        smk_item(number, image_iiif_id=f"{house.address}/{number}", image_width=320, image_height=240)
        for number in (1, 2, 3)
    ]
    items[1]["object_names"] = [{"name": "print"}]

    def search(asked: Asked) -> Answer:
        offset, count = int(asked.query["offset"]), int(asked.query["rows"])
        assert asked.query["filters"] == "[has_image:true]"
        return js({"offset": offset, "rows": count, "found": 3, "items": items[offset : offset + count]})

    house.routes["/art/search/"] = search
    for number in (1, 3):
        house.routes[f"/{number}/full/full/0/default.jpg"] = picture(seed=number)
    gathered = bring(smk.Smk(house.address), house, tmp_path)
    assert (gathered.came, gathered.reasons) == (2, (("kind", "another kind of work", 1),))


# -- Rijksmuseum -------------------------------------------------------------------------------------------------

ENGLISH = [{"id": "http://vocab.getty.edu/aat/300388277", "type": "Language"}]
DUTCH = [{"id": "http://vocab.getty.edu/aat/300388256", "type": "Language"}]


def rijks_records(number: int, base: str = "https://id.rijksmuseum.nl", rights: str = PDM) -> dict[str, Any]:
    return {
        "object": {
            "id": f"{base}/200{number}", "type": "HumanMadeObject",
            "identified_by": [
                {"type": "Identifier", "content": f"SK-A-{number}"},
                {"type": "Name", "content": "Rivierlandschap", "language": DUTCH},
                {"type": "Name", "content": "River Landscape", "language": ENGLISH},
            ],
            "produced_by": {
                "type": "Production",
                "timespan": {
                    "type": "TimeSpan", "begin_of_the_begin": "1642-01-01T00:00:00Z",
                    "end_of_the_end": "1645-12-31T23:59:59Z",
                    "identified_by": [{"type": "Name", "content": "1642 - 1645", "language": ENGLISH}],
                },
                "part": [
                    {"type": "Production", "carried_out_by": [
                        {"id": f"{base}/2101", "type": "Person",
                         "notation": [{"@language": "en", "@value": "Eva Schilder"}]}
                    ]}
                ],
            },
            "referred_to_by": [
                {"type": "LinguisticObject", "content": "Purchased in 1900", "language": ENGLISH,
                 "classified_as": [{"id": "http://vocab.getty.edu/aat/300026687"}]},
                {"type": "LinguisticObject", "content": "oil on panel", "language": ENGLISH,
                 "classified_as": [{"id": "http://vocab.getty.edu/aat/300435429"}]},
            ],
            "shows": [{"id": f"{base}/202{number}", "type": "VisualItem"}],
        },
        "visual_item": {
            "id": f"{base}/202{number}", "type": "VisualItem",
            "subject_to": [{"type": "Right", "classified_as": [{"id": rights, "type": "Type"}]}],
            "digitally_shown_by": [{"id": f"{base}/500{number}", "type": "DigitalObject"}],
        },
        "digital_object": {
            "id": f"{base}/500{number}", "type": "DigitalObject",
            "access_point": [{"id": f"{base}/iiif/{number}/full/max/0/default.jpg", "type": "DigitalObject"}],
        },
    }  # fmt: skip


def test_amsterdam_becomes_a_source_record() -> None:
    work = admitted(rijksmuseum.read("2001", rijks_records(1), Wanted(side=900)))
    record = work.record
    assert (record.title, record.artist, record.date) == ("River Landscape", "Eva Schilder", "1642 - 1645")
    assert (record.begin_year, record.end_year, record.medium) == (1642, 1645, "oil on panel")
    assert (record.accession_number, record.credit_line, record.rights) == ("SK-A-1", "Purchased in 1900", PDM)
    assert work.pictures[0] == "https://id.rijksmuseum.nl/iiif/1/full/!900,900/0/default.jpg"
    copyrighted = rijks_records(1, rights="http://rightsstatements.org/vocab/InC/1.0/")
    assert left_out(rijksmuseum.read("2001", copyrighted, Wanted())).why == "rights"


def oai_record(number: int, base: str, *, rights: str = PDM, kind: str = "", status: str = "") -> str:
    """A record in the form of OAI-PMH 2.0 and EDM."""
    concept = f'<skos:Concept rdf:about="t:1"><skos:prefLabel xml:lang="en">{kind}</skos:prefLabel></skos:Concept>'
    return f"""<record><header{f' status="{status}"' if status else ""}>
      <identifier>https://id.rijksmuseum.nl/200{number}</identifier></header><metadata><rdf:RDF>
      <edm:ProvidedCHO rdf:about="https://id.rijksmuseum.nl/200{number}">
        <dc:title xml:lang="nl">Rivier</dc:title><dc:title xml:lang="en">River {number}</dc:title>
        <dc:identifier>SK-A-{number}</dc:identifier><dc:creator rdf:resource="p:1"/><dc:type rdf:resource="t:1"/>
        <dcterms:created xml:lang="en">c. 1642 - 1645</dcterms:created>
        <dcterms:medium rdf:resource="m:1"/><dcterms:medium rdf:resource="m:2"/>
      </edm:ProvidedCHO>
      <edm:Agent rdf:about="p:1"><skos:prefLabel xml:lang="nl">Eva Schilder</skos:prefLabel>
        <life:dateOfBirth>1610-05-01</life:dateOfBirth><life:dateOfDeath>1680</life:dateOfDeath></edm:Agent>
      <skos:Concept rdf:about="m:1"><skos:prefLabel xml:lang="en">panel</skos:prefLabel></skos:Concept>
      <skos:Concept rdf:about="m:2"><skos:prefLabel xml:lang="en">oil paint</skos:prefLabel></skos:Concept>
      {concept if kind else ""}
      <ore:Aggregation><edm:isShownBy rdf:resource="{base}/iiif/{number}/full/max/0/default.jpg"/>
        <edm:rights rdf:resource="{rights}"/></ore:Aggregation>
    </rdf:RDF></metadata></record>"""


def oai_page(body: str, token: str = "", total: int = 0) -> Answer:
    spaces = {
        "": "http://www.openarchives.org/OAI/2.0/", "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
        "dc": "http://purl.org/dc/elements/1.1/", "dcterms": "http://purl.org/dc/terms/",
        "edm": "http://www.europeana.eu/schemas/edm/", "ore": "http://www.openarchives.org/ore/terms/",
        "skos": "http://www.w3.org/2004/02/skos/core#", "life": "http://rdvocab.info/ElementsGr2/",
    }  # fmt: skip
    named = " ".join(f'xmlns{":" if name else ""}{name}="{space}"' for name, space in spaces.items())
    more = f'<resumptionToken completeListSize="{total}">{token}</resumptionToken>' if total else ""
    listed = f"<ListRecords>{body}{more}</ListRecords>" if "<record" in body else body
    return Answer(f'<?xml version="1.0"?><OAI-PMH {named}>{listed}</OAI-PMH>'.encode(), "text/xml")


def test_all_of_amsterdam_is_harvested_many_records_at_a_time(house: Museum, tmp_path: Path) -> None:
    base = house.address
    first = oai_record(1, base) + oai_record(2, base, rights="http://rightsstatements.org/vocab/InC/1.0/")
    last = (
        oai_record(3, base, kind="print") + oai_record(4, base, status="deleted") + oai_record(5, base, kind="painting")
    )

    def harvest(asked: Asked) -> Answer:
        if "resumptionToken" in asked.query:
            assert asked.query == {"verb": "ListRecords", "resumptionToken": "a b/c"}
            return oai_page(last, "", 5)
        assert asked.query == {"verb": "ListRecords", "metadataPrefix": "edm", "set": "261208"}
        return oai_page(first, "a b/c", 5)

    house.routes["/oai"] = harvest
    for number in (1, 5):
        house.routes[f"/iiif/{number}/full/!1200,1200/0/default.jpg"] = picture(seed=number)
    gathered = bring(rijksmuseum.Rijksmuseum(base), house, tmp_path)
    assert (gathered.came, gathered.complete) == (2, True)
    assert sorted((kind, works) for kind, _, works in gathered.reasons) == [("kind", 1), ("rights", 1)]
    # Two pages and two pictures: no request for any single record.
    assert len(house.asked) == 4
    record = read_records(gathered.records).records[0]
    assert (record.work, record.title, record.artist) == ("rijksmuseum-2001", "River 1", "Eva Schilder")
    assert (record.artist_dates, record.begin_year, record.end_year) == ("1610–1680", 1642, 1645)
    assert (record.medium, record.accession_number, record.rights) == ("panel, oil paint", "SK-A-1", PDM)
    received = json.loads((tmp_path / "received/rijksmuseum-2001.json").read_text())
    assert "<" in received["xml"]
    assert "River 1" in received["xml"]


def test_where_amsterdam_hands_out_no_such_set_it_is_searched(house: Museum, tmp_path: Path) -> None:
    house.routes["/oai"] = oai_page('<error code="noRecordsMatch">none</error>')
    house.routes["/search/collection"] = js({"type": "OrderedCollectionPage", "orderedItems": []})
    gathered = bring(rijksmuseum.Rijksmuseum(house.address), house, tmp_path)
    assert gathered.complete
    assert [asked.path for asked in house.asked] == ["/oai", "/search/collection"]
    house.routes["/oai"] = Answer(b"<html/>", "text/html")
    with pytest.raises(CollectionProblem, match="OAI-PMH"):
        bring(rijksmuseum.Rijksmuseum(house.address), house, tmp_path, again=True)


def test_amsterdam_is_walked_from_object_to_picture(house: Museum, tmp_path: Path) -> None:
    def search(asked: Asked) -> Answer:
        assert asked.headers["accept"] == "application/ld+json"
        token = asked.query.get("pageToken")
        page: dict[str, Any] = {
            "type": "OrderedCollectionPage", "partOf": {"totalItems": 3},
            "orderedItems": [{"id": f"{house.address}/200{number}"} for number in ((3,) if token else (1, 2))],
        }  # fmt: skip
        if not token:
            page["next"] = {"id": f"{house.address}/search/collection?type=painting&pageToken=abc"}
        return js(page)

    house.routes["/search/collection"] = search
    for number in (1, 2, 3):
        records = rijks_records(number, house.address)
        if number == 2:
            records["visual_item"]["digitally_shown_by"] = []
        for record in records.values():
            house.routes["/" + record["id"].rsplit("/", 1)[-1]] = js(record)
    house.routes["/iiif/1/full/!1200,1200/0/default.jpg"] = picture(seed=1)
    # A server of level 1 knows no '!w,h'; then the width alone is asked for.
    house.routes["/iiif/3/full/!1200,1200/0/default.jpg"] = Answer(status=501)
    house.routes["/iiif/3/full/1200,/0/default.jpg"] = picture(seed=3)
    found = rijksmuseum.Rijksmuseum(house.address)
    gathered = bring(found, house, tmp_path, Wanted(query="creator=Eva Schilder"))
    assert (gathered.came, gathered.complete) == (2, True)
    assert gathered.reasons == (("no picture", "its record names no picture", 1),)
    assert house.asked[0].query == {"type": "painting", "imageAvailable": "true", "creator": "Eva Schilder"}
    received = json.loads((tmp_path / "received/rijksmuseum-2001.json").read_text())
    assert set(received) == {"object", "visual_item", "digital_object"}


# -- National Gallery of Art -------------------------------------------------------------------------------------

NGA_FILES = {
    "objects": "objectid,uuid,accessioned,accessionnum,title,displaydate,beginyear,endyear,medium,attribution,"
    "creditline,classification\n"
    '1,u1,1,1937.1.1,"A Bay, at Dusk",1660/1665,1660,1665,oil on canvas,Fay Painter,A Collection,Painting\n'
    "2,u2,1,1937.1.2,Closed,1900,1900,1900,oil on canvas,Fay Painter,A Collection,Painting\n"
    "3,u3,1,1937.1.3,A Bust,1500,1500,1500,marble,A Sculptor,A Collection,Sculpture\n"
    "4,u4,1,1937.1.4,Not Photographed,1700,1700,1700,oil on canvas,Fay Painter,A Collection,Painting\n",
    "published_images": "uuid,iiifurl,iiifthumburl,viewtype,sequence,width,height,maxpixels,openaccess,created,"
    "modified,depictstmsobjectid,assistivetext\n"
    "u1,{address}/iiif/u1,,primary,0.0,4000,3000,,1,,,1,\n"
    "u1b,{address}/iiif/u1b,,alternate,1.0,4000,3000,,1,,,1,\n"
    "u2,{address}/iiif/u2,,primary,0.0,4000,3000,640,0,,,2,\n"
    "u3,{address}/iiif/u3,,primary,0.0,4000,3000,,1,,,3,\n",
    "constituents": "constituentid,uuid,forwarddisplayname,displaydate,nationality\n"
    "9,c9,Fay Painter,Dutch 1630 - 1681,Dutch\n",
    "objects_constituents": "objectid,constituentid,displayorder,roletype,role\n"
    "1,8,1,owner,owner\n1,9,1,artist,painter\n",
    "objects_terms": "termid,objectid,termtype,term\n1,1,Theme,landscape\n2,1,Style,Baroque\n3,1,Theme,sea and ships\n",
}


def test_washington_is_read_from_its_files_which_are_asked_for_once(house: Museum, tmp_path: Path) -> None:
    for name, body in NGA_FILES.items():
        house.routes[f"/data/{name}.csv"] = Answer(body.format(address=house.address).encode(), "text/plain")
    house.routes["/iiif/u1/full/1200,/0/default.jpg"] = picture(seed=1)
    found = nga.NationalGallery(f"{house.address}/data")
    gathered = bring(found, house, tmp_path)
    assert gathered.came == 1
    assert sorted(gathered.reasons) == [
        ("kind", "another kind of work", 1),
        ("no picture", "the gallery publishes no picture of it", 1),
        ("rights", "its picture is not under the gallery's open access", 1),
    ]
    (record,) = read_records(gathered.records).records
    assert (record.work, record.title, record.artist) == ("nga-1", "A Bay, at Dusk", "Fay Painter")
    assert (record.artist_dates, record.culture, record.subject) == (
        "Dutch 1630 - 1681",
        "Dutch",
        "landscape; sea and ships",
    )
    assert (record.begin_year, record.end_year, record.rights) == (1660, 1665, CC0)
    bring(found, house, tmp_path, ALL)
    assert [house.counts()[f"/data/{name}.csv"] for name in NGA_FILES] == [1] * 5


def test_washingtons_older_files_say_nothing_of_rights(tmp_path: Path) -> None:
    for name, body in NGA_FILES.items():
        (tmp_path / f"{name}.csv").write_text(body.replace("openaccess,", ""))
    with pytest.raises(CollectionProblem, match="no column 'openaccess'"):
        nga.read_files(tmp_path, Wanted())


# -- rights ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("said", [None, "", 0, 1, "true", "yes", "CC BY 4.0", "no known restrictions", [], {}, ["CC0"]])
def test_nothing_but_the_documented_statement_admits_a_work(said: Any) -> None:
    found = [
        aic.read(
            {"id": 1, "artwork_type_title": "Painting", "image_id": "i", "is_public_domain": said}, "/i", Wanted()
        ),
        met.read(met_object(1, isPublicDomain=said), Wanted()),
        cleveland.read(cleveland_item(1, share_license_status=said), Wanted()),
        smk.read(smk_item(1, rights=said), Wanted()),
        smk.read(smk_item(1, public_domain=said), Wanted()),
        rijksmuseum.read("1", rijks_records(1, rights=said), Wanted()),
        rijksmuseum.read_harvested("1", {"picture": "https://i.example/a.jpg", "rights": said}, Wanted()),
    ]
    assert {left_out(each).why for each in found} == {"rights"}


MAPPERS = {
    "aic": lambda record: aic.read(record, "https://i.example", ALL),
    "met": lambda record: met.read(record, ALL),
    "cleveland": lambda record: cleveland.read(record, ALL),
    "smk": lambda record: smk.read(record, ALL),
    "rijksmuseum": lambda record: rijksmuseum.read("1", record, ALL),
}
WHOLE = {
    "aic": {"id": 1, "artwork_type_title": "Painting", "image_id": "i", "is_public_domain": True, "title": "A",
            "thumbnail": {"width": 3, "height": 4}, "subject_titles": ["a"], "artist_display": "A\nB, 1800"},
    "met": met_object(1),
    "cleveland": cleveland_item(1),
    "smk": smk_item(1),
    "rijksmuseum": rijks_records(1),
}  # fmt: skip
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda each: st.lists(each, max_size=2) | st.dictionaries(st.text(max_size=5), each, max_size=2),
    max_leaves=4,
)


@pytest.mark.parametrize("name", list(MAPPERS))
@settings(max_examples=60)
@given(data=st.data())
def test_whatever_stands_in_one_field_is_a_work_or_a_reason_or_told_as_another_form(name: str, data: Any) -> None:
    record = dict(WHOLE[name])
    record[data.draw(st.sampled_from(sorted(record)))] = data.draw(ANYTHING)
    try:
        found = MAPPERS[name](record)
    except (ValueError, LookupError, TypeError, AttributeError):
        return  # `ingest.gather` says of these that the record has not the published form.
    assert isinstance(found, (Work, LeftOut))
    if isinstance(found, Work):
        assert found.record.rights in (CC0, PDM)
        assert all(isinstance(value, (str, int, type(None))) for value in dataclasses.astuple(found.record))


# -- all together ------------------------------------------------------------------------------------------------


def test_every_museum_is_found_by_its_name_and_says_how_it_wants_to_be_asked() -> None:
    assert len(MUSEUMS) >= 6
    for name in MUSEUMS:
        found = museum_named(name)
        assert found.name == name
        assert found.manners.pace >= 1.0
        assert all(address.startswith("https://") for address in found.manners.docs)
        assert collection(name).title == found.title
    with pytest.raises(CollectionProblem, match="aic, cleveland"):
        collection("louvre-or-so")
