"""The pages of boards: forms, conflicts, gathering, the wall, files to take away; nothing without the same origin."""

from __future__ import annotations

import csv
import html
import io
import json
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from painting import paint

from archive.board import SHOWINGS, Board, Leaf, Shown, as_json, new_id
from archive.boards import Boards
from archive.boards_file import BoardsFile
from archive.exporting import FORMS, ON_PAPER
from archive.ingesting import ingest
from archive.practice import Practice
from archive.serving import build_datasette
from archive.store import Archive
from ingest.provenance import read_records
from ingest.reading import read

EVIL = '<script>alert("1")</script> & “ü”'


@pytest.fixture(scope="module")
def folder(small_archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copytree(small_archive, tmp_path_factory.mktemp("boards") / "copy"))


@pytest.fixture
def datasette(folder: Path) -> Any:
    return build_datasette(folder)


@pytest.fixture
def boards(folder: Path) -> Iterator[Boards]:
    with BoardsFile.open(folder) as file:
        yield Boards(file)


@pytest.fixture(scope="module")
def works(folder: Path) -> list[str]:
    with Archive.open(folder) as archive:
        return archive.work_ids()


def some_leaf(work: str, **fields: Any) -> Leaf:
    return Leaf(new_id(), (Shown(work=work, record={"title": "Kept title", "credit": "Kept credit."}),), **fields)


def page_of(board: Board) -> str:
    return f"/-/boards/{board.board}"


async def post(datasette: Any, path: str, **fields: Any) -> Any:
    return await datasette.client.post(path, data=fields)


@pytest.mark.asyncio
async def test_a_board_is_begun_and_its_words_are_changed(datasette: Any, boards: Boards) -> None:
    made = await post(datasette, "/-/boards", do="make", title=EVIL, aim="aim")
    assert made.status_code == 303
    path = made.headers["location"]
    shown = await datasette.client.get(path)
    assert shown.status_code == 200
    assert EVIL not in shown.text
    assert f"<h1>{html.escape(EVIL, quote=False)}</h1>".replace('"', "&#34;") in shown.text
    changed = await post(datasette, path, do="words", version=1, title="Linnet Lane", notes=EVIL, task="t")
    assert (changed.status_code, changed.headers["location"]) == (303, path)
    there = boards.get(path.rsplit("/", 1)[1])
    assert (there.title, there.aim, there.notes, there.task) == ("Linnet Lane", "aim", EVIL, "t")
    assert "<script>alert" not in (await datasette.client.get(path)).text
    assert "<script>alert" not in (await datasette.client.get("/-/boards")).text


@pytest.mark.asyncio
async def test_an_edit_that_comes_too_late_is_kept_beside(datasette: Any, boards: Boards) -> None:
    board = boards.make("Two at once")
    await post(datasette, page_of(board), do="words", version=1, aim="theirs")
    late = await post(datasette, page_of(board), do="words", version=1, aim="mine")
    assert late.status_code == 409
    assert "Two at once (another version)" in late.text
    twin = await post(datasette, f"{page_of(board)}.json", do="words", version=1, aim="mine again")
    assert twin.status_code == 409
    said = twin.json()
    assert said["ok"] is False
    assert said["board"]["aim"] == "theirs"
    assert (await datasette.client.get(f"{said['kept_url']}.json")).json()["board"]["aim"] == "mine again"


@pytest.mark.asyncio
async def test_leaves_are_changed_moved_removed_and_put_back(datasette: Any, boards: Boards, works: list[str]) -> None:
    board = boards.make("Leaves", leaves=[some_leaf(work) for work in works[:3]])
    a, b, c = (leaf.leaf for leaf in board.leaves)
    path = page_of(board)
    form = {"do": "leaf", "leaf": b, "version": 1, "note": "n", "question": "q", "way": ["painting", "two", "squint"]}
    moved = await post(datasette, path, **form, sequence="returns", before="painting,three")
    assert moved.headers["location"] == f"{path}#leaf-{b}"
    leaf = boards.get(board.board).leaves[1]
    assert (leaf.note, leaf.question, leaf.showing) == ("n", "q", ("two", "squint", "painting"))
    await post(datasette, path, **form | {"version": 2}, sequence="kept", before="squint,two")
    assert boards.get(board.board).leaves[1].showing == ("squint", "two", "painting")
    await post(datasette, path, do="move", leaf=a, place=2)
    await post(datasette, path, do="remove", leaf=b)
    assert [leaf.leaf for leaf in boards.get(board.board).leaves] == [c, a]
    assert "Put back" in (await datasette.client.get(path)).text
    await post(datasette, path, do="put-back", leaf=b)
    now = boards.get(board.board)
    assert [leaf.leaf for leaf in now.leaves] == [b, c, a]
    said = (await post(datasette, f"{path}.json", do="order", version=now.version, order=f"{a},{b},{c}")).json()
    assert [leaf["leaf"] for leaf in said["board"]["leaves"]] == [a, b, c]
    copy = await post(datasette, path, do="copy")
    assert copy.headers["location"] != path
    await post(datasette, path, do="put-away")
    assert boards.get(board.board).archived
    await post(datasette, path, do="take-out")
    assert not boards.get(board.board).archived


@pytest.mark.asyncio
async def test_words_for_a_leaf_that_is_off_are_said_to_be_kept_on_it(
    datasette: Any, boards: Boards, works: list[str]
) -> None:
    board = boards.make("Off", leaves=[some_leaf(work) for work in works[:2]])
    leaf, path, before = board.leaves[0].leaf, page_of(board), boards.count()
    boards.remove(board.board, leaf)
    answer = await post(datasette, path, do="leaf", leaf=leaf, version=1, note="Late words")
    assert (answer.status_code, answer.headers["location"]) == (303, f"{path}?off=1")
    said = "What you wrote is kept on it"
    assert said in (await datasette.client.get(f"{path}?off=1")).text
    assert said not in (await datasette.client.get(path)).text
    assert boards.count() == before
    await post(datasette, path, do="put-back", leaf=leaf)
    assert boards.get(board.board).leaves[0].note == "Late words"


@pytest.mark.asyncio
async def test_cards_are_offered_where_there_is_something_to_sort(
    datasette: Any, boards: Boards, works: list[str]
) -> None:
    whole = some_leaf(works[0], showing=("painting", "three"))
    part = Leaf(new_id(), (Shown(work=works[1], part=(0, 0, 0.5, 1)),), ("three",))
    for leaves, offered in (
        ([], False), ([whole], False), ([whole, some_leaf(works[0], showing=("three",))], False),
        ([whole, part], False), ([whole, some_leaf(works[1], showing=("painting",))], False),
        ([whole, some_leaf(works[1], showing=("three",))], True),
    ):  # fmt: skip
        fresh = [Leaf(new_id(), leaf.shown, leaf.showing) for leaf in leaves]
        board = boards.make("To sort", leaves=fresh)
        assert ("Cards to sort" in (await datasette.client.get(page_of(board))).text) == offered
        taken = await datasette.client.get(f"{page_of(board)}/press/cards")
        assert taken.status_code == (200 if offered else 400)
        assert offered or "nothing to sort: the board shows fewer than two works" in taken.text


@pytest.mark.asyncio
@pytest.mark.parametrize(
    "fields",
    [
        {"do": "nothing"}, {"do": "words", "version": "x", "aim": "a"}, {"do": "words", "version": "99", "aim": "a"},
        {"do": "words", "version": "1", "title": " "}, {"do": "words", "version": "1", "notes": "x" * 20001},
        {"do": "leaf", "leaf": "none", "version": "1", "note": "n"}, {"do": "move", "leaf": "x", "place": "1e9"},
        {"do": "move", "leaf": "x", "place": "--5"}, {"do": "words", "version": "--5", "aim": "a"},
        {},
    ],
)  # fmt: skip
async def test_what_cannot_be_done_is_said(datasette: Any, boards: Boards, fields: dict[str, str]) -> None:
    board = boards.make("Refusals")
    refused = await post(datasette, page_of(board), **fields)
    assert refused.status_code in (400, 404)
    assert "That did not work" in refused.text or "Not in this book" in refused.text
    assert boards.get(board.board) == board


@pytest.mark.asyncio
async def test_forms_are_bounded(datasette: Any, boards: Boards) -> None:
    board = boards.make("Bounds")
    refused = await post(datasette, page_of(board), do="words", version=1, notes="x" * 300_000)
    assert refused.status_code == 400
    refused = await datasette.client.post(page_of(board), data={f"n{number}": "1" for number in range(1000)})
    assert refused.status_code == 400
    assert boards.get(board.board) == board


@pytest.mark.asyncio
@pytest.mark.parametrize("origin", [{"Sec-Fetch-Site": "cross-site"}, {"Origin": "https://elsewhere.example"}])
async def test_other_sites_cannot_post(
    datasette: Any, boards: Boards, works: list[str], origin: dict[str, str]
) -> None:
    board = boards.make("Mine")
    before = len(boards.summaries())
    for path, fields in (
        (page_of(board), {"do": "words", "version": 1, "aim": "theirs"}),
        ("/-/boards", {"do": "make", "title": "theirs"}),
        ("/-/gather", {"board": board.board, "work": works[0]}),
    ):
        answer = await datasette.client.post(path, data=fields, headers=origin)
        assert answer.status_code == 403
    assert boards.get(board.board) == board
    assert len(boards.summaries()) == before


@pytest.mark.asyncio
async def test_a_get_changes_nothing(datasette: Any, boards: Boards) -> None:
    board = boards.make("Looked at")
    before = len(boards.summaries())
    await datasette.client.get(f"{page_of(board)}?do=words&version=1&aim=x")
    await datasette.client.get("/-/boards?do=make&title=x")
    assert boards.get(board.board) == board
    assert len(boards.summaries()) == before


@pytest.mark.asyncio
async def test_works_of_any_list_are_gathered(datasette: Any, boards: Boards, works: list[str]) -> None:
    listed = await datasette.client.get("/-/search")
    assert f'name="work" value="{works[0]}" form="gather"' in listed.text
    asked = await datasette.client.get(f"/-/gather?work={works[0]}&work={works[1]}@0.1,0.2,0.5,0.75&work={works[0]}")
    assert asked.status_code == 200
    assert asked.text.count('name="work"') == 2
    put = await post(
        datasette, "/-/gather", board="", title="Gathered", work=[works[0], f"{works[1]}@0.1,0.2,0.5,0.75"], way=["two"]
    )
    board = boards.get(put.headers["location"].split("#")[0].rsplit("/", 1)[1])
    assert board.title == "Gathered"
    assert [leaf.shown[0].work for leaf in board.leaves] == works[:2]
    assert board.leaves[1].shown[0].part == (0.1, 0.2, 0.5, 0.75)
    assert [leaf.showing for leaf in board.leaves] == [("two",), ("two",)]
    assert board.leaves[0].shown[0].record["rights"]
    await post(datasette, "/-/gather", board=board.board, work=works[2:4], pair="1")
    assert [shown.work for shown in boards.get(board.board).leaves[2].shown] == works[2:4]
    for wrong in ({"work": "nothing"}, {"work": f"{works[0]}@1,2"}, {"work": f"{works[0]}@0,0,2,2"}, {},
                  {"work": works[0], "pair": "1"}):  # fmt: skip
        assert (await post(datasette, "/-/gather", board=board.board, **wrong)).status_code == 400
    assert len(boards.get(board.board).leaves) == 3


@pytest.mark.asyncio
async def test_ready_made_boards_are_built(datasette: Any, boards: Boards) -> None:
    slugs = [row["slug"] for row in (await datasette.client.get("/.json")).json()["arrangements"]][:2]
    for fields in (
        {"do": "lesson", "arrangement": slugs[0]},
        {"do": "contrast", "first": slugs[0], "second": slugs[1]},
        {"do": "sort", "arrangement": slugs},
        {"do": "theme", "theme": "low-key"},
    ):
        made = await post(datasette, "/-/boards", **fields)
        assert made.status_code == 303, made.text
        assert boards.get(made.headers["location"].rsplit("/", 1)[1]).leaves
        assert (await datasette.client.get(made.headers["location"])).status_code == 200
    assert (await post(datasette, "/-/boards", do="lesson", arrangement="none")).status_code == 400
    unknown = await post(datasette, "/-/boards", do="theme", theme="sunsets")
    assert unknown.status_code == 400
    assert "There is no theme “sunsets”; there are two-values," in unknown.text


@pytest.mark.asyncio
async def test_the_wall_holds_every_picture_of_every_leaf(datasette: Any, boards: Boards, works: list[str]) -> None:
    pair = Leaf(new_id(), (Shown(work=works[1], part=(0, 0, 0.5, 1)), Shown(work=works[2])), ("three", "two"))
    board = boards.make("Wall", leaves=[some_leaf(works[0]), pair])
    page = await datasette.client.get(f"{page_of(board)}/wall")
    assert page.text.count('class="face"') == 3 * len(SHOWINGS)
    assert page.text.count("<image ") == len(SHOWINGS)
    assert 'loading="lazy"' not in page.text
    twin = (await datasette.client.get(f"{page_of(board)}/wall.json")).json()
    for leaf in twin["leaves"]:
        for shown in leaf["shown"]:
            assert list(shown["pictures"]) == list(SHOWINGS)
            for url in shown["pictures"].values():
                assert (await datasette.client.get(url)).status_code == 200


@pytest.mark.asyncio
@pytest.mark.parametrize("form", FORMS)
async def test_a_board_is_taken_away_in_every_form(datasette: Any, boards: Boards, works: list[str], form: str) -> None:
    board = boards.make("Été", leaves=[some_leaf(work) for work in works[:2]])
    taken = await datasette.client.get(f"{page_of(board)}/press/{form}?page=letter&landscape=1&per_page=1")
    assert taken.status_code == 200
    assert taken.headers["content-disposition"].startswith('attachment; filename="ete.')
    assert taken.headers["x-content-type-options"] == "nosniff"
    begins = dict.fromkeys(ON_PAPER, b"%PDF-") | {
        "html": b"<!doctype html>",
        "png": b"\x89PNG",
        "iiif": b"{",
        "csv": b"",
        "json": b"{",
    }
    assert taken.content.lstrip(b"\xef\xbb\xbf").startswith(begins[form])
    if form == "csv":
        rows = list(csv.reader(io.StringIO(taken.content.decode("utf-8-sig"))))
        assert len(rows) == 1 + len(board.leaves)
    if form in ("html", "csv", "iiif"):
        assert "Made Pictures" in taken.text


@pytest.mark.asyncio
async def test_a_board_is_handed_out_without_its_notes(datasette: Any, boards: Boards, works: list[str]) -> None:
    leaf = replace(some_leaf(works[0]), note="The answer.", question="What leads?")
    board = boards.make("Class", notes="For the teacher.", leaves=[leaf])
    assert 'name="handout"' in (await datasette.client.get(page_of(board))).text
    whole = (await datasette.client.get(f"{page_of(board)}/press/html")).text
    given = (await datasette.client.get(f"{page_of(board)}/press/html?handout=1")).text
    for note in ("The answer.", "For the teacher."):
        assert note in whole
        assert note not in given
    assert "What leads?" in given


@pytest.mark.asyncio
async def test_what_cannot_be_pressed_is_said(datasette: Any, boards: Boards) -> None:
    board = boards.make("Pressed")
    for path, status in (
        (f"{page_of(board)}/press/doc", 404), (f"{page_of(board)}/press/pdf?page=a3", 400),
        (f"{page_of(board)}/press/pdf?per_page=5", 400), ("/-/boards/none/press/pdf", 404), ("/-/boards/none", 404),
        ("/-/boards/none/wall", 404), (f"{page_of(board)}/press/studies", 400), (f"{page_of(board)}/press/cards", 400),
    ):  # fmt: skip
        assert (await datasette.client.get(path)).status_code == status, path


@pytest.mark.asyncio
async def test_a_board_comes_back_from_its_export_without_loss(
    datasette: Any, boards: Boards, works: list[str], tmp_path: Path, small_archive: Path
) -> None:
    pair = Leaf(new_id(), (Shown(work=works[1], part=(0, 0.25, 0.5, 1)), Shown(study="kept")), ("two",), EVIL, "q?")
    board = boards.make("Round trip", aim=EVIL, notes="n\n\nm", task="t", leaves=[some_leaf(works[0]), pair])
    export = await datasette.client.get(f"{page_of(board)}/press/json")
    assert json.loads(export.content) == as_json(board)
    elsewhere = build_datasette(Path(shutil.copytree(small_archive, tmp_path / "elsewhere")))
    files = {"file": ("board.json", export.content, "application/json")}
    brought = await elsewhere.client.post("/-/boards", data={"do": "import"}, files=files)
    assert brought.status_code == 303
    again = await elsewhere.client.get(f"{brought.headers['location']}/press/json")
    assert again.content == export.content
    for wrong in (b"", b"no json", b"{}", b"[" * 100_000):
        files = {"file": ("board.json", wrong, "application/json")}
        refused = await elsewhere.client.post("/-/boards", data={"do": "import"}, files=files)
        assert refused.status_code == 400


@pytest.mark.asyncio
async def test_a_board_keeps_its_leaves_when_works_are_withdrawn(
    small_records: Path, small_archive: Path, works: list[str], tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(small_archive, tmp_path / "copy"))
    shutil.copytree(small_records.parent, tmp_path / "collection")
    with Archive.open(folder) as archive:
        work = archive.work(works[0])
        assert work is not None
        datasette = build_datasette(folder)
        put = await post(datasette, "/-/gather", title="Withdrawn", work=works[:2])
    records = tmp_path / "collection" / small_records.name
    lines = records.read_text(encoding="utf-8").splitlines(keepends=True)
    # Its rights turn out not to admit it.
    refused = [line.replace(",CC0,", ",In Copyright,") if line.startswith(f"{works[0]},") else line for line in lines]
    records.write_text("".join(refused), encoding="utf-8")
    ingest(read_records(records), folder, workers=1)
    with Archive.open(folder) as archive:
        assert archive.work(works[0]) is None
    again = build_datasette(folder)
    path = put.headers["location"].split("#")[0]
    shown = await again.client.get(path)
    assert shown.status_code == 200
    assert "no longer in the archive" in shown.text
    assert html.escape(work["title"], quote=False) in shown.text
    assert work["collection"] in shown.text
    assert (await again.client.get(f"{path}/wall")).status_code == 200
    assert work["title"] in (await again.client.get(f"{path}/press/csv")).text


@pytest.mark.asyncio
async def test_a_long_list_of_boards_is_turned_page_by_page(small_archive: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(small_archive, tmp_path / "copy"))
    with BoardsFile.open(folder) as file:
        made = [Boards(file).make(f"Board {number:02}").board for number in range(45)]
    datasette = build_datasette(folder)
    seen: list[str] = []
    path: str | None = "/-/boards.json"
    while path:
        said = (await datasette.client.get(path)).json()
        assert said["count"] == 45
        seen += [each["board"] for each in said["boards"]]
        path = said["next_url"]
    assert sorted(seen) == sorted(made)
    assert len(seen) == len(made)
    assert "21–40 of 45" in (await datasette.client.get("/-/boards?_next=20")).text
    assert (await datasette.client.get("/-/boards?_next=x")).status_code == 400


@pytest.mark.asyncio
async def test_a_kept_study_goes_onto_a_board_without_its_name(datasette: Any, folder: Path, boards: Boards) -> None:
    held = io.BytesIO()
    paint("bands", 3).save(held, "PNG")
    with BoardsFile.open(folder) as file:
        study = Practice(file).keep(read(held.getvalue()), nickname="Wren", title="The gate").study
    put = await post(datasette, "/-/gather", title="Ours", work=f"study:{study}", way=["painting", "three"])
    path = put.headers["location"].split("#")[0]
    (leaf,) = boards.get(path.rsplit("/", 1)[1]).leaves
    assert leaf.shown == (Shown(study=study),)
    page = (await datasette.client.get(path)).text
    assert "The gate" in page
    for which in ("picture", "map3"):
        assert f"/-/practice/{study}/{which}" in page
        assert (await datasette.client.get(f"/-/practice/{study}/{which}")).status_code == 200
    assert (await datasette.client.get(f"{path}/wall")).status_code == 200
    assert (await post(datasette, "/-/gather", title="T", work="study:none")).status_code == 404


@pytest.mark.asyncio
async def test_after_a_conflict_works_are_offered_to_the_board_itself(
    datasette: Any, boards: Boards, works: list[str]
) -> None:
    def ticked(page: str) -> str:
        (value,) = re.findall(r'name="board" value="([^"]*)" checked', page)
        return value

    board = boards.make("Ours")
    await post(datasette, page_of(board), do="words", version=1, aim="theirs")
    late = (await post(datasette, f"{page_of(board)}.json", do="words", version=1, aim="mine")).json()
    copy = late["kept"]["board"]
    asked = f"/-/gather?work={works[0]}"
    assert ticked((await datasette.client.get(asked)).text) == board.board
    # Whoever goes on with the other version has chosen it.
    await post(datasette, "/-/gather", board=copy, work=works[0])
    assert ticked((await datasette.client.get(asked)).text) == copy
