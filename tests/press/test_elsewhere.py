"""A board as one HTML file, a contact sheet, a manifest and a table, each read back by another library."""

from __future__ import annotations

import base64
import copy
import csv
import io
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest
from PIL import Image
from press import manifest_rules

from archive.board import RECORD_FIELDS
from archive.errors import ArchiveError
from archive.press import contact, iiif, page, table, words
from archive.press.content import Piece, Pressed
from ingest.lightness import grey_code
from ingest.value_map import MAP_LIGHTNESS


def works(pressed: Pressed) -> list[Piece]:
    return [piece for _, piece in pressed.pieces()]


# -- HTML ------------------------------------------------------------------------------------------------


class Read(HTMLParser):
    """Every tag with its attributes, and all text."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_page_loads_nothing_from_anywhere(pressed: Pressed) -> None:
    read = Read(page.html(pressed))
    assert not [tag for tag, _ in read.tags if tag in ("script", "link", "iframe", "object", "base")]
    sources = [attributes["src"] for tag, attributes in read.tags if "src" in attributes]
    assert sources
    assert all(source.startswith("data:image/") for source in sources)
    assert "url(" not in page.html(pressed)
    assert "@import" not in page.html(pressed)


def test_the_pictures_of_the_page_are_those_of_the_archive(pressed: Pressed) -> None:
    images = [attributes for tag, attributes in Read(page.html(pressed)).tags if tag == "img"]
    plates = [plate for piece in works(pressed) for plate in piece.plates]
    assert [image["alt"] for image in images] == [plate.alt for plate in plates]
    for image, plate in zip(images, plates, strict=True):
        content = base64.b64decode(image["src"].partition(",")[2])
        if plate.part is None:
            assert content == plate.read()
        else:
            with Image.open(io.BytesIO(content)) as cut:
                assert cut.size == (int(image["width"]), int(image["height"]))


def test_the_page_has_every_word_and_credit_line(pressed: Pressed) -> None:
    read = Read(page.html(pressed, "de"))
    for piece in works(pressed):
        assert words.whole_credit(piece.record) in read.text
        assert piece.title in read.text
    for text in (pressed.title, pressed.aim, pressed.notes, pressed.task, words.WITHDRAWN):
        assert text in read.text
    assert ("html", {"lang": "de"}) in read.tags


def test_what_people_wrote_cannot_become_markup(pressed: Pressed) -> None:
    leaf = pressed.leaves[0]
    bad = "<script>alert(1)</script>"
    piece = replace(leaf.pieces[0], record={"title": bad, "object_url": "javascript:alert(1)"})
    read = Read(page.html(replace(pressed, title=bad, leaves=(replace(leaf, pieces=(piece,), note=bad),))))
    assert not [tag for tag, _ in read.tags if tag == "script"]
    assert not [attributes for tag, attributes in read.tags if attributes.get("href", "").startswith("javascript")]
    assert read.text.count(bad) >= 3


# -- contact sheet ---------------------------------------------------------------------------------------


def test_the_contact_sheet_shows_every_picture_and_carries_every_credit(pressed: Pressed) -> None:
    with Image.open(io.BytesIO(contact.png(pressed))) as sheet:
        sheet.load()
        assert sheet.width == contact.WIDTH
        codes = np.asarray(sheet.convert("RGB"))
    # Three leaves show maps first or alone; their greys come through the reduction in their flat middles.
    flat = {grey_code(tone) for tone in MAP_LIGHTNESS[3]}
    greys = codes[(codes.ptp(axis=2) if hasattr(codes, "ptp") else np.ptp(codes, axis=2)) == 0][:, 0]
    assert all((greys == code).sum() > 300 for code in flat)
    chunks = _text_chunks(contact.png(pressed))
    for piece in works(pressed):
        assert any(words.whole_credit(piece.record) in chunk for chunk in chunks)


def _text_chunks(content: bytes) -> list[str]:
    """The international text chunks of a PNG (ISO/IEC 15948, 11.3.4.5), uncompressed ones alone."""
    found, at = [], 8
    while at < len(content):
        size = int.from_bytes(content[at : at + 4], "big")
        if content[at + 4 : at + 8] == b"iTXt":
            keyword, _, rest = content[at + 8 : at + 8 + size].partition(b"\0")
            assert keyword in (b"Title", b"Source")
            found.append(rest[2:].split(b"\0", 2)[2].decode())
        at += 12 + size
    return found


def test_a_word_of_thousands_of_letters_is_broken_where_a_line_is_full(monkeypatch: pytest.MonkeyPatch) -> None:
    """Texts in Chinese and Japanese have no spaces. What is measured of them may not grow with the square."""
    measured = 0

    def length(text: str, style: str, size: int) -> float:  # noqa: ARG001
        nonlocal measured
        measured += len(text)
        return 10.0 * len(text)

    monkeypatch.setattr("archive.press.contact._length", length)
    lines = contact._wrapped("a" * 4000, "regular", 14, 345)
    assert [len(line) for line in lines] == [34] * 117 + [22]
    assert measured < 100 * 4000


def test_the_contact_sheet_is_always_alike(pressed: Pressed) -> None:
    assert contact.png(pressed) == contact.png(pressed)


# -- manifest --------------------------------------------------------------------------------------------

BASE = "http://127.0.0.1:8001/"


def test_the_manifest_keeps_the_rules_of_the_specification(pressed: Pressed) -> None:
    assert manifest_rules.broken(iiif.manifest(pressed, BASE)) == []


@pytest.mark.parametrize(
    ("spoil", "rule"),
    [
        (lambda made: made.pop("label"), "3.1"),
        (lambda made: made.update({"@context": "http://example.org/"}), "4.6"),
        (lambda made: made["items"][0].update(height=0), "3.3"),
        (lambda made: made["items"][0].update(id="canvas"), "5.3"),
        (lambda made: made["items"][0].update(label="Lamplight"), "4.4"),
        (lambda made: made["items"][0].update(rights="all reserved"), "3.1"),
        (lambda made: made["items"][0].update(rights="http://creativecommons.org/public-domain/"), "3.1"),
        (lambda made: made["items"][0]["homepage"][0].update(id="https://example.org/100%"), "3.4"),
        (lambda made: made.update(items=[]), "5.2"),
        (lambda made: made["items"][0]["items"][0]["items"][0].update(target="http://other/"), "5.6"),
        (lambda made: made["structures"][0]["items"].append({"id": "http://no/", "type": "Canvas"}), "5.4"),
    ],
)
def test_the_rules_find_what_is_wrong(pressed: Pressed, spoil: Any, rule: str) -> None:
    made = copy.deepcopy(iiif.manifest(pressed, BASE))
    spoil(made)
    assert any(each.startswith(rule) for each in manifest_rules.broken(made))


def test_the_manifest_fits_the_models_made_from_the_published_schema(pressed: Pressed) -> None:
    # The models of iiif-prezi3 are generated from iiif_3_0.json, the schema of the IIIF validator.
    models = pytest.importorskip("iiif_prezi3", reason="iiif-prezi3 is not installed (it asks for an older Pillow)")
    made = iiif.manifest(pressed, BASE)
    assert len(models.Manifest(**made).items) == len(made["items"])
    # Like the schema they let an empty list of canvases pass, which does not pass our own rules above.
    for spoilt in ({**made, "type": "Thing"}, {**made, "rights": "all reserved"}):
        with pytest.raises(ValueError, match="validation error"):
            models.Manifest(**spoilt)


def test_the_manifest_has_every_work_with_its_record(pressed: Pressed) -> None:
    made = iiif.manifest(pressed, BASE)
    shown = [piece for piece in works(pressed) if piece.plates]
    assert len(made["items"]) == len(shown)
    for canvas, piece in zip(made["items"], shown, strict=True):
        assert canvas["requiredStatement"]["value"]["none"] == [words.whole_credit(piece.record)]
        body = canvas["items"][0]["items"][0]["body"]
        images = body["items"] if body["type"] == "Choice" else [body]
        assert [image["id"] for image in images] == [f"{BASE}pictures/{plate.name}" for plate in piece.plates]
        held = {part["label"]["en"][0]: part["value"]["none"][0] for part in canvas["metadata"]}
        assert held.get("Collection", "") == piece.record.get("collection", "")
    assert made["items"][0]["rights"] == "http://creativecommons.org/publicdomain/zero/1.0/"


def with_record(pressed: Pressed, **record: str) -> Pressed:
    """The first leaf alone, whose work has no other record than this."""
    leaf = pressed.leaves[0]
    return replace(pressed, leaves=(replace(leaf, pieces=(replace(leaf.pieces[0], record=record),)),))


@pytest.mark.parametrize(
    ("stated", "given"),
    [
        # Section 3.1: "a string drawn from the set of Creative Commons license URIs, the RightsStatements.org rights
        # statement URIs", which both are written with http.
        ("https://creativecommons.org/publicdomain/mark/1.0/", "http://creativecommons.org/publicdomain/mark/1.0/"),
        ("https://creativecommons.org/licenses/by/4.0/", "http://creativecommons.org/licenses/by/4.0/"),
        ("http://rightsstatements.org/vocab/NoC-US/1.0/", "http://rightsstatements.org/vocab/NoC-US/1.0/"),
        ("https://creativecommons.org/public-domain/", None),
        ("https://creativecommons.org/", None),
        ("http://creativecommons.org/publicdomain/mark/1.0/ (see the page)", None),
        ("https://creativecommons.org.example/publicdomain/zero/1.0/", None),
        ("https://rightsstatements.org/page/NoC-US/1.0/?language=en", None),
        ("In Copyright", None),
        ("", None),
    ],
)
def test_rights_are_those_that_the_specification_knows(pressed: Pressed, stated: str, given: str | None) -> None:
    made = iiif.manifest(with_record(pressed, title="Lamplight", rights=stated), BASE)
    assert made["items"][0].get("rights") == given
    assert manifest_rules.broken(made) == []


@pytest.mark.parametrize(
    ("written", "given"),
    [
        # Section 3.2: an id is an HTTP(S) URI; RFC 3986, 2.1 and 3: what may stand in one, and what is encoded.
        ("https://example.org/a?b=1&c=%C3%B8#d", "https://example.org/a?b=1&c=%C3%B8#d"),
        ("https://example.org/ø b", "https://example.org/%C3%B8%20b"),
        ("https://example.org/100%", "https://example.org/100%25"),
        ("https://example.org/[a]?x[]=1|2", "https://example.org/%5Ba%5D?x%5B%5D=1%7C2"),
        ("https://example.org/a#b#c", "https://example.org/a#b%23c"),
        ("http://[2001:db8::1]:8001/a", "http://[2001:db8::1]:8001/a"),
        ("http://[x", None),
        ("https://example.org:port/", None),
        ("https:///a", None),
    ],
)
def test_a_homepage_is_an_address_by_the_grammar(pressed: Pressed, written: str, given: str | None) -> None:
    made = iiif.manifest(with_record(pressed, title="Lamplight", object_url=written), BASE)
    assert [page["id"] for page in made["items"][0].get("homepage", [])] == ([given] if given else [])
    assert manifest_rules.broken(made) == []


def test_there_is_no_manifest_without_a_work(pressed: Pressed) -> None:
    # Section 5.2: a manifest has at least one canvas.  The seventh leaf's work has left the archive.
    for leaves in ((), pressed.leaves[6:]):
        with pytest.raises(ArchiveError, match="no picture of a work"):
            iiif.manifest(replace(pressed, leaves=leaves), BASE)


def test_a_part_is_marked_on_the_whole(pressed: Pressed) -> None:
    canvas = next(each for each in iiif.manifest(pressed, BASE)["items"] if "annotations" in each)
    target = canvas["annotations"][0]["items"][0]["target"]
    left, top, width, height = (int(number) for number in target.partition("#xywh=")[2].split(","))
    assert (left, top) == (round(canvas["width"] / 4), round(canvas["height"] / 4))
    assert (width, height) == pytest.approx((canvas["width"] / 2, canvas["height"] / 2), abs=1)


# -- table -----------------------------------------------------------------------------------------------


def test_the_table_has_a_row_for_every_picture_with_its_whole_record(pressed: Pressed) -> None:
    rows = list(csv.DictReader(io.StringIO(table.csv(pressed), newline="")))
    assert [row["leaf"] for row in rows] == ["1", "2a", "2b", "3", "4", "5", "6", "7"]
    for row, piece in zip(rows, works(pressed), strict=True):
        assert row["credit"] == words.whole_credit(piece.record)
        for name in set(RECORD_FIELDS) - {"credit"}:
            assert row[name] == piece.record.get(name, "")
    assert rows[3]["part"] == "0.25,0.25,0.75,0.75"
    assert rows[0]["showing"] == "painting squint five three two"


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x"])
def test_no_cell_is_taken_for_a_formula(pressed: Pressed, text: str) -> None:
    leaf = replace(pressed.leaves[0], note=text)
    (row,) = csv.DictReader(io.StringIO(table.csv(replace(pressed, leaves=(leaf,))), newline=""))
    assert row["note"] == f"'{text}"
