"""How long the bench workbook takes from a click to the new answer.

    python tests/benchmarks/bench_intake.py [--browser]

On the longest record of the demo, an answer is changed over and over: saved, judged, the page brought up to date, in
processor time. With `--browser` the same in a real JupyterLab and Chromium, from the click to the changed panel on the
screen, by the clock: only on an idle machine. Three rounds of each; medians and the slowest click. Prints times; judges
nothing, since times belong to the machine.
"""

import argparse
import os
import shutil
import statistics
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from stripdown.resources import demo
from stripdown.widgets import lab
from stripdown.widgets.intake import Intake
from stripdown.widgets.intake_view import View

RECORD = "tw-2025-016.toml"
STEP = "valve_plate"
CLICKS = 30
ROUNDS = 3


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--browser", action="store_true", help="in a real browser too")
    wanted = parser.parse_args()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    print(f"{'':34}{'median':>10}{'slowest':>10}   ms, {ROUNDS} rounds of {CLICKS} clicks")
    with tempfile.TemporaryDirectory() as folder:
        for name, rounds in in_process(Path(folder)).items():
            told(name, rounds)
        if wanted.browser:
            told("click to changed page, in a browser", in_browser(Path(folder)))


def told(name: str, rounds: Sequence[Sequence[float]]) -> None:
    """One line of the table: the median of the rounds' medians."""
    middle = statistics.median(statistics.median(r) for r in rounds)
    print(f"{name:34}{1000 * middle:10.1f}{1000 * max(max(r) for r in rounds):10.1f}")


def in_process(folder: Path) -> dict[str, list[list[float]]]:
    """Seconds a click, round by round, of each part of what a click brings."""
    intake = Intake.open(shutil.copy(demo() / "returns" / RECORD, folder))
    intake.go(STEP)
    for caution in intake.to_confirm(STEP):
        intake.confirm_caution(caution)
    view = View(intake)
    questions = intake.questions(STEP)
    clicks = [(questions[n % len(questions)], ("none", "heavy")[n // len(questions) % 2]) for n in range(CLICKS)]
    parts: dict[str, list[list[float]]] = {"saved and judged": [], "page brought up to date": [], "both": []}
    for _ in range(ROUNDS):
        for row in parts.values():
            row.append([])
        for question, answer in clicks:
            judged = seconds(lambda q=question, a=answer: intake.answer(q, a))
            shown = seconds(view.refresh)
            for row, spent in zip(parts.values(), (judged, shown, judged + shown), strict=True):
                row[-1].append(spent)
    return parts


def seconds(job: Callable[[], object]) -> float:
    """Processor time of one call: what it takes on a machine that does nothing else."""
    start = time.process_time()
    job()
    return time.process_time() - start


def in_browser(folder: Path) -> list[list[float]]:
    """Seconds from a click to the panel that says something else, round by round, timed by the browser itself."""
    from playwright.sync_api import sync_playwright

    record = Path(shutil.copy(demo() / "returns" / RECORD, folder / f"shown-{RECORD}"))
    runtime = folder / "runtime"
    runtime.mkdir()
    notebook = lab.working_copy("intake", folder / "workbooks", {"record": str(record)})
    chromium = os.environ.get("STRIPDOWN_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as driver, lab.running(notebook.parent, runtime) as server:
        browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.set_default_timeout(90_000)
        page.goto(server.open(notebook))
        page.get_by_label("Step", exact=True).select_option(label="11  Valve plate")
        page.locator("button:has-text('It is so'), .sd-answer").first.wait_for()
        while left := page.locator("button:has-text('It is so')").count():
            page.locator("button:has-text('It is so')").first.click()
            page.wait_for_function(f"document.querySelectorAll('.sd-caution:not(.sd-confirmed)').length < {left}")
        page.locator(".sd-answer").first.wait_for()
        rounds = [[float(click(page, n)) for n in range(CLICKS)] for _ in range(ROUNDS)]
        browser.close()
    return rounds


def click(page: Any, number: int) -> Any:
    """Seconds from one click, in turn heavy and sound of one finding at a hand's pace, to the panel beside it."""
    return page.evaluate(
        """async (button) => {
            await new Promise((go) => setTimeout(go, 300));
            const before = document.querySelector('.sd-live').textContent;
            const start = performance.now();
            document.querySelectorAll('.sd-answer')[0].querySelectorAll('button')[button].click();
            while (document.querySelector('.sd-live').textContent === before) {
                await new Promise((go) => setTimeout(go, 2));
                if (performance.now() - start > 30000) throw new Error('no other answer came');
            }
            return (performance.now() - start) / 1000;
        }""",
        (2, 0)[number % 2],
    )


if __name__ == "__main__":
    main()
