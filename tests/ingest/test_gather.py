"""Gathering from a small museum in the Art Institute's published shape: what comes, what does not, and every stop.

The shape of the answers is that of https://api.artic.edu/docs/; the works are made up.
"""

from __future__ import annotations

import contextlib
import csv
import errno
import hashlib
import json
import os
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from museum_server import Answer, Asked, FakeTime, Museum, jpeg, js, museum, picture, placeholder

from ingest import gather_bring
from ingest.collections import aic
from ingest.collections.aic import ArtInstitute
from ingest.collections.source import CollectionProblem, Wanted
from ingest.gather import Gathered, gather
from ingest.gather_journal import Journal
from ingest.gather_journal_file import JOURNAL, JournalProblem
from ingest.gather_web import Web
from ingest.provenance import read_records

ROOT = Path(aic.__file__).parents[2]
PAGE = 3


def artwork(number: int, **more: Any) -> dict[str, Any]:
    return {
        "id": number, "title": f"Painting {number}", "main_reference_number": f"1900.{number}",
        "date_start": 1850, "date_end": 1855, "date_display": "c. 1850/55",
        "artist_display": "Ada Painter\nFrench, 1820–1890", "artist_title": "Ada Painter",
        "place_of_origin": "France", "medium_display": "Oil on canvas", "credit_line": "Gift of a friend",
        "is_public_domain": True, "copyright_notice": None, "artwork_type_title": "Painting",
        "classification_title": "oil on canvas", "subject_titles": ["harbors", "boats; ships"],
        "image_id": f"image-{number}", "thumbnail": {"width": 320, "height": 240},
    } | more  # fmt: skip


class House:
    """A museum with works, in the Art Institute's shape."""

    def __init__(self, server: Museum, works: list[dict[str, Any]]) -> None:
        self.server = server
        self.works = works
        server.routes["/api/v1/artworks/search"] = self.search
        for work in works:
            self.show(work["id"], picture(seed=work["id"], headers={"ETag": f'"{work["id"]}"'}))

    def show(self, number: int, answer: Answer | Callable[[Asked], Answer]) -> None:
        self.server.routes[self.path(number)] = answer

    def path(self, number: int) -> str:
        return f"/iiif/2/image-{number}/full/320,/0/default.jpg"

    def search(self, asked: Asked) -> Answer:
        page, limit = int(asked.query["page"]), int(asked.query["limit"])
        start = (page - 1) * limit
        return js(
            {
                "pagination": {"total": len(self.works), "limit": limit, "offset": start, "current_page": page},
                "data": self.works[start : start + limit],
                "config": {"iiif_url": f"{self.server.address}/iiif/2"},
            }
        )

    def lists_asked(self) -> int:
        return self.server.counts()["/api/v1/artworks/search"]


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Iterator[Museum]:
    monkeypatch.setattr(aic, "PAGE", PAGE)
    with museum() as made:
        yield made


def run(
    server: Museum,
    folder: Path,
    *,
    sleep: Callable[[float], None] | None = None,
    wanted: Wanted | None = None,
    **more: Any,
) -> Gathered:
    time = FakeTime()
    with Web(
        pace=1.0, named=[server.address], timeout=0.5, sleep=sleep or time.sleep, clock=time.clock, chance=lambda: 1.0
    ) as web:
        return gather(ArtInstitute(f"{server.address}/api/v1"), folder, wanted or Wanted(), web, **more)


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def why(gathered: Gathered) -> dict[str, int]:
    counted: dict[str, int] = {}
    for kind, _, works in gathered.reasons:
        counted[kind] = counted.get(kind, 0) + works
    return counted


def test_works_come_with_records_hashes_and_what_was_received(server: Museum, tmp_path: Path) -> None:
    house = House(server, [artwork(number) for number in range(1, 8)])
    said: list[tuple[int, int]] = []
    gathered = run(server, tmp_path / "into", on_progress=lambda done, total: said.append((done, total)))
    assert (gathered.came, gathered.there, gathered.complete, gathered.stopped) == (7, 0, True, "")
    assert house.lists_asked() == 3
    assert said[-1] == (7, 7)
    assert [done for done, _ in said] == list(range(1, 8))
    records = read_records(gathered.records)
    assert records.problems == ()
    assert [record.work for record in records.records] == [f"aic-{number}" for number in range(1, 8)]
    first = records.records[0]
    assert first.file == "pictures/aic-1.jpg"
    data = (tmp_path / "into" / first.file).read_bytes()
    assert data == jpeg(seed=1)
    assert first.sha256 == hashlib.sha256(data).hexdigest()
    assert (first.artist, first.artist_dates, first.culture) == ("Ada Painter", "1820–1890", "French")
    assert (first.begin_year, first.end_year, first.country) == (1850, 1855, "France")
    assert first.subject == "harbors; boats, ships"
    assert first.rights == "https://creativecommons.org/publicdomain/zero/1.0/"
    assert json.loads((tmp_path / "into/received/aic-1.json").read_text()) == artwork(1)


def test_nothing_is_asked_for_twice_by_the_same_command_again(server: Museum, tmp_path: Path) -> None:
    House(server, [artwork(number) for number in range(1, 6)])
    run(server, tmp_path)
    asked = len(server.asked)
    again = run(server, tmp_path)
    assert (again.came, again.there, again.complete) == (0, 5, True)
    assert len(server.asked) == asked


def test_a_limit_stops_early_and_a_larger_one_goes_on(server: Museum, tmp_path: Path) -> None:
    house = House(server, [artwork(number) for number in range(1, 9)])
    first = run(server, tmp_path, limit=2)
    assert (first.came, first.complete) == (2, False)
    assert house.lists_asked() == 1
    assert len(read_records(first.records).records) == 2
    second = run(server, tmp_path, limit=5)
    assert (second.came, second.there) == (3, 2)
    assert set(server.counts().values()) <= {1, 2}
    assert [server.counts()[house.path(number)] for number in range(1, 9)] == [1] * 5 + [0] * 3


def test_what_is_left_out_is_counted_with_its_reason(server: Museum, tmp_path: Path) -> None:
    works = [
        artwork(1),
        artwork(2, is_public_domain=False),
        artwork(3, copyright_notice="© The artist"),
        artwork(4, artwork_type_title="Print"),
        artwork(5, image_id=None),
        artwork(6),
        artwork(7),
        artwork(8),
        artwork(9, thumbnail={"width": 240, "height": 320}),
        artwork(10),
        artwork(11),
    ]
    house = House(server, works)
    house.show(6, Answer(b"gone", "text/plain", status=404))
    house.show(7, Answer(b"<html>", "text/html"))
    house.show(8, Answer(placeholder(), "image/png"))
    house.server.routes["/iiif/2/image-9/full/240,/0/default.jpg"] = picture(seed=9)
    house.show(10, Answer(b"no picture at all", "image/jpeg"))
    house.show(11, Answer(jpeg(seed=11)[:4000], "image/jpeg"))
    gathered = run(server, tmp_path)
    assert gathered.came == 1
    assert why(gathered) == {"rights": 2, "kind": 1, "no picture": 5, "placeholder": 2}
    table = {row["key"]: row for row in rows(gathered.left_out)}
    assert set(table) == {str(number) for number in range(2, 12)}
    assert "copyright" in table["2"]["reason"]
    assert "Print" in table["4"]["reason"]
    assert "404" in table["6"]["reason"]
    assert "text/html" in table["7"]["reason"]
    assert "one colour" in table["8"]["reason"]
    assert "another shape" in table["9"]["reason"]
    assert table["10"]["reason"] == "what came is no picture"
    assert "cut short" in table["11"]["reason"]
    assert sorted(path.name for path in (tmp_path / "pictures").iterdir()) == ["aic-1.jpg"]
    assert not (tmp_path / "arriving").exists()
    # None of these would be another another time.
    asked = len(server.asked)
    run(server, tmp_path)
    assert len(server.asked) == asked


def test_drawings_come_when_they_are_asked_for_too(server: Museum, tmp_path: Path) -> None:
    works = [
        artwork(1),
        artwork(2, artwork_type_title="Drawing and Watercolor"),
        artwork(3, artwork_type_title="Print"),
    ]
    House(server, works)
    assert run(server, tmp_path).came == 1
    both = run(server, tmp_path, wanted=Wanted(kinds=frozenset({"paintings", "drawings"})))
    assert (both.came, both.there, why(both)) == (1, 1, {"kind": 1})
    asked = json.loads(server.asked[-2].query["params"])
    assert asked["query"]["bool"]["filter"][0] == {
        "terms": {"artwork_type_title.keyword": ["Drawing and Watercolor", "Painting"]}
    }


def test_the_same_picture_for_a_third_work_is_a_placeholder_for_all(server: Museum, tmp_path: Path) -> None:
    house = House(server, [artwork(number) for number in range(1, 6)])
    for number in (1, 3, 5):
        house.show(number, picture(seed=99))
    gathered = run(server, tmp_path)
    assert gathered.came == 2
    assert why(gathered) == {"placeholder": 3}
    assert sorted(path.name for path in (tmp_path / "pictures").iterdir()) == ["aic-2.jpg", "aic-4.jpg"]
    records = read_records(gathered.records)
    assert [record.work for record in records.records] == ["aic-2", "aic-4"]


def test_a_passing_trouble_is_tried_again_by_the_next_command(server: Museum, tmp_path: Path) -> None:
    house = House(server, [artwork(number) for number in range(1, 5)])
    house.show(2, Answer(status=503))
    gathered = run(server, tmp_path)
    assert (gathered.came, gathered.failed, gathered.stopped) == (3, 1, "")
    assert why(gathered) == {"failed": 1}
    house.show(2, picture(seed=2))
    once_more = run(server, tmp_path)
    assert (once_more.came, once_more.there, once_more.failed) == (1, 3, 0)
    assert [server.counts()[house.path(number)] for number in (1, 3, 4)] == [1, 1, 1]


def test_a_museum_that_turns_us_away_is_left_alone(server: Museum, tmp_path: Path) -> None:
    house = House(server, [artwork(number) for number in range(1, 13)])
    for number in range(3, 13):
        house.show(number, Answer(b"keep out", "text/html", status=403))
    gathered = run(server, tmp_path)
    assert gathered.came == 2
    assert "5 works in a row" in gathered.stopped
    assert not gathered.complete
    assert len(server.pictures_asked()) == 7


def test_a_long_wish_to_be_left_alone_is_heeded_at_once(server: Museum, tmp_path: Path) -> None:
    house = House(server, [artwork(number) for number in range(1, 5)])
    house.show(2, Answer(status=429, headers={"Retry-After": "3600"}))
    gathered = run(server, tmp_path)
    assert (gathered.came, gathered.failed) == (1, 1)
    assert "60 minutes" in gathered.stopped
    assert len(server.pictures_asked()) == 2


def test_a_list_that_cannot_be_read_on_keeps_what_came(server: Museum, tmp_path: Path) -> None:
    house = House(server, [artwork(number) for number in range(1, 8)])
    whole = house.search

    def once(asked: Asked) -> Answer:
        return whole(asked) if asked.query["page"] == "1" else Answer(status=500)

    server.routes["/api/v1/artworks/search"] = once
    gathered = run(server, tmp_path)
    assert gathered.came == 3
    assert gathered.stopped.startswith("The list could not be read on")
    server.routes["/api/v1/artworks/search"] = whole
    later = run(server, tmp_path)
    assert (later.came, later.there, later.complete) == (4, 3, True)


def test_an_answer_of_another_form_is_said(server: Museum, tmp_path: Path) -> None:
    server.routes["/api/v1/artworks/search"] = js({"error": "new API"})
    with pytest.raises(CollectionProblem, match="has not the form"):
        run(server, tmp_path)


def test_a_single_record_of_another_form_costs_the_others_nothing(server: Museum, tmp_path: Path) -> None:
    House(server, [artwork(1), artwork(2, thumbnail="none", subject_titles=7), artwork(3)])
    gathered = run(server, tmp_path)
    assert gathered.came == 2
    assert why(gathered) == {"record": 1}


# -- asking again ------------------------------------------------------------------------------------------------


def test_asking_again_brings_only_changed_pictures_and_takes_back_what_is_no_longer_free(
    server: Museum, tmp_path: Path
) -> None:
    house = House(server, [artwork(number) for number in range(1, 5)])
    run(server, tmp_path)
    house.works[1] = artwork(2, title="A better title")
    house.works[3] = artwork(4, is_public_domain=False)
    house.show(3, picture(seed=33, headers={"ETag": '"33"'}))
    server.asked.clear()
    gathered = run(server, tmp_path, again=True)
    assert (gathered.came, gathered.there, why(gathered)) == (1, 2, {"rights": 1})
    asked = {each.path: each.headers.get("if-none-match") for each in server.asked if each.path.endswith(".jpg")}
    assert asked == {house.path(1): '"1"', house.path(2): '"2"', house.path(3): '"3"'}
    records = read_records(gathered.records)
    assert {record.work: record.title for record in records.records} == {
        "aic-1": "Painting 1", "aic-2": "A better title", "aic-3": "Painting 3",
    }  # fmt: skip
    # The one that was taken back is named without rights, so that an archive that has it takes it out.
    assert [(problem.kind, problem.work) for problem in records.problems] == [("rights", "aic-4")]
    assert (tmp_path / "pictures/aic-3.jpg").read_bytes() == jpeg(seed=33)
    assert not (tmp_path / "pictures/aic-4.jpg").exists()


def test_asking_again_keeps_what_came_when_its_picture_is_not_there_any_more(server: Museum, tmp_path: Path) -> None:
    house = House(server, [artwork(number) for number in range(1, 5)])
    run(server, tmp_path)
    house.show(1, Answer(status=404))
    house.show(2, Answer(placeholder(), "image/png"))
    house.show(3, Answer(status=503))
    gathered = run(server, tmp_path, again=True)
    assert (gathered.came, gathered.there, gathered.failed) == (0, 3, 1)
    records = read_records(gathered.records)
    assert records.problems == ()
    for number, record in enumerate(records.records, 1):
        data = (tmp_path / record.file).read_bytes()
        assert data == jpeg(seed=number)
        assert hashlib.sha256(data).hexdigest() == record.sha256


# -- stops -------------------------------------------------------------------------------------------------------


def test_a_stop_before_any_request_costs_no_request(server: Museum, tmp_path: Path) -> None:
    house = House(server, [artwork(number) for number in range(1, 6)])
    expected = {house.path(number): 1 for number in range(1, 6)} | {"/api/v1/artworks/search": 2}
    for stop_at in range(1, 8):
        server.asked.clear()
        folder, waits = tmp_path / str(stop_at), 0

        def sleep(_: float) -> None:
            nonlocal waits
            waits += 1
            if waits == stop_at:  # noqa: B023
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            run(server, folder, sleep=sleep)
        half = read_records(folder / "records.csv")
        assert half.problems == ()
        gathered = run(server, folder)
        assert gathered.came + gathered.there == 5
        assert gathered.there == len(half.records)
        assert server.counts() == expected


CHILD = """
import sys
from pathlib import Path
from ingest import gather_bring
from ingest.collections import aic
from ingest.collections.source import Wanted
from ingest.gather import gather
from ingest.gather_web import Web
aic.PAGE = 3
address, folder = sys.argv[1:]
with Web(pace=0.0, named=[address], timeout=10) as web:
    gather(aic.ArtInstitute(address + "/api/v1"), Path(folder), Wanted(), web)
"""


@pytest.mark.parametrize("at", [1, 4, 6])
def test_a_kill_in_the_middle_of_a_picture_costs_nothing_that_came(server: Museum, tmp_path: Path, at: int) -> None:
    house = House(server, [artwork(number) for number in range(1, 7)])
    begun = threading.Event()
    whole = jpeg(seed=at)

    def slowly(asked: Asked) -> Answer:
        if "range" not in asked.headers and not begun.is_set():
            begun.set()
            return Answer(whole, "image/jpeg", headers={"ETag": '"x"'}, stall=5.0)
        return Answer(whole, "image/jpeg", headers={"ETag": '"x"'})

    house.show(at, slowly)
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, server.address, str(tmp_path)], env={**os.environ, "PYTHONPATH": str(ROOT)}
    )
    assert begun.wait(60)
    part = tmp_path / "arriving" / f"aic-{at}.part"
    for _ in range(1000):
        if part.exists() and part.stat().st_size:
            break
        threading.Event().wait(0.01)
    child.send_signal(signal.SIGKILL)
    child.wait()
    assert 0 < part.stat().st_size < len(whole)
    gathered = run(server, tmp_path)
    assert (gathered.came, gathered.there) == (7 - at, at - 1)
    # The one that was under way is gone on with where it broke off; nothing else is asked for twice.
    assert [server.counts()[house.path(number)] for number in range(1, 7)] == [2 if n == at else 1 for n in range(1, 7)]
    assert [asked.headers["range"] for asked in server.asked if "range" in asked.headers] == [
        f"bytes={len(whole) // 2}-"
    ]
    assert house.lists_asked() == 2
    assert (tmp_path / f"pictures/aic-{at}.jpg").read_bytes() == whole


def test_a_picture_that_came_whole_before_a_stop_is_not_asked_for_again(
    server: Museum, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    house = House(server, [artwork(1), artwork(2)])

    def stop(*_: Any, **__: Any) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(Journal, "got", stop)
        with pytest.raises(KeyboardInterrupt):
            run(server, tmp_path)
    assert (tmp_path / "pictures/aic-1.jpg").exists()
    assert run(server, tmp_path).came == 2
    assert server.counts()[house.path(1)] == 1


def test_a_full_disk_stops_and_costs_nothing_that_came(
    server: Museum, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    house = House(server, [artwork(number) for number in range(1, 4)])
    keep, left = gather_bring.put_in_place, [1]

    def full(part: Path, path: Path) -> None:
        if not left:
            raise OSError(errno.ENOSPC, "No space left on device", str(path))
        left.pop()
        keep(part, path)

    with monkeypatch.context() as patched:
        patched.setattr(gather_bring, "put_in_place", full)
        with pytest.raises(OSError, match="No space left"):
            run(server, tmp_path)
    assert len(read_records(tmp_path / "records.csv").records) == 1
    gathered = run(server, tmp_path)
    assert (gathered.came, gathered.there) == (2, 1)
    assert server.counts()[house.path(1)] == 1


def test_two_programs_do_not_gather_into_one_folder(server: Museum, tmp_path: Path) -> None:
    House(server, [artwork(1)])
    journal = Journal(tmp_path)
    try:
        with pytest.raises(JournalProblem, match="Another 'blotbook gather'"):
            run(server, tmp_path)
    finally:
        journal.close()
    assert run(server, tmp_path).came == 1


def test_a_journal_of_a_newer_blotbook_is_left_alone(server: Museum, tmp_path: Path) -> None:
    Journal(tmp_path).close()
    with contextlib.closing(sqlite3.connect(tmp_path / JOURNAL)) as connection:
        connection.execute("PRAGMA user_version = 99")
    with pytest.raises(JournalProblem, match="newer Blotbook"):
        run(server, tmp_path)


def test_a_damaged_journal_is_said(server: Museum, tmp_path: Path) -> None:
    (tmp_path / JOURNAL).write_bytes(b"no journal" * 100)
    with pytest.raises(JournalProblem, match="damaged"):
        run(server, tmp_path)
    assert server.asked == []
