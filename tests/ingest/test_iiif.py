"""IIIF: which size is asked for, what a manifest of either version becomes, and collections in collections.

Documents follow https://iiif.io/api/presentation/3.0/, https://iiif.io/api/presentation/2.1/,
https://iiif.io/api/image/3.0/ and https://iiif.io/api/image/2.1/.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from museum_server import Answer, FakeTime, Museum, js, museum, picture

from ingest.collections.iiif import Iiif, metadata, read, words
from ingest.collections.iiif_image import from_information, level, within
from ingest.collections.source import CollectionProblem, LeftOut, Wanted, Work
from ingest.gather import Gathered, gather
from ingest.gather_web import Web
from ingest.provenance import read_records

CC0 = "https://creativecommons.org/publicdomain/zero/1.0/"
NOC_US = "http://rightsstatements.org/vocab/NoC-US/1.0/"
IMAGE_3, IMAGE_2 = "http://iiif.io/api/image/3/context.json", "http://iiif.io/api/image/2/context.json"
PRESENTATION_3 = "http://iiif.io/api/presentation/3/context.json"
PRESENTATION_2 = "http://iiif.io/api/presentation/2/context.json"


@pytest.fixture
def house() -> Iterator[Museum]:
    with museum() as made:
        yield made


def bring(house: Museum, path: str, folder: Path, **more: Any) -> Gathered:
    time = FakeTime()
    with Web(pace=1.0, named=[house.address], timeout=2.0, sleep=time.sleep, clock=time.clock) as web:
        return gather(Iiif(house.address + path), folder, Wanted(), web, **more)


# -- sizes -------------------------------------------------------------------------------------------------------


def info(version: int, **more: Any) -> dict[str, Any]:
    if version == 3:
        base: dict[str, Any] = {"@context": IMAGE_3, "id": "https://i.example/a", "type": "ImageService3"}
        return base | {"profile": "level2", "width": 6000, "height": 4000} | more
    profile = ["http://iiif.io/api/image/2/level2.json"]
    return {"@context": IMAGE_2, "@id": "https://i.example/a", "profile": profile, "width": 6000, "height": 4000} | more


@pytest.mark.parametrize(
    ("document", "first"),
    [
        (info(3), "1200,"),
        (info(2), "1200,"),
        # Nothing is enlarged: in version 3 a size above the whole is an error, in version 2 a waste.
        (info(3, width=900, height=600), "max"),
        (info(2, width=900, height=600), "full"),
        # An upright picture is as high as is wanted, and less wide.
        (info(3, width=4000, height=6000), "800,"),
        # A listed size that is near enough lies ready on the server.
        (info(3, sizes=[{"width": 750, "height": 500}, {"width": 1500, "height": 1000}]), "1500,1000"),
        (info(2, sizes=[{"width": 300, "height": 200}]), "1200,"),
        # At level 0 nothing but listed sizes and the whole can be had.
        (info(3, profile="level0", sizes=[{"width": 750, "height": 500}, {"width": 2400, "height": 1600}]),
         "2400,1600"),
        (info(3, profile="level0"), "max"),
        (info(2, profile=["http://iiif.io/api/image/2/level0.json"]), "full"),
        # What the server will give at most: 5.3 and 5.6 of version 3, 5.3 of version 2.1.
        (info(3, maxWidth=600), "600,"),
        (info(3, maxArea=240_000), "600,"),
        (info(2, profile=["http://iiif.io/api/image/2/level2.json", {"maxWidth": 600}]), "600,"),
    ],
)  # fmt: skip
def test_the_size_asked_for(document: dict[str, Any], first: str) -> None:
    assert from_information(document, 1200)[0] == f"https://i.example/a/full/{first}/0/default.jpg"


def test_sizes_without_image_information() -> None:
    assert within("https://i.example/a/", 1200) == (
        "https://i.example/a/full/!1200,1200/0/default.jpg",
        "https://i.example/a/full/1200,/0/default.jpg",
    )
    assert within("https://i.example/a", 1200, (900, 600)) == ("https://i.example/a/full/full/0/default.jpg",)
    assert within("https://i.example/a", 1200, (900, 600), version=3)[0].endswith("/full/max/0/default.jpg")
    assert within("https://i.example/a", 1200, (4000, 6000))[0].endswith("/full/800,/0/default.jpg")
    assert level({"profile": "http://iiif.io/api/image/2/level1.json"}) == 1
    with pytest.raises(ValueError, match="image information"):
        from_information({"width": "wide"}, 1200)


# -- manifests ---------------------------------------------------------------------------------------------------


def manifest_3(base: str, name: str, *, rights: str = CC0, service: bool = True, **more: Any) -> dict[str, Any]:
    body: dict[str, Any] = {
        "id": f"{base}/{name}.jpg",
        "type": "Image",
        "format": "image/jpeg",
        "width": 320,
        "height": 240,
    }
    if service:
        body["service"] = [{"id": f"{base}/image/{name}", "type": "ImageService3", "profile": "level2"}]
    return {
        "@context": PRESENTATION_3, "id": f"{base}/{name}/manifest.json", "type": "Manifest",
        "label": {"da": ["Et maleri"], "en": ["A Painting"]}, "rights": rights,
        "metadata": [
            {"label": {"en": ["Artist"]}, "value": {"en": ["Gia Painter"]}},
            {"label": {"en": ["Date"]}, "value": {"none": ["1880s"]}},
            {"label": {"en": ["Subjects"]}, "value": {"en": ["Harbours", "Ships"]}},
            {"label": {"none": ["Accession Number"]}, "value": {"none": ["<span>1.23</span>"]}},
            {"label": {"en": ["Type"]}, "value": {"en": ["Painting"]}},
        ],
        "homepage": [{"id": f"{base}/page/{name}", "type": "Text"}],
        "provider": [{"id": base, "type": "Agent", "label": {"en": ["A House of Art"]}}],
        "items": [
            {"type": "Canvas", "items": [{"type": "AnnotationPage", "items": [
                {"type": "Annotation", "motivation": "painting", "body": body}
            ]}]}
        ],
    } | more  # fmt: skip


def manifest_2(base: str, name: str, *, rights: str = NOC_US, **more: Any) -> dict[str, Any]:
    return {
        "@context": PRESENTATION_2, "@id": f"{base}/{name}/manifest.json", "@type": "sc:Manifest",
        "label": [{"@value": "Une peinture", "@language": "fr"}, {"@value": "A Painting", "@language": "en"}],
        "license": rights,
        "metadata": [
            {"label": "Creator", "value": "Hal Painter"},
            {"label": [{"@value": "Datum", "@language": "de"}, {"@value": "Date", "@language": "en"}],
             "value": ["1701"]},
        ],
        "related": f"{base}/page/{name}",
        "sequences": [{"@type": "sc:Sequence", "canvases": [{"@type": "sc:Canvas", "images": [
            {"@type": "oa:Annotation", "resource": {
                "@id": f"{base}/{name}.jpg", "@type": "dctypes:Image", "width": 320, "height": 240,
                "service": {"@context": IMAGE_2, "@id": f"{base}/image/{name}",
                            "profile": "http://iiif.io/api/image/2/level2.json"},
            }}
        ]}]}],
    } | more  # fmt: skip


def test_a_manifest_of_version_3_becomes_a_source_record() -> None:
    found = read("key", manifest_3("https://m.example", "a"), Wanted())
    assert isinstance(found, Work)
    record = found.record
    assert (record.title, record.artist, record.date) == ("A Painting", "Gia Painter", "1880s")
    assert (record.begin_year, record.end_year, record.subject) == (1880, 1889, "Harbours; Ships")
    assert (record.accession_number, record.collection, record.rights) == ("1.23", "A House of Art", CC0)
    assert record.object_url == "https://m.example/page/a"
    assert found.pictures == ("https://m.example/image/a/full/max/0/default.jpg",)


def test_a_manifest_of_version_2_becomes_a_source_record() -> None:
    found = read("key", manifest_2("https://m.example", "a"), Wanted())
    assert isinstance(found, Work)
    assert (found.record.title, found.record.artist, found.record.begin_year) == ("A Painting", "Hal Painter", 1701)
    assert found.record.rights == NOC_US
    assert found.pictures == ("https://m.example/image/a/full/full/0/default.jpg",)


def test_what_a_manifest_must_say() -> None:
    base = "https://m.example"
    cases = {
        "rights": manifest_3(base, "a", rights="http://rightsstatements.org/vocab/InC/1.0/"),
        "kind": manifest_3(base, "a", metadata=[{"label": {"en": ["Type"]}, "value": {"en": ["Sculpture"]}}]),
        "no picture": manifest_3(base, "a", items=[]),
    }
    for why, manifest in cases.items():
        found = read("key", manifest, Wanted())
        assert isinstance(found, LeftOut)
        assert found.why == why
    silent = manifest_3(base, "a", rights=None, requiredStatement={"label": {"en": ["x"]}, "value": {"en": ["© us"]}})
    assert isinstance(read("key", silent, Wanted()), LeftOut)
    label = [{"label": {"en": ["Rights"]}, "value": {"en": [f'<a href="{CC0}">{CC0}</a>']}}]
    assert isinstance(read("key", manifest_3(base, "a", rights=None, metadata=label), Wanted()), Work)
    plain = read("key", manifest_3(base, "a", service=False), Wanted())
    assert isinstance(plain, Work)
    assert plain.pictures == ("https://m.example/a.jpg",)


def test_words_and_labels_in_many_forms() -> None:
    assert words({"fr": ["un"], "none": ["deux"]}) == "deux"
    assert words({"fr": ["un", "deux"]}) == "un, deux"
    assert words("<b>bold</b> and  plain") == "bold and plain"
    assert words(None) == ""
    assert metadata({"metadata": [{"label": "Kunstner:", "value": "X"}, {"label": "Artist", "value": "Y"}]}) == {
        "artist": "X"
    }


# -- gathering ---------------------------------------------------------------------------------------------------


def test_a_collection_of_collections_of_both_versions(house: Museum, tmp_path: Path) -> None:
    base = house.address
    house.routes["/top.json"] = js(
        {
            "@context": PRESENTATION_3, "id": f"{base}/top.json", "type": "Collection", "label": {"en": ["All"]},
            "items": [
                {"id": f"{base}/a/manifest.json", "type": "Manifest", "label": {"en": ["A"]}},
                {"id": f"{base}/sub.json", "type": "Collection", "label": {"en": ["More"]}},
                # A collection that names itself must not go round for ever.
                {"id": f"{base}/top.json", "type": "Collection", "label": {"en": ["Again"]}},
            ],
        }
    )  # fmt: skip
    house.routes["/sub.json"] = js(
        {
            "@context": PRESENTATION_2, "@id": f"{base}/sub.json", "@type": "sc:Collection", "label": "More",
            "manifests": [{"@id": f"{base}/{name}/manifest.json", "@type": "sc:Manifest"} for name in "bcd"],
        }
    )  # fmt: skip
    house.routes["/a/manifest.json"] = js(manifest_3(base, "a"))
    house.routes["/b/manifest.json"] = js(manifest_2(base, "b"))
    house.routes["/c/manifest.json"] = js(manifest_2(base, "c", rights="https://m.example/our-terms"))
    for path, seed in (("/image/a/full/max", 1), ("/image/b/full/full", 2)):
        house.routes[f"{path}/0/default.jpg"] = picture(seed=seed)
    gathered = bring(house, "/top.json", tmp_path)
    assert (gathered.came, gathered.complete) == (2, True)
    assert {(kind, works) for kind, _, works in gathered.reasons} == {("rights", 1), ("no picture", 1)}
    assert house.counts()["/top.json"] == 1
    records = read_records(gathered.records)
    assert records.problems == ()
    assert [record.artist for record in records.records] == ["Gia Painter", "Hal Painter"]
    asked = len(house.asked)
    bring(house, "/top.json", tmp_path)
    assert len(house.asked) == asked


def test_a_paged_collection_of_version_2(house: Museum, tmp_path: Path) -> None:
    base = house.address
    house.routes["/top.json"] = js(
        {"@context": PRESENTATION_2, "@id": f"{base}/top.json", "@type": "sc:Collection", "label": "All", "total": 2,
         "first": f"{base}/p1.json"}
    )  # fmt: skip
    for number, following in ((1, {"next": f"{base}/p2.json"}), (2, {})):
        house.routes[f"/p{number}.json"] = js(
            {"@context": PRESENTATION_2, "@id": f"{base}/p{number}.json", "@type": "sc:Collection", "label": "Page",
             "manifests": [{"@id": f"{base}/{number}/manifest.json", "@type": "sc:Manifest"}], **following}
        )  # fmt: skip
        house.routes[f"/{number}/manifest.json"] = js(manifest_2(base, str(number)))
        house.routes[f"/image/{number}/full/full/0/default.jpg"] = picture(seed=number)
    gathered = bring(house, "/top.json", tmp_path)
    assert (gathered.came, gathered.complete) == (2, True)


def test_image_information_is_asked_for_where_the_manifest_does_not_tell_enough(house: Museum, tmp_path: Path) -> None:
    base = house.address
    manifest = manifest_3(base, "a")
    body = manifest["items"][0]["items"][0]["items"][0]["body"]
    body["service"][0]["profile"] = "level0"
    house.routes["/a/manifest.json"] = js(manifest)
    house.routes["/image/a/info.json"] = js(
        info(
            3, id=f"{base}/image/a", profile="level0", width=3200, height=2400, sizes=[{"width": 1600, "height": 1200}]
        )
    )
    house.routes["/image/a/full/1600,1200/0/default.jpg"] = picture(seed=1)
    assert bring(house, "/a/manifest.json", tmp_path).came == 1


def test_what_is_no_iiif_is_said(house: Museum, tmp_path: Path) -> None:
    house.routes["/x.json"] = js({"hello": 1})
    with pytest.raises(CollectionProblem, match="no IIIF manifest"):
        bring(house, "/x.json", tmp_path)


def test_a_manifest_that_leads_into_the_private_network_is_left_out(house: Museum, tmp_path: Path) -> None:
    with museum() as inside:
        inside.routes["/image/a/full/max/0/default.jpg"] = Answer(b"secret", "image/jpeg")
        house.routes["/a/manifest.json"] = js(manifest_3(inside.address, "a"))
        gathered = bring(house, "/a/manifest.json", tmp_path)
        assert gathered.came == 0
        assert "private network" in gathered.reasons[0][1]
        assert inside.asked == []
