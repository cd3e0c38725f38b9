"""Pictures, records and boards changed at random: always an answer, or one sentence.  Finds are kept as examples.

``BLOTBOOK_FUZZ=20000`` in the environment looks that often instead of shortly.
"""

from __future__ import annotations

import csv
import functools
import io
import json
import os
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from archive.board import BoardsError, as_json, from_json
from archive.desk import DeskProblem
from archive.desk.worker import STAND, Worker
from ingest.provenance import UnreadableRecords, read_records

from .pictures_that_harm import exif, small, tiff_entries

LOOKS = int(os.environ.get("BLOTBOOK_FUZZ", "120"))
ALL = settings(max_examples=LOOKS, suppress_health_check=list(HealthCheck), derandomize=LOOKS < 1000)

KINDS = ("PNG", "JPEG", "GIF", "BMP", "TIFF", "WEBP", "PPM", "AVIF", "HEIF")

change = st.one_of(
    st.tuples(st.just("set"), st.integers(0, 4000), st.integers(0, 255)),
    st.tuples(st.just("cut"), st.integers(0, 4000), st.integers(0, 400)),
    st.tuples(st.just("insert"), st.integers(0, 4000), st.binary(max_size=40)),
    st.tuples(st.just("repeat"), st.integers(0, 4000), st.integers(1, 300)),
    st.tuples(st.just("large"), st.integers(0, 4000), st.sampled_from([b"\xff" * 4, b"\x7f\xff\xff\xff", b"\x00" * 4])),
)


@functools.cache
def seed(kind: str) -> bytes:
    import pillow_heif

    pillow_heif.register_heif_opener()
    return exif(tiff_entries([(0x0112, 3, 1, 6)])) if kind == "EXIF" else small(kind, size=(48, 40))


def changed(data: bytes, changes: list[tuple[str, int, Any]]) -> bytes:
    found = bytearray(data)
    for what, at, value in changes:
        at %= len(found) + 1
        if what == "set" and at < len(found):
            found[at] = value
        elif what == "cut":
            del found[at : at + value]
        elif what == "insert":
            found[at:at] = value
        elif what == "repeat":
            found[at:at] = bytes(found[at : at + value])
        elif what == "large":
            found[at : at + 4] = value
    return bytes(found)


@pytest.fixture(scope="module")
def read() -> Iterator[Callable[[bytes], str]]:
    """Has a picture read at the desk; the sentence, of the reading or of what is wrong with it."""
    held: list[Worker] = [STAND.take()]

    def ask(data: bytes) -> str:
        if not held[0].usable:
            held[0].kill()
            held[0] = Worker()
        try:
            return str(held[0].ask("study", (data, True)).sentence)
        except DeskProblem as error:
            return str(error)

    yield ask
    held[0].kill()


def is_sentence(text: str) -> bool:
    """One clear sentence or a few, without folders, faults and control characters."""
    return bool(re.fullmatch(r"[A-Z][^\x00-\x1f\x7f]{3,500}\.", text)) and not re.search(
        r"Traceback|Error\b|/(?:tmp|work|home|usr|root)/", text
    )


@ALL
@given(kind=st.sampled_from([*KINDS, "EXIF"]), changes=st.lists(change, min_size=1, max_size=6))
def test_a_changed_picture_is_read_or_refused_in_a_sentence(
    read: Callable[[bytes], str], kind: str, changes: list[tuple[str, int, Any]]
) -> None:
    sentence = read(changed(seed(kind), changes))
    assert is_sentence(sentence), sentence
    assert sentence != "That picture could not be read.", "a fault of ours, not of the picture"


@ALL
@given(data=st.binary(max_size=600))
def test_any_bytes_are_refused_in_a_sentence(read: Callable[[bytes], str], data: bytes) -> None:
    assert is_sentence(read(data))


HEADS = ("file", "rights", "title", "artist", "id", "part", "begin_year", "subject", "sha256", "object_url")
odd = ["../../etc/passwd", "=1+1", "a.png", "PD", "-1", "1e999", "\x00", '"', "\n"]
cell = st.one_of(st.text(max_size=30), st.sampled_from(odd))


@ALL
@given(rows=st.lists(st.lists(cell, max_size=12), max_size=5), heads=st.lists(st.sampled_from(HEADS), max_size=10))
@example(rows=[["a.png", "\x00"]], heads=["file", "rights"])
def test_any_table_is_read_or_refused_in_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]], heads: list[str]
) -> None:
    held = io.StringIO()
    writer = csv.writer(held)
    writer.writerow(heads)
    for row in rows:
        # The writer itself refuses some characters; the reader must not rely on that.
        try:
            writer.writerow(row)
        except csv.Error:
            held.write(",".join(row) + "\r\n")
    _records(tmp_path_factory, held.getvalue().encode("utf-8", "surrogatepass"))


@ALL
@given(data=st.binary(max_size=400))
@example(data=b"file,rights\n\xff\xfe,\x00\n")
@example(data=b"\xef\xbb\xbffile,rights\r\na.png,x\r\n")
@example(data=b'file,rights\n"' + b"a" * 200_000)
def test_any_bytes_are_read_or_refused_as_records(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    _records(tmp_path_factory, data)


def _records(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    file = tmp_path_factory.getbasetemp() / "fuzzed.csv"
    file.write_bytes(data)
    said = ""
    try:
        read = read_records(file)
    except UnreadableRecords as error:
        said = str(error)
    else:
        assert len(read.records) + len(read.unusable) <= data.count(b"\n") + data.count(b"\r") + 1
    assert "Traceback" not in said
    assert not said or said.endswith("."), said


plain = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20)),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(st.text(max_size=12), inner, max_size=4)),
    max_leaves=12,
)


@ALL
@given(value=plain, key=st.integers(0, 30))
def test_any_value_is_a_board_or_refused_in_a_sentence(value: Any, key: int) -> None:
    from archive.board import Board, Leaf, Shown

    whole = as_json(Board("b1", "Lights", leaves=(Leaf("l1", (Shown(work="w"),), ("three",)),)))
    names = sorted(whole)
    name = names[key % len(names)]
    for written in (value, {**whole, name: value}, {**whole, "leaves": [{**whole["leaves"][0], "shown": value}]}):
        try:
            board = from_json(json.loads(json.dumps(written)))
        except BoardsError:
            continue
        assert from_json(as_json(board)) == board
