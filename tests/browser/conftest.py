"""One real JupyterLab and one real Chromium for all browser tests; skipped, with the reason, where there is none.

A test opens workbooks of its own in them, each with its own kernel:

    def test_something(open_workbook, page, tmp_path):
        opened = open_workbook("intake", record=tmp_path / "NB-1.toml")
        page.goto(opened.address)
"""

import json
import os
import shutil
import threading
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psutil
import pytest

from stripdown.widgets import lab

CHROMIUM = os.environ.get("STRIPDOWN_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
WAIT = 90_000
"""Milliseconds until something that should appear is given up: a runner of two slow cores is no fault of ours."""
LIMIT = WAIT / 1000
"""Seconds for a test once its fixtures are there: a script that never answers has no time limit of its own."""
OF_JUPYTERLAB = "Canceled future for "
"""What JupyterLab itself throws for messages that were under way when a kernel died."""


@dataclass(frozen=True)
class Opened:
    """A workbook that ran in the server; `address` shows it."""

    server: lab.Lab
    notebook: Path
    address: str

    def ask(self, method: str, path: str) -> Any:
        """What the server's own interface answers."""
        headers = {"Authorization": f"token {self.server.token}"}
        order = urllib.request.Request(f"{self.server.base}api/{path}", headers=headers, method=method)
        with urllib.request.urlopen(order, timeout=WAIT / 1000) as answer:
            return json.loads(answer.read() or "null")

    def sessions(self) -> list[Any]:
        """The server's sessions of this notebook."""
        return [s for s in self.ask("GET", "sessions") if s["path"].startswith(f"{self.notebook.parent.name}/")]

    def kill_kernel(self) -> None:
        """End its process with no warning; the server starts a new one that knows nothing."""
        (session,) = self.sessions()
        processes = psutil.Process(self.server.process.pid).children(recursive=True)
        (kernel,) = (p for p in processes if session["kernel"]["id"] in " ".join(p.cmdline()))
        kernel.kill()


@contextmanager
def at_most(seconds: float) -> Iterator[None]:
    """After so long the processes behind all open pages are ended, so that whoever waits for one is told at once."""
    late = threading.Event()

    def end() -> None:
        late.set()
        for process in psutil.Process().children(recursive=True):
            with suppress(psutil.Error):
                if "--type=renderer" in process.cmdline():
                    process.kill()

    timer = threading.Timer(seconds, end)
    timer.start()
    try:
        yield
    except Exception as wrong:
        if late.is_set():
            raise TimeoutError(f"not done within {seconds:.0f} s: its pages were ended") from wrong
        raise
    finally:
        timer.cancel()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Iterator[None]:
    """One test that hangs fails by itself, and the others go on."""
    with at_most(LIMIT):
        return (yield)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """A window as wide as a projector shows, opened once: what JupyterLab sends is kept between pages."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install .[dev]")
    if CHROMIUM is None:
        pytest.skip("no Chromium found: install it, or name it in STRIPDOWN_CHROMIUM")
    with playwright.sync_playwright() as driver:
        try:
            browser = driver.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        except playwright.Error as wrong:  # as the stand-in for a package that some systems have
            pytest.skip(f"{CHROMIUM} does not start: {str(wrong).splitlines()[0]}")
        yield browser.new_context(viewport={"width": 1280, "height": 800}, reduced_motion="reduce")
        browser.close()


@pytest.fixture(scope="session")
def server(chromium: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[lab.Lab]:
    """JupyterLab, started once, after it is sure that there is a browser for it."""
    folder, runtime = tmp_path_factory.mktemp("workbooks"), tmp_path_factory.mktemp("runtime")
    with lab.running(folder, runtime) as running:
        yield running


@contextmanager
def new_page(chromium: Any) -> Iterator[Any]:
    """A page; its script errors fail whatever used it."""
    page = chromium.new_page()
    page.set_default_timeout(WAIT)
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    yield page
    page.close()
    assert [w for w in wrong if not w.startswith(OF_JUPYTERLAB)] == []


@pytest.fixture
def page(chromium: Any) -> Iterator[Any]:
    """A page of the test's own."""
    with new_page(chromium) as page:
        yield page


@contextmanager
def workbooks(server: lab.Lab, named: str) -> Iterator[Callable[..., Opened]]:
    """Opens working copies that ran, in folders named after their test; their kernels end with it."""
    ending: list[Opened] = []

    def opened(workbook: str, **parameters: object) -> Opened:
        texts = {name: str(value) for name, value in parameters.items()}
        notebook = lab.working_copy(workbook, server.folder / f"{named}-{len(ending)}", texts)
        ending.append(Opened(server, notebook, server.open(notebook)))
        return ending[-1]

    yield opened
    for one in ending:
        for session in one.sessions():
            one.ask("DELETE", f"sessions/{session['id']}")


@pytest.fixture
def open_workbook(server: lab.Lab, request: pytest.FixtureRequest) -> Iterator[Callable[..., Opened]]:
    """`open_workbook("intake", record=path)`."""
    with workbooks(server, request.node.name) as opened:
        yield opened


@pytest.fixture
def shot(request: pytest.FixtureRequest) -> Callable[[Any, str], None]:
    """`shot(page, "caution")`: a picture to look at, kept where STRIPDOWN_SHOTS says."""

    def taken(page: Any, name: str) -> None:
        folder = os.environ.get("STRIPDOWN_SHOTS")
        if folder:
            page.screenshot(path=Path(folder) / f"{request.node.name}-{name}.png")

    return taken
