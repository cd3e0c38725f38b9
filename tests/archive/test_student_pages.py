"""The student's pages without a browser: what they answer, what they refuse, and that nothing is kept unasked."""

from __future__ import annotations

import base64
import io
import re
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from painting import paint
from PIL import Image, ImageDraw

from archive.formats import FORMATS
from archive.pages.compare import LAYINGS, SHOWINGS, beside_value
from archive.placing import Belonging
from archive.serving import build_datasette
from archive.store import Archive

ROOT = Path(__file__).parents[2]
PAGES = ("/-/sheet", "/-/pad", "/-/viewfinder", "/-/practice")


@pytest.fixture(scope="module")
def folder(small_archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the small archive in which studies may be kept."""
    there = tmp_path_factory.mktemp("student") / "archive"
    shutil.copytree(small_archive, there, ignore=shutil.ignore_patterns("boards.db*"))
    return there


@pytest.fixture
def datasette(folder: Path) -> Any:
    return build_datasette(folder)


@pytest.fixture(scope="module")
def work(folder: Path) -> str:
    return str(Archive.open(folder).works(size=1).works[0]["work"])


def as_bytes(picture: Image.Image, kind: str = "PNG") -> bytes:
    held = io.BytesIO()
    picture.save(held, kind, quality=92)
    return held.getvalue()


def study() -> bytes:
    return as_bytes(paint("light-mass", 5))


def taped_sheet() -> bytes:
    """Four dark-framed panels in two rows on white paper on a grey table, seen straight on."""
    photo = Image.new("RGB", (800, 640), (120, 120, 120))
    draw = ImageDraw.Draw(photo)
    draw.rectangle((60, 40, 740, 600), fill=(238, 238, 238))
    for row in (0, 1):
        for column in (0, 1):
            x, y = 100 + 320 * column, 80 + 260 * row
            draw.rectangle((x, y, x + 280, y + 220), fill=(70, 70, 70))
            light = 30 + 55 * row + 20 * column
            draw.rectangle((x + 140 - light, y + 110 - light, x + 140 + light, y + 110 + light), fill=(225, 225, 225))
            draw.rectangle((x, y + 180, x + 280, y + 220), fill=(140, 140, 140))
    return as_bytes(photo, "JPEG")


async def post(datasette: Any, path: str, data: bytes | None = None, **fields: Any) -> Any:
    files = {} if data is None else {"study": ("study.png", data, "image/png")}
    if data is None:
        files["nothing"] = ("", b"", "application/octet-stream")
    return await datasette.client.post(path, files=files, data=fields)


@pytest.mark.asyncio
@pytest.mark.parametrize("path", PAGES)
async def test_every_page_and_its_twin_answer(datasette: Any, path: str) -> None:
    page = await datasette.client.get(path)
    assert page.status_code == 200
    assert "<h1>" in page.text
    assert page.text.count('aria-current="page"') >= 1
    assert " style=" not in page.text
    twin = await datasette.client.get(path + ".json")
    assert twin.json()["ok"] is True


@pytest.mark.asyncio
async def test_looking_at_the_log_makes_no_file(small_archive: Path, tmp_path: Path) -> None:
    there = tmp_path / "archive"
    shutil.copytree(small_archive, there, ignore=shutil.ignore_patterns("boards.db*"))
    fresh = build_datasette(there)
    page = await fresh.client.get("/-/practice")
    assert "Nothing is kept yet" in page.text
    assert (await fresh.client.get("/-/practice/0123456789ab/picture")).status_code == 404
    await post(fresh, "/-/compare", study(), beside=str(Archive.open(there).works(size=1).works[0]["work"]))
    await post(fresh, "/-/sheet", taped_sheet())
    await post(fresh, "/-/viewfinder", study())
    await post(fresh, "/-/reading.json", study())
    assert not list(there.glob("boards.db*")), "nothing is written until somebody asks for it"


# -- compare -----------------------------------------------------------------------------------------------------


@pytest.mark.asyncio
async def test_a_work_beside_itself_agrees_in_everything(datasette: Any, folder: Path) -> None:
    archive = Archive.open(folder)
    work = archive.works(size=1).works[0]
    data = (folder / "pictures" / work["painting"]).read_bytes()
    twin = (await post(datasette, "/-/compare.json", data, as_is="1", beside=work["work"])).json()
    assert twin["same"] > 0.97
    assert all(share > 0.95 for share in twin["agreement"].values())
    assert twin["turned"] is False
    assert twin["parted"] == twin["closed"] == []
    assert twin["next"] == [] or all(said["ask"] for said in twin["next"])
    over = as_bytes(Image.open(io.BytesIO(data)).convert("RGB").transpose(Image.Transpose.FLIP_LEFT_RIGHT))
    named = beside_value(work["work"], None, True)
    turned = (await post(datasette, "/-/compare.json", over, as_is="1", beside=named)).json()
    assert turned["turned"] is True
    assert turned["same"] > 0.95


@pytest.mark.asyncio
async def test_the_compare_page_shows_all_its_views_and_says_what_it_measures(datasette: Any, work: str) -> None:
    page = (await post(datasette, "/-/compare", study(), beside=work)).text
    for name, _ in SHOWINGS:
        assert page.count(f'data-showing="{name}"') == 2
    for name, _ in LAYINGS:
        assert f'value="{name}"' in page
    assert "Middle and dark" in page
    assert "not how good a study is" in page
    assert not re.search(r"\b(score|grade|marks? out of|out of ten|stars)\b", page, re.IGNORECASE)


@pytest.mark.asyncio
async def test_a_demo_study_beside_a_part_of_a_work(datasette: Any, work: str) -> None:
    path = f"/-/compare.json?example=harbour-at-evening&beside={beside_value(work, (0.1, 0.2, 0.9, 0.95), False)}"
    twin = (await datasette.client.get(path)).json()
    assert twin["part"] == [0.1, 0.2, 0.9, 0.95]
    assert twin["study"]["example"] == "harbour-at-evening"
    assert twin["values"]["seen"]


@pytest.mark.asyncio
async def test_wrong_ways_to_compare_are_said(datasette: Any, work: str) -> None:
    bare = await datasette.client.get("/-/compare")
    assert bare.status_code == 303
    assert bare.headers["location"] == "/-/find"
    assert (await datasette.client.get("/-/compare.json")).status_code == 400
    assert (await post(datasette, "/-/compare.json", study(), beside="no-such-work")).status_code == 404
    small = await post(datasette, "/-/compare.json", study(), beside=f"{work}@0.5,0.5,0.51,0.9")
    assert "too small" in small.json()["error"]
    assert (await post(datasette, "/-/compare.json", b"no picture", beside=work)).status_code == 400
    assert "Choose a picture" in (await post(datasette, "/-/compare.json", beside=work)).json()["error"]


@pytest.mark.asyncio
async def test_the_ring_is_spoken_of_where_it_is_drawn(datasette: Any, folder: Path, work: str) -> None:
    """Also in the picture of what differs, which stands alone when it is chosen."""
    painted = Image.open(folder / "pictures" / Archive.open(folder).works(size=1).works[0]["painting"]).convert("RGB")
    broken = painted.copy()
    wide, high = broken.size
    ImageDraw.Draw(broken).rectangle((0.46 * wide, 0, 0.54 * wide, high), fill=(40, 34, 30))
    for picture, rings in ((broken, 3), (painted, 0)):
        page = (await post(datasette, "/-/compare", as_bytes(picture), as_is="1", beside=work)).text
        assert page.count('<svg class="rings"') == rings
        assert ("The ring marks the place" in page) == bool(rings)


def test_a_printed_comparison_has_no_controls() -> None:
    style = (ROOT / "archive" / "pages" / "static" / "compare.css").read_text(encoding="utf-8")
    printed = style[style.index("@media print") :]
    hidden = printed[: printed.index("display: none")]
    for part in (".handles", ".turnover", ".wiper", ".onward"):
        assert part in hidden
    assert "break-inside: avoid" in printed
    # What opens them on the screen would outweigh what hides them on paper.
    assert re.search(r"@media screen \{\s*[^{}]*\.turnover,[^{}]*\.wiper \{\s*display: block", style)


# -- sheet -------------------------------------------------------------------------------------------------------


@pytest.mark.asyncio
async def test_the_panels_within_given_corners_are_laid_side_by_side(datasette: Any) -> None:
    corners = [
        " ".join(f"{x / 8:.3f},{y / 6.4:.3f}" for x, y in ((a, b), (a + 280, b), (a + 280, b + 220), (a, b + 220)))
        for b in (80, 340)
        for a in (100, 420)
    ]
    asked = {"do": "corners", "whole": "0", "corners": corners}
    twin = (await post(datasette, "/-/sheet.json", taped_sheet(), **asked)).json()
    panels = twin["panels"]
    assert len(panels) == 4
    assert panels[0]["corners"][0] == pytest.approx([0.125, 0.125], abs=0.01)
    for number, panel in enumerate(panels):
        half = 30 + 55 * (number // 2) + 20 * (number % 2)
        tall = min(110 + half, 180) - (110 - half)  # the middle tone begins at 180
        assert panel["light"] == pytest.approx(2 * half * tall / (280 * 220), abs=0.05)
    lightest = max(panels, key=lambda panel: panel["light"])
    assert any(line.startswith("The most light: ") for line in lightest["apart"])
    page = (await post(datasette, "/-/sheet", taped_sheet(), **asked)).text
    assert page.count("Go on with this one") == 4
    unclear = sum(panel["degree"] < 0.45 for panel in panels)
    assert page.count("In no arrangement clearly; nearest to") == unclear, "as works are placed"
    assert [Belonging("a", "a", degree).clear for degree in (0.44, 0.45)] == [False, True]
    assert "In no order of worth" in page


@pytest.mark.asyncio
async def test_a_panel_whose_corners_were_not_moved_is_read_as_it_was_found(datasette: Any) -> None:
    page = (await post(datasette, "/-/sheet", taped_sheet())).text
    corners = re.findall(r'name="corners" value="([^"]+)"', page)
    assert re.findall(r'name="found" value="([^"]*)"', page) == corners, "nobody has set any"
    hand = " ".join(
        f"{float(x) + 1:.2f},{float(y) + 1:.2f}" for x, y in (pair.split(",") for pair in corners[1].split())
    )
    asked = {"do": "corners", "whole": "0", "corners": [corners[0], hand, *corners[2:]], "found": corners}
    again = (await post(datasette, "/-/sheet", taped_sheet(), **asked)).text
    found = re.findall(r'name="found" value="([^"]*)"', again)
    assert [bool(each) for each in found] == [True, False, True, True]
    first = (await post(datasette, "/-/sheet.json", taped_sheet())).json()["panels"]
    then = (await post(datasette, "/-/sheet.json", taped_sheet(), **asked)).json()["panels"]
    for at in (0, 2, 3):
        assert then[at]["confidence"] == first[at]["confidence"]
        assert then[at]["light"] == pytest.approx(first[at]["light"], abs=0.002)
    assert then[1]["confidence"] == 1.0


@pytest.mark.asyncio
async def test_panels_beyond_those_that_are_read_are_told(datasette: Any) -> None:
    photo = as_bytes(Image.fromarray(np.tile(np.uint8([70, 225]), (640, 400))).convert("RGB"))
    spots = [(x, y) for y in (5, 35, 65) for x in (3, 22, 41, 60, 79)]
    corners = [f"{x},{y} {x + 15},{y} {x + 15},{y + 25} {x},{y + 25}" for x, y in spots]
    for count, told in ((12, 0), (13, 1), (15, 1)):
        asked = {"do": "corners", "whole": "0", "corners": corners[:count]}
        twin = (await post(datasette, "/-/sheet.json", photo, **asked)).json()
        assert len(twin["panels"]) == 12
        assert sum("more than 12 panels. The first 12 are read" in note for note in twin["notes"]) == told


@pytest.mark.asyncio
async def test_nothing_is_lost_when_no_panels_are_found(datasette: Any) -> None:
    even = as_bytes(Image.new("RGB", (400, 300), (150, 150, 150)))
    page = await post(datasette, "/-/sheet", even)
    assert page.status_code == 200
    assert "The photo is still here" in page.text
    assert page.text.count('name="corners"') == 1, "corners to begin from"
    marked = await post(datasette, "/-/sheet", taped_sheet(), do="mark")
    assert 'name="whole" value="1"' in marked.text
    crossed = await post(datasette, "/-/sheet", taped_sheet(), do="corners", corners="10,10 20,20 30,30 40,40")
    assert crossed.status_code == 200
    assert "The photo is still here" in crossed.text


@pytest.mark.asyncio
async def test_corners_that_are_none_are_said(datasette: Any) -> None:
    answer = await post(datasette, "/-/sheet.json", taped_sheet(), do="corners", corners="here, there")
    assert answer.status_code == 400
    assert "four pairs of numbers" in answer.json()["error"]
    assert "Choose a photo" in (await post(datasette, "/-/sheet.json")).json()["error"]


# -- viewfinder --------------------------------------------------------------------------------------------------


@pytest.mark.asyncio
async def test_the_viewfinder_reads_what_it_frames(datasette: Any) -> None:
    tone = np.full((300, 400, 3), 60, dtype=np.uint8)
    tone[:150, 200:] = 230
    asked = {"format": "4x3", "across": "100", "down": "0", "size": "50"}
    twin = (await post(datasette, "/-/viewfinder.json", as_bytes(Image.fromarray(tone)), **asked)).json()
    assert twin["part"] == pytest.approx([0.5, 0.0, 1.0, 0.5])
    assert twin["proposals"] is None
    assert twin["reading"]["light_masses"] == 0, "the upper right quarter is one even tone"
    whole = (await post(datasette, "/-/viewfinder.json", as_bytes(Image.fromarray(tone)), format="4x3")).json()
    assert whole["part"] == [0.0, 0.0, 1.0, 1.0]
    assert whole["reading"]["light"] == pytest.approx(0.25, abs=0.02)


@pytest.mark.asyncio
async def test_proposals_can_be_set_and_say_why(datasette: Any, folder: Path) -> None:
    picture = as_bytes(paint("light-mass", 2, (360, 240)))
    for near in ("", Archive.open(folder).arrangements()[0]["slug"]):
        asked = {"format": "1x1", "do": "propose", "near": near}
        twin = (await post(datasette, "/-/viewfinder.json", picture, **asked)).json()
        assert 1 <= len(twin["proposals"]) <= 3
        assert all(each["reason"].endswith(".") for each in twin["proposals"])
    page = (await post(datasette, "/-/viewfinder", picture, **asked)).text
    first = re.search(r'data-across="([\d.]+)" data-down="([\d.]+)" data-size="([\d.]+)"', page)
    assert first is not None
    across, down, size = first.groups()
    back = {"format": "1x1", "across": across, "down": down, "size": size}
    again = (await post(datasette, "/-/viewfinder.json", picture, **back)).json()
    assert again["part"] == pytest.approx(twin["proposals"][0]["part"], abs=0.01)


@pytest.mark.asyncio
async def test_the_viewfinder_has_all_pictures_read_at_the_desk(
    datasette: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def here(*_: object, **__: object) -> None:
        pytest.fail("a picture was read by the server")

    for name in ("archive.proposals.read_tone", "archive.proposals.crop", "ingest.reading.read_tone"):
        monkeypatch.setattr(name, here)
    twin = (await post(datasette, "/-/viewfinder.json", study(), format="1x1", do="propose")).json()
    assert twin["reading"]["sentence"]
    assert twin["proposals"]


@pytest.mark.asyncio
async def test_numbers_that_are_none_are_said(datasette: Any) -> None:
    answer = await post(datasette, "/-/viewfinder.json", study(), across="left")
    assert answer.status_code == 400
    assert answer.json()["error"] == "“left” is no number."
    odd = await post(datasette, "/-/viewfinder.json", study(), format="9x1", size="nan")
    assert odd.json()["format"] == "4x3"


# -- pad and reading ---------------------------------------------------------------------------------------------


@pytest.mark.asyncio
async def test_a_small_reading_is_the_street_itself(datasette: Any) -> None:
    read = (await post(datasette, "/-/reading.json", study())).json()
    found = (await post(datasette, "/-/find.json", study())).json()
    assert read["sentence"] == found["study"]["sentence"]
    assert read["light"] == found["study"]["measures"]["light"]
    with Image.open(io.BytesIO(base64.b64decode(read["map3"].split(",")[1]))) as picture:
        assert len(picture.getcolors() or []) <= 3
    assert (await datasette.client.get("/-/reading.json")).status_code == 405


@pytest.mark.asyncio
async def test_a_drawing_is_taken_as_it_is(datasette: Any) -> None:
    """A study on a light ground is no picture on a page: its ground must not be trimmed away."""
    drawn = Image.new("L", (480, 360), 238)
    ImageDraw.Draw(drawn).rectangle((150, 110, 330, 250), fill=48)
    carried = base64.b64encode(as_bytes(drawn)).decode("ascii")
    twin = (await post(datasette, "/-/find.json", carried=carried, as_is="1")).json()
    assert twin["study"]["trims"] == []
    assert twin["study"]["measures"]["dark"] == pytest.approx(181 * 141 / (480 * 360), abs=0.01)
    pad = (await datasette.client.get("/-/pad.json")).json()
    assert pad["formats"] == {name: list(sides) for name, sides in FORMATS.items()}


@pytest.mark.asyncio
async def test_what_is_read_of_a_photo_is_said_with_a_way_to_its_sheet(datasette: Any) -> None:
    hint = "were read as part of the study"
    shown = (await post(datasette, "/-/find", study())).text
    assert hint in shown
    assert 'href="/-/sheet"' in shown.split(hint)[1][:80]
    drawn = Image.new("L", (480, 360), 238)
    ImageDraw.Draw(drawn).rectangle((150, 110, 330, 250), fill=48)
    carried = base64.b64encode(as_bytes(drawn)).decode("ascii")
    as_it_is = (await post(datasette, "/-/find", carried=carried, as_is="1")).text
    assert hint not in as_it_is
    assert "Upright and trimmed." not in as_it_is, "nothing was"


# -- practice ----------------------------------------------------------------------------------------------------


@pytest.mark.asyncio
async def test_a_study_is_kept_shown_and_deleted(datasette: Any) -> None:
    kept = await post(datasette, "/-/practice", study(), do="keep", nickname="Wren", title="Lamp")
    assert kept.status_code == 303
    assert kept.headers["location"].startswith("/-/practice?of=Wren#s")
    log = (await datasette.client.get("/-/practice.json?of=Wren")).json()
    (one,) = log["studies"]
    assert one["title"] == "Lamp"
    picture = await datasette.client.get(one["picture"])
    assert picture.headers["content-type"] == "image/jpeg"
    assert "no-store" in picture.headers["cache-control"]
    found = (await post(datasette, "/-/find.json", kept=one["study"])).json()
    assert found["study"]["name"] == "Lamp"
    assert found["study"]["measures"]["light"] == pytest.approx(one["measures"]["light"], abs=0.02)
    page = await datasette.client.get("/-/practice?of=Wren")
    assert "Lamp" in page.text
    gone = await post(datasette, "/-/practice.json", do="forget", study=one["study"])
    assert gone.json()["deleted"] == 1
    assert (await datasette.client.get(one["picture"])).status_code == 404
    assert (await datasette.client.get("/-/practice.json?of=Wren")).json()["studies"] == []
    assert (await post(datasette, "/-/find.json", kept=one["study"])).status_code == 404


@pytest.mark.asyncio
async def test_what_the_log_does_not_do_is_said(datasette: Any) -> None:
    assert (await post(datasette, "/-/practice.json", do="paint")).status_code == 400
    long = await post(datasette, "/-/practice.json", study(), do="keep", nickname="w" * 60)
    assert long.json()["error"] == "A nickname may have up to 40 characters."
    assert (await post(datasette, "/-/practice.json", do="keep")).status_code == 400
    written = await post(datasette, "/-/practice.json", study(), do="keep", nickname="<b>Wren</b>")
    page = (await datasette.client.get("/-/practice")).text
    assert "<b>Wren</b>" not in page
    assert "&lt;b&gt;Wren&lt;/b&gt;" in page
    await post(datasette, "/-/practice.json", do="forget", study=written.json()["study"])


@pytest.mark.asyncio
async def test_after_a_deletion_one_is_told_where_there_is_something_to_see(datasette: Any) -> None:
    async def kept() -> str:
        sent = await post(datasette, "/-/practice.json", study(), do="keep", nickname="Swift")
        return str(sent.json()["study"])

    first, second = await kept(), await kept()
    one = await post(datasette, "/-/practice", do="forget", study=first)
    assert one.headers["location"] == "/-/practice?of=Swift&deleted=1"
    assert "The study is deleted" in (await datasette.client.get(one.headers["location"])).text
    last = await post(datasette, "/-/practice", do="forget", study=second)
    assert last.headers["location"] == "/-/practice?deleted=1"
    page = (await datasette.client.get(last.headers["location"])).text
    assert "The study is deleted" in page
    assert "Nothing is kept yet" not in page
    again = await post(datasette, "/-/practice", do="forget", study=second)
    assert again.headers["location"] == "/-/practice"
    await kept()
    await kept()
    both = await post(datasette, "/-/practice", do="forget_all", of="Swift")
    assert both.headers["location"] == "/-/practice?deleted=2"
    assert "2 studies are deleted" in (await datasette.client.get(both.headers["location"])).text
    for odd in ("-3", "x", "9" * 15):
        assert (await datasette.client.get(f"/-/practice?deleted={odd}")).status_code == 200
