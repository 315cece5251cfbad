"""How smooth an index of 2,000 records is in Chromium: loading, sorting, filtering, searching, each until painted.

    python tests/benchmarks/bench_index.py [--rows 2000] [--shot index.png]

Prints medians of nine in milliseconds, as they passed and as the page's own thread was at work; judges nothing.
"""

import argparse
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "browser"))

PAINTED = "() => new Promise(done => requestAnimationFrame(() => setTimeout(done)))"
DONE = {
    "sort by cost": "document.querySelector('th[data-key=cost] button').click()",
    "sort by site": "document.querySelector('th[data-key=site] button').click()",
    "filter by model": "(() => { const f = document.getElementById('model'); f.selectedIndex = 1 - f.selectedIndex;"
    " f.dispatchEvent(new Event('input')); })()",
    "one letter typed": "(() => { const f = document.getElementById('search'); f.value = f.value ? '' : 's';"
    " f.dispatchEvent(new Event('input')); })()",
}


def busy(session: Any) -> float:
    """Milliseconds that the page's main thread has been at work since it was opened."""
    return 1000 * next(
        m["value"] for m in session.send("Performance.getMetrics")["metrics"] if m["name"] == "TaskDuration"
    )


def measure(rows: int, shot: str | None) -> None:
    """Open an index of so many rows and use it."""
    import test_index as made
    from conftest import ARGUMENTS, CHROMIUM
    from playwright.sync_api import sync_playwright

    from stripdown.pages import index_html

    with tempfile.TemporaryDirectory() as place, sync_playwright() as driver:
        started = time.perf_counter()
        text = index_html([made.row(number) for number in range(rows)])
        path = Path(place) / "index.html"
        path.write_text(text, encoding="utf-8")
        print(f"{rows} rows: {len(text) / 1e6:.1f} MB, written in {1000 * (time.perf_counter() - started):.0f} ms")
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        page: Any = browser.new_page(viewport={"width": 1280, "height": 800})
        session = page.context.new_cdp_session(page)
        session.send("Performance.enable", {"timeDomain": "threadTicks"})

        def told(name: str, action: Callable[[], object]) -> None:
            spent = []
            for _ in range(9):
                before, started = busy(session), time.perf_counter()
                action()
                page.evaluate(PAINTED)
                spent.append((1000 * (time.perf_counter() - started), busy(session) - before))
            passed, worked = (statistics.median(column) for column in zip(*spent, strict=True))
            print(f"{name:20}{passed:8.0f} ms passed {worked:8.0f} ms at work")

        told("load", lambda: page.goto(path.as_uri()))
        for name, script in DONE.items():
            told(name, lambda script=script: page.evaluate(script))  # type: ignore[misc]
        if shot:
            page.goto(path.as_uri())
            page.screenshot(path=shot)
        browser.close()


if __name__ == "__main__":
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("--rows", type=int, default=2000)
    reader.add_argument("--shot")
    chosen = reader.parse_args()
    measure(chosen.rows, chosen.shot)
