"""A real Chromium against a real server; skipped with a reason where there is none."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

import pytest

FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
NAMES = ("chromium", "chromium-browser", "google-chrome")


def give_up(reason: str) -> NoReturn:
    """Skip, or fail where a browser is required."""
    if os.environ.get("BLOTBOOK_REQUIRE_BROWSER") == "1":
        pytest.fail(f"BLOTBOOK_REQUIRE_BROWSER=1, but {reason}", pytrace=False)
    pytest.skip(reason)


# Both fixtures end with their module: while Playwright's loop runs, no test elsewhere could run one of its own.


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    try:
        from playwright.sync_api import sync_playwright
    except ModuleNotFoundError:
        give_up("the package playwright is not installed")
    found = os.environ.get("BLOTBOOK_CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        give_up(f"no Chromium was found under the names {', '.join(NAMES)}")
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=found, args=list(FLAGS))
        yield launched
        launched.close()


@pytest.fixture(scope="module")
def address(browser: Any, small_archive: Path) -> Iterator[str]:  # noqa: ARG001 - no server without a browser
    """The address of a server of the small archive, without the slash at its end."""
    process = subprocess.Popen(
        [sys.executable, "-c", "from archive.command import main; main()",
         "serve", "--archive", str(small_archive), "--port", "0"],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    words = process.stdout.readline().split()
    yield next(word for word in words if word.startswith("http://")).rstrip("/")
    process.terminate()
    process.wait(timeout=20)
