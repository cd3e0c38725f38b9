"""The student's pages in a browser: sheet and corners, pad by pointer and by keyboard, compare, viewfinder."""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from painting import paint
from PIL import Image, ImageDraw

from archive.store import Archive
from public_domain_samples import STUDIES

pytestmark = pytest.mark.browser

PHONE, DESK = 390, 1280
LAMP = STUDIES.parent / "lamp-on-a-kitchen-table.jpg"
PANELS = [(100 + 320 * column, 80 + 260 * row) for row in (0, 1) for column in (0, 1)]
PANEL = (280, 220)
PHOTO = (800, 640)

Opener = Callable[..., Any]


@pytest.fixture(scope="module")
def folder(small_archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the small archive in which studies may be kept."""
    there = tmp_path_factory.mktemp("student") / "archive"
    shutil.copytree(small_archive, there, ignore=shutil.ignore_patterns("boards.db*"))
    return there


@pytest.fixture(scope="module")
def address(browser: Any, folder: Path) -> Iterator[str]:  # noqa: ARG001 - no server without a browser
    """The address of a server of that archive, without the slash at its end."""
    process = subprocess.Popen(
        [sys.executable, "-c", "from archive.command import main; main()",
         "serve", "--archive", str(folder), "--port", "0"],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    words = process.stdout.readline().split()
    yield next(word for word in words if word.startswith("http://")).rstrip("/")
    process.terminate()
    process.wait(timeout=20)


@pytest.fixture
def open_page(browser: Any, address: str) -> Iterator[Opener]:
    """Opens a path in a page of its own; fails the test if the page's console had anything to complain of."""
    contexts: list[Any] = []
    complaints: list[str] = []

    def open_it(path: str, width: int = DESK, *, script: bool = True) -> Any:
        context = browser.new_context(
            viewport={"width": width, "height": 900}, java_script_enabled=script, has_touch=width == PHONE
        )
        contexts.append(context)
        page = context.new_page()
        page.on(
            "console",
            lambda said: complaints.append(f"{path}: {said.text}") if said.type in ("error", "warning") else None,
        )
        page.on("pageerror", lambda error: complaints.append(f"{path}: {error}"))
        page.goto(address + path)
        page.wait_for_load_state("networkidle")
        return page

    yield open_it
    for context in contexts:
        context.close()
    assert not complaints


def fits(page: Any) -> bool:
    width = page.viewport_size["width"]
    return bool(page.evaluate("document.documentElement.scrollWidth") <= width)


def too_small(page: Any) -> list[str]:
    """Controls under 44 px; a radio or a box lies in its label."""
    return list(
        page.evaluate(
            """() => [...document.querySelectorAll('main button, main summary, main select, .handle label, label.tick,'
                    + 'main input[type=range], main input[type=text], .waysin a')]
                .map(element => [element, element.getBoundingClientRect()])
                .filter(([, box]) => box.width > 0 && (box.height < 43.5 || box.width < 43.5))
                .map(([element, box]) => `${element.outerHTML.slice(0, 70)} ${box.width}x${box.height}`)"""
        )
    )


@pytest.fixture(scope="module")
def sheet_photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four panels in two rows on a sheet on a table, seen straight on."""
    photo = Image.new("RGB", PHOTO, (120, 120, 120))
    draw = ImageDraw.Draw(photo)
    draw.rectangle((60, 40, 740, 600), fill=(238, 238, 238))
    for number, (x, y) in enumerate(PANELS):
        draw.rectangle((x, y, x + PANEL[0], y + PANEL[1]), fill=(70, 70, 70))
        half = 30 + 20 * number
        draw.rectangle((x + 140 - half, y + 100 - half, x + 140 + half, y + 100 + half), fill=(225, 225, 225))
        draw.rectangle((x, y + 180, x + PANEL[0], y + PANEL[1]), fill=(140, 140, 140))
    file = tmp_path_factory.mktemp("photo") / "sheet.jpg"
    photo.save(file, quality=92)
    return file


def corners_of(number: int) -> str:
    x, y = PANELS[number]
    wide, tall = PANEL
    places = ((x, y), (x + wide, y), (x + wide, y + tall), (x, y + tall))
    return " ".join(f"{100 * a / PHOTO[0]:.2f},{100 * b / PHOTO[1]:.2f}" for a, b in places)


@pytest.mark.parametrize("path", ["/-/sheet", "/-/pad", "/-/viewfinder", "/-/practice"])
def test_every_page_fits_and_has_no_hue_and_is_reached_by_tab(open_page: Opener, path: str) -> None:
    page = open_page(path)
    for width in (320, PHONE, DESK, 1600):
        page.set_viewport_size({"width": width, "height": 900})
        assert fits(page), width
    page.set_viewport_size({"width": PHONE, "height": 900})
    assert too_small(page) == []
    colours = page.evaluate(
        """() => {
            const names = ['color', 'backgroundColor', 'borderTopColor', 'borderBottomColor', 'outlineColor', 'fill'];
            const found = new Set();
            for (const surround of ['paper', 'grey', 'dark']) {
                document.documentElement.dataset.surround = surround;
                for (const element of document.querySelectorAll('body, body *'))
                    for (const name of names) found.add(getComputedStyle(element)[name]);
            }
            return [...found].filter(colour => colour.startsWith('rgb'));
        }"""
    )
    for colour in colours:
        numbers = colour.removeprefix("rgba(").removeprefix("rgb(").rstrip(")").split(", ")[:3]
        assert len(set(numbers)) == 1, colour
    reached = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("document.activeElement.closest('main')?.id && document.activeElement.tagName"))
    assert "A" in reached
    if path == "/-/pad":
        assert {"CANVAS", "BUTTON", "INPUT"} <= reached


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_a_sheet_is_shown_a_corner_dragged_and_a_panel_chosen(open_page: Opener, sheet_photo: Path, width: int) -> None:
    page = open_page("/-/sheet", width)
    page.set_input_files("input[type=file]", sheet_photo)
    page.get_by_role("button", name="Find the panels").click()
    page.wait_for_selector("[data-taped]")
    page.get_by_text("Not what is on your sheet?").click()
    if page.locator("#layout").is_hidden():
        page.get_by_text("Not what is on your sheet?").click()
    page.get_by_role("button", name="Mark the whole sheet").click()
    page.wait_for_selector('input[name=whole][value="1"]', state="attached")

    # By pointer: the lower right corner is drawn in.
    frame = page.locator(".corners").bounding_box()
    handle = page.locator(".corner").nth(2)
    box = handle.bounding_box()
    target = (0.76, 0.79)
    # The handle lies inward of its corner, and goes on doing so.
    pairs = page.locator("input[name=corners]").input_value().split()
    began = [float(share) / 100 for share in pairs[2].split(",")]
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    assert x < frame["x"] + began[0] * frame["width"] - 8
    assert y < frame["y"] + began[1] * frame["height"] - 8
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + (target[0] - began[0]) * frame["width"], y + (target[1] - began[1]) * frame["height"], steps=6)
    page.mouse.up()
    pairs = page.locator("input[name=corners]").input_value().split()
    moved = [float(share) / 100 for share in pairs[2].split(",")]
    assert moved == pytest.approx(target, abs=0.012)

    # By keyboard: a step to the left, and a stride down.
    before = pairs[0].split(",")
    page.locator(".corner").first.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowDown")
    after = page.locator("input[name=corners]").input_value().split()[0].split(",")
    assert float(after[0]) - float(before[0]) == pytest.approx(0.25, abs=0.02)
    assert float(after[1]) - float(before[1]) == pytest.approx(2.0, abs=0.02)
    label = page.locator(".corner").first.get_attribute("aria-label")
    assert label == f"Sheet, top left corner: {round(float(after[0]))} hundredths across, {round(float(after[1]))} down"
    assert fits(page)

    page.get_by_role("button", name="Read it with these corners").click()
    page.wait_for_selector("article.panel")
    assert fits(page)
    assert too_small(page) == []
    assert page.locator("article.panel .shownby a").count() >= 1, "masters that come nearest"
    page.get_by_role("button", name="Go on with this one").first.click()
    page.wait_for_selector("h2:has-text('Works built like it')")
    assert page.locator("article.leaf").count() >= 5


def test_of_corners_that_lie_close_the_nearest_is_taken(open_page: Opener, sheet_photo: Path) -> None:
    page = open_page("/-/sheet", PHONE)
    page.set_input_files("input[type=file]", sheet_photo)
    page.get_by_role("button", name="Find the panels").click()
    page.wait_for_selector("article.panel")
    anew = page.get_by_role("button", name="Read it with these corners")
    assert anew.is_disabled(), "nobody has moved a corner"
    # Two panels that meet, as far as numbers go.
    page.get_by_text("Corners as numbers").click()
    fields = page.locator("input[name=corners]")
    fields.nth(1).fill(" ".join([fields.nth(0).input_value().split()[1], *fields.nth(1).input_value().split()[1:]]))
    fields.nth(1).press("Tab")
    before = [field.input_value() for field in fields.all()]
    page.locator(".corners").scroll_into_view_if_needed()
    middles = page.evaluate(
        """() => [...document.querySelectorAll('.corner')].map(element => element.getBoundingClientRect())
            .map(box => [box.x + box.width / 2, box.y + box.height / 2])"""
    )
    apart = [float(np.hypot(*np.subtract(one, other))) for at, one in enumerate(middles) for other in middles[at + 1 :]]
    # WCAG 2.2, 2.5.8: circles of 24 px about targets that do not meet.
    assert min(apart) >= 24
    # Between the upper right corner of the first panel and the upper left one of the second.
    (x, y), (other_x, other_y) = middles[1], middles[4]
    for share, moves in ((0.45, 0), (0.55, 1)):
        across, down = x + share * (other_x - x), y + share * (other_y - y)
        page.mouse.move(across, down)
        page.mouse.down()
        page.mouse.move(across, down + 9, steps=3)
        page.mouse.up()
        now = [field.input_value() for field in fields.all()]
        assert [at for at in range(4) if now[at] != before[at]] == [moves], share
        before = now
    assert anew.is_enabled()
    assert page.locator("input[name=found]").nth(2).input_value() == before[2]


def test_a_panel_by_numbers_and_without_a_script(open_page: Opener, sheet_photo: Path) -> None:
    page = open_page("/-/sheet", script=False)
    page.set_input_files("input[type=file]", sheet_photo)
    page.get_by_role("button", name="Find the panels").click()
    page.wait_for_selector("[data-taped]")
    page.get_by_text("Corners as numbers").click()
    for field in page.locator("input[name=corners]").all():
        field.fill("")
    page.locator("input[name=corners]").first.fill(corners_of(3))
    page.get_by_role("button", name="Read it with these corners").click()
    page.wait_for_selector("article.panel")
    words = page.locator("article.panel .shares p").first.inner_text()
    light = int(words.split()[1])
    side = 2 * (30 + 20 * 3)
    tall = 180 - (100 - side / 2)
    assert light == pytest.approx(100 * side * tall / (PANEL[0] * PANEL[1]), abs=4), words


# -- the pad -----------------------------------------------------------------------------------------------------


def colours(page: Any) -> dict[int, float]:
    """How much of the drawing has each grey."""
    data = page.evaluate(
        """() => {
            const canvas = document.querySelector('canvas');
            const pixels = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
            const counts = {};
            for (let at = 0; at < pixels.length; at += 4) counts[pixels[at]] = (counts[pixels[at]] ?? 0) + 1;
            return [counts, canvas.width * canvas.height];
        }"""
    )
    return {int(code): count / data[1] for code, count in data[0].items()}


DARK, MID, LIGHT = 0x30, 0x86, 0xEE
"""Codes of the greys at L* 20, 56 and 94 (CIE 1976, IEC 61966-2-1)."""


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_a_study_is_drawn_by_pointer_and_matched(open_page: Opener, width: int) -> None:
    page = open_page("/-/pad", width)
    assert fits(page)
    assert colours(page) == {LIGHT: 1.0}, "bare paper"
    page.get_by_role("button", name="Lay it over the whole sheet").click()
    assert colours(page) == {MID: 1.0}
    assert page.locator("[data-step=lights]").get_attribute("aria-pressed") == "true", "lights come after the ground"

    def stroke(*places: tuple[float, float]) -> None:
        page.locator("canvas").scroll_into_view_if_needed()
        box = page.locator("canvas").bounding_box()
        points = [(box["x"] + x * box["width"], box["y"] + y * box["height"]) for x, y in places]
        page.mouse.move(*points[0])
        page.mouse.down()
        for point in points[1:]:
            page.mouse.move(*point, steps=6)
        page.mouse.up()

    stroke((0.35, 0.35), (0.65, 0.35), (0.65, 0.5), (0.35, 0.5))
    lit = colours(page)[LIGHT]
    assert 0.05 < lit < 0.3
    page.get_by_role("button", name="Darks").click()
    page.get_by_label("large").check(force=True)
    stroke((0.02, 0.9), (0.98, 0.9))
    assert colours(page)[DARK] > 0.1
    page.get_by_role("button", name="Take back").click()
    assert DARK not in colours(page)
    page.get_by_role("button", name="Bring it back").click()
    assert colours(page)[DARK] > 0.1
    assert too_small(page) == []

    page.get_by_label("Squint").check()
    page.wait_for_selector("[data-squinted]:not([hidden])")
    assert "One light mass" in page.locator("[data-status]").inner_text()
    page.get_by_role("button", name="Find works built like it").click()
    page.wait_for_selector("h2:has-text('Works built like it')")
    assert page.locator("article.leaf").count() >= 5
    assert "the dark joined along" in page.locator(".lead").first.inner_text()
    page.go_back()
    page.wait_for_selector("canvas")
    assert colours(page)[DARK] > 0.1, "the drawing is still in the tab"


def test_a_study_is_drawn_by_keyboard_alone_and_matched(open_page: Opener) -> None:
    page = open_page("/-/pad")
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.tagName") == "CANVAS":
            break
    assert page.evaluate("document.activeElement.tagName") == "CANVAS"
    keys = page.keyboard
    keys.press("2")
    keys.press("g")
    assert colours(page) == {MID: 1.0}
    keys.press("3")
    keys.press("]")
    keys.press("Space")
    for _ in range(3):
        keys.press("ArrowRight")
    keys.press("Space")
    assert colours(page)[LIGHT] > 0.03
    assert (
        page.locator("[data-status]").inner_text().startswith("Lifted; light, large brush; ".replace("; ", ", ", 2)[:6])
    )
    keys.press("1")
    for _ in range(12):
        keys.press("ArrowDown")
    for _ in range(12):
        keys.press("ArrowLeft")
    keys.press("Space")
    for _ in range(24):
        keys.press("ArrowRight")
    keys.press("Space")
    assert colours(page)[DARK] > 0.05
    drawn = colours(page)
    keys.press("z")
    assert DARK not in colours(page)
    keys.press("y")
    assert colours(page) == drawn
    for _ in range(60):
        keys.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Find works built like it":
            break
    keys.press("Enter")
    page.wait_for_selector("h2:has-text('Works built like it')")
    assert page.locator("article.leaf").count() >= 5


def test_a_mirrored_view_draws_where_the_hand_is(open_page: Opener) -> None:
    page = open_page("/-/pad")
    page.get_by_role("button", name="Darks").click()
    page.get_by_label("Mirrored").check()
    box = page.locator("canvas").bounding_box()
    page.mouse.click(box["x"] + 0.25 * box["width"], box["y"] + 0.5 * box["height"])
    across = page.evaluate(
        """() => {
            const canvas = document.querySelector('canvas');
            const pixels = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
            let sum = 0, count = 0;
            for (let at = 0; at < pixels.length; at += 4) {
                if (pixels[at] === 0x30) { sum += (at / 4) % canvas.width; count += 1; }
            }
            return sum / count / canvas.width;
        }"""
    )
    assert across == pytest.approx(0.75, abs=0.02), "seen at the left, it lies at the right of the sheet"


def test_what_cannot_be_taken_back_or_brought_back_is_not_offered(open_page: Opener) -> None:
    page = open_page("/-/pad")
    take, bring = (page.get_by_role("button", name=name) for name in ("Take back", "Bring it back"))
    assert take.is_disabled()
    assert bring.is_disabled()
    page.get_by_role("button", name="Lay it over the whole sheet").click()
    assert take.is_enabled()
    assert bring.is_disabled()
    take.focus()
    page.keyboard.press("Enter")
    assert take.is_disabled()
    assert bring.evaluate("element => element === document.activeElement"), "the keyboard has not lost its place"
    bring.click()
    assert colours(page) == {MID: 1.0}
    assert take.is_enabled()
    assert bring.is_disabled()
    page.reload()
    page.wait_for_load_state("networkidle")
    assert colours(page) == {MID: 1.0}, "the drawing is kept, the way to it is not"
    assert take.is_disabled()
    assert bring.is_disabled()


def test_a_stroke_under_way_does_not_break_the_way_back(open_page: Opener) -> None:
    page = open_page("/-/pad")
    page.locator("canvas").focus()
    keys = page.keyboard

    def stroke(arrow: str) -> None:
        keys.press("Space")
        for _ in range(3):
            keys.press(arrow)

    keys.press("1")
    stroke("ArrowRight")
    keys.press("Space")
    one = colours(page)
    stroke("ArrowDown")
    keys.press("z")
    assert colours(page) == one, "the brush is lifted, and its stroke taken back"
    for _ in range(4):
        keys.press("ArrowLeft")
    assert colours(page) == one
    stroke("ArrowUp")
    keys.press("Space")
    assert colours(page) != one
    keys.press("z")
    assert colours(page) == one
    keys.press("z")
    assert colours(page) == {LIGHT: 1.0}

    box = page.locator("canvas").bounding_box()
    page.mouse.move(box["x"] + 0.2 * box["width"], box["y"] + 0.8 * box["height"])
    page.mouse.down()
    keys.press("z")
    page.mouse.move(box["x"] + 0.8 * box["width"], box["y"] + 0.8 * box["height"], steps=4)
    page.mouse.up()
    drawn = colours(page)
    assert drawn[DARK] > 0
    keys.press("z")
    assert colours(page) == {LIGHT: 1.0}
    keys.press("y")
    assert colours(page) == drawn


def test_fewer_values_take_nothing_from_a_drawing(open_page: Opener) -> None:
    page = open_page("/-/pad")
    page.get_by_role("button", name="Lay it over the whole sheet").click()
    page.get_by_role("button", name="Darks").click()
    box = page.locator("canvas").bounding_box()
    page.mouse.click(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
    three = colours(page)
    assert set(three) == {DARK, MID}
    page.get_by_label("two", exact=True).check(force=True)
    assert MID not in colours(page)
    assert "Nothing is lost" in page.locator("[data-status]").inner_text()
    page.reload()
    page.wait_for_load_state("networkidle")
    assert MID not in colours(page)
    page.get_by_label("three", exact=True).check(force=True)
    assert colours(page) == three
    page.get_by_label("five", exact=True).check(force=True)
    page.get_by_label("three", exact=True).check(force=True)
    assert colours(page) == three


def test_the_sheet_lies_over_no_control_of_the_pad_on_a_phone(open_page: Opener) -> None:
    page = open_page("/-/pad", PHONE)
    page.set_viewport_size({"width": PHONE, "height": 844})
    for way in ("4 to 3", "1 to 2"):
        page.get_by_label(way, exact=True).check(force=True)
        sheet = page.locator(".sheetbox")
        top = sheet.bounding_box()["y"] + page.evaluate("scrollY")
        for down in range(0, 1200, 150):
            page.evaluate("down => scrollTo(0, down)", down)
            assert sheet.bounding_box()["y"] + page.evaluate("scrollY") == pytest.approx(top, abs=1), (way, down)
        # Sheet, values and brushes are seen together.
        brush = page.locator("input[name=brush]").first.bounding_box()
        assert brush["y"] + brush["height"] + page.evaluate("scrollY") - top <= 844


def test_the_find_page_is_no_wider_than_a_phone(open_page: Opener) -> None:
    page = open_page("/-/find", PHONE)
    assert page.locator(".camera").is_visible(), "there is a finger, so there is a camera"
    assert fits(page)
    camera, press = page.locator("#camera").bounding_box(), page.locator(".camera .press").bounding_box()
    assert press["x"] <= camera["x"]
    assert camera["x"] + camera["width"] <= press["x"] + press["width"]


def test_formats_and_numbers_of_values_can_change_under_a_drawing(open_page: Opener) -> None:
    page = open_page("/-/pad")
    page.get_by_role("button", name="Lay it over the whole sheet").click()
    page.get_by_label("five", exact=True).check(force=True)
    assert page.locator(".swatches label").count() == 5
    assert len(colours(page)) == 1
    page.get_by_label("two", exact=True).check(force=True)
    assert page.locator(".swatches label").count() == 2
    page.get_by_label("1 to 2").check(force=True)
    assert page.evaluate("[document.querySelector('canvas').width, document.querySelector('canvas').height]") == [
        240,
        480,
    ]
    page.get_by_role("button", name="Find works built like it").click()
    assert "one even tone" in page.locator("[data-status]").inner_text(), "an empty sheet is not sent"


def test_marks_too_small_for_a_pattern_are_no_even_tone(open_page: Opener) -> None:
    page = open_page("/-/pad", PHONE)
    status = page.locator("[data-status]")
    with page.expect_response(lambda answer: "/-/reading.json" in answer.url):
        page.get_by_label("Squint").check(force=True)
    status.filter(has_text="even tone").wait_for()
    page.locator("[data-step=darks]").click()
    page.get_by_label("fine", exact=True).check(force=True)
    page.locator("canvas").scroll_into_view_if_needed()
    box = page.locator("canvas").bounding_box()
    with page.expect_response(lambda answer: "/-/reading.json" in answer.url):
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    status.filter(has_text="too small").wait_for()
    assert "even tone" not in status.inner_text()
    assert page.locator("[data-squinted]").is_visible()


# -- compare -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_flip_wipe_and_difference(open_page: Opener, folder: Path, width: int) -> None:
    work = Archive.open(folder).works(size=1).works[0]["work"]
    page = open_page(f"/-/compare?example=lamp-on-a-kitchen-table&beside={work}", width)
    own, theirs = page.locator(".own .lay"), page.locator(".theirs .lay")
    assert own.bounding_box()["x"] < theirs.bounding_box()["x"]
    assert fits(page)
    assert too_small(page) == []
    page.get_by_label("Squint").check(force=True)
    assert page.locator(".own [data-showing=squint]").is_visible()
    assert page.locator(".own [data-showing=map3]").is_hidden()

    page.get_by_label("Flip").check(force=True)
    first, second = own.bounding_box(), theirs.bounding_box()
    for side in ("x", "y", "width", "height"):
        assert first[side] == pytest.approx(second[side], abs=1), "at one size and place"
    own.click(position={"x": 60, "y": 40})
    assert own.evaluate("element => getComputedStyle(element).visibility") == "hidden"
    theirs.click(position={"x": 60, "y": 40})
    assert own.evaluate("element => getComputedStyle(element).visibility") == "visible"

    page.get_by_label("Wipe").check(force=True)
    page.locator("#wiper").focus()
    page.keyboard.press("Home")
    assert "100%" in own.evaluate("element => getComputedStyle(element).clipPath")
    theirs.scroll_into_view_if_needed()
    box = theirs.bounding_box()
    middle = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + 5, middle)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.75 * box["width"], middle, steps=4)
    page.mouse.up()
    assert int(page.locator("#wiper").input_value()) == pytest.approx(75, abs=1)
    page.get_by_label("Difference").check(force=True)
    assert page.locator(".apart img").is_visible()
    assert own.is_hidden()


def test_from_a_match_to_the_work_laid_beside_the_study(open_page: Opener) -> None:
    page = open_page("/-/find", PHONE)
    page.set_input_files("input[type=file]", LAMP)
    page.get_by_role("button", name="Find works built like it").click()
    page.wait_for_selector("article.leaf")
    title = page.locator("article.leaf h3").nth(1).inner_text()
    page.get_by_role("button", name="Lay beside it").nth(1).click()
    page.wait_for_selector(".both")
    assert title in page.locator("h1").inner_text()
    assert page.locator(".own img:visible").get_attribute("src").startswith("data:image/png")
    page.get_by_role("button", name="All works built like it").click()
    page.wait_for_selector("h2:has-text('Works built like it')")


def test_a_study_is_kept_from_the_compare_page_and_deleted(open_page: Opener, folder: Path) -> None:
    work = Archive.open(folder).works(size=1).works[0]["work"]
    page = open_page(f"/-/compare?example=harbour-at-evening&beside={work}", script=False)
    page.get_by_label("Nickname, or none").fill("Wren")
    page.get_by_role("button", name="Keep this study").click()
    page.wait_for_load_state("networkidle")
    assert page.url.split("#")[0].endswith("/-/practice?of=Wren")
    assert page.locator("article.leaf h3").inner_text() == "Harbour at evening"
    page.locator("article.leaf summary").click()
    page.get_by_role("button", name="Delete this study").click()
    page.wait_for_load_state("networkidle")
    assert page.locator("article.leaf").count() == 0


# -- viewfinder --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A place, 600 by 400: a lit shape in the dark at the left, an even grey at the right."""
    tone = np.full((400, 600, 3), 128, dtype=np.uint8)
    tone[:, :300] = np.asarray(paint("light-mass", 3, (300, 400)))
    file = tmp_path_factory.mktemp("place") / "place.png"
    held = io.BytesIO()
    Image.fromarray(tone).save(held, "PNG")
    file.write_bytes(held.getvalue())
    return file


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_the_map_follows_the_viewfinder(open_page: Opener, place: Path, width: int) -> None:
    page = open_page("/-/viewfinder", width)
    page.set_input_files("input[type=file]", place)
    page.get_by_role("button", name="Look through the viewfinder").click()
    page.wait_for_selector("[data-finder]")
    page.wait_for_load_state("networkidle")
    page.get_by_label("3 to 4").check(force=True)
    with page.expect_response(lambda answer: "/-/reading.json" in answer.url):
        page.locator("#across").fill("0")
    page.wait_for_selector("[data-state]:empty", state="attached")
    lit = page.locator("[data-sentence]").inner_text()
    assert "light mass" in lit
    page.locator(".place .lay").scroll_into_view_if_needed()
    box = page.locator(".place .lay").bounding_box()
    with page.expect_response(lambda answer: "/-/reading.json" in answer.url):
        page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + 0.5 * box["height"])
        page.mouse.down()
        page.mouse.move(box["x"] + 1.3 * box["width"], box["y"] + 0.5 * box["height"], steps=5)
        page.mouse.up()
    page.wait_for_selector("[data-state]:empty", state="attached")
    assert float(page.locator("#across").input_value()) == 100
    assert "one even tone" in page.locator("[data-sentence]").inner_text().lower()
    assert fits(page)
    assert too_small(page) == []

    page.get_by_role("button", name="Propose crops").click()
    page.wait_for_selector("#proposals")
    with page.expect_response(lambda answer: "/-/reading.json" in answer.url):
        page.get_by_role("button", name="Set the viewfinder here").first.click()
    page.wait_for_selector("[data-state]:empty", state="attached")
    assert "light" in page.locator("[data-sentence]").inner_text().lower()
    carried = page.evaluate(
        """() => {
            const onward = document.getElementById('onward');
            const slider = document.getElementById('across');
            return ['100', '0'].map((value) => {
                slider.value = value;
                slider.dispatchEvent(new Event('input', {bubbles: true}));
                onward.addEventListener('submit', (event) => event.preventDefault(), {once: true});
                onward.requestSubmit();
                return onward.elements.carried.value;
            });
        }"""
    )
    assert carried[0] != carried[1], "what goes on is what is framed at that moment"
    page.wait_for_selector("[data-state]:empty", state="attached")
    page.locator(".framed").get_by_role("button", name="Find works built like it").click()
    page.wait_for_selector("h2:has-text('Works built like it')")
