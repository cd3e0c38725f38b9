"""How long boards take to be printed, how large the files are, and how finely pictures print.

    python tests/benchmarks/press_speed.py ARCHIVE [--leaves 40]

Each way is pressed in a process of its own, so that fonts are opened anew. Prints a table in Markdown.
"""

from __future__ import annotations

import argparse
import multiprocessing
import time
from pathlib import Path

from archive.board import Board, Leaf, Shown
from archive.press.content import Pressed, resolve
from archive.press.paper import printed
from archive.store import Archive

SHOWING = ("painting", "squint", "five", "three", "two")
WAYS = ((1, True), (2, False), (4, False), (6, False))


def board(archive: Archive, leaves: int) -> Pressed:
    """A board of as many leaves, every fourth a pair, shown in one to five ways by turns."""
    ids = archive.work_ids()
    made = [
        Leaf(
            f"leaf-{number}",
            tuple(Shown(ids[(number * 7 + at) % len(ids)]) for at in range(2 if number % 4 == 3 else 1)),
            SHOWING[: 1 + number % 5],
            note="Look with half-closed eyes first, then at the map: where does the light mass end?",
            question="Which shape do you see first?",
        )
        for number in range(leaves)
    ]
    return resolve(archive, Board("press-speed", "A board to measure", leaves=tuple(made)))


def measured(asked: tuple[Path, int, int, bool]) -> tuple[float, float, float, int, int, list[int]]:
    """Seconds by the clock, of the processor and of looking up; bytes, pages, and dpi of what prints under 200."""
    folder, leaves, per_page, landscape = asked
    with Archive.open(folder) as archive:
        begun = time.perf_counter()
        pressed = board(archive, leaves)
        looked_up = time.perf_counter() - begun
        begun, busy = time.perf_counter(), time.process_time()
        made = printed(pressed, per_page=per_page, landscape=landscape)
        clock, processor = time.perf_counter() - begun, time.process_time() - busy
    pages = made.content.count(b"/Type /Page\n")
    coarse = [int(part.split(" dpi")[0]) for note in made.notes for part in note.split("(")[1:] if " dpi" in part]
    return clock, processor, looked_up, len(made.content), pages, coarse


def main() -> None:
    """Run as a script."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("archive", type=Path)
    options.add_argument("--leaves", type=int, default=40)
    chosen = options.parse_args()
    print(f"{chosen.leaves} leaves")
    print("| a page | seconds | of the processor | looking up | MB | pages | under 200 dpi | coarsest |")
    print("|---|---|---|---|---|---|---|---|")
    for per_page, landscape in WAYS:
        with multiprocessing.get_context("spawn").Pool(1) as pool:
            clock, busy, looked, size, pages, coarse = pool.map(
                measured, [(chosen.archive, chosen.leaves, per_page, landscape)]
            )[0]
        way = f"{per_page}{', lying' if landscape else ''}"
        fine = f"{len(coarse)} | {min(coarse) if coarse else '–'}"
        print(f"| {way} | {clock:.1f} | {busy:.1f} | {looked:.2f} | {size / 1e6:.1f} | {pages} | {fine} |")


if __name__ == "__main__":
    main()
