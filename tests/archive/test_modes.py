"""Who may do what: a person alone, a class, a screen for looking; and how the teacher comes in."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from asgi_house import Answer, AsgiHouse, picture
from click.testing import CliRunner

from archive.board import Leaf, Shown, new_id
from archive.boards import Boards
from archive.boards_file import BoardsFile
from archive.command import main
from archive.door import LENGTH, LETTERS, MINUTE, TRIES, TRIES_OF_ALL, Door, TooManyTries, plain
from archive.modes import ACTIONS, ALONE, CLASSROOM, KIOSK, MODES, House, is_loopback
from archive.serving import ServingError, serve
from archive.store import Archive


@pytest.fixture(scope="module")
def folder(small_archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copytree(small_archive, tmp_path_factory.mktemp("modes") / "archive"))


@pytest.fixture(scope="module")
def board(folder: Path) -> str:
    with BoardsFile.open(folder) as file:
        return Boards(file).make("Board of the class").board


@pytest.fixture(scope="module")
def classroom(folder: Path, board: str) -> Iterator[AsgiHouse]:
    house = AsgiHouse(folder, House(CLASSROOM, board))
    yield house
    house.close()


@pytest.fixture(scope="module")
def kiosk(folder: Path) -> Iterator[AsgiHouse]:
    house = AsgiHouse(folder, House(KIOSK))
    yield house
    house.close()


@pytest.fixture(scope="module")
def alone(folder: Path) -> Iterator[AsgiHouse]:
    house = AsgiHouse(folder)
    yield house
    house.close()


@pytest.fixture(scope="module")
def work(folder: Path) -> str:
    with Archive.open(folder) as archive:
        return archive.work_ids()[0]


def sign_in(house: AsgiHouse) -> tuple[Answer, str]:
    answer = house.post("/-/teacher", {"code": house.codes[-1]}, client="10.0.0.9")
    return answer, answer.headers.get("set-cookie", "").split(";")[0]


def attempts(board: str, work: str) -> list[tuple[str, str, dict[str, str]]]:
    """Everything that changes something or shows a picture: the action it needs, where, and the form."""
    return [
        ("blotbook-show", "/-/find.json", {}),
        ("blotbook-show", "/-/sheet.json", {}),
        ("blotbook-show", "/-/viewfinder.json", {}),
        ("blotbook-show", "/-/reading.json", {}),
        ("blotbook-keep", "/-/practice.json", {"do": "forget_all", "of": "nobody"}),
        ("blotbook-boards", "/-/boards.json", {"do": "make", "title": "Tried"}),
        ("blotbook-boards", f"/-/boards/{board}.json", {"do": "move", "leaf": "x", "place": "0"}),
        ("blotbook-boards", f"/-/boards/{board}.json", {"do": "copy"}),
        ("blotbook-leaves", "/-/gather.json", {"work": work, "board": board}),
    ]


def test_alone_everything_is_open(alone: AsgiHouse, board: str, work: str) -> None:
    for _, path, fields in attempts(board, work):
        assert alone.post(path, fields).status != 403, path


def test_a_kiosk_is_for_looking_alone(kiosk: AsgiHouse, board: str, work: str, folder: Path) -> None:
    before = (folder / "boards.db").read_bytes()
    for _, path, fields in attempts(board, work):
        answer = kiosk.post(path, fields)
        assert answer.status == 403, path
        assert answer.json()["error"].endswith(".")
    assert kiosk.upload("/-/find", picture()).status == 403
    assert (folder / "boards.db").read_bytes() == before
    for path in ("/", "/-/find", "/-/search?q=light", "/-/boards", f"/-/boards/{board}", "/archive/works"):
        page = kiosk.send(path)
        assert page.status == 200, path
        if not path.startswith("/archive"):
            forms = re.findall(r'<form[^>]*method="post"[^>]*>', page.text)
            assert all("/-/surround" in form for form in forms), (path, forms)
    assert kiosk.send("/archive/-/query.json?sql=select+1").status == 403
    assert kiosk.send("/archive/centuries.json").status == 200


def test_in_a_class_students_show_and_the_teacher_keeps(classroom: AsgiHouse, board: str, work: str) -> None:
    answer, cookie = sign_in(classroom)
    assert answer.status == 303
    for action, path, fields in attempts(board, work):
        student = classroom.post(path, fields).status
        teacher = classroom.post(path, fields, headers=[("Cookie", cookie)]).status
        assert (student == 403) == (action in ("blotbook-keep", "blotbook-boards")), path
        assert teacher != 403, path


def test_students_add_to_the_board_of_the_class_and_to_no_other(
    classroom: AsgiHouse, alone: AsgiHouse, board: str, work: str
) -> None:
    other = alone.post("/-/boards.json", {"do": "make", "title": "Another"}).json()["board"]
    assert classroom.post("/-/gather.json", {"work": work, "board": board}).status == 200
    assert classroom.post("/-/gather.json", {"work": work, "board": other}).status == 403
    assert classroom.post("/-/gather.json", {"work": work, "board": "", "title": "Mine"}).status == 403
    assert classroom.post("/-/gather.json", {"work": "study:aaaaaaaa", "board": board}).status == 403
    page = classroom.send(f"/-/gather?work={work}")
    assert page.text.count('name="board"') == 1
    kept = alone.send(f"/-/boards/{board}.json").json()["board"]
    leaf, version = kept["leaves"][0]["leaf"], str(kept["version"])
    note = {"do": "leaf", "leaf": leaf, "version": version, "note": "The light stands right of the middle."}
    assert classroom.post(f"/-/boards/{board}.json", note).status == 200
    assert classroom.post(f"/-/boards/{other}.json", {**note, "leaf": "x"}).status == 403
    assert classroom.post(f"/-/boards/{board}.json", {"do": "remove", "leaf": leaf}).status == 403
    assert classroom.post(f"/-/boards/{board}.json", {"do": "words", "version": version, "title": "X"}).status == 403


def test_kept_studies_of_others_are_not_shown_in_a_class(classroom: AsgiHouse, alone: AsgiHouse, board: str) -> None:
    kept = alone.upload("/-/practice.json", picture(), fields=[("do", "keep"), ("nickname", "Wren")]).json()["study"]
    address = f"/-/practice/{kept}/picture"
    assert alone.send(address).status == 200
    assert classroom.send("/-/practice").status == 403
    assert classroom.send(address).status == 404
    alone.post("/-/gather.json", {"work": f"study:{kept}", "board": board})
    assert classroom.send(address).status == 200


def test_what_was_taken_off_or_put_away_is_told_to_the_teacher_alone(
    classroom: AsgiHouse, kiosk: AsgiHouse, alone: AsgiHouse, work: str
) -> None:
    made = alone.post("/-/boards.json", {"do": "make", "title": "For the test on Friday"}).json()["board"]
    path = f"/-/boards/{made}.json"
    alone.post("/-/gather.json", {"work": work, "board": made})
    leaf = alone.send(path).json()["board"]["leaves"][0]["leaf"]
    alone.post(path, {"do": "leaf", "leaf": leaf, "version": "2", "note": "The answer"})
    alone.post(path, {"do": "remove", "leaf": leaf})
    alone.post(path, {"do": "put-away"})
    assert alone.send(path).json()["removed"][0]["note"] == "The answer"
    assert "Friday" in str(alone.send("/-/boards.json").json()["put_away"])
    for house in (classroom, kiosk):
        assert house.send(path).json()["removed"] == []
        assert house.send("/-/boards.json").json()["put_away"] == []
        assert "The answer" not in house.send(f"/-/boards/{made}").text


def test_the_name_of_a_kept_study_opens_nothing(classroom: AsgiHouse, alone: AsgiHouse, work: str) -> None:
    fields = [("do", "keep"), ("nickname", "Wren"), ("title", "Lamp at nine")]
    kept = alone.upload("/-/practice.json", picture(), fields=fields).json()["study"]
    for path in ("/-/find.json", "/-/find", "/-/compare.json", "/-/reading.json"):
        asked = {"kept": kept, "beside": work}
        assert alone.post(path, asked).status == 200, path
        refused = classroom.post(path, asked)
        assert refused.status == 403, path
        assert "Lamp at nine" not in refused.text


def test_the_cookie_of_the_teacher(classroom: AsgiHouse) -> None:
    used = classroom.codes[-1]
    answer, cookie = sign_in(classroom)
    sent = answer.headers["set-cookie"].lower()
    assert "httponly" in sent
    assert "samesite=strict" in sent
    assert "max-age=43200" in sent
    assert classroom.codes[-1] != used
    assert classroom.post("/-/teacher", {"code": used}, client="10.0.0.10").status == 403
    me = classroom.send("/-/actor.json", headers=[("Cookie", cookie)]).json()["actor"]
    assert me == {"id": "teacher"}
    forged = cookie[:-4] + ("aaaa" if not cookie.endswith("aaaa") else "bbbb")
    assert classroom.send("/-/practice", headers=[("Cookie", forged)]).status == 403
    assert classroom.send("/-/practice", headers=[("Cookie", "ds_actor=teacher")]).status == 403
    left = classroom.post("/-/teacher", {"do": "leave"}, headers=[("Cookie", cookie)])
    assert "max-age=0" in left.headers["set-cookie"].lower()


def test_wrong_codes_are_slowed_down(classroom: AsgiHouse) -> None:
    for _ in range(TRIES):
        assert classroom.post("/-/teacher", {"code": "aaaa-bbbb"}, client="10.9.9.9").status == 403
    slowed = classroom.post("/-/teacher", {"code": classroom.codes[-1]}, client="10.9.9.9")
    assert slowed.status == 429
    assert "set-cookie" not in slowed.headers
    assert int(slowed.headers["retry-after"]) > 0
    assert classroom.post("/-/teacher", {"code": classroom.codes[-1]}, client="10.9.9.8").status == 303


def test_the_door_counts_by_address_and_in_all() -> None:
    codes: list[str] = []
    now = [0.0]
    door = Door(codes.append, lambda: now[0])
    assert len(plain(codes[0])) == LENGTH
    assert set(plain(codes[0])) <= set(LETTERS)
    for _ in range(TRIES):
        assert not door.enter("nothing", "a")
    with pytest.raises(TooManyTries, match=r"^Too many wrong codes\. Wait \d+ seconds, then try again\.$"):
        door.enter(codes[0], "a")
    now[0] += MINUTE
    for at in range(TRIES_OF_ALL):
        assert not door.enter("nothing", f"b{at}")
    with pytest.raises(TooManyTries):
        door.enter(codes[0], "c")
    now[0] += MINUTE
    assert door.enter(codes[0].upper().replace("-", " "), "a")
    assert not door.enter(codes[0], "a")
    assert door.enter(codes[1], "a")


def test_nobody_signs_in_where_there_is_nothing_to_sign_in_to(alone: AsgiHouse, kiosk: AsgiHouse) -> None:
    for house in (alone, kiosk):
        assert house.send("/-/teacher").status == 404
        assert house.post("/-/teacher", {"code": "x"}).status == 404
        assert not house.codes


def test_alone_answers_to_this_computer_only(alone: AsgiHouse, classroom: AsgiHouse) -> None:
    for host in ("127.0.0.1:8001", "localhost", "[::1]:8001"):
        assert alone.send("/-/about", host=host).status == 200
    for host in ("rebound.example", "192.168.1.7:8001", "localhost.example", "127.0.0.1.example"):
        assert alone.send("/-/about", host=host).status == 403, host
        assert classroom.send("/-/about", host=host).status == 200, host


def test_rules_are_datasette_permissions(classroom: AsgiHouse) -> None:
    for action in ACTIONS:
        allowed = classroom.run(classroom.datasette.allowed(action=action, actor=None))
        assert allowed == House(CLASSROOM, "b").may(action, None), action
        assert classroom.run(classroom.datasette.allowed(action=action, actor={"id": "teacher"}))
        assert not classroom.run(classroom.datasette.allowed(action=action, actor={"id": "root"})) or allowed


def test_serving_alone_to_others_is_refused(small_archive: Path) -> None:
    with pytest.raises(ServingError, match=r"--mode classroom"):
        serve(small_archive, "0.0.0.0", 0)
    done = CliRunner().invoke(main, ["serve", "--archive", str(small_archive), "--host", "0.0.0.0", "--port", "0"])
    assert done.exit_code == 1
    done = CliRunner().invoke(main, ["serve", "--archive", str(small_archive), "--class-board", "X"])
    assert done.exit_code == 2


@pytest.mark.parametrize(
    ("host", "loops"),
    [("127.0.0.1", True), ("127.8.8.8", True), ("::1", True), ("[::1]", True), ("localhost", True), ("LOCALHOST", True),
     ("0.0.0.0", False), ("::", False), ("10.0.0.1", False), ("localhost.", False), ("", False)],
)  # fmt: skip
def test_what_reaches_this_computer_alone(host: str, loops: bool) -> None:
    assert is_loopback(host) is loops


def test_modes_are_known() -> None:
    assert MODES == (ALONE, CLASSROOM, KIOSK)


def test_a_class_is_offered_no_further_columns_to_count_by(classroom: AsgiHouse, alone: AsgiHouse) -> None:
    """Each is a query of its own, and all of them wait while pictures are matched."""
    asked = "/archive/works.json?_extra=suggested_facets&_size=1"
    assert alone.send(asked).json()["suggested_facets"]
    told = classroom.send(asked)
    assert told.status == 200
    assert told.json()["suggested_facets"] == []
    assert classroom.send("/archive/works.json?_facet=country&_size=1").status == 200


@pytest.fixture(scope="module")
def boardless(folder: Path) -> Iterator[AsgiHouse]:
    """A class without a board of its own."""
    house = AsgiHouse(folder, House(CLASSROOM, ""))
    yield house
    house.close()


def lesson_of(folder: Path, work: str) -> str:
    leaf = Leaf(new_id(), (Shown(work=work, record={}),), ("painting", "three"), "It is the left one.", "Which?")
    with BoardsFile.open(folder) as file:
        return Boards(file).make("Lesson", notes="Wait long before you answer.", leaves=[leaf]).board


def test_nothing_is_offered_for_gathering_where_nothing_can_be_gathered(
    kiosk: AsgiHouse, boardless: AsgiHouse, classroom: AsgiHouse, folder: Path, work: str
) -> None:
    slug = kiosk.send("/.json").json()["arrangements"][0]["slug"]
    empty = kiosk.send("/-/boards.json").json()["boards"][-1]["board"]
    lesson = lesson_of(folder, work)
    pages = ("/", "/-/works", f"/-/works/{work}?like=1", "/-/field", "/-/field?pick=1", f"/-/arrangements/{slug}",
             f"/-/boards/{empty}", f"/-/boards/{lesson}")  # fmt: skip
    for path in pages:
        for house in (kiosk, boardless):
            page = house.send(path).text
            assert 'form="gather"' not in page, path
            assert "/-/gather" not in page, path
            for words in ("Gather a board", "Pick works for a board", "Build a board", "ick works in"):
                assert words not in page, path
    assert 'name="work"' in classroom.send("/-/works").text
    assert "Pick works for a board" in classroom.send("/-/field").text
    assert "Gather a board" in classroom.send("/").text
    # Another board than that of the class gains nothing by ticks.
    assert "tick works in" not in classroom.send(f"/-/boards/{lesson}").text


def test_refusals_are_true_of_the_mode(kiosk: AsgiHouse, boardless: AsgiHouse, classroom: AsgiHouse, work: str) -> None:
    def said(house: AsgiHouse, path: str) -> str:
        answer = house.send(path)
        assert answer.status == 403
        return str(answer.json()["error"])

    gather = f"/-/gather.json?work={work}"
    assert said(kiosk, gather) == "This screen is for looking alone; nothing is put onto boards here."
    assert said(kiosk, "/-/practice.json") == "This screen is for looking alone; no studies are kept here."
    made = kiosk.post("/-/boards.json", {"do": "make", "title": "T"}).json()["error"]
    assert made == "This screen is for looking alone; boards are not changed here."
    assert said(boardless, gather) == "Here the teacher alone puts works onto boards."
    assert said(boardless, "/-/practice.json") == "Here the teacher alone keeps studies and looks back on them."
    other = classroom.post("/-/gather.json", {"work": work, "board": "x"}).json()["error"]
    assert other == "Here works can be put onto the board of the class alone."


def test_notes_for_whoever_teaches_are_told_to_nobody_else(
    kiosk: AsgiHouse, classroom: AsgiHouse, alone: AsgiHouse, folder: Path, work: str
) -> None:
    path = f"/-/boards/{lesson_of(folder, work)}"
    cookie = [("Cookie", sign_in(classroom)[1])]
    ways = (path, f"{path}.json", f"{path}/wall", f"{path}/press/html", f"{path}/press/json")
    for house in (kiosk, classroom):
        for way in ways:
            answer = house.send(way)
            assert answer.status == 200
            assert "Wait long" not in answer.text, way
        page = house.send(path).text
        assert re.search(r"<details><summary>The note on it.*?</summary><p[^>]*>It is the left one", page)
        wall = house.send(f"{path}/wall").text
        assert re.search(r"<details data-note><summary>The note on it.*?</summary><p[^>]*>It is the left one", wall)
        assert "Which?" in page
    for page in (alone.send(path).text, classroom.send(path, headers=cookie).text):
        assert "Wait long" in page
        assert "The note on it" not in page
        assert '<p class="lines">It is the left one' in page


def test_students_write_the_note_of_a_leaf_and_nothing_else_of_it(folder: Path, work: str) -> None:
    board = lesson_of(folder, work)
    house = AsgiHouse(folder, House(CLASSROOM, board))
    try:
        path, cookie = f"/-/boards/{board}", [("Cookie", sign_in(house)[1])]
        page, teachers = house.send(path).text, house.send(path, headers=cookie).text
        for field in ("question", "sequence", "way", "before"):
            assert f'name="{field}"' not in page
            assert f'name="{field}"' in teachers
        assert 'name="note"' in page
        before = house.send(f"{path}.json").json()["board"]
        sent = {"do": "leaf", "leaf": before["leaves"][0]["leaf"], "version": str(before["version"]), "note": "Mine."}
        for more in ({"question": "Mine?"}, {"sequence": "falls", "way": "two"}, {"way": "two"}, {"before": "two"}):
            assert house.post(f"{path}.json", {**sent, **more}).status == 403
        assert house.send(f"{path}.json").json()["board"] == before
        assert house.post(f"{path}.json", sent).status == 200
        late = house.post(f"{path}.json", {**sent, "note": "Too late."})
        assert late.status == 409
        assert "Wait long" not in late.text
        # A whole class that is too late leaves one board more, and each finds its own words there.
        kept = late.json()["kept"]["board"]
        for number in range(5):
            said = house.post(path, {**sent, "note": f"Too late, {number}."})
            assert said.status == 409
            assert "your teacher can bring them together" in said.text
            assert "put away" not in said.text
            yours = re.search(rf'href="/-/boards/{kept}#leaf-(\w+)"', said.text)
            assert yours is not None
            leaves = {
                each["leaf"]: each["note"] for each in house.send(f"/-/boards/{kept}.json").json()["board"]["leaves"]
            }
            assert leaves[yours[1]] == f"Too late, {number}."
        assert len([each for each in house.send("/-/boards.json").json()["boards"] if each["beside"] == board]) == 1
        # What the teacher takes off is not told to them either.
        assert house.post(f"{path}.json", {"do": "remove", "leaf": sent["leaf"]}, headers=cookie).status == 200
        assert house.send(f"{path}.json").json()["removed"] == []
        assert [each["note"] for each in house.send(f"{path}.json", headers=cookie).json()["removed"]] == ["Mine."]
        assert house.post(f"{path}.json", {"do": "put-back", "leaf": sent["leaf"]}, headers=cookie).status == 200
        leaf = house.send(f"{path}.json").json()["board"]["leaves"][0]
        assert (leaf["note"], leaf["question"], leaf["showing"]) == ("Mine.", "Which?", ["painting", "three"])
    finally:
        house.close()


def test_a_kiosk_invites_to_nothing_that_it_refuses(kiosk: AsgiHouse, classroom: AsgiHouse, work: str) -> None:
    for path in ("/", "/-/find", "/-/works?q=nosuchwordatall", "/-/works/nobody"):
        shown = kiosk.send(path).text
        assert "how a study" not in shown, path
        assert "small study of your own" not in shown, path
    assert "Try one of our studies" in kiosk.send("/").text
    assert "Show a study" in classroom.send("/").text
    example = kiosk.send("/-/find.json").json()["examples"][0]["slug"]
    found = kiosk.send(f"/-/find?example={example}").text
    forms = re.findall(r"<form[^>]*>", found)
    assert any('id="beside"' in form for form in forms), "our own studies can still be laid beside works"
    assert all("/-/surround" in form for form in forms if "post" in form), forms
    page = kiosk.send(f"/-/compare?example={example}&beside={work}").text
    assert "Go on" not in page


def test_whoever_signs_in_comes_back_to_the_page(classroom: AsgiHouse) -> None:
    link = 'href="/-/teacher?back=/-/works%3Fdark_from%3D20"'
    assert link in classroom.send("/-/works?dark_from=20").text
    form = classroom.send("/-/teacher?back=/-/works%3Fdark_from%3D20").text
    assert '<input type="hidden" name="back" value="/-/works?dark_from=20">' in form
    assert 'href="/-/teacher"' in form, "and not back to the form itself"
    wrong = classroom.post("/-/teacher", {"code": "aaaa-bbbb", "back": "/-/field"}, client="10.7.7.7")
    assert 'name="back" value="/-/field"' in wrong.text
    for back, where in (
        ("/-/works?dark_from=20", "/-/works?dark_from=20"), ("", "/"), ("//evil.example", "/"),
        ("/\\evil.example", "/"), ("https://evil.example/", "/"), ("javascript:alert(1)", "/"), ("/a\r\nX: 1", "/"),
    ):  # fmt: skip
        entered = classroom.post("/-/teacher", {"code": classroom.codes[-1], "back": back}, client="10.7.7.8")
        assert (entered.status, entered.headers["location"]) == (303, where), back


def test_no_copy_of_a_page_with_studies_is_kept(alone: AsgiHouse) -> None:
    """Also where nobody has to sign in: who comes to the computer next, or goes back after deleting, sees none."""
    for path in ("/-/practice", "/-/practice.json", f"/-/waiting/{'A' * 22}"):
        assert alone.send(path).headers["cache-control"] == "private, no-store", path
