"""How long the server takes to answer every page that one leafs through, in a large archive.

    PYTHONPATH=tests python tests/benchmarks/pages_speed.py --cache FOLDER [--works N] [--like SIGNATURES.npy]

Makes the archive (see made_archive.py and made_records.py) in FOLDER unless it is there, serves it in a process of its
own and asks for each page again and again over one connection, every time another one of its kind where there are
many. Columns: milliseconds from asking to the last byte, median and 95th percentile, after two askings that are not
counted, some seconds after the server has begun; kilobytes of the answer. At the end the same with four askers at a
time, and what the server holds in memory.
"""

from __future__ import annotations

import argparse
import http.client
import itertools
import json
import random
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import quote, urlsplit

import numpy as np

SETTLED = 6.0
"""Seconds after which a server has counted what all pages show."""


def make(folder: Path, count: int, like: Path) -> None:
    """An archive of so many works."""
    from made_archive import made_signatures, write_archive
    from made_records import fill

    write_archive(folder, made_signatures(np.load(like), count))
    fill(folder, count)


def pages(address: str, count: int) -> dict[str, Iterator[str]]:
    """For each kind of page the paths to ask for, one after the other without end."""
    rng = random.Random(5)
    parts = urlsplit(address)
    asking = http.client.HTTPConnection(parts.netloc, timeout=120)
    asking.request("GET", "/.json")
    home = json.loads(asking.getresponse().read())
    asking.request("GET", "/-/works.json")
    artists = list(json.loads(asking.getresponse().read())["counts"]["artist"])

    def each(make_path: object) -> Iterator[str]:
        while True:
            yield make_path()  # type: ignore[operator]

    slug = lambda: rng.choice(home["arrangements"])["slug"]  # noqa: E731
    offset = lambda: 24 * rng.randrange(count // 24)  # noqa: E731
    return {
        "first page": itertools.repeat("/"),
        "works": itertools.repeat("/-/works"),
        "works, later leaves": each(lambda: f"/-/works?_next={offset()}"),
        "works, by shares": each(
            lambda: f"/-/works?dark_from={5 * rng.randrange(12)}&light_to={rng.randrange(40, 95)}"
        ),
        "works, many conditions": each(
            lambda: f"/-/works?arrangement={slug()}&register=lower&dark_from=30&light_masses={rng.randrange(1, 5)}"
        ),
        "works, by painter": each(lambda: f"/-/works?artist={quote(rng.choice(artists))}"),
        "works, by a word": each(lambda: f"/-/works?q={rng.choice(['baba', 'dark', 'cedi', 'ring', 'lo'])}"),
        "works, the lightest": each(lambda: f"/-/works?sort=lightest&century={rng.randrange(14, 20)}"),
        "arrangement": each(lambda: f"/-/arrangements/{slug()}"),
        "arrangement, later": each(lambda: f"/-/arrangements/{slug()}?_next={24 * rng.randrange(200)}"),
        "work": each(lambda: f"/-/works/made-{rng.randrange(count):07}"),
        "field": itertools.repeat("/-/field"),
        "field, closer": each(lambda: f"/-/field?x={rng.random():.3f}&y={rng.random():.3f}&side=0.125"),
        "find": itertools.repeat("/-/find"),
        "boards": itertools.repeat("/-/boards"),
        "about": itertools.repeat("/-/about"),
    }  # fmt: skip


def ask(connection: http.client.HTTPConnection, path: str) -> tuple[float, int]:
    """Milliseconds and bytes of one answer."""
    started = time.perf_counter()
    connection.request("GET", path)
    answer = connection.getresponse()
    body = answer.read()
    if answer.status != 200:
        message = f"{path} was answered with {answer.status}"
        raise RuntimeError(message)
    return 1e3 * (time.perf_counter() - started), len(body)


def measure(address: str, count: int, times: int) -> None:
    """Print the table."""
    netloc = urlsplit(address).netloc
    kinds = pages(address, count)
    connection = http.client.HTTPConnection(netloc, timeout=120)
    print(f"{'page':<24}{'median ms':>10}{'p95 ms':>8}{'kB':>6}")
    everything: list[float] = []
    for kind, paths in kinds.items():
        for path in itertools.islice(paths, 2):
            ask(connection, path)
        taken = [ask(connection, path) for path in itertools.islice(paths, times)]
        spent = [milliseconds for milliseconds, _ in taken]
        everything += spent
        print(
            f"{kind:<24}{np.median(spent):>10.0f}{np.percentile(spent, 95):>8.0f}{taken[0][1] / 1e3:>6.0f}", flush=True
        )
    print(f"{'all':<24}{np.median(everything):>10.0f}{np.percentile(everything, 95):>8.0f}")
    together = [path for paths in kinds.values() for path in itertools.islice(paths, max(2, times // 8))]
    random.Random(3).shuffle(together)

    def some(mine: list[str]) -> list[float]:
        own = http.client.HTTPConnection(netloc, timeout=120)
        return [ask(own, path)[0] for path in mine]

    with ThreadPoolExecutor(4) as askers:
        spent = [one for each in askers.map(some, [together[at::4] for at in range(4)]) for one in each]
    print(f"{'four askers at a time':<24}{np.median(spent):>10.0f}{np.percentile(spent, 95):>8.0f}")


def main() -> None:
    asked = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    asked.add_argument("--cache", type=Path, required=True)
    asked.add_argument("--works", type=int, default=100_000)
    asked.add_argument("--like", type=Path, help="signatures.npy of real works, needed to make the archive")
    asked.add_argument("--times", type=int, default=40)
    given = asked.parse_args()
    folder = given.cache / f"pages-{given.works}"
    if not (folder / "archive.db").exists():
        if given.like is None:
            asked.error("there is no archive yet; --like names the signatures that it is made after")
        make(folder, given.works, given.like)
    started = time.perf_counter()
    server = subprocess.Popen(
        [sys.executable, "-c", "from archive.command import main; main()",
         "serve", "--archive", str(folder), "--port", "0"],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert server.stdout is not None
    try:
        address = next(word for word in server.stdout.readline().split() if word.startswith("http://")).rstrip("/")
        print(f"serves after {time.perf_counter() - started:.1f} s", end="; ")
        first, _ = ask(http.client.HTTPConnection(urlsplit(address).netloc, timeout=120), "/-/works")
        print(f"who asks for all works at once then waits {first:.0f} ms, while the works are still being counted")
        time.sleep(SETTLED)
        measure(address, given.works, given.times)
        held = Path(f"/proc/{server.pid}/status").read_text(encoding="ascii").split("VmHWM:")[1].split()[0]
        print(f"memory at most {int(held) / 1024:.0f} MiB")
    finally:
        server.terminate()
        server.wait(timeout=30)


if __name__ == "__main__":
    main()
