"""The book as one thing: no fault that axe-core finds, every width and direction, no shift, choosing in place, masses
that answer to pointing, the field; and with scripts off."""

from __future__ import annotations

import json
import os
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.browser

AXE = ("BLOTBOOK_AXE", Path(__file__).parents[2] / "node_modules" / "axe-core" / "axe.min.js")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
"""Tags of axe-core's rules: WCAG 2.0 to 2.2, levels A and AA, and what its makers hold to be good practice."""

SURROUNDS = ("paper", "grey", "dark")
STILL = 0.01
"""Layout shift under which nothing is seen to move; 0.1 is held to be good (web.dev/articles/cls)."""

Opener = Callable[..., Any]

PAGES = (
    "/", "/-/works", "/-/works?dark_from=20&light_masses=1", "/-/field", "/-/field?pick=1", "{arrangement}", "{work}",
    "{work}?as=masses&mass=1", "{work}?like=1", "/-/find", "/-/find?example=harbour-at-evening", "/-/boards",
    "/-/gather?work={id}", "/-/about", "/-/screen", "/-/pad", "/-/sheet", "/-/viewfinder", "/-/practice",
    "{board}", "{board}/wall", "/-/compare?beside={id}&example=harbour-at-evening", "/-/works/no-such-work",
)  # fmt: skip


@pytest.fixture(scope="module")
def named(address: str) -> dict[str, str]:
    with urllib.request.urlopen(f"{address}/.json", timeout=30) as answer:
        first = json.load(answer)["arrangements"][0]
    work = first["first"][0]["work"]
    form = urllib.parse.urlencode({"do": "lesson", "arrangement": first["slug"]}).encode()
    with urllib.request.urlopen(urllib.request.Request(f"{address}/-/boards", form), timeout=30) as answer:
        board = urllib.parse.urlsplit(answer.url).path
    return {"arrangement": f"/-/arrangements/{first['slug']}", "work": f"/-/works/{work}", "id": work, "board": board}


@pytest.fixture(scope="module")
def axe() -> str:
    """The source of axe-core: where BLOTBOOK_AXE names its file, or where npm puts it."""
    file = Path(os.environ.get(AXE[0]) or AXE[1])
    if not file.is_file():
        give_up = pytest.fail if os.environ.get("BLOTBOOK_REQUIRE_BROWSER") else pytest.skip
        give_up("axe-core is not there: 'npm install --no-save axe-core', or name its axe.min.js in BLOTBOOK_AXE")
    return file.read_text(encoding="utf-8")


@pytest.fixture
def open_page(browser: Any, address: str) -> Iterator[Opener]:
    contexts = []

    def open_it(path: str, width: int = 1280, height: int = 900, *, script: bool = True, **options: Any) -> Any:
        viewport = {"width": width, "height": height}
        context = browser.new_context(viewport=viewport, java_script_enabled=script, **options)
        contexts.append(context)
        page = context.new_page()
        if script:
            page.add_init_script(SHIFTS)
        page.goto(address + path)
        page.wait_for_load_state("networkidle")
        return page

    yield open_it
    for context in contexts:
        context.close()


def until(page: Any, expression: str, arg: Any = None) -> None:
    """Wait until a function says yes; the pages' own policy forbids what Playwright waits by."""
    for _ in range(100):
        if page.evaluate(expression, arg):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"never so: {expression} with {arg}")


SHIFTS = """
window.__shift = 0;
new PerformanceObserver(list => {
    for (const entry of list.getEntries()) if (!entry.hadRecentInput) window.__shift += entry.value;
}).observe({ type: 'layout-shift', buffered: true });
"""


@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing_and_nothing_runs_over(open_page: Opener, named: dict[str, str], axe: str, path: str) -> None:
    """All rules on white paper; in the other surrounds those about colour, which is all that changes."""
    # Our own policy would not let the test's script in.
    page = open_page(path.format(**named), bypass_csp=True)
    page.evaluate(axe)
    found = []
    for surround in SURROUNDS:
        page.evaluate("surround => { document.documentElement.dataset.surround = surround; }", surround)
        kind, values = ("tag", RULES) if surround == "paper" else ("rule", ["color-contrast", "link-in-text-block"])
        told = page.evaluate("run => axe.run(document, { runOnly: run })", {"type": kind, "values": values})
        assert told["passes"], "it looked at nothing"
        found += [
            f"{surround}: {fault['id']} ({fault['impact']}): {node['html'][:120]}"
            for fault in told["violations"]
            for node in fault["nodes"]
        ]
    assert found == []
    assert overflows(page) == []


@pytest.mark.parametrize("path", ["/", "/-/works", "{work}?as=masses", "/-/pad", "{board}"])
def test_the_longer_words_of_german_fit(open_page: Opener, named: dict[str, str], axe: str, path: str) -> None:
    page = open_page(path.format(**named), 320, locale="de-AT", bypass_csp=True)
    assert page.evaluate("document.documentElement.lang") == "de"
    page.evaluate(axe)
    told = page.evaluate("run => axe.run(document, { runOnly: run })", {"type": "tag", "values": RULES})
    assert told["passes"], "it looked at nothing"
    assert [f"{fault['id']}: {fault['nodes'][0]['html'][:120]}" for fault in told["violations"]] == []
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") == 0


def overflows(page: Any) -> list[Any]:
    """Widths and directions at which a page must be pushed sideways.

    320 px is also 1280 px at a zoom of 400 % (WCAG 2.2, 1.4.10); text may be twice as large (1.4.4).
    """
    over = []
    for direction, width, text in (
        ("ltr", 320, "100%"), ("ltr", 700, "100%"), ("ltr", 2560, "100%"), ("ltr", 1280, "200%"),
        ("rtl", 320, "100%"), ("rtl", 1280, "100%"),
    ):  # fmt: skip
        page.evaluate(
            """([direction, text]) => {
                document.documentElement.dir = direction;
                document.documentElement.style.fontSize = text;
            }""",
            [direction, text],
        )
        page.set_viewport_size({"width": width, "height": 900})
        if page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") > 0:
            over.append((direction, width, text))
    return over


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("path", ["/", "/-/works", "{work}", "/-/field", "/-/find"])
def test_nothing_moves_while_pictures_come_in(open_page: Opener, named: dict[str, str], path: str, width: int) -> None:
    def moved() -> float:
        page = open_page(path.format(**named), width)
        page.evaluate(
            """async () => {
                for (let at = 0; at < document.documentElement.scrollHeight; at += innerHeight / 2) {
                    scrollTo({ top: at, behavior: 'instant' });
                    await new Promise(done => setTimeout(done, 40));
                }
            }"""
        )
        page.wait_for_load_state("networkidle")
        return float(page.evaluate("window.__shift"))

    # On a busy computer a new window now and then gets its width after the page was laid out, which counts as a shift;
    # what the page itself does, it does every time.
    assert moved() < STILL or moved() < STILL


def test_works_are_chosen_in_place_and_the_address_says_how(open_page: Opener, address: str) -> None:
    page = open_page("/-/works")
    page.evaluate("window.stayed = true")
    everything = page.locator("#works article").count()
    page.locator("#dark_from").fill("40")
    page.wait_for_url("**dark_from=40**")
    until(page, "count => document.querySelectorAll('#works article').length < count", everything)
    assert page.locator("#told .conditions li").count() == 1
    assert page.locator("#graph-dark rect.out").count() == 8, "the columns up to 40 % are left out"
    fewer = page.locator("#works article").count()
    page.locator("#light_masses").select_option("1")
    page.wait_for_url("**light_masses=1**")
    until(page, "() => document.querySelectorAll('#told .conditions li').length === 2")
    shared = page.url
    titles = page.locator("#works h3").all_inner_texts()
    assert page.evaluate("window.stayed") is True, "the page was left"
    page.go_back()
    until(page, "count => document.querySelectorAll('#works article').length === count", fewer)
    assert page.locator("#light_masses").input_value() == ""
    assert page.locator("#dark_from").input_value() == "40"
    other = open_page(shared.removeprefix(address))
    assert other.locator("#works h3").all_inner_texts() == titles
    assert other.locator("#dark_from").input_value() == "40"


def test_a_choice_that_is_refused_is_said_by_the_page_itself(open_page: Opener) -> None:
    page = open_page("/-/works")
    page.route(
        "**/-/works?*", lambda route: route.fulfill(status=500, content_type="text/html", body="<p>Not now.</p>")
    )
    page.locator("#dark_from").fill("40")
    page.wait_for_selector("text=Not now.")
    assert "dark_from=40" in page.url


def test_works_are_chosen_without_script_too(open_page: Opener) -> None:
    page = open_page("/-/works", script=False)
    page.locator("#register").select_option("middle")
    page.get_by_role("button", name="Look for them").first.click()
    page.wait_for_load_state()
    assert "register=middle" in page.url
    chosen = page.locator("#works article").count()
    assert 0 < chosen < 16
    page.get_by_role("link", name="without this").click()
    page.wait_for_load_state()
    assert page.locator("#works article").count() == 16


def test_ticks_stay_with_works_that_come_and_go(open_page: Opener) -> None:
    page = open_page("/-/works")
    page.locator("#works input[name=work]").first.check()
    page.locator("#dark_from").fill("95")
    until(page, "() => !document.querySelector('#works article')")
    page.locator("#dark_from").fill("0")
    until(page, "() => document.querySelectorAll('#works article').length === 16")
    assert page.locator("#works input[name=work]").first.is_checked()
    assert "1 work" in page.locator("[data-ticked]").inner_text()


def test_a_mass_that_is_pointed_at_is_named(open_page: Opener, named: dict[str, str]) -> None:
    page = open_page(f"{named['work']}?as=masses")
    first = page.locator("[data-mass]").first
    first.hover()
    page.wait_for_selector("#stage canvas")
    assert page.locator("figcaption").first.inner_text() == first.inner_text()
    page.mouse.move(2, 2)
    seen = page.locator("#stage img").bounding_box()
    said = set()
    for across in (0.1, 0.3, 0.5, 0.7, 0.9):
        page.mouse.move(seen["x"] + across * seen["width"], seen["y"] + 0.5 * seen["height"])
        page.wait_for_timeout(120)
        said.add(page.locator("figcaption").first.inner_text())
    assert said & set(page.locator("[data-mass]").all_inner_texts())


def test_a_map_that_did_not_come_is_asked_for_again(open_page: Opener, named: dict[str, str]) -> None:
    page = open_page(named["work"])
    page.wait_for_selector("#like article")
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    source = page.locator(".ways [data-way=masses]").get_attribute("data-src")
    page.route(f"**{source}", lambda route: route.abort())
    page.locator(".ways [data-way=masses]").click()
    page.locator("[data-mass]").nth(1).hover()
    page.wait_for_timeout(300)
    assert page.locator("#stage canvas").count() == 0
    page.unroute(f"**{source}")
    page.locator("[data-mass]").first.hover()
    page.wait_for_selector("#stage canvas")
    assert complaints == []


def test_a_mass_has_an_address_that_needs_no_script(open_page: Opener, named: dict[str, str]) -> None:
    page = open_page(named["work"], script=False)
    words = page.locator("[data-mass]").first.inner_text()
    page.locator("[data-mass]").first.click()
    page.wait_for_load_state()
    assert page.locator("figcaption").first.inner_text() == words
    assert page.locator(".boxed.lit").count() == 1
    page.get_by_role("link", name="Look for works built like it").click()
    page.wait_for_load_state()
    assert page.locator("#like article").count() > 0


def test_works_like_it_come_by_themselves(open_page: Opener, named: dict[str, str]) -> None:
    page = open_page(named["work"])
    page.wait_for_selector("#like article")
    assert page.locator("#like[data-from]").count() == 0
    assert page.url.endswith(named["work"]), "the address stays"


def test_the_field_moves_by_keys_and_its_list_and_address_follow(open_page: Opener) -> None:
    page = open_page("/-/field")
    canvas = page.locator(".ground canvas")
    canvas.focus()
    inked = "canvas => new Set(canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data).size"
    assert page.evaluate(inked, canvas.element_handle()) >= 4, "nothing is drawn"
    whole = page.locator("#window li a").count()
    for _ in range(3):
        page.keyboard.press("+")
    page.wait_for_url("**side=0.29**")
    until(page, "count => document.querySelectorAll('#window li a').length !== count", whole)
    page.keyboard.press("Home")
    page.wait_for_url("**/-/field")
    until(page, "count => document.querySelectorAll('#window li a').length === count", whole)


def test_a_field_whose_marks_do_not_come_is_its_list(open_page: Opener) -> None:
    page = open_page("/-/about")
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    marks = "**/-/field/marks*"
    page.route(marks, lambda route: route.fulfill(status=500, body="no"))
    page.goto(page.url.replace("/-/about", "/-/field"))
    page.wait_for_load_state("networkidle")
    assert page.locator(".ground").count() == 0
    assert page.locator("#window li a").count() > 0
    assert complaints == []
    page.unroute(marks)
    page.reload()
    page.wait_for_load_state("networkidle")
    page.route(
        "**/-/field?*", lambda route: route.fulfill(status=500, content_type="text/html", body="<p>Not now.</p>")
    )
    page.locator(".ground canvas").focus()
    page.keyboard.press("+")
    page.wait_for_selector("text=Not now.")
    assert complaints == []


def test_the_field_opens_the_work_that_is_pressed(open_page: Opener) -> None:
    page = open_page("/-/field")
    place = page.evaluate(
        """() => {
            const link = document.querySelector('#window a[data-x]');
            const canvas = document.querySelector('.ground canvas');
            const scale = Math.min(canvas.width, canvas.height);
            const box = canvas.getBoundingClientRect();
            return [box.left + canvas.width / 2 + (link.dataset.x - 0.5) * scale,
                    box.top + canvas.height / 2 + (link.dataset.y - 0.5) * scale];
        }"""
    )
    page.mouse.click(*place)
    page.wait_for_url("**/-/works/**")


def test_every_control_of_the_new_pages_is_reached_by_tab_and_seen(open_page: Opener) -> None:
    for path in ("/-/works?light_masses=1", "/-/field", "/-/screen"):
        page = open_page(path)
        able = page.evaluate(
            """[...document.querySelectorAll('a[href], button, summary, select, canvas[tabindex],'
                + 'input:not([type=hidden])')].filter(element => element.checkVisibility()).length"""
        )
        reached = set()
        for _ in range(able + 1):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement === document.body"):
                break
            seen = page.evaluate(
                """() => Math.max(...[null, '::after'].map(part => {
                    const style = getComputedStyle(document.activeElement, part);
                    return style.outlineStyle === 'none' ? 0 : parseFloat(style.outlineWidth);
                }))"""
            )
            assert seen >= 3, page.evaluate("document.activeElement.outerHTML.slice(0, 120)")
            reached.add(page.evaluate("[...document.querySelectorAll('*')].indexOf(document.activeElement)"))
        assert len(reached) == able, path


def test_reduced_motion_is_heeded(open_page: Opener) -> None:
    page = open_page("/", reduced_motion="reduce")
    moving = page.evaluate(
        """() => [...document.querySelectorAll('*')].filter(element => {
            const style = getComputedStyle(element);
            return parseFloat(style.transitionDuration) > 0 || parseFloat(style.animationDuration) > 0;
        }).length"""
    )
    assert moving == 0
    assert open_page("/", reduced_motion="no-preference").evaluate(
        "parseFloat(getComputedStyle(document.querySelector('.press')).transitionDuration) > 0"
    )
