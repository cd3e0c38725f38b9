"""A classroom to be attacked, and what must hold after every attack."""

from __future__ import annotations

import itertools
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from asgi_house import AsgiHouse

from archive.boards import Boards, leaf_of
from archive.boards_file import BoardsFile
from archive.modes import CLASSROOM, House
from archive.store import Archive

_STRANGERS = itertools.count(1)


@pytest.fixture(scope="session")
def folder(small_archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copytree(small_archive, tmp_path_factory.mktemp("hostile") / "archive"))


@pytest.fixture(scope="session")
def work(folder: Path) -> str:
    with Archive.open(folder) as archive:
        return archive.work_ids()[0]


@pytest.fixture(scope="session")
def board(folder: Path, work: str) -> str:
    with BoardsFile.open(folder) as file, Archive.open(folder) as archive:
        return Boards(file).make("Board of the class", leaves=[leaf_of(archive, work)]).board


@pytest.fixture(scope="session")
def house(folder: Path, board: str) -> Iterator[AsgiHouse]:
    """A classroom; when all attacks are over, nothing lies where it should not."""
    before = _files(folder)
    archive = (folder / "archive.db").read_bytes()
    house = AsgiHouse(folder, House(CLASSROOM, board))
    yield house
    house.close()
    after = {name for name in _files(folder) if not name.startswith("boards.db")}
    assert after == {name for name in before if not name.startswith("boards.db")}
    assert (folder / "archive.db").read_bytes() == archive
    assert _files(folder.parent) - {f"archive/{name}" for name in _files(folder)} == set()


@pytest.fixture(autouse=True)
def stranger(request: pytest.FixtureRequest) -> None:
    """Every attack comes from an address of its own: how many forms one may send is a test by itself."""
    if "house" in request.fixturenames:
        number = next(_STRANGERS)
        request.getfixturevalue("house").client = f"10.{number >> 16 & 255}.{number >> 8 & 255}.{number & 255}"


def _files(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
