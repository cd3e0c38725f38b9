"""Opening a packed archive: what its maker cannot have written is refused in words."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from archive.errors import ArchiveError
from archive.packing import ABOUT, SUMS
from archive.store import DATABASE, SIGNATURES
from archive.unpacking import unpack


def packed(file: Path, about: bytes, *more: str) -> Path:
    with zipfile.ZipFile(file, "w") as target:
        for name in (ABOUT, SUMS, DATABASE, SIGNATURES, *more):
            target.writestr(name, about if name == ABOUT else b"")
    return file


@pytest.mark.parametrize(
    "about",
    [
        b'{"format": Infinity, "works": 1}', b'{"format": 1, "works": 1e999}', b'{"format": NaN, "works": 1}',
        b'{"format": %s, "works": 1}' % (b"9" * 5000), b'{"format": "1"}', b"[]", b"[" * 50_000, b"\xff",
    ],
)  # fmt: skip
def test_an_about_that_says_nothing_is_refused(tmp_path: Path, about: bytes) -> None:
    with pytest.raises(ArchiveError, match=rf"bad\.zip was not unpacked: its {ABOUT} cannot be read\.$"):
        unpack(packed(tmp_path / "bad.zip", about), tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_name_in_no_known_letters_is_refused(tmp_path: Path) -> None:
    """A zip says of a name that it is UTF-8 (bit 11 of the flags, APPNOTE 4.4.4), and these bytes are not."""
    bad = packed(tmp_path / "bad.zip", b"{}", "\u00e9")
    bad.write_bytes(bad.read_bytes().replace("\u00e9".encode(), b"\xff\xfe"))
    with pytest.raises(ArchiveError, match=r"was not unpacked: it is damaged or no packed archive"):
        unpack(bad, tmp_path / "out")
