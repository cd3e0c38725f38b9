"""Every page of ours and its JSON twin, asked for without a browser."""

from __future__ import annotations

import base64
import io
import json
import re
import shutil
import sqlite3
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from painting import paint
from PIL import Image

from archive.pages import arrangement as arrangement_page
from archive.pages import find as find_page
from archive.pages import upload
from archive.pages import works as works_page
from archive.pages.work import close_tones
from archive.serving import build_datasette
from archive.store import Archive

STATIC = Path(find_page.__file__).parent / "static"


class Document(HTMLParser):
    """The elements of a page, in order, as (tag, attributes), and its text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))

    def handle_data(self, data: str) -> None:
        self.text += data

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attributes for found, attributes in self.elements if found == tag]


@pytest.fixture
def datasette(small_archive: Path) -> Any:
    return build_datasette(small_archive)


@pytest.fixture(scope="session")
def rows(small_archive: Path) -> Iterator[sqlite3.Connection]:
    connection = sqlite3.connect(small_archive / "archive.db")
    connection.row_factory = sqlite3.Row
    yield connection
    connection.close()


def picture_bytes(picture: Image.Image, kind: str = "PNG", **options: Any) -> bytes:
    held = io.BytesIO()
    picture.save(held, kind, **options)
    return held.getvalue()


async def send(datasette: Any, data: bytes, path: str = "/-/find", **fields: str) -> Any:
    files = {"study": ("study.png", data, "image/png")}
    return await datasette.client.post(path, files=files, data=fields)


def our_pages(rows: sqlite3.Connection) -> list[str]:
    (slug,) = rows.execute("SELECT slug FROM arrangements ORDER BY members DESC LIMIT 1").fetchone()
    (work,) = rows.execute("SELECT work FROM works LIMIT 1").fetchone()
    return [
        "/", f"/-/arrangements/{slug}", f"/-/works/{work}", f"/-/works/{work}?as=masses", "/-/find",
        "/-/find?example=harbour-at-evening", "/-/works", "/-/field",
        "/-/works?q=light&dark_from=20&light_masses=1", "/-/search?q=nothing+has+this",
        "/-/about", "/-/screen",
    ]  # fmt: skip


def twin_of(path: str) -> str:
    where, mark, query = path.partition("?")
    return f"{where}.json{mark}{query}"


@pytest.mark.asyncio
async def test_every_page_is_whole_html_with_strict_headers(datasette: Any, rows: sqlite3.Connection) -> None:
    for path in our_pages(rows):
        response = await datasette.client.get(path)
        assert response.status_code == 200, path
        assert response.headers["content-type"] == "text/html; charset=utf-8"
        assert "script-src 'self';" in response.headers["content-security-policy"]
        assert response.headers["x-content-type-options"] == "nosniff"
        page = Document(response.text)
        assert len(page.all("main")) == len(page.all("h1")) == len(page.all("title")) == 1, path
        assert page.all("html")[0]["lang"] == "en"
        for script in page.all("script"):
            assert script["src"], path
        for tag, attributes in page.elements:
            assert "style" not in attributes, (path, tag)
            assert not [name for name in attributes if name.startswith("on")], (path, tag)
        for image in page.all("img"):
            assert "alt" in image, path
            assert image["width"], path
            assert image["height"], path
        fields = [f for f in page.all("input") if f.get("type") not in ("hidden", "checkbox")]
        labelled = {label["for"] for label in page.all("label") if "for" in label}
        assert {field["id"] for field in fields} <= labelled, path


@pytest.mark.asyncio
async def test_every_page_has_a_twin_that_it_names(datasette: Any, rows: sqlite3.Connection) -> None:
    for path in our_pages(rows):
        page = await datasette.client.get(path)
        twin = await datasette.client.get(twin_of(path))
        assert twin.status_code == 200, path
        assert twin.headers["content-type"] == "application/json; charset=utf-8"
        assert twin.json()["ok"] is True
        alternate = next(link for link in Document(page.text).all("link") if link["rel"] == "alternate")
        assert alternate["href"] == twin_of(path)
        assert f"<{twin_of(path)}>" in page.headers["link"]


@pytest.mark.asyncio
async def test_every_link_and_picture_leads_somewhere(datasette: Any, rows: sqlite3.Connection) -> None:
    seen: set[str] = set()
    for path in our_pages(rows):
        page = Document((await datasette.client.get(path)).text)
        for attributes in page.all("a") + page.all("link"):
            seen.add(attributes["href"])
        for attributes in page.all("img") + page.all("script"):
            seen.add(attributes["src"])
    ours = {link.partition("#")[0] for link in seen if link.startswith("/")}
    assert len(ours) > 40
    for link in sorted(ours):
        assert (await datasette.client.get(link, follow_redirects=True)).status_code == 200, link
    outside = {link for link in seen if not link.startswith(("/", "#", "data:image/"))}
    assert all(link.startswith("https://") for link in outside)


@pytest.mark.asyncio
async def test_pages_hold_under_another_base_address(datasette: Any, rows: sqlite3.Connection) -> None:
    datasette._settings["base_url"] = "/book/"
    for path in our_pages(rows):
        response = await datasette.client.get(path)
        assert response.status_code == 200, path
        page = Document(response.text)
        links = [a["href"] for a in page.all("a") + page.all("link")] + [i["src"] for i in page.all("img")]
        links += [form["action"] for form in page.all("form") if "action" in form]
        stray = [link for link in links if link.startswith("/") and not link.startswith("/book/")]
        assert not stray, path


@pytest.mark.asyncio
async def test_home_shows_each_arrangement_with_its_works(datasette: Any, rows: sqlite3.Connection) -> None:
    data = (await datasette.client.get("/.json")).json()
    expected = rows.execute("SELECT slug, members FROM arrangements ORDER BY members DESC, slug").fetchall()
    assert [(item["slug"], item["members"]) for item in data["arrangements"]] == [tuple(r) for r in expected]
    for item in data["arrangements"]:
        degrees = [work["degree"] for work in item["first"]]
        assert degrees == sorted(degrees, reverse=True)
        assert {work["arrangement"] for work in item["first"]} == {item["slug"]}
    text = Document((await datasette.client.get("/")).text).text
    for row in rows.execute("SELECT name, sentence FROM arrangements"):
        assert row["name"] in text
        assert row["sentence"] in text


@pytest.mark.asyncio
async def test_works_that_are_not_arranged_can_still_be_seen(small_archive: Path, tmp_path: Path) -> None:
    folder = tmp_path / "loose"
    shutil.copytree(small_archive, folder)
    with sqlite3.connect(folder / "archive.db") as connection:
        connection.execute("UPDATE works SET arrangement = NULL, degree = NULL")
        connection.execute("DELETE FROM arrangements")
        (work,) = connection.execute("SELECT work FROM works LIMIT 1").fetchone()
    connection.close()
    datasette = build_datasette(folder)
    assert "blotbook arrange" in (await datasette.client.get("/")).text
    page = await datasette.client.get(f"/-/works/{work}")
    assert "Stands in none of the arrangements" in page.text


@pytest.mark.asyncio
async def test_core_index_stays_beside_ours(datasette: Any) -> None:
    ours, core = await datasette.client.get("/"), await datasette.client.get("/-/")
    assert 'class="book"' in ours.text
    assert 'class="book"' not in core.text
    assert "/archive" in core.text


@pytest.mark.asyncio
async def test_an_arrangement_shows_its_most_central_work(datasette: Any, rows: sqlite3.Connection) -> None:
    for slug, medoid in rows.execute("SELECT slug, medoid FROM arrangements").fetchall():
        page = Document((await datasette.client.get(f"/-/arrangements/{slug}")).text)
        after = page.text.partition("Its most central work")[2].partition("What sets it apart")[0]
        (title,) = rows.execute("SELECT title FROM works WHERE work = ?", (medoid,)).fetchone()
        assert title in after


@pytest.mark.asyncio
async def test_works_of_an_arrangement_are_paged_by_degree(
    datasette: Any, rows: sqlite3.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(arrangement_page, "SIZE", 2)
    slug, members = rows.execute("SELECT slug, members FROM arrangements ORDER BY members DESC").fetchone()
    found: list[tuple[str, float]] = []
    path: str | None = f"/-/arrangements/{slug}.json"
    while path:
        data = (await datasette.client.get(path)).json()
        found += [(work["work"], work["degree"]) for work in data["works"]]
        assert len(data["works"]) <= 2
        path = data["next_url"]
    assert len({work for work, _ in found}) == members
    assert [degree for _, degree in found] == sorted((degree for _, degree in found), reverse=True)
    page = Document((await datasette.client.get(f"/-/arrangements/{slug}?_next=2")).text)
    turns = {a.get("rel"): a["href"] for a in page.all("a") if a.get("rel") in ("prev", "next")}
    assert turns["prev"] == f"/-/arrangements/{slug}"
    if members > 4:
        assert turns["next"] == f"/-/arrangements/{slug}?_next=4"


@pytest.mark.asyncio
async def test_work_page_says_what_the_archive_knows(datasette: Any, rows: sqlite3.Connection) -> None:
    work = rows.execute("SELECT * FROM works WHERE arrangement IS NOT NULL LIMIT 1").fetchone()
    html = (await datasette.client.get(f"/-/works/{work['work']}")).text
    page = Document(html)
    for known in ("title", "sentence", "credit", "sha256", "rights_basis"):
        assert (work[known] or "") in page.text, known
    assert [a["data-way"] for a in page.all("a") if a.get("data-alt")] == [
        "painting", "squint", "five", "three", "two", "masses",
    ]  # fmt: skip
    group = rows.execute("SELECT sentence FROM arrangements WHERE arrangement = ?", (work["arrangement"],)).fetchone()
    what, counts = group["sentence"].split(". ", 1)
    assert what in page.text
    assert counts not in page.text, "what its other works do is said on the arrangement's page"
    measures = rows.execute("SELECT measure, says FROM measure_meanings").fetchall()
    assert all(row["says"] in page.text for row in measures)
    data = (await datasette.client.get(f"/-/works/{work['work']}.json")).json()
    assert len(data["measures"]) == len(measures)
    assert work["work"] not in {other["work"] for other in data["like"]}
    assert data["like"]
    assert not {"row", "file"} & set(data)


@pytest.mark.asyncio
async def test_where_tones_lie_close_it_is_said_that_the_maps_draw_them_apart(
    datasette: Any, rows: sqlite3.Connection
) -> None:
    assert "within 8 L*" in close_tones(7.7)
    assert close_tones(25.0) == close_tones(None) == ""
    for work, span in rows.execute("SELECT work, lightness_span FROM measures ORDER BY lightness_span"):
        page = (await datasette.client.get(f"/-/works/{work}")).text
        assert ("Its tones lie close together" in page) == (span < 25)


@pytest.mark.parametrize(
    ("asked", "column"), [("three", "map3"), ("two", "map2"), ("squint", "squint"), ("nonsense", "painting")]
)
@pytest.mark.asyncio
async def test_ways_of_looking_work_without_script(
    datasette: Any, rows: sqlite3.Connection, asked: str, column: str
) -> None:
    work = rows.execute("SELECT * FROM works LIMIT 1").fetchone()
    page = Document((await datasette.client.get(f"/-/works/{work['work']}?as={asked}")).text)
    stage = page.all("img")[1]
    assert work[column] in stage["src"]
    assert work["sentence"] in stage["alt"]
    chosen = [a["data-way"] for a in page.all("a") if "data-way" in a and "aria-current" in a]
    assert chosen == ["painting" if asked == "nonsense" else asked]


@pytest.mark.asyncio
async def test_masses_are_outlined_only_when_asked(datasette: Any, rows: sqlite3.Connection) -> None:
    work = rows.execute("SELECT work FROM masses GROUP BY work ORDER BY count(*) DESC").fetchone()["work"]
    plain, outlined = [(await datasette.client.get(f"/-/works/{work}{query}")).text for query in ("", "?as=masses")]
    assert 'class="over" aria-hidden="true" hidden' in plain
    assert 'class="over" aria-hidden="true" hidden' not in outlined
    shown = len(re.findall(r"<circle", outlined))
    (large,) = rows.execute("SELECT count(*) FROM masses WHERE work = ? AND area >= 0.01", (work,)).fetchone()
    assert shown == min(large, 9)


@pytest.mark.asyncio
async def test_a_painting_shown_as_a_study_finds_itself(datasette: Any, small_records: Path) -> None:
    names = {row["file"]: row for row in read_table(small_records)}
    file, row = next(iter(names.items()))
    response = await send(datasette, (small_records.parent / file).read_bytes())
    assert response.status_code == 200
    page = Document(response.text)
    first = next(a for a in page.all("a") if a.get("class") == "through")
    assert first["href"].endswith(f"/-/works/{row['id']}")
    data = (await send(datasette, (small_records.parent / file).read_bytes(), "/-/find.json")).json()
    assert data["matches"][0]["work"] == row["id"]
    assert data["matches"][0]["similarity"] > 0.9
    assert {"part", "mirrored", "reason", "accession_number"} <= set(data["matches"][0])


def read_table(records: Path) -> list[dict[str, str]]:
    import csv

    with records.open(newline="", encoding="utf-8") as table:
        return list(csv.DictReader(table))


@pytest.mark.asyncio
async def test_matches_are_outlined_on_map_and_painting(datasette: Any) -> None:
    path = "/-/find?example=lamp-on-a-kitchen-table"
    data = (await datasette.client.get(twin_of(path))).json()
    html = (await datasette.client.get(path)).text
    parts = [match["part"] for match in data["matches"]]
    partial = [part for part in parts if (part[2] - part[0]) * (part[3] - part[1]) < 0.9]
    assert partial, "the example should find a part of some work"
    assert len(re.findall(r'<rect class="upper"', html)) >= 2 * len(partial)
    assert len(re.findall(r'<rect class="upper"', html)) == len(re.findall(r'<rect class="under"', html))
    for match in data["matches"]:
        assert match["reason"] in Document(html).text


@pytest.mark.asyncio
async def test_the_masses_that_the_words_name_are_drawn_on_the_map(datasette: Any) -> None:
    path = "/-/find?example=lamp-on-a-kitchen-table"
    html = (await datasette.client.get(path)).text
    matches = (await datasette.client.get(path.replace("?", ".json?"))).json()["matches"]
    masses = [(mass, match) for match in matches for mass in match["masses"]]
    assert masses
    assert all(mass["words"].split()[1] in match["reason"] for mass, match in masses)
    drawn = re.findall(r'<path class="mass( lone)? upper" d="M([^"]+)Z"', html)
    assert len(drawn) == len(masses)
    assert sum(bool(lone) for lone, _ in drawn) == sum(not mass["alike"] for mass, _ in masses)
    # What agrees is drawn within the part that answers to the study, but for what a hand bends.
    for mass, match in masses:
        x0, y0, x1, y1 = match["part"]
        for x, y in mass["points"][0]:
            assert x0 - 0.15 <= x <= x1 + 0.15
            assert y0 - 0.15 <= y <= y1 + 0.15


@pytest.mark.asyncio
async def test_choices_are_heeded_and_kept(datasette: Any) -> None:
    path = "/-/find.json?example=two-figures-by-a-window"
    plain = (await datasette.client.get(path)).json()
    assert plain["choices"] == {"mirrored": True, "whole": False, "heed_register": False}
    whole = (await datasette.client.get(path + "&whole=1&mirrored=0")).json()
    assert whole["choices"] == {"mirrored": False, "whole": True, "heed_register": False}
    assert not any(match["mirrored"] for match in whole["matches"])
    assert all(match["part"] == [0, 0, 1, 1] for match in whole["matches"])
    page = Document((await datasette.client.get(path.replace(".json", "") + "&whole=1&mirrored=0")).text)
    assert [f["name"] for f in page.all("input") if "checked" in f] == ["whole"]
    posted = await send(datasette, picture_bytes(paint("bands")), "/-/find.json", mirrored="0", whole="1")
    assert posted.json()["choices"] == {"mirrored": False, "whole": True, "heed_register": False}


@pytest.mark.asyncio
async def test_only_the_works_that_were_chosen_are_looked_at(datasette: Any) -> None:
    path = "/-/find.json?example=two-figures-by-a-window"
    every = (await datasette.client.get(path)).json()["matches"]
    artist = every[-1]["artist"]
    found = (await datasette.client.get(f"{path}&only_artist={artist}")).json()
    assert found["only"] == {"artist": artist}
    assert found["matches"]
    assert {match["artist"] for match in found["matches"]} == {artist}
    page = Document((await datasette.client.get(f"{path.replace('.json', '')}&only_artist={artist}")).text)
    assert [f["value"] for f in page.all("option") if "selected" in f] == [artist]


@pytest.mark.asyncio
async def test_an_answer_carries_its_study_along(datasette: Any) -> None:
    page = Document((await send(datasette, picture_bytes(paint("slant")))).text)
    carried = next(field["value"] for field in page.all("input") if field.get("name") == "carried")
    again = await datasette.client.post("/-/find.json", files={"carried": (None, carried), "whole": (None, "1")})
    assert again.status_code == 200
    assert again.json()["choices"]["whole"] is True
    assert again.json()["matches"]


@pytest.mark.asyncio
async def test_nothing_that_a_camera_wrote_is_given_back(datasette: Any) -> None:
    exif = Image.Exif()
    exif[0x013B] = "Nobody of Nowhere"
    exif[0x0110] = "Pinhole 7"
    data = picture_bytes(paint("ring"), "JPEG", exif=exif, comment=b"left on the file")
    assert b"Pinhole 7" in data
    response = await send(datasette, data)
    given = [response.content]
    for found in re.findall(rb"base64,([A-Za-z0-9+/=]+)", response.content):
        given.append(base64.b64decode(found))
    for secret in (b"Nobody of Nowhere", b"Pinhole 7", b"left on the file", b"study.png"):
        assert not any(secret in part for part in given)


@pytest.mark.asyncio
async def test_an_upload_leaves_nothing_on_disk(
    datasette: Any, small_archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import tempfile

    def no_file(*_: object, **__: object) -> None:
        pytest.fail("an upload was written to a file")

    before = sorted(path.name for path in small_archive.rglob("*"))
    await datasette.invoke_startup()
    monkeypatch.setattr(tempfile, "TemporaryFile", no_file)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    large = picture_bytes(paint("grade", size=(1600, 1200)))
    assert len(large) > 1.5 * 1024 * 1024, "larger than what Datasette keeps in memory by itself"
    assert (await send(datasette, large)).status_code == 200
    assert sorted(path.name for path in small_archive.rglob("*")) == before
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "Choose a picture first"),
        (b"plain words", "not a picture in a format"),
        (picture_bytes(paint("bands"))[:900], "."),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "not a picture in a format"),
    ],
    ids=["empty", "text", "cut short", "svg"],
)
@pytest.mark.asyncio
async def test_bad_uploads_are_answered_in_one_sentence(datasette: Any, data: bytes, says: str) -> None:
    page = await send(datasette, data)
    assert page.status_code == 400
    notes = re.findall(r'<p class="note" role="alert">(.*?)</p>', page.text)
    assert len(notes) == 1
    assert says in notes[0]
    assert "Traceback" not in page.text
    assert 'type="file"' in page.text, "the form is there to try again"
    twin = await send(datasette, data, "/-/find.json")
    assert twin.status_code == 400
    assert twin.json()["ok"] is False
    assert says in twin.json()["error"]
    assert twin.json()["errors"] == [twin.json()["error"]]


@pytest.mark.asyncio
async def test_a_file_that_is_too_large_is_refused(datasette: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(upload, "_LARGEST", 1000)
    response = await send(datasette, picture_bytes(paint("bands")))
    assert response.status_code == 400
    assert "too large" in response.text


@pytest.mark.parametrize("carried", ["%%%", "bm90IGEgcGljdHVyZQ=="])
@pytest.mark.asyncio
async def test_a_carried_study_is_as_little_trusted(datasette: Any, carried: str) -> None:
    response = await datasette.client.post("/-/find", files={"carried": (None, carried)})
    assert response.status_code == 400


@pytest.mark.asyncio
async def test_a_flat_page_is_said_to_have_no_pattern(datasette: Any) -> None:
    flat = picture_bytes(Image.new("RGB", (200, 160), (140, 140, 140)))
    response = await send(datasette, flat, "/-/find.json")
    assert response.status_code == 200
    assert response.json()["matches"] == []
    assert response.json()["note"]
    assert response.json()["note"] in Document((await send(datasette, flat)).text).text


@pytest.mark.asyncio
async def test_foreign_pages_cannot_post_here(datasette: Any) -> None:
    response = await datasette.client.post(
        "/-/find",
        files={"study": ("a.png", picture_bytes(paint("bands")), "image/png")},
        headers={"origin": "https://elsewhere.example", "sec-fetch-site": "cross-site"},
    )
    assert response.status_code == 403


@pytest.mark.parametrize(
    "path", ["/-/works/none-such", "/-/arrangements/none-such", "/-/find?example=none-such", "/-/works/%3Cb%3E"]
)
@pytest.mark.asyncio
async def test_what_is_not_there_is_said_so(datasette: Any, path: str) -> None:
    page = await datasette.client.get(path)
    assert page.status_code == 404
    assert "Not in this book" in page.text
    assert "<b>" not in page.text
    twin = await datasette.client.get(twin_of(path))
    assert twin.status_code == 404
    assert twin.json()["ok"] is False


@pytest.mark.parametrize(
    "path", ["/works", "/field", "/boards", "/nosuch", "/-/find/nope", "/nosuch/-/x", "/archive/nosuch", "/archive.x"]
)
@pytest.mark.asyncio
async def test_an_unknown_address_leads_back(datasette: Any, path: str) -> None:
    for accept in ("text/html,application/xhtml+xml,application/json;q=0.9,*/*;q=0.8", "*/*"):
        page = await datasette.client.get(path, headers={"accept": accept})
        assert page.status_code == 404
        assert "Not in this book" in page.text
        assert "Database not found" not in page.text
        assert "script-src 'self';" in page.headers["content-security-policy"]
        main = page.text.partition("<main")[2].partition("</main>")[0]
        assert {"/", "/-/find", "/-/works"} <= {a["href"] for a in Document(main).all("a")}
    data = await datasette.client.get(path, headers={"accept": "application/json"})
    assert data.status_code == 404
    assert data.json()["ok"] is False


@pytest.mark.parametrize(
    "path", ["/nosuch.json", "/-/find/nope.json", "/archive/nosuch.json", "/archive/works/nosuch.json"]
)
@pytest.mark.asyncio
async def test_an_unknown_address_of_data_is_answered_in_data(datasette: Any, path: str) -> None:
    answer = await datasette.client.get(path)
    assert answer.status_code == 404
    assert answer.headers["content-type"].startswith("application/json")
    assert answer.json()["ok"] is False


@pytest.mark.asyncio
async def test_a_board_without_leaves_offers_nothing_that_it_cannot_give(small_archive: Path, tmp_path: Path) -> None:
    datasette = build_datasette(Path(shutil.copytree(small_archive, tmp_path / "archive")))
    works = [each["work"] for each in (await datasette.client.get("/-/works.json")).json()["works"]]
    made = await datasette.client.post("/-/boards.json", data={"do": "make", "title": "Empty"})
    url = f"/-/boards/{made.json()['board']}"

    async def offered() -> set[str]:
        page = Document((await datasette.client.get(url)).text)
        links = [a["href"] for a in page.all("a")] + [f["action"] for f in page.all("form") if "action" in f]
        links += [b["formaction"] for b in page.all("button") if "formaction" in b]
        return {link.rpartition("/")[2] for link in links if "/press/" in link}

    assert await offered() == {"html", "png", "csv", "json"}
    for form in await offered():
        assert (await datasette.client.get(f"{url}/press/{form}")).status_code == 200, form
    await datasette.client.post("/-/gather", data={"work": works[0], "board": made.json()["board"]})
    assert {"iiif", "pdf", "panels", "studies"} <= await offered()
    assert "cards" not in await offered(), "there is nothing to sort a single card from"
    await datasette.client.post("/-/gather", data={"work": works[1], "board": made.json()["board"]})
    assert "cards" in await offered()


@pytest.mark.asyncio
async def test_one_kept_study_is_spoken_of_as_one(small_archive: Path, tmp_path: Path) -> None:
    datasette = build_datasette(Path(shutil.copytree(small_archive, tmp_path / "archive")))

    async def kept() -> str:
        sent = {"do": "keep", "example": "harbour-at-evening", "nickname": "Wren"}
        await datasette.client.post("/-/practice", files={name: (None, value) for name, value in sent.items()})
        return str((await datasette.client.get("/-/practice?of=Wren")).text)

    one = await kept()
    assert 'viewBox="0 0 9 100"' in one, "its column is as wide as the frame"
    assert "Dark below, light above." in one
    assert "Delete it</button>" in one
    for word in ("the last at the right", "the last first", "Delete all", "All 1"):
        assert word not in one
    two = await kept()
    assert 'viewBox="0 0 19 100"' in two
    assert "The studies, the last first" in two
    assert "Delete all 2</button>" in two


@pytest.mark.parametrize("path", ["/-/search?_next=x", "/-/search?_next=-3&q=light"])
@pytest.mark.asyncio
async def test_a_bad_token_is_said_so(datasette: Any, path: str) -> None:
    assert (await datasette.client.get(path)).status_code == 400
    assert (await datasette.client.get(twin_of(path))).status_code == 400


@pytest.mark.parametrize("path", ["/", "/-/about", "/-/search"])
@pytest.mark.asyncio
async def test_other_methods_are_refused_by_name(datasette: Any, path: str) -> None:
    response = await datasette.client.post(path, data={"a": "b"})
    assert response.status_code == 405
    assert response.headers["allow"] == "GET, HEAD"


@pytest.mark.asyncio
async def test_search_pages_through_all_works(
    datasette: Any, rows: sqlite3.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(works_page, "SIZE", 5)
    (count,) = rows.execute("SELECT count(*) FROM works").fetchone()
    found: list[str] = []
    path: str | None = "/-/search.json"
    while path:
        data = (await datasette.client.get(path)).json()
        assert data["count"] == count
        found += [work["work"] for work in data["works"]]
        path = data["next_url"]
    assert len(found) == len(set(found)) == count


@pytest.mark.asyncio
async def test_search_finds_by_the_beginning_of_a_word(datasette: Any, rows: sqlite3.Connection) -> None:
    (title,) = rows.execute("SELECT title FROM works WHERE title IS NOT NULL LIMIT 1").fetchone()
    word = max(re.findall(r"\w+", title), key=len)
    data = (await datasette.client.get("/-/search.json", params={"q": word[:4]})).json()
    assert title in {work["title"] for work in data["works"]}


@pytest.mark.parametrize("q", ['"', "a'b", "NEAR(", "x AND", "*", "<script>alert(1)</script>", "é" * 300])
@pytest.mark.asyncio
async def test_any_text_may_be_searched_for(datasette: Any, q: str) -> None:
    response = await datasette.client.get("/-/search", params={"q": q})
    assert response.status_code == 200
    assert "<script>alert" not in response.text


@pytest.mark.parametrize("century", ["--5", "²", "-", "5-", "9" * 40, "17"])
@pytest.mark.asyncio
async def test_any_century_may_be_asked_for(datasette: Any, century: str) -> None:
    page = await datasette.client.get("/-/works", params={"century": century})
    assert page.status_code == 200
    assert f"Century: {'17th' if century == '17' else century}" in page.text


@pytest.mark.asyncio
async def test_text_of_the_records_is_escaped_everywhere(small_archive: Path, tmp_path: Path) -> None:
    folder = tmp_path / "hostile"
    shutil.copytree(small_archive, folder)
    nasty = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>"
    with sqlite3.connect(folder / "archive.db") as connection:
        for column in ("title", "artist", "date", "medium", "culture", "collection", "credit", "sentence"):
            connection.execute(f"UPDATE works SET {column} = ?", (nasty,))
        connection.execute("UPDATE works SET object_url = 'javascript:alert(3)', rights = ?", (nasty,))
        connection.execute("UPDATE arrangements SET name = ?, sentence = ?", (nasty, nasty))
        connection.execute("UPDATE sources SET obtained_from = ? || source", (nasty,))
        connection.row_factory = sqlite3.Row
        paths = our_pages(connection)
    connection.close()
    datasette = build_datasette(folder)
    for path in [*paths, "/archive/works", "/archive/arrangements"]:
        response = await datasette.client.get(path)
        assert response.status_code == 200, path
        assert "<script>alert" not in response.text, path
        assert "<img src=x" not in response.text, path
        page = Document(response.text)
        assert not any(a.get("href", "").startswith("javascript:") for a in page.all("a")), path


@pytest.mark.parametrize("value", ["paper", "grey", "dark"])
@pytest.mark.asyncio
async def test_the_surround_is_remembered(datasette: Any, value: str) -> None:
    response = await datasette.client.post(
        "/-/surround", data={"surround": value, "back": "/-/about"}, follow_redirects=False
    )
    assert response.status_code == 303
    assert response.headers["location"] == "/-/about"
    cookie = response.headers["set-cookie"]
    assert cookie.startswith(f"surround={value};")
    assert "SameSite=lax" in cookie
    html = (await datasette.client.get("/-/about", cookies={"surround": value})).text
    assert Document(html).all("html")[0]["data-surround"] == value
    pressed = [b["value"] for b in Document(html).all("button") if b.get("aria-pressed") == "true"]
    assert pressed == [value]


@pytest.mark.parametrize(
    "back", ["//elsewhere.example/", "https://elsewhere.example/", "/\\elsewhere.example", "", "/a\r\nx: y"]
)
@pytest.mark.asyncio
async def test_the_surround_leads_nobody_elsewhere(datasette: Any, back: str) -> None:
    response = await datasette.client.post(
        "/-/surround", data={"surround": "dark", "back": back}, follow_redirects=False
    )
    assert response.headers["location"] == "/"


@pytest.mark.asyncio
async def test_there_are_three_surrounds_only(datasette: Any) -> None:
    bad = await datasette.client.post("/-/surround", data={"surround": "pink"}, follow_redirects=False)
    assert bad.status_code == 400
    assert "set-cookie" not in bad.headers
    assert (await datasette.client.get("/-/surround")).status_code == 405
    html = (await datasette.client.get("/", cookies={"surround": '"><script>'})).text
    assert "data-surround" not in Document(html).all("html")[0]


@pytest.mark.asyncio
async def test_about_counts_every_work_once(datasette: Any, rows: sqlite3.Connection) -> None:
    data = (await datasette.client.get("/-/about.json")).json()
    (count,) = rows.execute("SELECT count(*) FROM works").fetchone()
    assert data["counts"]["works"] == count
    assert sum(row["works"] for row in data["sources"]) == count
    assert sum(row["works"] for row in data["rights"]) == count
    text = Document((await datasette.client.get("/-/about")).text).text
    assert "measurements, never marks" in text
    assert all(row["name"] in text for row in data["types"])


@pytest.mark.asyncio
async def test_tables_show_pictures_facets_and_labels(datasette: Any, rows: sqlite3.Connection) -> None:
    html = (await datasette.client.get("/archive/works")).text
    cells = [image for image in Document(html).all("img") if image.get("class") == "blotbook-cell"]
    (count,) = rows.execute("SELECT count(*) FROM works").fetchone()
    assert len(cells) == 6 * count
    assert all(image["src"].startswith("/pictures/") and image["alt"] for image in cells)
    data = (await datasette.client.get("/archive/works.json?_extra=facet_results&_labels=on")).json()
    assert {"arrangement", "century"} <= set(data["facet_results"]["results"])
    labels = {row["arrangement"]["label"] for row in data["rows"] if row["arrangement"]}
    assert labels == {name for (name,) in rows.execute("SELECT name FROM arrangements")}


@pytest.mark.asyncio
async def test_rows_lead_back_to_our_pages(datasette: Any, rows: sqlite3.Connection) -> None:
    (work,) = rows.execute("SELECT work FROM works LIMIT 1").fetchone()
    assert f'href="/-/works/{work}"' in (await datasette.client.get(f"/archive/works/{work}")).text
    number, slug = rows.execute("SELECT arrangement, slug FROM arrangements LIMIT 1").fetchone()
    html = (await datasette.client.get(f"/archive/arrangements/{number}")).text
    assert f'href="/-/arrangements/{slug}"' in html
    assert 'href="/-/find"' in html


@pytest.mark.asyncio
async def test_the_archive_can_be_asked_but_not_changed(datasette: Any) -> None:
    asked = await datasette.client.get("/archive/-/query.json?sql=select+count(*)+as+n+from+works&_shape=array")
    assert asked.json()[0]["n"] > 0
    for path in ("/archive/works/-/insert", "/archive/-/create"):
        response = await datasette.client.post(
            path, content=json.dumps({"row": {"work": "x"}}), headers={"content-type": "application/json"}
        )
        assert response.status_code == 403, path


@pytest.mark.asyncio
async def test_another_datasette_is_left_alone(tmp_path: Path) -> None:
    from datasette.app import Datasette

    with sqlite3.connect(tmp_path / "archive.db") as connection:
        connection.execute("CREATE TABLE works (work TEXT PRIMARY KEY, painting TEXT)")
        connection.execute("INSERT INTO works VALUES ('a', ?)", (f"ab/{'a' * 64}.webp",))
    connection.close()
    other = Datasette([str(tmp_path / "archive.db")])
    assert 'class="book"' not in (await other.client.get("/")).text
    assert (await other.client.get("/-/about")).status_code == 404
    html = (await other.client.get("/archive/works")).text
    assert "blotbook" not in html


def test_style_sheets_have_no_hue_and_say_their_lightness() -> None:
    from archive.pages.frame import SURROUNDS, grey

    for sheet in ("blotbook.css", "tables.css"):
        text = (STATIC / sheet).read_text(encoding="utf-8")
        colours = re.findall(r"#[0-9a-fA-F]{3,8}\b", text)
        assert colours, sheet
        for colour in colours:
            assert len(colour) == 7, colour
            assert colour[1:3] == colour[3:5] == colour[5:7], f"{colour} has a hue"
        assert not re.search(r"\b(rgb|hsl|lab|lch|oklab|oklch|color)a?\(", text)
    text = (STATIC / "blotbook.css").read_text(encoding="utf-8")
    stated = re.findall(r"--L(\d+): (#[0-9a-f]{6});", text)
    assert len(stated) > 10
    for lightness, colour in stated:
        assert colour == grey(float(lightness)), lightness
    for name, (_, lightness) in SURROUNDS.items():
        rule = text.split(f'[data-surround="{name}"] {{')[1].split("}")[0]
        assert f"--ground: var(--L{lightness:.0f});" in rule


def test_marks_and_templates_have_no_hue_either() -> None:
    for file in [*STATIC.glob("*.svg"), *(STATIC.parent / "templates").rglob("*.html")]:
        for colour in re.findall(r"#[0-9a-fA-F]{6}\b", file.read_text(encoding="utf-8")):
            assert colour[1:3] == colour[3:5] == colour[5:7], (file.name, colour)


def test_text_stands_out_from_every_surround() -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text; 1.4.11: 3 to 1 for the outlines of fields."""
    text = (STATIC / "blotbook.css").read_text(encoding="utf-8")
    for name in ("paper", "grey", "dark"):
        rule = text.split(f'[data-surround="{name}"] {{')[1].split("}")[0]
        tones = {key: float(value) for key, value in re.findall(r"--([a-z-]+): var\(--L(\d+)\)", rule)}
        for ink in ("ink", "soft"):
            for ground in ("ground", "sunk"):
                assert contrast(tones[ink], tones[ground]) >= 4.5, (name, ink, ground)
        assert contrast(tones["on-ink"], tones["ink"]) >= 4.5, name
        assert contrast(tones["line"], tones["ground"]) >= 3.0, name


def contrast(one: float, other: float) -> float:
    """Contrast ratio of WCAG 2.2 for two tones in L*."""
    from ingest.lightness import luminance_CIE1976

    low, high = sorted(float(luminance_CIE1976(tone)) for tone in (one, other))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.asyncio
async def test_an_empty_archive_says_what_to_do(tmp_path: Path) -> None:
    Archive.create(tmp_path / "empty").close()
    datasette = build_datasette(tmp_path / "empty")
    assert "blotbook ingest" in (await datasette.client.get("/")).text
    for path in ("/-/search", "/-/search?q=a", "/-/about", "/-/find", "/archive/works"):
        assert (await datasette.client.get(path)).status_code == 200, path
    found = (await datasette.client.get("/-/find.json?example=harbour-at-evening")).json()
    assert found["matches"] == []
    assert found["note"]
