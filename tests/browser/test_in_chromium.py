"""The pages in a real browser: no errors, no sideways scrolling, keyboard, upload, with and without JavaScript."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from public_domain_samples import STUDIES

pytestmark = pytest.mark.browser

WIDTHS = (320, 390, 1280, 1600)
LAMP = STUDIES.parent / "lamp-on-a-kitchen-table.jpg"
OUTLINE = """element => {
    const styles = [getComputedStyle(element), getComputedStyle(element, '::after')];
    return Math.max(...styles.map(s => s.outlineStyle === 'none' ? 0 : parseFloat(s.outlineWidth)));
}"""

Opener = Callable[..., Any]


@pytest.fixture
def open_page(browser: Any, address: str) -> Iterator[Opener]:
    """Opens a path in a page of its own; fails the test if the page's console had anything to complain of."""
    contexts: list[Any] = []
    complaints: list[str] = []

    def open_it(path: str, width: int = 1280, *, script: bool = True, **options: Any) -> Any:
        context = browser.new_context(viewport={"width": width, "height": 900}, java_script_enabled=script, **options)
        contexts.append(context)
        page = context.new_page()
        page.on(
            "console",
            lambda said: complaints.append(f"{path}: {said.text}") if said.type in ("error", "warning") else None,
        )
        page.on("pageerror", lambda error: complaints.append(f"{path}: {error}"))
        # A page that is left lets go of the pictures that are still coming; that is no complaint.
        page.on(
            "requestfailed",
            lambda asked: (
                None if "ERR_ABORTED" in str(asked.failure) else complaints.append(f"{path}: {asked.url} failed")
            ),
        )
        page.goto(address + path)
        page.wait_for_load_state("networkidle")
        return page

    yield open_it
    for context in contexts:
        context.close()
    assert not complaints


@pytest.fixture(scope="module")
def paths(address: str) -> dict[str, str]:
    def ask(path: str) -> Any:
        with urllib.request.urlopen(address + path, timeout=20) as answer:
            return json.load(answer)

    home = ask("/.json")
    slug = home["arrangements"][0]["slug"]
    work = home["arrangements"][0]["first"][0]["work"]
    return {
        "home": "/",
        "arrangement": f"/-/arrangements/{slug}",
        "work": f"/-/works/{work}",
        "masses": f"/-/works/{work}?as=masses",
        "find": "/-/find",
        "found": "/-/find?example=harbour-at-evening",
        "search": "/-/works",
        "about": "/-/about",
        "tables": "/-/",
        "works table": "/archive/works",
        "arrangements table": "/archive/arrangements",
        "row": f"/archive/works/{work}",
    }


OURS = ("home", "arrangement", "work", "masses", "find", "found", "search", "about")
CORE = ("tables", "works table", "arrangements table", "row")


@pytest.mark.parametrize("name", [*OURS, *CORE])
@pytest.mark.parametrize("width", [390, 1280])
def test_a_page_loads_without_complaint(open_page: Opener, paths: dict[str, str], name: str, width: int) -> None:
    page = open_page(paths[name], width)
    broken = page.evaluate(
        """async () => {
            const pictures = [...document.images];
            for (const picture of pictures) picture.loading = 'eager';
            await Promise.all(pictures.map(picture => picture.decode().catch(() => null)));
            return pictures.filter(picture => !picture.naturalWidth).map(picture => picture.src);
        }"""
    )
    assert broken == []


@pytest.mark.parametrize("name", OURS)
def test_a_page_fits_every_width(open_page: Opener, paths: dict[str, str], name: str) -> None:
    page = open_page(paths[name])
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        outside = page.evaluate(
            """width => [...document.querySelectorAll('main *, header *, footer *, nav *')]
                .filter(element => !element.closest('.strip, .unseen, svg'))
                .filter(element => element.getBoundingClientRect().right > width + 1)
                .map(element => element.outerHTML.slice(0, 80))""",
            width,
        )
        assert outside == [], width


@pytest.mark.parametrize("name", OURS)
def test_what_can_be_pressed_is_large_enough(open_page: Opener, paths: dict[str, str], name: str) -> None:
    """44 px for controls; links within lines of text are exempt, as in WCAG 2.2, 2.5.8."""
    page = open_page(paths[name], 390)
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, summary, .tabs a, .press, .ways a, .foot li a, label.tick,'
                + 'input:not([type=hidden]):not([type=checkbox]), .tries a, .name')]
            .map(element => [element, element.getBoundingClientRect()])
            .filter(([, box]) => box.width > 0 && (box.height < 44 || box.width < 44))
            .map(([element, box]) => `${element.outerHTML.slice(0, 60)} ${box.width}x${box.height}`)"""
    )
    assert small == []


@pytest.mark.parametrize("name", ["home", "work", "find"])
def test_focus_goes_everywhere_and_is_seen(open_page: Opener, paths: dict[str, str], name: str) -> None:
    page = open_page(paths[name])
    able = page.evaluate(
        """[...document.querySelectorAll('a[href], button, summary, input:not([type=hidden]), select')]
            .filter(element => element.checkVisibility()).length"""
    )
    reached = set()
    for _ in range(able + 1):
        page.keyboard.press("Tab")
        focused = page.evaluate_handle("document.activeElement")
        if page.evaluate("document.activeElement === document.body"):
            break
        assert page.evaluate(OUTLINE, focused) >= 3, page.evaluate("element => element.outerHTML", focused)
        reached.add(page.evaluate("[...document.querySelectorAll('*')].indexOf(document.activeElement)"))
    assert len(reached) == able


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_a_study_is_shown_and_works_are_found(open_page: Opener, script: bool) -> None:
    page = open_page("/-/find", 390, script=script)
    page.set_input_files("input[type=file]", LAMP)
    page.get_by_role("button", name="Find works built like it").click()
    page.wait_for_selector("h2:has-text('Works built like it')")
    assert page.locator("article.leaf").count() >= 5
    plates = page.locator(".read img")
    assert plates.count() == 2
    assert plates.first.get_attribute("src").startswith("data:image/jpeg")
    page.get_by_label("Whole works only").check()
    page.get_by_role("button", name="Look again with these choices").click()
    page.wait_for_load_state("networkidle")
    assert page.get_by_label("Whole works only").is_checked()
    assert page.locator("article.leaf").count() >= 5
    assert page.locator(".leaf .over rect").count() == 0, "whole works need no outline"
    page.locator("article.leaf a").first.click()
    page.wait_for_selector("#stage img")


def test_an_outline_lies_on_the_part_that_is_named(open_page: Opener, address: str) -> None:
    path = "/-/find?example=lamp-on-a-kitchen-table"
    with urllib.request.urlopen(address + path.replace("find?", "find.json?"), timeout=20) as answer:
        matches = json.load(answer)["matches"]
    page = open_page(path)
    drawn = 0
    for match, leaf in zip(matches, page.locator("article.leaf").all(), strict=True):
        leaf.scroll_into_view_if_needed()
        for lay in leaf.locator(".lay:has(.over rect)").all():
            lay.locator("img").evaluate("picture => picture.decode()")
            picture = lay.locator("img").bounding_box()
            outline = lay.locator("rect.upper").bounding_box()
            x0, y0, x1, y1 = match["part"]
            assert outline["x"] == pytest.approx(picture["x"] + x0 * picture["width"], abs=3)
            assert outline["y"] == pytest.approx(picture["y"] + y0 * picture["height"], abs=3)
            assert outline["width"] == pytest.approx((x1 - x0) * picture["width"], abs=4)
            assert outline["height"] == pytest.approx((y1 - y0) * picture["height"], abs=4)
            drawn += 1
    assert drawn >= 2


def test_a_dropped_or_pasted_picture_is_taken(open_page: Opener) -> None:
    page = open_page("/-/find")
    for kind in ("drop", "paste"):
        page.evaluate(
            """async kind => {
                const blob = await new Promise(done => {
                    const canvas = document.createElement('canvas');
                    canvas.toBlob(done, 'image/png');
                });
                const carrier = new DataTransfer();
                carrier.items.add(new File([blob], `${kind}.png`, { type: 'image/png' }));
                const slip = document.querySelector('[data-drop]');
                slip.querySelector('input').value = '';
                slip.dispatchEvent(kind === 'drop'
                    ? new DragEvent('drop', { dataTransfer: carrier, bubbles: true, cancelable: true })
                    : new ClipboardEvent('paste', { clipboardData: carrier, bubbles: true, cancelable: true }));
            }""",
            kind,
        )
        assert page.evaluate("document.querySelector('input[type=file]').files[0].name") == f"{kind}.png"


def test_a_bad_upload_is_said_on_the_page(browser: Any, address: str, tmp_path: Path) -> None:
    letter = tmp_path / "letter.jpg"
    letter.write_text("Dear reader", encoding="utf-8")
    page = browser.new_page()
    page.goto(address + "/-/find")
    page.set_input_files("input[type=file]", letter)
    page.get_by_role("button", name="Find works built like it").click()
    assert "not a picture" in page.get_by_role("alert").inner_text()
    page.close()


def test_a_file_that_is_too_large_is_answered_too(browser: Any, address: str, tmp_path: Path) -> None:
    large = tmp_path / "large.jpg"
    large.write_bytes(b"\xff\xd8\xff" + bytes(24 * 1024 * 1024))
    page = browser.new_page(java_script_enabled=False)
    page.goto(address + "/-/find")
    page.set_input_files("input[type=file]", large)
    page.get_by_role("button", name="Find works built like it").click()
    assert "too large" in page.get_by_role("alert").inner_text()
    page.close()


def test_ways_of_looking_change_in_place(open_page: Opener, paths: dict[str, str]) -> None:
    page = open_page(paths["work"])
    page.evaluate("window.stayed = true")
    before = page.locator("#stage img").get_attribute("src")
    page.locator(".ways a", has_text="Three").click()
    after = page.locator("#stage img").get_attribute("src")
    assert after != before
    assert page.url.endswith("?as=three")
    page.keyboard.press("ArrowRight")
    assert page.url.endswith("?as=two")
    assert page.locator(".ways a[aria-current]").inner_text() == "Two"
    page.get_by_text("Outline them on the value map").click()
    assert page.locator("#stage .over").is_visible()
    page.go_back()
    assert page.locator("#stage .over").is_hidden()
    page.go_back()
    page.go_back()
    assert page.locator("#stage img").get_attribute("src") == before
    assert page.evaluate("window.stayed") is True


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_the_surround_changes_and_stays(open_page: Opener, script: bool) -> None:
    page = open_page("/-/about", script=script)
    paper = ground(page)
    for name, code in (("Middle grey", 119), ("Dark", 31), ("White paper", 246)):
        page.get_by_role("button", name=name).click()
        page.wait_for_load_state("networkidle")
        assert ground(page) == f"rgb({code}, {code}, {code})"
        assert page.url.endswith("/-/about")
    page.get_by_role("button", name="Dark").click()
    page.wait_for_load_state("networkidle")
    page.get_by_role("link", name="Works", exact=True).first.click()
    page.wait_for_load_state("networkidle")
    assert ground(page) == "rgb(31, 31, 31)" != paper


def ground(page: Any) -> str:
    return str(page.locator("html").evaluate("element => getComputedStyle(element).backgroundColor"))


def test_a_dark_system_is_followed_until_one_chooses(open_page: Opener) -> None:
    page = open_page("/", color_scheme="dark")
    assert ground(page) == "rgb(31, 31, 31)"
    page.get_by_role("button", name="White paper").click()
    assert ground(page) == "rgb(246, 246, 246)"


@pytest.mark.parametrize("name", OURS)
def test_the_room_has_no_hue(open_page: Opener, paths: dict[str, str], name: str) -> None:
    """Every colour that the browser computes for our pages, outside of pictures, has equal red, green and blue."""
    page = open_page(paths[name])
    colours = page.evaluate(
        """() => {
            const names = ['color', 'backgroundColor', 'borderTopColor', 'borderLeftColor', 'outlineColor',
                'textDecorationColor', 'caretColor'];
            const found = new Set();
            for (const surround of ['paper', 'grey', 'dark']) {
                document.documentElement.dataset.surround = surround;
                for (const element of document.querySelectorAll('body, body *'))
                    for (const name of names) found.add(getComputedStyle(element)[name]);
            }
            return [...found];
        }"""
    )
    for colour in colours:
        numbers = colour.removeprefix("rgba(").removeprefix("rgb(").rstrip(")").split(", ")[:3]
        assert len(set(numbers)) == 1, colour
