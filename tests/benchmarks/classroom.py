"""A class at once: thirty students send photos of 12 megapixels while thirty others browse.

    python tests/benchmarks/classroom.py --archive DIR [--students 30] [--browsers 30]

Starts ``blotbook serve --mode classroom`` as a process of its own, has every student send one photo as a browser does,
follow the page of those who wait and see the answer, and every browser leaf through pages meanwhile, one after another
with three seconds of looking between.  Prints how long both took, the places that were shown, and the most memory that
the server and what it started held at one time.
"""

from __future__ import annotations

import argparse
import asyncio
import io
import random
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import httpx2
import numpy as np
from PIL import Image

WIDTH, HEIGHT = 4000, 3000
TABLE = "/archive/works"
BROWSED = ("/", "/-/search?q=light", "/-/about", "/-/boards", "/-/find", "/-/field", TABLE)
LOOKING = 3.0
"""Seconds that whoever browses looks at a page."""


def photo(seed: int) -> bytes:
    """A 12-megapixel JPEG of some patches with the grain of a small sensor."""
    rng = np.random.default_rng(seed)
    patches = Image.fromarray((rng.random((6, 8, 3)) * 255).astype(np.uint8)).resize((WIDTH, HEIGHT), 3)
    grained = np.asarray(patches).astype(np.int16) + rng.integers(-9, 10, (HEIGHT, WIDTH, 1), dtype=np.int16)
    held = io.BytesIO()
    Image.fromarray(grained.clip(0, 255).astype(np.uint8)).save(held, "JPEG", quality=92)
    return held.getvalue()


async def student(client: httpx2.AsyncClient, data: bytes, took: list[float], places: list[int]) -> int:
    """Send one photo and wait as a browser does; how often it had to ask."""
    began, asked = time.perf_counter(), 0
    answer = await client.post("/-/find", files={"study": ("photo.jpg", data, "image/jpeg")})
    while answer.status_code in (202, 303):
        asked += 1
        if answer.status_code == 303:
            where = answer.headers["location"]
        else:
            seconds, _, where = answer.headers["refresh"].partition("; url=")
            await asyncio.sleep(float(seconds))
            told = (await client.get(where + ".json")).json()
            if told.get("place"):
                places.append(told["place"])
        answer = await client.get(where)
    if answer.status_code != 200 or "as it was read" not in answer.text:
        sys.exit(f"A student was answered {answer.status_code}: {answer.text[:300]}")
    took.append(time.perf_counter() - began)
    return asked


async def browser(
    client: httpx2.AsyncClient, works: list[str], took: list[tuple[str, float]], over: asyncio.Event, seed: int
) -> None:
    """Leaf through pages until the others are done."""
    chosen = random.Random(seed)
    await asyncio.sleep(chosen.random() * LOOKING)
    while not over.is_set():
        path = chosen.choice([*BROWSED, *(f"/-/works/{chosen.choice(works)}" for _ in range(5))])
        began = time.perf_counter()
        answer = await client.get(path)
        took.append((path, time.perf_counter() - began))
        if answer.status_code != 200:
            sys.exit(f"{path} was answered {answer.status_code}")
        await asyncio.sleep(LOOKING)


class Memory(threading.Thread):
    """Watches how much memory a process and its descendants hold together (proportional set size), MB."""

    def __init__(self, pid: int) -> None:
        super().__init__(daemon=True)
        self.pid, self.most, self.most_of_server = pid, 0.0, 0.0

    def run(self) -> None:
        while True:
            held = {pid: _held(pid) for pid in _family(self.pid)}
            self.most = max(self.most, sum(held.values()))
            self.most_of_server = max(self.most_of_server, held.get(self.pid, 0.0))
            time.sleep(0.25)


def _family(pid: int) -> list[int]:
    found = [pid]
    for child in Path(f"/proc/{pid}/task").glob("*/children"):
        try:
            found += [each for one in child.read_text().split() for each in _family(int(one))]
        except OSError:
            continue
    return found


def _held(pid: int) -> float:
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("Pss:")), 0.0)


async def lesson(address: str, students: int, browsers: int) -> None:
    """One lesson; prints what it took."""
    photos = [photo(seed) for seed in range(4)]
    print(f"photos of {WIDTH} x {HEIGHT}, {sum(map(len, photos)) / len(photos) / 1e6:.1f} MB each")
    limits = httpx2.Limits(max_connections=None)
    async with httpx2.AsyncClient(base_url=address, timeout=300, limits=limits) as client:
        works = [row["work"] for row in (await client.get("/archive/works.json?_size=100&_shape=array")).json()]
        quiet: list[tuple[str, float]] = []
        over = asyncio.Event()
        asyncio.get_running_loop().call_later(10, over.set)
        await asyncio.gather(*(browser(client, works, quiet, over, seed) for seed in range(browsers)))
        sent: list[float] = []
        browsed: list[tuple[str, float]] = []
        places: list[int] = []
        over = asyncio.Event()
        others = [asyncio.create_task(browser(client, works, browsed, over, seed)) for seed in range(browsers)]
        asked = await asyncio.gather(*(student(client, photos[at % 4], sent, places) for at in range(students)))
        over.set()
        await asyncio.gather(*others)
    print(f"browsing alone: {len(quiet)} pages, {_spread([seconds for _, seconds in quiet], 1000)} ms")
    for name, ours in (("our pages", True), ("Datasette's table of works", False)):
        times = [seconds for path, seconds in browsed if (path != TABLE) == ours]
        print(f"browsing meanwhile, {name}: {len(times)} times, {_spread(times, 1000)} ms")
    print(f"{len(sent)} of {students} students answered: {_spread(sent, 1)} s; asked again {sum(asked)} times")
    print(f"places shown: {len(places)}, up to {max(places, default=0)}")


def _spread(times: list[float], scale: float) -> str:
    p50, p95 = np.percentile(times, [50, 95]) * scale
    return f"p50 {p50:.0f}, p95 {p95:.0f}, most {max(times) * scale:.0f}"


def main() -> None:
    """Run it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--archive", type=Path, required=True)
    parser.add_argument("--students", type=int, default=30)
    parser.add_argument("--browsers", type=int, default=30)
    asked = parser.parse_args()
    server = subprocess.Popen(
        [sys.executable, "-c", "from archive.command import main; main()", "serve", "--archive", str(asked.archive),
         "--mode", "classroom", "--host", "127.0.0.1", "--port", "0"],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert server.stdout is not None
    address = ""
    while not address:
        address = next((word for word in server.stdout.readline().split() if word.startswith("http://")), "")
    memory = Memory(server.pid)
    memory.start()
    try:
        asyncio.run(lesson(address, asked.students, asked.browsers))
        print(f"memory: {memory.most:.0f} MB at most, of it the server itself {memory.most_of_server:.0f} MB at most")
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(30)


if __name__ == "__main__":
    main()
