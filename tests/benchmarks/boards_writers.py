"""How long writers on one board wait, and how heavy a board of forty leaves is on its pages.

    python tests/benchmarks/boards_writers.py ARCHIVE [--writers 20] [--writes 10]

A copy of the archive is served from a process of its own; every writer is a thread that posts over real HTTP, one
leaf at a time, as fast as it is answered.
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.parse
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

LEAVES = 40


def ask(url: str, form: list[tuple[str, Any]] | None = None) -> tuple[bytes, float]:
    """The answer to a request, and the seconds until it was there."""
    data = None if form is None else urllib.parse.urlencode(form).encode()
    began = time.perf_counter()
    with urllib.request.urlopen(urllib.request.Request(url, data=data), timeout=60) as answer:
        return answer.read(), time.perf_counter() - began


def main() -> None:
    """Serve a copy, write, look, print."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("archive", type=Path)
    parser.add_argument("--writers", type=int, default=20)
    parser.add_argument("--writes", type=int, default=10)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(shutil.copytree(asked.archive, Path(folder) / "copy"))
        process = subprocess.Popen(
            [sys.executable, "-c", "from archive.command import main; main()",
             "serve", "--archive", str(copy), "--port", "0"],
            stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        try:
            assert process.stdout is not None
            address = next(w for w in process.stdout.readline().split() if w.startswith("http://")).rstrip("/")
            _write(address, asked.writers, asked.writes)
            _look(address)
        finally:
            process.terminate()
            process.wait()


def _make(address: str, title: str) -> str:
    return str(json.loads(ask(f"{address}/-/boards.json", [("do", "make"), ("title", title)])[0])["board"])


def _works(address: str) -> list[str]:
    found: list[str] = []
    path: str | None = "/-/search.json"
    while path and len(found) < LEAVES:
        said = json.loads(ask(address + path)[0])
        found += [work["work"] for work in said["works"]]
        path = said["next_url"]
    return found


def _write(address: str, writers: int, writes: int) -> None:
    board, works = _make(address, "Written on"), _works(address)

    def writer(number: int) -> list[float]:
        form = [("board", board), ("work", works[number % len(works)])]
        return [ask(f"{address}/-/gather.json", form)[1] for _ in range(writes)]

    began = time.perf_counter()
    with ThreadPoolExecutor(writers) as pool:
        waits = sorted(wait for each in pool.map(writer, range(writers)) for wait in each)
    taken = time.perf_counter() - began
    kept = len(json.loads(ask(f"{address}/-/boards/{board}.json")[0])["board"]["leaves"])
    print(
        f"{writers} writers, {len(waits)} leaves acknowledged, {kept} on the board, {len(waits) / taken:.0f} a second"
    )
    print(
        f"waits: median {statistics.median(waits) * 1000:.0f} ms, 95 % {waits[int(len(waits) * 0.95)] * 1000:.0f} ms, "
        f"longest {waits[-1] * 1000:.0f} ms"
    )


def _look(address: str) -> None:
    board, works = _make(address, "Looked at"), _works(address)[:LEAVES]
    ask(f"{address}/-/gather.json", [("board", board), *(("work", work) for work in works)])
    for name, path in (("board", f"/-/boards/{board}"), ("wall", f"/-/boards/{board}/wall"), ("boards", "/-/boards")):
        times = [ask(address + path)[1] for _ in range(5)]
        print(f"{name} page of {len(works)} leaves: {statistics.median(times) * 1000:.0f} ms")
    wall = ask(f"{address}/-/boards/{board}/wall")[0].decode()
    pictures = dict.fromkeys(re.findall(r'src="(/pictures/[^"]+)"', wall))
    weight = sum(len(ask(address + picture)[0]) for picture in pictures)
    print(f"wall: {len(pictures)} pictures, {weight / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
