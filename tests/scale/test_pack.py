"""A packed archive is the same file each time, comes back as it was, and is refused when anything in it is wrong."""

from __future__ import annotations

import hashlib
import io
import shutil
import stat
import subprocess
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from archive_content import content_of
from PIL import Image

from archive.board import Leaf, Shown
from archive.boards import Boards
from archive.boards_file import BOARDS, BoardsFile
from archive.errors import ArchiveError
from archive.packing import pack
from archive.unpacking import unpack
from archive.verify import verify


@pytest.fixture(scope="module")
def packed(fresh_archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The archive of sixteen works, packed."""
    file = tmp_path_factory.mktemp("packed") / "small.zip"
    assert pack(fresh_archive, file) == 16
    return file


def test_it_comes_back_as_it_was(packed: Path, small_content: dict[str, bytes], tmp_path: Path) -> None:
    assert unpack(packed, tmp_path / "back") == 16
    assert content_of(tmp_path / "back") == small_content


def test_the_same_archive_gives_the_same_bytes(packed: Path, fresh_archive: Path, tmp_path: Path) -> None:
    moved = Path(shutil.copytree(fresh_archive, tmp_path / "moved", copy_function=shutil.copyfile))
    pack(moved, tmp_path / "again.zip")
    assert (tmp_path / "again.zip").read_bytes() == packed.read_bytes()
    unpack(packed, tmp_path / "back")
    pack(tmp_path / "back", tmp_path / "once-more.zip")
    assert (tmp_path / "once-more.zip").read_bytes() == packed.read_bytes()


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="needs the program sha256sum")
def test_other_programs_can_check_it(packed: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(packed) as opened:
        opened.extractall(tmp_path)
    subprocess.run(["sha256sum", "--check", "--strict", "--quiet", "SHA256SUMS"], cwd=tmp_path, check=True)


def with_boards(archive: Path, to: Path) -> Path:
    folder = Path(shutil.copytree(archive, to))
    with BoardsFile.open(folder) as file:
        board = Boards(file).make("Lamps")
        Boards(file).add(
            board.board,
            [
                Leaf("l1", (Shown("made-01", record={"title": "A work"}),), ("painting",), note="Look at the ground."),
                Leaf("l2", (Shown(study="s1", record={"artist": "Nickname Ada"}),), ("painting",)),
            ],
        )
        with file.writing() as connection:
            connection.execute(
                "INSERT INTO studies VALUES "
                "(1, 's1', 'Nickname Ada', 'Lamp', '2026-11-25', 1, 1, X'ABCDEF', X'00', '', '', '', NULL, '{}', '1')"
            )
    return folder


def test_boards_come_along_when_asked_and_studies_never_without(fresh_archive: Path, tmp_path: Path) -> None:
    folder = with_boards(fresh_archive, tmp_path / "archive")
    pack(folder, tmp_path / "plain.zip")
    pack(folder, tmp_path / "boards.zip", boards=True)
    pack(folder, tmp_path / "all.zip", boards=True, studies=True)
    assert BOARDS not in zipfile.ZipFile(tmp_path / "plain.zip").namelist()
    assert b"Nickname Ada" not in (tmp_path / "boards.zip").read_bytes()
    assert b"Nickname Ada" in (tmp_path / "all.zip").read_bytes()
    for name, leaves in (("boards", ["l1"]), ("all", ["l1", "l2"])):
        unpack(tmp_path / f"{name}.zip", tmp_path / name)
        assert verify(tmp_path / name) == []
        with BoardsFile.open(tmp_path / name) as file:
            (summary,) = Boards(file).summaries()
            assert [leaf.leaf for leaf in Boards(file).get(summary.board).leaves] == leaves
    pack(folder, tmp_path / "again.zip", boards=True)
    assert (tmp_path / "again.zip").read_bytes() == (tmp_path / "boards.zip").read_bytes()


def test_a_damaged_archive_is_not_packed(fresh_archive: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(fresh_archive, tmp_path / "archive"))
    next(iter(sorted((folder / "pictures").rglob("*.jpeg")))).write_bytes(b"other")
    with pytest.raises(ArchiveError, match="is missing or damaged"):
        pack(folder, tmp_path / "a.zip")
    assert [path.name for path in tmp_path.iterdir()] == ["archive"]
    with pytest.raises(ArchiveError, match="There is a file"):
        pack(fresh_archive, Path(__file__))


def entries(packed: Path) -> list[tuple[zipfile.ZipInfo, bytes]]:
    with zipfile.ZipFile(packed) as opened:
        return [(info, opened.read(info)) for info in opened.infolist()]


def written(file: Path, changed: list[tuple[zipfile.ZipInfo, bytes]]) -> Path:
    with zipfile.ZipFile(file, "w") as target:
        for info, content in changed:
            target.writestr(info, content, compress_type=info.compress_type)
    return file


Change = Callable[[list[tuple[zipfile.ZipInfo, bytes]]], None]


def added(name: str, content: bytes = b"x", mode: int = 0, compressed: bool = False) -> Change:
    def change(parts: list[tuple[zipfile.ZipInfo, bytes]]) -> None:
        info = zipfile.ZipInfo(name)
        info.external_attr = mode << 16
        info.compress_type = zipfile.ZIP_DEFLATED if compressed else zipfile.ZIP_STORED
        parts.append((info, content))

    return change


def other_tables(parts: list[tuple[zipfile.ZipInfo, bytes]]) -> None:
    place = next(at for at, (info, _) in enumerate(parts) if info.filename == "archive.db")
    parts[place] = parts[place][0], bytes([*parts[place][1][:-1], parts[place][1][-1] ^ 1])


def without_signatures(parts: list[tuple[zipfile.ZipInfo, bytes]]) -> None:
    parts[:] = [part for part in parts if part[0].filename != "signatures.npy"]


def without_a_picture(parts: list[tuple[zipfile.ZipInfo, bytes]]) -> None:
    del parts[-2]


def from_the_future(parts: list[tuple[zipfile.ZipInfo, bytes]]) -> None:
    parts[0] = parts[0][0], b'{"format": 99, "works": 16}'


def other_picture(parts: list[tuple[zipfile.ZipInfo, bytes]]) -> None:
    """A picture and its sum changed together: its name tells."""
    buffer = io.BytesIO()
    Image.new("L", (4, 4)).save(buffer, "PNG")
    info, before = parts[-2]
    parts[-2] = info, buffer.getvalue()
    sums = parts[-1][1].decode().replace(hashlib.sha256(before).hexdigest() + "  ", "{}", 1)
    parts[-1] = parts[-1][0], sums.format(hashlib.sha256(buffer.getvalue()).hexdigest() + "  ").encode()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (added("../outside.txt"), "is no file of an archive"),
        (added("/etc/outside"), "is no file of an archive"),
        (added("pictures/ab/../../outside.png"), "is no file of an archive"),
        (added("pictures\\ab\\x.png"), "is no file of an archive"),
        (added("boards.db", b"/etc/passwd", stat.S_IFLNK | 0o777), "a link or something else"),
        (added("boards.db", b"\0" * 50_000_000, compressed=True), "is compressed or locked"),
        (added("boards.db"), "is not the file that SHA256SUMS names"),
        (added("about.json"), "is in it twice"),
        (other_tables, "“archive.db” is not the file that SHA256SUMS names"),
        (without_signatures, "it has no signatures.npy"),
        (without_a_picture, "which is not in it"),
        (other_picture, "is damaged: its bytes are not those of its name"),
        (from_the_future, "a newer Blotbook packed it"),
    ],
)
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_what_is_not_in_order_is_refused_and_leaves_nothing(
    packed: Path, tmp_path: Path, change: Change, says: str
) -> None:
    parts = entries(packed)
    change(parts)
    bad = written(tmp_path / "bad.zip", parts)
    with pytest.raises(ArchiveError, match=says):
        unpack(bad, tmp_path / "inner" / "out")
    assert list((tmp_path / "inner").iterdir()) == []
    assert {path.name for path in tmp_path.iterdir()} == {"bad.zip", "inner"}


def test_entries_that_share_their_bytes_are_refused(packed: Path, tmp_path: Path) -> None:
    """A small file that claims to be large by naming the same bytes many times (an overlapping bomb)."""
    content = packed.read_bytes()
    with zipfile.ZipFile(packed) as opened:
        infos = opened.infolist()
        largest = max(infos, key=lambda info: info.file_size)
    with zipfile.ZipFile(tmp_path / "bad.zip", "w") as target:
        target.writestr("about.json", b"{}")
        # The central directory is written from these, whatever lies before it.
        for info in infos:
            info.header_offset, info.file_size, info.compress_size = 0, largest.file_size, largest.file_size
            if info.filename != "about.json":
                target.filelist.append(info)
        target._didModify = True
    assert (tmp_path / "bad.zip").stat().st_size < len(content)
    with pytest.raises(ArchiveError, match="claims to hold more than it can"):
        unpack(tmp_path / "bad.zip", tmp_path / "out")


@pytest.mark.parametrize("size", [0, 100, 5000, -1, -400])
def test_a_file_that_was_cut_off_is_refused(packed: Path, tmp_path: Path, size: int) -> None:
    (tmp_path / "cut.zip").write_bytes(packed.read_bytes()[:size])
    with pytest.raises(ArchiveError, match="was not unpacked: it is damaged or no packed archive"):
        unpack(tmp_path / "cut.zip", tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_folder_that_is_in_use_is_left_alone(packed: Path, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(ArchiveError, match="there already and not empty"):
        unpack(packed, tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
