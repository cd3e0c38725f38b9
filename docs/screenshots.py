"""Take pictures of every screen at two sizes, from the demo archive, for docs/screens.md.

    python docs/screenshots.py ARCHIVE [--chromium /usr/bin/chromium]

ARCHIVE is what ``blotbook demo`` makes. A board is made for the pictures in a copy of it, which is thrown away.
"""

from __future__ import annotations

import argparse
import io
import json
import re
import shutil
import subprocess
import sys
import tempfile
import urllib.parse
import urllib.request
from pathlib import Path
from typing import Any

from PIL import Image

HERE = Path(__file__).parent
SIZES = {"wide": (1280, 860), "narrow": (390, 780)}
MOST = 60_000
"""Bytes of a picture."""


def screens(address: str) -> dict[str, str]:
    """Paths of all screens by the name of their picture."""

    def ask(path: str) -> Any:
        with urllib.request.urlopen(address + path, timeout=60) as answer:
            return json.load(answer)

    first = ask("/.json")["arrangements"][1]
    work = first["first"][0]["work"]
    made = urllib.parse.urlencode({"do": "lesson", "arrangement": first["slug"]}).encode()
    asked = urllib.request.Request(f"{address}/-/boards", made, {"Origin": address})
    with urllib.request.urlopen(asked, timeout=60) as answer:
        board = urllib.parse.urlsplit(answer.url).path
    example = "example=harbour-at-evening"
    return {
        "first-page": "/",
        "works": "/-/works",
        "works-chosen": "/-/works?dark_from=50&light_masses=1",
        "field": "/-/field",
        "field-closer": "/-/field?x=0.5&y=0.5&side=0.25",
        "arrangement": f"/-/arrangements/{first['slug']}",
        "work": f"/-/works/{work}",
        "work-three": f"/-/works/{work}?as=three",
        "work-mass": f"/-/works/{work}?as=masses&mass=2",
        "find": "/-/find",
        "found": f"/-/find?{example}",
        "compare": f"/-/compare?beside={work}&{example}",
        "pad": "/-/pad",
        "sheet": "/-/sheet",
        "viewfinder": "/-/viewfinder",
        "practice": "/-/practice",
        "boards": "/-/boards",
        "board": board,
        "wall": f"{board}/wall",
        "about": "/-/about",
        "screen": "/-/screen",
        "tables": "/archive/works",
        # Last: the browser remembers the language.
        "first-page-german": "/?lang=de",
        "work-german": f"/-/works/{work}?as=masses&mass=2&lang=de",
    }


def as_webp(shot: bytes) -> bytes:
    """A screenshot as WebP, as good as the bytes allow."""
    picture = Image.open(io.BytesIO(shot)).convert("RGB")
    for quality in (80, 70, 60, 45, 30):
        held = io.BytesIO()
        picture.save(held, "WEBP", quality=quality, method=6)
        if held.tell() <= MOST:
            break
    return held.getvalue()


def main() -> None:
    asked = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    asked.add_argument("archive", type=Path)
    asked.add_argument("--chromium", default="/usr/bin/chromium")
    given = asked.parse_args()
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder:
        archive = shutil.copytree(given.archive, Path(folder) / "archive", ignore=shutil.ignore_patterns("boards.db*"))
        server = subprocess.Popen(
            [sys.executable, "-c", "from archive.command import main; main()",
             "serve", "--archive", str(archive), "--port", "0"],
            stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        try:
            assert server.stdout is not None
            found = re.search(r"http://\S+", server.stdout.readline())
            assert found is not None, "the server did not start"
            address = found.group().rstrip("/")
            paths = screens(address)
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=given.chromium, args=["--no-sandbox"])
                for size, (width, height) in SIZES.items():
                    page = browser.new_page(viewport={"width": width, "height": height})
                    for name, path in paths.items():
                        page.goto(address + path)
                        page.wait_for_load_state("networkidle")
                        page.wait_for_timeout(250)
                        (HERE / "screens" / f"{name}-{size}.webp").write_bytes(as_webp(page.screenshot()))
                browser.close()
        finally:
            server.terminate()
            server.wait(timeout=20)


if __name__ == "__main__":
    main()
