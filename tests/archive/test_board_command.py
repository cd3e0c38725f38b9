"""``blotbook board``: what it prints, writes and refuses."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from archive.board import from_json
from archive.command import main
from archive.store import Archive


def run(archive: Path, *arguments: str | Path) -> Result:
    asked = ["board", *(str(argument) for argument in arguments), "--archive", str(archive)]
    result = CliRunner().invoke(main, asked, prog_name="blotbook")
    assert "Traceback" not in result.output
    return result


def said(result: Result) -> Any:
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


@pytest.fixture
def folder(small_archive: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(small_archive, tmp_path / "copy"))


@pytest.fixture
def slugs(folder: Path) -> list[str]:
    with Archive.open(folder) as archive:
        return [row["slug"] for row in archive.arrangements() if row["members"] >= 2]


def test_a_board_is_made_filled_shown_and_taken_in_elsewhere(folder: Path, tmp_path: Path) -> None:
    assert run(folder, "list").output == "There are no boards yet.\n"
    made = said(run(folder, "make", "made-00", "--title", "Evening class", "--aim", "See the gate", "--json"))
    run(folder, "add", "evening CLASS", "made-01", "--as", "two", "--as", "painting", "--part", "0,0.5,1,1",
        "--question", "Where is the light?")  # fmt: skip
    pair = said(run(folder, "add", made["board"], "made-02", "made-03", "--pair", "--json"))
    assert [len(leaf["shown"]) for leaf in pair["leaves"]] == [1, 1, 2]
    assert pair["leaves"][1]["showing"] == ["two", "painting"]
    assert pair["leaves"][1]["shown"][0]["part"] == [0, 0.5, 1, 1]
    told = run(folder, "show", "Evening class").output
    for words in ("Evening class", "See the gate", "Painter A, “Light-Mass” no. 0", "Where is the light?", " | "):
        assert words in told
    removed = said(run(folder, "remove", "Evening class", "1", "--json"))
    assert [leaf["leaf"] for leaf in removed["leaves"]] == [leaf["leaf"] for leaf in pair["leaves"][1:]]
    assert "Taken off:" in run(folder, "show", "Evening class").output
    back = said(run(folder, "remove", "Evening class", pair["leaves"][0]["leaf"], "--undo", "--json"))
    assert back["leaves"] == pair["leaves"]
    export = tmp_path / "board.json"
    export.write_text(run(folder, "show", "Evening class", "--json").output, encoding="utf-8")
    other = tmp_path / "other"
    Archive.create(other).close()
    assert said(run(other, "import", export, "--json")) == back
    assert from_json(said(run(other, "show", made["board"], "--json"))) == from_json(back)
    assert [each["title"] for each in said(run(other, "list", "--json"))] == ["Evening class"]


def test_ready_made_boards(folder: Path, slugs: list[str]) -> None:
    lesson = said(run(folder, "make", "--lesson", slugs[0], "--title", "Mine", "--json"))
    assert lesson["title"] == "Mine"
    assert lesson["task"]
    contrast = said(run(folder, "make", "--contrast", slugs[0], slugs[1], "--json"))
    assert all(len(leaf["shown"]) == 2 for leaf in contrast["leaves"])
    sort = ["--sort", slugs[0], "--sort", slugs[1], "--json"]
    one, same, other = (
        [leaf["shown"] for leaf in said(run(folder, "make", *sort, "--seed", seed))["leaves"]] for seed in "119"
    )
    assert one == same != other


@pytest.mark.parametrize(("form", "ending"), [("pdf", "pdf"), ("csv", "csv"), ("json", "json")])
def test_a_board_is_pressed(
    folder: Path, tmp_path: Path, form: str, ending: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    run(folder, "make", "made-00", "--title", "Für morgen")
    monkeypatch.chdir(tmp_path)
    pressed = run(folder, "press", "Für morgen", "--form", form)
    assert pressed.stdout == f"fur-morgen.{ending}\n"
    kept = (tmp_path / f"fur-morgen.{ending}").read_bytes()
    assert b"%PDF-" in kept[:9] if form == "pdf" else "Made Pictures" in kept.decode("utf-8-sig")
    named = run(folder, "press", "Für morgen", "--form", form, "--output", tmp_path / "named")
    assert named.stdout.strip() == str(tmp_path / "named")
    if form == "json":
        assert run(folder, "press", "Für morgen", "--form", form, "--output", "-").stdout_bytes == kept


def test_what_is_handed_out_has_the_questions_and_no_notes(folder: Path) -> None:
    run(folder, "make", "--title", "Class", "--notes", "For the teacher.", "--task", "Draw.")
    run(folder, "add", "Class", "made-00", "--note", "The answer.", "--question", "What leads?")
    pressed = {kept: run(folder, "press", "Class", "--form", "html", "--output", "-", *kept).stdout
               for kept in ((), ("--handout",))}  # fmt: skip
    for note in ("For the teacher.", "The answer."):
        assert note in pressed[()]
        assert note not in pressed["--handout",]
    for told in ("What leads?", "Draw."):
        assert told in pressed["--handout",]
    whole = run(folder, "press", "Class", "--form", "json", "--handout", "--output", "-")
    assert "The answer." in whole.stdout, "what is to be brought in elsewhere is whole"


def test_a_pressed_file_is_named_for_what_it_is(folder: Path, tmp_path: Path) -> None:
    run(folder, "make", "made-00", "--title", "T")
    refused = run(folder, "press", "T", "--output", tmp_path / "board.html")
    assert refused.exit_code == 2
    assert "'board.html' should end in .pdf; what ends in .html is made with --form html." in refused.stderr
    assert not (tmp_path / "board.html").exists()
    for form, name in (("html", "board.HTM"), ("iiif", "board.json"), ("csv", "version 1.2"), ("json", "board")):
        assert run(folder, "press", "T", "--form", form, "--output", tmp_path / name).stderr == ""
        assert (tmp_path / name).exists()
    again = run(folder, "press", "T", "--form", "json", "--output", tmp_path / "board")
    assert again.exit_code == 0
    assert again.stderr == f"Note: {tmp_path / 'board'} was there already and was replaced.\n"


def test_a_second_board_of_a_title_is_told_from_the_first(folder: Path, tmp_path: Path) -> None:
    first = run(folder, "make", "--title", "Évening")
    assert first.stderr == ""
    second = run(folder, "make", "--title", "ÉVENING", "--json")
    assert f"Another board is called “ÉVENING” too; name this one by its short name, {said(second)['board']}," in (
        second.stderr
    )
    (tmp_path / "board.json").write_text(second.stdout, encoding="utf-8")
    assert "Another board" in run(folder, "import", tmp_path / "board.json").stderr


def test_a_work_that_is_put_on_a_board_again_is_named(folder: Path) -> None:
    run(folder, "make", "made-00", "made-01", "--title", "T")
    again = run(folder, "add", "T", "made-01", "made-02")
    assert again.stdout.endswith("T (4 leaves)\n")
    assert again.stderr == "Note: made-01 was on the board already, on leaf 2; 'remove' takes a leaf off.\n"


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["show", "none"], 1, "There is no board “none”"),
        (["show", "Twice"], 1, "2 boards are called “Twice”"),
        (["make"], 2, "--title"),
        (["make", "--title", " "], 1, "needs a title"),
        (["make", "--lesson", "none"], 1, "no arrangement “none”"),
        (["make", "--lesson", "a", "--sort", "b"], 2, "one of them"),
        (["make", "none", "--title", "T"], 1, "no work “none”"),
        (["add", "Once", "made-00", "--part", "1,2"], 2, "four numbers"),
        (["add", "Once", "made-00", "--part", "0,0,2,2"], 1, "from 0 to 1"),
        (["add", "Once", "made-00", "--pair"], 2, "two works"),
        (["add", "Once", "made-00", "--as", "two", "--as", "two"], 1, "once"),
        (["remove", "Once", "9"], 2, "no leaf “9”"),
        (["press", "Once", "--form", "doc"], 2, "doc"),
        (["import", "not-there.json"], 1, "No such file"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(folder: Path, arguments: list[str], code: int, words: str) -> None:
    for title in ("Once", "Twice", "Twice"):
        run(folder, "make", "--title", title)
    refused = run(folder, *arguments)
    assert refused.exit_code == code
    assert words in refused.output
    assert refused.stderr.startswith("blotbook: ")
    assert [each["leaves"] for each in said(run(folder, "list", "--json"))] == [0, 0, 0]


def test_a_file_that_is_no_board_is_refused(folder: Path, tmp_path: Path) -> None:
    for number, content in enumerate((b"", b"\xff", b"[1", b"{}", b"[" * 100_000)):
        (tmp_path / f"{number}.json").write_bytes(content)
        refused = run(folder, "import", tmp_path / f"{number}.json")
        assert refused.exit_code == 1
        assert "no board that Blotbook wrote" in refused.output
