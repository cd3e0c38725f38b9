"""The pages in other languages: no sentence goes past the catalogues, they are whole, every page answers in them."""

from __future__ import annotations

import ast
import html
import importlib.util
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest
from asgi_house import AsgiHouse
from babel.messages.catalog import Catalog, Message

import ingest.words
from archive.modes import House
from archive.pages import elsewhere, language
from archive.pages.language import direction, languages, negotiated, number, say, say_count, speak
from archive.pages.words import SIZES_AND_PLACES, century_words, mass_words

ROOT = Path(__file__).parents[2]
PAGES = ROOT / "archive" / "pages"
TEMPLATES = sorted((PAGES / "templates" / "blotbook").glob("*.html"))
OTHERS = [code for code in languages() if code != "en"]
PLACES = re.compile(r"%\(\w+\)[ds]|\{\w+\}")
SPOKEN_BY_NOBODY = {"", "Blotbook", "px", "G", "N", "T", "F", "H", "P S", "M S", "Z Y", "L*"}
"""Names and keys of the keyboard; the same in all languages."""


@pytest.fixture(autouse=True)
def english_again() -> Iterator[None]:
    yield
    speak("en")


@pytest.fixture(scope="module")
def catalogues() -> ModuleType:
    spec = importlib.util.spec_from_file_location("catalogues", ROOT / "docs" / "languages.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def read(code: str) -> Catalog:
    from babel.messages.pofile import read_po

    with (language.FOLDER / f"{code}.po").open("rb") as file:
        return read_po(file, locale=code)


def said(entry: Message) -> list[str]:
    return list(entry.string) if entry.pluralizable else [entry.string]


def visible(template: str) -> list[str]:
    """The words that stand in a template outside of `_` and `_n`: between tags, and in attributes that are read out."""
    bare = re.sub(r"\{#.*?#\}", "", template, flags=re.DOTALL)
    # An expression may hold quotes and tags in its strings; it is taken out before anything else.
    bare = re.sub(r"\{\{.*?\}\}|\{%.*?%\}", "\x00", bare, flags=re.DOTALL)
    read_out = re.findall(r'\b(?:alt|title|placeholder|aria-label)="([^"]*)"', bare)
    between = re.sub(r"<(?:style|script)\b.*?</(?:style|script)>", "", bare, flags=re.DOTALL)
    pieces = [*re.split(r"<[^>]*>", between), *read_out]
    words = [html.unescape(word).strip(" \n\x00.,:;()–+%") for piece in pieces for word in piece.split("\x00")]
    return [word for word in words if re.search(r"[A-Za-z]{2}|^[A-Za-z]$", word)]


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.name)
def test_no_word_of_a_template_goes_past_the_catalogue(template: Path) -> None:
    text = template.read_text(encoding="utf-8")
    assert [word for word in visible(text) if word not in SPOKEN_BY_NOBODY] == []
    # A choice between two words within an expression goes past it as well.
    assert re.findall(r"\{\{[^{}]*?\"[a-z ]+\" if [^{}]*\}\}", text) == []


def test_words_past_the_catalogue_would_be_seen() -> None:
    assert visible('<p>Here {{ _("said") }}</p>') == ["Here"]
    assert visible('<img alt="A picture">{# not shown #}') == ["A picture"]
    assert visible('<p class="x">{{ _n("%(count)d a", "%(count)d b", c) }}</p>') == []


@pytest.mark.parametrize("module", sorted(PAGES.glob("*.py")), ids=lambda path: path.name)
def test_no_problem_or_title_goes_past_the_catalogue(module: Path) -> None:
    past = []
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("Problem", "Page"):
            at = 0 if node.func.id == "Problem" else 1
            shown = node.args[at] if len(node.args) > at else None
        elif isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") in ("message", "sentence", "words"):
            shown = node.value
        else:
            continue
        pieces = shown.values if isinstance(shown, ast.JoinedStr) else [shown]
        if any(isinstance(piece, ast.Constant) and re.search("[A-Za-z]", str(piece.value or "")) for piece in pieces):
            past.append(ast.unparse(shown) if shown else "")
    # What only a programmer sees, and conditions put together from words that were said.
    kept = ("This Datasette was not", "There are panels without", "{say(")
    assert [words for words in past if not any(part in words for part in kept)] == []


def test_scripts_hold_no_sentence() -> None:
    for script in (PAGES / "static").glob("*.js"):
        code = re.sub(r"//[^\n]*|/\*.*?\*/", "", script.read_text(encoding="utf-8"), flags=re.DOTALL)
        assert re.findall(r"[\"'`][A-Z][a-z]+(?: [a-z]+)+[.…]?[\"'`]", code) == [], script.name


@pytest.mark.parametrize("code", OTHERS)
def test_a_catalogue_has_every_sentence_and_no_other(catalogues: ModuleType, code: str) -> None:
    whole = {entry.id for entry in catalogues.sentences() if entry.id}
    assert len(whole) > 600
    kept = read(code)
    assert {entry.id for entry in kept if entry.id} == whole, "run python docs/languages.py and say what is new"
    assert [entry.id for entry in kept if entry.id and not all(said(entry))] == []
    assert [entry.id for entry in kept if entry.fuzzy and entry.id] == []
    assert all(len(said(entry)) == kept.num_plurals for entry in kept if entry.id and entry.pluralizable)


@pytest.mark.parametrize("code", OTHERS)
def test_places_in_sentences_agree(code: str) -> None:
    for entry in read(code):
        if not entry.id:
            continue
        ids = entry.id if entry.pluralizable else (entry.id,)
        for wording in said(entry):
            # The singular may say its number in words: "Das eine Werk".
            allowed = [set(PLACES.findall(each)) for each in ids]
            assert set(PLACES.findall(wording)) in allowed, entry.id
            assert wording.count("%%") in {each.count("%%") for each in ids}, entry.id
            assert ids[0][-1:] not in ".?!…" or wording[-1:] in ".?!…", entry.id


def test_what_other_rooms_say_of_sizes_and_places_is_in_the_catalogue() -> None:
    sizes = {ingest.words.fraction(at / 1000) for at in range(1001)}
    places = {ingest.words.place(x / 20, y / 20) for x in range(21) for y in range(21)}
    assert sizes | places <= set(SIZES_AND_PLACES)


def test_numbers_plurals_and_centuries_in_german() -> None:
    speak("de")
    # Decimal comma: CLDR, and DIN 1333.
    assert (number(0.745, 2), number(1.5, 1), number(12)) == ("0,74", "1,5", "12")
    assert say_count("%(count)d work", "%(count)d works", 1) == "1 Werk"
    assert say_count("%(count)d work", "%(count)d works", 0) == "0 Werke"
    assert century_words(17) == "17."
    assert direction() == "ltr"
    mass = {"value": "light", "area": 0.1, "x": 0.2, "y": 0.2, "touches": "left,top"}
    assert mass_words(mass) == "Hell, ein Zehntel des Bildes, oben links, am linken und oberen Rand"
    speak("en")
    assert mass_words(mass) == "Light, a tenth of the picture, upper left, touching the left and top edges"
    assert number(0.745, 2) == "0.74"
    assert say("100 % of a sentence") == "100 % of a sentence"


@pytest.mark.parametrize(
    ("header", "language"),
    [
        ("", "en"), ("de", "de"), ("de-AT,en;q=0.5", "de"), ("fr, de;q=0.4, en;q=0.8", "en"), ("en-GB,de;q=0.9", "en"),
        ("de;q=0", "en"), ("*", "en"), ("fr,*;q=0.1", "en"), ("DE-ch-1996", "de"), (";;q=,\x00", "en"),
        ("de;q=1.5", "en"), ("a" * 4000, "en"),
    ],
)  # fmt: skip
def test_the_browsers_wishes_are_weighed(header: str, language: str) -> None:
    """RFC 9110, 12.5.4, and RFC 4647, 3.4."""
    assert negotiated(header) == language


def test_arabic_would_be_written_from_right_to_left(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(language, "_catalogue", lambda _: language.NullTranslations())
    speak("ar")
    assert direction() == "rtl"


@pytest.fixture(scope="module")
def house(small_archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[AsgiHouse]:
    house = AsgiHouse(Path(shutil.copytree(small_archive, tmp_path_factory.mktemp("tongues") / "archive")), House())
    yield house
    house.close()


def paths(house: AsgiHouse) -> list[str]:
    first = house.send("/.json").json()["arrangements"][0]
    work, example = first["first"][0]["work"], house.send("/-/find.json").json()["examples"][0]["slug"]
    board = house.datasette.urls.path("/-/boards")
    made = house.post("/-/boards.json", {"do": "lesson", "arrangement": first["slug"]}).json()["board"]
    return [
        "/", "/-/works", "/-/works?dark_from=50&q=a", "/-/field", "/-/field?pick=1&side=0.25",
        f"/-/arrangements/{first['slug']}", f"/-/works/{work}", f"/-/works/{work}?as=masses&mass=1&like=1",
        "/-/find", f"/-/find?example={example}", f"/-/compare?beside={work}&example={example}", "/-/pad", "/-/sheet",
        "/-/viewfinder", "/-/practice", str(board), f"{board}/{made}", f"{board}/{made}/wall",
        f"/-/gather?work={work}", "/-/about", "/-/screen", "/-/works/nobody", "/-/field?side=x",
    ]  # fmt: skip


@pytest.mark.parametrize("code", OTHERS)
def test_every_page_answers_in_the_language(house: AsgiHouse, code: str) -> None:
    english = {
        part: entry.id
        for entry in read(code)
        if entry.id and not entry.pluralizable and entry.string != entry.id
        for part in [max(PLACES.split(entry.id), key=len).strip()]
        if len(part) > 11
    }
    for path in paths(house):
        page = house.send(path, headers=[("accept-language", code)])
        assert f'<html lang="{code}" dir="ltr"' in page.text, path
        assert page.headers["content-language"] == code
        assert {"Accept-Language", "Cookie"} <= set(re.split(r",\s*", page.headers["vary"]))
        # Words of the archive are marked as the English that they are.
        shown = re.sub(r'<(\w+)[^>]* lang="en"[^>]*>.*?</\1>', "", page.text, flags=re.DOTALL)
        words = html.unescape(re.sub(r"<[^>]*>", "\n", shown))
        assert [part for part in english if re.search(rf"(?m)^\W*{re.escape(part)}", words)] == [], path
        assert not re.search(r"%\(\w+\)", re.sub(r'data-[\w-]+="[^"]*"', "", page.text)), path


def test_a_language_is_chosen_by_a_link_and_remembered(house: AsgiHouse) -> None:
    english = house.send("/-/works?light_from=40", headers=[("accept-language", "fr")])
    assert '<html lang="en" dir="ltr"' in english.text
    assert 'href="/-/works?light_from=40&amp;lang=de"' in english.text
    assert "set-cookie" not in english.headers
    chosen = house.send("/-/works?light_from=40&lang=de")
    assert "<h1>Werke</h1>" in chosen.text
    kept, _, rest = chosen.headers["set-cookie"].partition(";")
    assert kept == "lang=de"
    assert "SameSite=Lax" in rest
    assert "<h1>Feld" not in house.send("/-/field").text
    assert "<h1>Das Feld</h1>" in house.send("/-/field", headers=[("cookie", kept), ("accept-language", "en")]).text
    for nonsense in ("xx", "../de", "de%0d%0aX-A:1", ""):
        answer = house.send(f"/-/works?lang={nonsense}")
        assert "<h1>Works</h1>" in answer.text
        assert "set-cookie" not in answer.headers


def literals(tree: ast.AST) -> set[str]:
    """The sentences of a module, each as a pattern: what an f-string fills in may be anything."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            parts = [part.value if isinstance(part, ast.Constant) else None for part in node.values]
            found.add("".join(".+" if part is None else re.escape(str(part)) for part in parts))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            found.add(re.escape(node.value))
    # What is filled in alone would be any sentence at all.
    return {pattern for pattern in found if len(pattern) > 12}


def test_what_other_rooms_say_is_known_as_they_say_it() -> None:
    rooms = [ROOT / "ingest", ROOT / "archive"]
    files = [file for room in rooms for file in room.rglob("*.py") if PAGES not in file.parents]
    patterns = set().union(*(literals(ast.parse(file.read_text(encoding="utf-8"))) for file in files))
    whole = re.compile("|".join(sorted(patterns)))
    strays = [known for known in elsewhere.SENTENCES if not whole.fullmatch(PLACES.sub("7", known))]
    assert strays == [], "changed where they are said"


@pytest.mark.parametrize("code", OTHERS)
def test_what_other_rooms_say_is_said_in_the_language(code: str) -> None:
    speak(code)
    for known in elsewhere.SENTENCES:
        names = re.findall(r"%\((\w+)\)s", known)
        filled = {name: f"{at} %(odd)s “x”. (y)" for at, name in enumerate(names)}
        assert elsewhere.heard(known % filled) == say(known, **filled) != known % filled
    assert elsewhere.heard("Something that nobody has said.") == "Something that nobody has said."
    speak("en")
    assert elsewhere.heard("A board needs a title.") == "A board needs a title."


def test_other_rooms_are_heard_in_the_language(house: AsgiHouse) -> None:
    german = [("accept-language", "de")]
    page = house.send("/-/boards/nobody", headers=german)
    assert '<p class="lead">Es gibt keine Tafel dieses Namens.</p>' in page.text, "and is not marked as English"
    assert house.send("/-/boards/nobody.json", headers=german).json()["error"] == "Es gibt keine Tafel dieses Namens."
    assert "There is no board of that name." in house.send("/-/boards/nobody").text
    lost = house.send("/nosuch", headers=german).text
    assert "Unter dieser Adresse gibt es keine Seite." in lost


def test_faults_and_twins_speak_it_too(house: AsgiHouse) -> None:
    german = [("accept-language", "de")]
    assert house.send("/-/works/nobody.json", headers=german).json()["error"] == "Kein Werk dieses Archivs heißt so."
    assert house.send("/", "PUT", headers=german).text == "Dieser Server beantwortet solche Anfragen nicht.\n"
    assert house.send("/", "PUT").text == "This server does not answer that kind of request.\n"
