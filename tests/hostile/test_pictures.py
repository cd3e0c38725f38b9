"""Every harmful picture through the form: answered in a sentence, by a worker that is bounded, with nothing left."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest
from asgi_house import AsgiHouse, picture

from archive.desk.bench import MEMORY
from archive.desk.worker import STAND

from .pictures_that_harm import harmful

HARMFUL = harmful()

READ_AFTER_ALL = {
    "png-long-rows", "png-twice", "png-wrong-sum", "png-no-end", "png-thousand-chunks", "png-transparent-bomb",
    "jpeg-markers", "png-no-palette", "pfm-nan", "pfm-infinite",
    "jpeg-comment-script", "jpeg-then-html", "jpeg-then-zip", "jpeg-then-php", "jpeg-progressive-many-scans",
    "jpeg-cmyk", "jpeg-mpf-loop", "exif-rational-bomb", "exif-loops", "exif-65535-entries", "exif-orientation-99",
    "exif-orientation-text", "exif-thumbnail-far", "exif-not-exif", "exif-empty", "exif-largest", "icc-nonsense",
    "icc-short", "icc-says-4g", "tiff-deflate-bomb", "png-bomb-7999", "png-cut", "jpeg-cut", "png-short-rows",
}  # fmt: skip
"""What is a picture still, or was one: it may be read."""


@pytest.mark.parametrize("name", HARMFUL)
def test_a_harmful_picture_is_answered_in_a_sentence(house: AsgiHouse, name: str) -> None:
    began = time.monotonic()
    answer = house.upload("/-/find.json", HARMFUL[name], file=f"{name}.png")
    assert answer.status in ((200, 400) if name in READ_AFTER_ALL else (400,)), answer.text[:300]
    assert answer.headers["content-type"].startswith("application/json")
    assert answer.headers["x-content-type-options"] == "nosniff"
    if answer.status == 400:
        sentence = answer.json()["error"]
        assert re.fullmatch(r"[A-Z].{5,400}\.", sentence), sentence
        assert "Traceback" not in sentence
        assert "<script" not in sentence
        assert not re.search(r"/(?:tmp|home|work|usr|root|var)/", sentence), sentence
    assert time.monotonic() - began < 60


def test_the_desk_is_whole_after_all_of_them(house: AsgiHouse) -> None:
    assert house.upload("/-/find.json", picture()).status == 200


@pytest.mark.skipif(not Path("/proc/self/limits").exists(), reason="the limits of a process are read from /proc")
def test_a_worker_is_bounded(house: AsgiHouse) -> None:
    assert house.upload("/-/find.json", picture()).status == 200
    worker = STAND.take()
    try:
        limits = Path(f"/proc/{worker.pid}/limits").read_text()
        assert re.search(rf"Max address space\s+{MEMORY}\s", limits)
        assert re.search(r"Max file size\s+0\s", limits)
        assert re.search(r"Max core file size\s+0\s", limits)
        assert re.search(r"Max cpu time\s+\d+\s", limits)
        known = Path(f"/proc/{worker.pid}/environ").read_bytes().decode().split("\0")
        assert {line.partition("=")[0] for line in known if line} <= {
            "PATH", "LANG", "LC_ALL", "LC_CTYPE", "PYTHONPATH", "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS",
            "MKL_NUM_THREADS", "OPENBLAS_CORETYPE", "MKL_CBWR",
        }  # fmt: skip
        assert Path(f"/proc/{worker.pid}/cwd").readlink() == Path("/")
    finally:
        STAND.give_back(worker, 2)
