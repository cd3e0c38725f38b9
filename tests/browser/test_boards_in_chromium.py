"""Boards in a real browser: built, reordered by keyboard and by dragging, gathered, pressed, shown on the wall."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from archive.board import SHOWINGS, Board
from archive.boards import Boards, leaf_of, shown_of
from archive.boards_file import BoardsFile
from archive.store import Archive

pytestmark = pytest.mark.browser

WIDTHS = (320, 390, 1280, 1600)

Opener = Callable[..., Any]


@pytest.fixture(scope="module")
def folder(small_archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copytree(small_archive, tmp_path_factory.mktemp("boards") / "copy"))


@pytest.fixture(scope="module")
def address(browser: Any, folder: Path) -> Iterator[str]:  # noqa: ARG001 - no server without a browser
    """A server of an archive that may be written to."""
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
def boards(folder: Path) -> Iterator[Boards]:
    with BoardsFile.open(folder) as file:
        yield Boards(file)


@pytest.fixture
def board(folder: Path, boards: Boards) -> Board:
    """Four works, the second with a question and a note."""
    with Archive.open(folder) as archive:
        leaves = [leaf_of(archive, work) for work in archive.work_ids()[:4]]
        leaves[1] = leaf_of(
            archive, archive.work_ids()[1], showing=("two", "painting"), question="Where is it?", note="There."
        )
    return boards.make("Evening class", aim="To see the large shapes", leaves=leaves)


@pytest.fixture
def open_page(browser: Any, address: str) -> Iterator[Opener]:
    """Opens a path in a page of its own; fails the test if the page's console had anything to complain of."""
    contexts: list[Any] = []
    complaints: list[str] = []

    def open_it(path: str, width: int = 1280, *, script: bool = True) -> Any:
        context = browser.new_context(viewport={"width": width, "height": 900}, java_script_enabled=script)
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


def order(boards: Boards, board: Board) -> list[str]:
    return [leaf.leaf for leaf in boards.get(board.board).leaves]


def numbers(page: Any) -> list[str]:
    found: list[str] = page.eval_on_selector_all(".entry", "entries => entries.map(entry => entry.dataset.leaf)")
    return found


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_a_board_is_built_from_an_arrangement_changed_and_pressed(
    open_page: Opener, boards: Boards, script: bool
) -> None:
    page = open_page("/", script=script)
    page.locator(".arrangement a").first.click()
    page.get_by_role("button", name="Build a board for a lesson").click()
    page.wait_for_selector("h2:has-text('To practise')")
    board = boards.get(page.url.rsplit("/", 1)[1])
    assert page.locator(".entry").count() == len(board.leaves) > 1
    first, second = (leaf.leaf for leaf in board.leaves[:2])
    page.locator(f"#leaf-{first}").get_by_role("button", name="Later").click()
    page.wait_for_load_state("networkidle")
    assert order(boards, board)[:2] == [second, first]
    page.get_by_text("Change title, aim, notes and task").click()
    page.get_by_label("Title", exact=True).fill("For Tuesday")
    page.get_by_role("button", name="Keep these words").click()
    page.wait_for_selector("h1:has-text('For Tuesday')")
    page.locator(f"#leaf-{first}").get_by_role("button", name="Take off").click()
    page.wait_for_selector("#removed")
    page.locator("#removed summary").click()
    page.get_by_role("button", name="Put back").click()
    page.wait_for_selector(f"#leaf-{first}")
    with page.expect_download() as waited:
        page.get_by_role("button", name="Print the board").click()
    assert waited.value.suggested_filename == "for-tuesday.pdf"
    assert Path(waited.value.path()).read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize("width", [390, 700, 1366, 1600])
def test_the_mount_of_a_leaf_has_no_hole(open_page: Opener, boards: Boards, folder: Path, width: int) -> None:
    """However many pictures a leaf has, and upright or not, each row of them ends where the mount does."""
    wide, upright = None, (0.3, 0.0, 0.7, 1.0)
    with Archive.open(folder) as archive:
        work = archive.work_ids()[0]
        leaves = [
            replace(leaf_of(archive, work, showing=SHOWINGS[:ways]), shown=(shown_of(archive, work, part),) * pieces)
            for part in (wide, upright)
            for pieces in (1, 2)
            for ways in range(1, 6)
        ]
    page = open_page(f"/-/boards/{boards.make('Rows', leaves=leaves).board}", width)
    holes = page.eval_on_selector_all(
        ".entry .diptych",
        """mounts => mounts.flatMap((mount, at) => {
            const rows = new Map();
            for (const lay of mount.children) {
                const box = lay.getBoundingClientRect();
                rows.set(Math.round(box.top), Math.max(rows.get(Math.round(box.top)) ?? 0, box.right));
            }
            const right = mount.getBoundingClientRect().right - 4;
            return [...rows.values()].filter((end) => Math.abs(end - right) > 3).map((end) => [at, end, right]);
        })""",
    )
    assert holes == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_leaves_are_reordered_with_the_keyboard(open_page: Opener, boards: Boards, board: Board) -> None:
    a, b, c, d = order(boards, board)
    page = open_page(f"/-/boards/{board.board}")
    handle = page.locator(f"#leaf-{a} button[data-number]")
    handle.focus()
    for _ in range(2):
        page.keyboard.press("ArrowDown")
    assert numbers(page) == [b, c, a, d]
    assert handle.evaluate("element => element === document.activeElement")
    page.get_by_text("The order is kept.").wait_for(state="attached")
    assert order(boards, board) == [b, c, a, d]
    with page.expect_response("**/*.json"):
        page.keyboard.press("End")
    page.get_by_text("The order is kept.").wait_for(state="attached")
    assert order(boards, board) == [b, c, d, a]
    assert page.locator(f"#leaf-{a} [data-number]").inner_text() == "4"
    page.locator(f"#leaf-{a} summary").click()
    page.locator(f"#leaf-{a}").get_by_label("Note").fill("after the move")
    page.get_by_role("button", name="Keep this leaf").locator("visible=true").click()
    page.wait_for_selector("text=after the move")
    assert boards.get(board.board).leaves[3].note == "after the move"


def test_leaves_are_reordered_by_dragging(open_page: Opener, boards: Boards, board: Board) -> None:
    a, b, c, d = order(boards, board)
    page = open_page(f"/-/boards/{board.board}")
    page.set_viewport_size({"width": 1280, "height": 3000})
    start = page.locator(f"#leaf-{d} [data-number]").bounding_box()
    end = page.locator(f"#leaf-{b}").bounding_box()
    page.mouse.move(start["x"] + 20, start["y"] + 20)
    page.mouse.down()
    page.mouse.move(end["x"] + 20, end["y"] + 10, steps=12)
    page.mouse.up()
    page.get_by_text("The order is kept.").wait_for(state="attached")
    assert order(boards, board) == numbers(page) == [a, d, b, c]


def test_a_clash_of_orders_is_said_on_the_page(open_page: Opener, boards: Boards, board: Board) -> None:
    a, *_, d = order(boards, board)
    page = open_page(f"/-/boards/{board.board}")
    boards.move(board.board, d, 0)
    theirs = order(boards, board)
    page.locator(f"#leaf-{a} button[data-number]").focus()
    page.route("**/*.json", lambda route: route.fulfill(status=200, body=route.fetch().text()))
    page.keyboard.press("ArrowDown")
    page.wait_for_selector("text=somebody else changed the same")
    assert order(boards, board) == theirs
    copies = [summary.board for summary in boards.summaries() if summary.beside == board.board]
    assert len(copies) == 1
    assert numbers(page) == theirs
    link = page.locator("[data-status] a").first
    assert link.get_attribute("href").endswith(copies[0])
    assert link.evaluate("element => element === document.activeElement")
    handle = page.locator(f"#leaf-{a} [data-number]")
    assert handle.is_disabled()
    box = handle.bounding_box()
    page.mouse.move(box["x"] + 20, box["y"] + 20)
    page.mouse.down()
    page.mouse.move(box["x"] + 20, box["y"] + 400, steps=8)
    page.mouse.up()
    page.wait_for_timeout(700)
    assert numbers(page) == theirs
    assert [summary.board for summary in boards.summaries() if summary.beside == board.board] == copies


@pytest.mark.parametrize("leave", ["form", "link", "address"])
def test_an_order_is_kept_when_the_page_is_left_at_once(
    open_page: Opener, boards: Boards, board: Board, leave: str
) -> None:
    a, b, c, d = order(boards, board)
    page = open_page(f"/-/boards/{board.board}")
    if leave == "form":
        page.locator(f"#leaf-{b} summary").click()
        page.locator(f"#leaf-{b}").get_by_label("Note").fill("after the move")
    page.locator(f"#leaf-{a} button[data-number]").focus()
    page.keyboard.press("End")
    if leave == "form":
        page.get_by_role("button", name="Keep this leaf").locator("visible=true").click()
        page.wait_for_selector("text=after the move")
    elif leave == "link":
        page.get_by_role("link", name="On the wall").click()
        page.wait_for_selector("html[data-loaded=all]")
    else:
        page.goto(page.url.split("/-/")[0] + "/-/boards")
        page.wait_for_load_state("networkidle")
    for _ in range(50):
        if order(boards, board) == [b, c, d, a]:
            break
        page.wait_for_timeout(100)
    assert order(boards, board) == [b, c, d, a]
    assert not any(summary.beside == board.board for summary in boards.summaries())


def test_another_finger_does_not_move_the_leaf_that_is_dragged(open_page: Opener, boards: Boards, board: Board) -> None:
    a, b, c, d = order(boards, board)
    page = open_page(f"/-/boards/{board.board}")
    page.set_viewport_size({"width": 1280, "height": 3000})
    start = page.locator(f"#leaf-{a} [data-number]").bounding_box()
    end = page.locator(f"#leaf-{b}").bounding_box()
    page.mouse.move(start["x"] + 20, start["y"] + 20)
    page.mouse.down()
    for kind, y in (("pointermove", 2900), ("pointerup", 2900)):
        page.evaluate(
            """([kind, y]) => document.querySelector('[data-order]').dispatchEvent(
                new PointerEvent(kind, {pointerId: 77, clientX: 9, clientY: y, bubbles: true}))""",
            [kind, y],
        )
    assert numbers(page) == [a, b, c, d]
    page.mouse.move(end["x"] + 20, end["y"] + end["height"] - 5, steps=12)
    page.mouse.up()
    page.get_by_text("The order is kept.").wait_for(state="attached")
    assert order(boards, board) == [b, a, c, d]


def test_works_are_gathered_over_several_pages(open_page: Opener, boards: Boards) -> None:
    page = open_page("/-/search")
    bar = page.locator("#gather")
    assert bar.is_hidden()
    picks = page.locator('input[name=work][form="gather"]')
    first, second = picks.nth(0).get_attribute("value"), picks.nth(3).get_attribute("value")
    picks.nth(0).check()
    picks.nth(3).check()
    assert "2 works ticked" in bar.inner_text()
    page.goto(page.url.replace("/-/search", "/-/field?pick=1"))
    other = page.locator(f'.terrain input:not([value="{first}"]):not([value="{second}"])').first
    third = other.get_attribute("value")
    other.check()
    assert "3 works ticked" in bar.inner_text()
    page.get_by_role("button", name="Put the ticked works onto a board").click()
    page.get_by_role("radio", name="A new board").check()
    page.get_by_label("Title of a new board").fill("Gathered")
    refused = "**/-/gather"
    page.route(refused, lambda route: route.fulfill(status=200, body="<title>Refused</title>"))
    page.get_by_role("button", name="Put them there").click()
    page.wait_for_function("document.title === 'Refused'")
    page.unroute(refused)
    assert len(page.evaluate("JSON.parse(sessionStorage.getItem('ticked'))")) == 3, "nothing is lost when it is refused"
    page.go_back()
    page.get_by_role("radio", name="A new board").check()
    page.get_by_label("Title of a new board").fill("Gathered")
    page.get_by_role("button", name="Put them there").click()
    page.wait_for_selector("h1:has-text('Gathered')")
    page.wait_for_load_state("networkidle")
    made = boards.get(page.url.split("#")[0].rsplit("/", 1)[1])
    assert {leaf.shown[0].work for leaf in made.leaves} == {first, second, third}
    page.goto(page.url.split("/-/")[0] + "/-/search")
    assert page.locator("#gather").is_hidden()


def test_works_are_gathered_without_a_script(open_page: Opener, boards: Boards) -> None:
    page = open_page("/-/search", script=False)
    page.locator('input[name=work][form="gather"]').first.check()
    page.get_by_role("button", name="Put the ticked works onto a board").click()
    page.get_by_role("radio", name="A new board").check()
    page.get_by_label("Title of a new board").fill("By hand")
    page.get_by_role("button", name="Put them there").click()
    page.wait_for_selector("h1:has-text('By hand')")
    assert len(boards.get(page.url.split("#")[0].rsplit("/", 1)[1]).leaves) == 1


def showing(page: Any) -> list[str]:
    """The ways of the pictures that can be seen."""
    seen: list[str] = page.eval_on_selector_all(
        ".face", "faces => faces.filter(face => face.checkVisibility()).map(face => face.dataset.way)"
    )
    return seen


def test_the_wall_is_stepped_through_without_a_network(open_page: Opener, board: Board) -> None:
    page = open_page(f"/-/boards/{board.board}")
    page.get_by_role("link", name="On the wall").click()
    page.wait_for_selector("html[data-loaded=all]")
    page.context.set_offline(True)
    assert page.locator("[data-place]").inner_text() == "Leaf 1 of 4"
    assert showing(page) == ["painting"]
    for way in SHOWINGS[1:]:
        page.keyboard.press("ArrowDown")
        assert showing(page) == [way]
    page.keyboard.press("ArrowDown")
    assert showing(page) == ["two"]
    for way in SHOWINGS[-2::-1]:
        page.keyboard.press("ArrowUp")
        assert showing(page) == [way]
    for key, way in (("5", "five"), ("3", "three"), ("2", "two"), ("s", "squint"), ("p", "painting")):
        page.keyboard.press(key)
        assert showing(page) == [way]
    page.keyboard.press("ArrowRight")
    assert page.locator("[data-place]").inner_text() == "Leaf 2 of 4"
    assert showing(page) == ["two"]
    page.keyboard.press(" ")
    assert showing(page) == ["painting"]
    page.keyboard.press(" ")
    assert page.locator("[data-place]").inner_text() == "Leaf 3 of 4"
    page.keyboard.press("PageUp")
    question, note = page.get_by_text("Where is it?"), page.get_by_text("There.")
    assert question.is_visible()
    assert note.is_hidden()
    page.keyboard.press("n")
    assert note.is_visible()
    page.keyboard.press("n")
    assert question.is_hidden()
    drawn = page.evaluate("[...document.images].filter(image => image.checkVisibility()).map(i => i.naturalWidth)")
    assert drawn
    assert all(drawn)
    page.keyboard.press("End")
    page.keyboard.press("ArrowRight")
    assert page.locator("[data-place]").inner_text() == "Leaf 4 of 4"
    page.context.set_offline(False)


@pytest.mark.parametrize("script", [True, False])
def test_a_note_waits_on_the_wall_until_it_is_asked_for(
    open_page: Opener, boards: Boards, board: Board, script: bool
) -> None:
    boards.change_leaf(board.board, board.leaves[1].leaf, 1, question="")
    page = open_page(f"/-/boards/{board.board}/wall#2", script=script)
    note = page.get_by_text("There.")
    assert note.is_hidden()
    if script:
        page.keyboard.press("n")
    else:
        page.get_by_text("The note on it").click()
    assert note.is_visible()


def test_a_new_order_makes_no_form_younger_than_its_words(open_page: Opener, boards: Boards, board: Board) -> None:
    a, b, c, d = order(boards, board)
    page = open_page(f"/-/boards/{board.board}")
    boards.change_leaf(board.board, b, 1, note="written by somebody else meanwhile")
    page.locator(f"#leaf-{a} button[data-number]").focus()
    page.keyboard.press("End")
    page.get_by_text("The order is kept.").wait_for(state="attached")
    page.locator(f"#leaf-{b} summary").click()
    page.locator(f"#leaf-{b}").get_by_label("Question for the class").fill("What do you see first?")
    page.get_by_role("button", name="Keep this leaf").locator("visible=true").click()
    page.wait_for_selector("text=What do you see first?")
    leaf = next(each for each in boards.get(board.board).leaves if each.leaf == b)
    assert (leaf.note, leaf.question) == ("written by somebody else meanwhile", "What do you see first?")
    assert order(boards, board) == [b, c, d, a]


def test_the_timer_counts_down(open_page: Opener, board: Board) -> None:
    page = open_page(f"/-/boards/{board.board}/wall")
    page.clock.install()
    page.get_by_label("Minutes of a timed study").select_option("1")
    page.keyboard.press("Tab")
    page.keyboard.press("t")
    clock = page.locator("[data-clock]")
    assert clock.inner_text() == "1:00"
    page.clock.run_for(15_000)
    assert clock.inner_text() == "0:45"
    page.clock.run_for(46_000)
    assert clock.inner_text() == "Time is up"
    page.keyboard.press("t")
    assert clock.is_hidden()


def test_the_wall_is_a_column_of_leaves_without_a_script(open_page: Opener, board: Board) -> None:
    page = open_page(f"/-/boards/{board.board}/wall", script=False)
    assert page.locator(".plateau").count() == 4
    assert page.locator(".plateau").nth(3).is_visible()
    assert page.locator("[data-rail]").is_hidden()


@pytest.mark.parametrize("what", ["boards", "board", "wall", "gather", "field"])
def test_a_page_fits_every_width_and_its_controls_are_large_enough(open_page: Opener, board: Board, what: str) -> None:
    work = board.leaves[0].shown[0].work
    path = {
        "boards": "/-/boards", "board": f"/-/boards/{board.board}", "wall": f"/-/boards/{board.board}/wall",
        "gather": f"/-/gather?work={work}", "field": "/-/field?pick=1",
    }[what]  # fmt: skip
    page = open_page(path)
    page.evaluate("for (const folded of document.querySelectorAll('details')) folded.open = true")
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width, width
        small = page.evaluate(
            """() => [...document.querySelectorAll('button, summary, .press, .takeaway li, label.tick, textarea, '
                    + 'select,' + '.rail a, input:not([type=hidden]):not([type=checkbox]):not([type=radio])')]
                .map(element => [element, element.getBoundingClientRect()])
                .filter(([, box]) => box.width > 0 && (box.height < 44 || box.width < 44))
                .map(([element, box]) => `${element.outerHTML.slice(0, 90)} ${box.width}x${box.height}`)"""
        )
        assert small == [], width
    unnamed = page.evaluate(
        """() => [...document.querySelectorAll('input:not([type=hidden]), select, textarea')]
            .filter(field => !field.labels.length).map(field => field.outerHTML)"""
    )
    assert unnamed == []
