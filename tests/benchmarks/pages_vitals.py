"""How quickly and how steadily pages come up: LCP, CLS and INP as Chromium itself measures them.

    python tests/benchmarks/pages_vitals.py ARCHIVE [--width 390] [--slow 4]

Each page is loaded afresh, scrolled to its end, so that late pictures come in, and answered by a press on something
that answers in place. LCP is the last entry of the largest contentful paint before that, CLS the largest session window
of layout shifts (gaps under 1 s, 5 s at most), INP the longest interaction, all from PerformanceObserver, as the
definitions at web.dev/articles/vitals have it (thresholds for good: 2.5 s, 0.1, 200 ms). ``--slow`` divides the
processor's speed as the browser sees it. Prints a line for each page, and the bytes of what it took beside pictures.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import urllib.request
from pathlib import Path
from typing import Any

OBSERVE = """
window.__seen = { lcp: 0, shifts: [], inp: 0 };
new PerformanceObserver(list => {
    for (const entry of list.getEntries()) window.__seen.lcp = entry.startTime;
}).observe({ type: 'largest-contentful-paint', buffered: true });
new PerformanceObserver(list => {
    for (const entry of list.getEntries()) {
        if (!entry.hadRecentInput) {
            const from = entry.sources.map(source => source.node?.outerHTML?.slice(0, 120) ?? '');
            window.__seen.shifts.push([entry.startTime, entry.value, from]);
        }
    }
}).observe({ type: 'layout-shift', buffered: true });
new PerformanceObserver(list => {
    for (const entry of list.getEntries()) {
        if (entry.interactionId) window.__seen.inp = Math.max(window.__seen.inp, entry.duration);
    }
}).observe({ type: 'event', durationThreshold: 16, buffered: true });
"""

SCROLL = """async () => {
    for (let at = 0; at < document.documentElement.scrollHeight; at += innerHeight / 2) {
        scrollTo({ top: at, behavior: 'instant' });
        await new Promise(done => setTimeout(done, 60));
    }
    scrollTo({ top: 0, behavior: 'instant' });
    await new Promise(done => setTimeout(done, 60));
}"""

MOVE = """async () => {
    const canvas = document.querySelector('.ground canvas');
    const keys = ['+', '+', 'ArrowRight', 'ArrowDown', 'ArrowLeft', '+', 'ArrowRight', '+', '-', '-', '-', '-'];
    const spent = [];
    let last = performance.now();
    for (let step = 0; step < 120; step += 1) {
        canvas.dispatchEvent(new KeyboardEvent('keydown', { key: keys[step % keys.length], bubbles: true }));
        await new Promise(done => requestAnimationFrame(done));
        spent.push(performance.now() - last);
        last = performance.now();
    }
    return spent.sort((one, other) => one - other);
}"""
"""A hundred and twenty moves over the field, one a frame; milliseconds from frame to frame, the shortest first."""

PICTURES = ("image/",)


def paths(address: str) -> dict[str, str]:
    """One page of each kind."""
    with urllib.request.urlopen(f"{address}/.json", timeout=60) as answer:
        first = json.load(answer)["arrangements"][0]
    return {
        "first page": "/",
        "works": "/-/works",
        "works, narrowed": "/-/works?dark_from=40",
        "arrangement": f"/-/arrangements/{first['slug']}",
        "work": f"/-/works/{first['first'][0]['work']}",
        "field": "/-/field",
        "find": "/-/find",
        "found": "/-/find?example=harbour-at-evening",
        "boards": "/-/boards",
        "screen": "/-/screen",
        "about": "/-/about",
    }


def cls(shifts: list[list[Any]]) -> float:
    """The largest sum of a session window."""
    best, total, begun, last = 0.0, 0.0, 0.0, 0.0
    for when, value, _ in shifts:
        if total and when - last < 1000 and when - begun < 5000:
            total += value
        else:
            total, begun = value, when
        last = when
        best = max(best, total)
    return best


def measure(browser: Any, url: str, width: int, slow: float) -> dict[str, Any]:
    """One load of one page in a browser with nothing kept from before."""
    context = browser.new_context(viewport={"width": width, "height": 900})
    page = context.new_page()
    taken: dict[str, int] = {"beside pictures": 0, "pictures": 0}

    def note(answer: Any) -> None:
        kind = answer.headers.get("content-type", "")
        length = len(answer.body()) if answer.status == 200 else 0
        taken["pictures" if kind.startswith(PICTURES) and "svg" not in kind else "beside pictures"] += length

    page.on("response", note)
    if slow > 1:
        context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slow})
    page.add_init_script(OBSERVE)
    page.goto(url)
    page.wait_for_load_state("networkidle")
    lcp = page.evaluate("window.__seen.lcp")
    at_load = dict(taken)
    page.evaluate(SCROLL)
    page.wait_for_load_state("networkidle")
    shifts = page.evaluate("window.__seen.shifts")
    for press in (".ways li:nth-child(4) a", ".surround button:nth-of-type(3)", ".surround button:nth-of-type(1)"):
        if page.locator(press).count():
            page.locator(press).first.click()
            page.wait_for_timeout(120)
    found = {"lcp": lcp, "cls": cls(shifts), "inp": page.evaluate("window.__seen.inp"), "shifts": shifts, **at_load}
    context.close()
    return found


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    asked.add_argument("archive", type=Path)
    asked.add_argument("--width", type=int, default=1280)
    asked.add_argument("--slow", type=float, default=1.0)
    asked.add_argument("--chromium", default="/usr/bin/chromium")
    asked.add_argument("--shifts", action="store_true", help="say what moved")
    given = asked.parse_args()
    from playwright.sync_api import sync_playwright

    server = subprocess.Popen(
        [sys.executable, "-c", "from archive.command import main; main()",
         "serve", "--archive", str(given.archive), "--port", "0"],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert server.stdout is not None
    try:
        address = next(w for w in server.stdout.readline().split() if w.startswith("http://")).rstrip("/")
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=given.chromium, args=["--no-sandbox", "--disable-gpu"])
            print(f"{'page':<18}{'LCP ms':>8}{'CLS':>8}{'INP ms':>8}{'kB beside pictures':>20}{'kB pictures':>13}")
            for name, path in paths(address).items():
                urllib.request.urlopen(address + path, timeout=60).read()
                found = measure(browser, address + path, given.width, given.slow)
                print(
                    f"{name:<18}{found['lcp']:>8.0f}{found['cls']:>8.3f}{found['inp']:>8.0f}"
                    f"{found['beside pictures'] / 1000:>20.0f}{found['pictures'] / 1000:>13.0f}"
                )
                if given.shifts:
                    for when, value, sources in found["shifts"]:
                        print(f"    {when:.0f} ms {value:.4f} {sources}")
            page = browser.new_page(viewport={"width": given.width, "height": 900})
            page.goto(f"{address}/-/field")
            page.wait_for_load_state("networkidle")
            spent = page.evaluate(MOVE)
            print(f"moving over the field: {spent[60]:.0f} ms a frame, {spent[114]:.0f} ms at the 95th percentile")
            browser.close()
    finally:
        server.terminate()
        server.wait(timeout=20)


if __name__ == "__main__":
    main()
