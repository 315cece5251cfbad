"""Forked kernels show what stock kernels show, carry nothing over and leave nothing behind."""

import json
import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psutil
import pytest

from stripdown import resources
from stripdown.batch import kernels, notebook
from stripdown.batch.error import NotebookError
from stripdown.batch.keeper import Keeper, Nursery
from stripdown.batch.settings import FORKS, KernelName

Run = Callable[..., list[Any]]

DIRTY = """
import os, random, warnings, builtins, logging, locale, decimal, signal, sys, threading
import numpy, matplotlib, stripdown
from stripdown import vocabulary
from stripdown.figures import figure
stripdown.spoilt = builtins.spoilt = True
vocabulary.mechanisms = figure.FONT = None
os.environ["SPOILT"] = "1"
os.environ.pop("PATH", None)
os.chdir("/")
os.umask(0o777)
random.seed(1); numpy.random.seed(1)
numpy.seterr(all="raise"); numpy.set_printoptions(precision=1)
matplotlib.rcParams["lines.linewidth"] = 99
matplotlib.use("agg")
warnings.simplefilter("error")
logging.getLogger().setLevel(1)
locale.setlocale(locale.LC_ALL, "C")
decimal.getcontext().prec = 2
sys.path.insert(0, "/spoilt"); sys.setrecursionlimit(77777)
signal.signal(signal.SIGUSR1, signal.SIG_IGN)
kept_open = open("/dev/null")
"""
LOOK = """
import os, random, warnings, builtins, logging, sys, locale, decimal, signal, threading
import numpy, matplotlib, stripdown
from stripdown import vocabulary
from stripdown.figures import figure
def is_null(number):
    return os.path.exists(f"/proc/self/fd/{number}") and os.readlink(f"/proc/self/fd/{number}") == "/dev/null"
print(hasattr(stripdown, "spoilt"), hasattr(builtins, "spoilt"), "SPOILT" in os.environ, "PATH" in os.environ)
print(callable(vocabulary.mechanisms), figure.FONT)
print(os.getcwd() == "/", matplotlib.rcParams["lines.linewidth"], matplotlib.rcParams["backend"])
print(sorted(map(str, warnings.filters)), logging.getLogger().level)
print(numpy.geterr(), numpy.get_printoptions()["precision"], decimal.getcontext().prec)
print(locale.setlocale(locale.LC_ALL), signal.getsignal(signal.SIGUSR1), oct(os.umask(0o22)))
print("kept_open" in globals(), sum(map(is_null, range(1, 64))))
print(sys.path, sys.argv[0], sys.flags, os.environ.get("MPLBACKEND"), sys.getrecursionlimit())
"""
DRAW = "import matplotlib.pyplot as plt\nplt.plot([1, 3, 2]);"
MARKUP = "from IPython.display import HTML, SVG\nHTML('<b>text</b>')"
TEXT = "print(repr(text), end='')"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run cells on a kernel; the outputs of each cell."""

    def run_cells(kernel: KernelName, *cells: str, **parameters: object) -> list[Any]:
        source = tmp_path / f"{len(list(tmp_path.iterdir()))}.ipynb"
        source.write_text(json.dumps(_book(*cells)))
        monkeypatch.setattr(resources, "notebook", lambda _: source)
        folder = tmp_path / f"{source.stem} {{out}}"
        folder.mkdir()
        notebook.run("toy", folder, parameters, kernel=kernel, kept=tmp_path / "failed" / "toy.ipynb")
        book = json.loads((folder / source.name).read_text(encoding="utf-8"))
        return [cell["outputs"] for cell in book["cells"]]

    return run_cells


def _book(*cells: str) -> dict[str, Any]:
    code: dict[str, Any] = {"cell_type": "code", "execution_count": None, "outputs": []}
    tags = {"tags": ["parameters"]}
    return {
        "cells": [
            code | {"id": f"cell-{n}", "source": source, "metadata": tags if n == 0 else {}}
            for n, source in enumerate(("text = ''", *cells))
        ],
        "metadata": {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}},
        "nbformat": 4,
        "nbformat_minor": 5,
    }


def printed(outputs: list[Any]) -> str:
    """What the last cell printed."""
    return "".join(outputs[-1][0]["text"])


def test_text_stays_text(run: Run) -> None:
    hostile = "00123 12E4 {x} \"'\\n $(id) `id` \u202e é\n%%bash"
    assert printed(run("stock", TEXT, text=hostile)) == repr(hostile)


def test_an_unknown_parameter_is_refused(run: Run) -> None:
    with pytest.raises(ValueError, match="no parameter txet"):
        run("stock", TEXT, txet="")


def test_a_failing_cell_is_told_and_kept(run: Run, tmp_path: Path) -> None:
    with pytest.raises(NotebookError, match="cell 3: ZeroDivisionError: division by zero"):
        run("stock", "1 / 0", text="")
    assert "papermill-error-cell" in (tmp_path / "failed" / "toy.ipynb").read_text()


def test_a_kept_notebook_names_no_time_and_no_path(run: Run, tmp_path: Path) -> None:
    run("stock", "1", text="")
    assert "papermill" not in next(tmp_path.glob("*/*.ipynb")).read_text()


@pytest.mark.skipif(not FORKS, reason="kernels are forked on Linux only")
class TestForked:
    def test_outputs_equal_those_of_stock_kernels(self, run: Run) -> None:
        cells = (LOOK, DRAW, MARKUP, TEXT)
        stock, fast = run("stock", *cells, text="a"), run("fast", *cells, text="a")
        for of_stock, of_fast in zip(stock, fast, strict=True):
            assert of_fast == of_stock
        assert "image/png" in fast[3][0]["data"] or "image/png" in fast[3][-1]["data"]

    def test_nothing_is_carried_over(self, run: Run) -> None:
        before = run("fast", LOOK)
        run("fast", DIRTY)
        assert run("fast", LOOK) == before

    def test_the_teardown_notebook_shows_the_same_cell_by_cell(self, tmp_path: Path) -> None:
        """Every cell of two real records, figures included, to the byte."""
        for claim, file in (("TW-2025-016", "tw-2025-016.toml"), ("TW-2023-003", "tw-2023-003.toml")):
            shown = {}
            for kernel in ("stock", "fast"):
                folder = tmp_path / kernel / claim
                folder.mkdir(parents=True)
                given = {"record": str(resources.demo() / "returns" / file), "out": ".", "named": file}
                notebook.run("teardown", folder, given, kernel=kernel, kept=tmp_path / "failed.ipynb")  # type: ignore[arg-type]
                cells = json.loads((folder / "teardown.ipynb").read_text(encoding="utf-8"))["cells"]
                shown[kernel] = [(cell["source"], cell.get("outputs")) for cell in cells]
            assert len(shown["stock"]) >= 25
            assert "data:image/svg+xml" in json.dumps(shown["stock"])
            for of_stock, of_fast in zip(shown["stock"], shown["fast"], strict=True):
                assert of_fast == of_stock

    def test_a_keeper_that_was_killed_costs_the_running_notebook_only(self, run: Run) -> None:
        run("fast", "1")
        killed = kernels.keeper().pid
        with pytest.raises(Exception, match=r"[Kk]ernel"):  # whatever the client makes of a kernel that died
            run("fast", f"import os, time\nos.kill({killed}, 9)\ntime.sleep(60)")
        assert printed(run("fast", "print(1)")) == "1\n"
        assert kernels.keeper().pid != killed

    def test_a_nursery_that_was_killed_costs_nothing(self, run: Run) -> None:
        """A worker whose keeper lives goes on with it; one that has none starts a nursery of its own."""
        with Nursery({}) as nursery:
            kernels.join(nursery.place)
            kernels._hang_up()
            run("fast", "1")
            keeper = kernels.keeper().pid
            nursery._process.kill()
            assert printed(run("fast", "print(1)")) == "1\n"
            assert kernels.keeper().pid == keeper
        kernels._hang_up()
        assert printed(run("fast", "print(1)")) == "1\n"
        assert kernels.keeper().pid != keeper

    def test_random_draws_differ_from_kernel_to_kernel(self, run: Run) -> None:
        draw = "import random, numpy\nprint(random.random(), numpy.random.random())"
        one, other = (printed(run("fast", draw)).split() for _ in range(2))
        assert one[0] != other[0]
        assert one[1] != other[1]

    def test_no_kernel_is_left_after_success_or_failure(self, run: Run) -> None:
        run("fast", "1")
        with pytest.raises(NotebookError):
            run("fast", "1 / 0")
        end = time.monotonic() + 10
        while any(c.status() != psutil.STATUS_ZOMBIE for c in psutil.Process(kernels.keeper().pid).children()):
            assert time.monotonic() < end, "a kernel is still there"
            time.sleep(0.05)

    def test_a_keeper_takes_its_kernels_with_it_and_all_that_they_left_behind(self, tmp_path: Path) -> None:
        """A process of a session of its own, whose parent has gone, is hard to find and to end."""
        stray = "setsid sh -c 'echo $$ > stray; sleep 600' & wait"
        with Nursery({}) as nursery:
            keeper = Keeper(nursery.place)
            kernel = keeper.fork(["-f", "/nonexistent/kernel.json"], "/", {})
            code = f"import os\nos.chdir({str(tmp_path)!r})\nos.posix_spawnp('sh', ['sh', '-c', {stray!r}], os.environ)"
            other = keeper.fork(["-c", code], str(tmp_path), dict(os.environ))
            end = time.monotonic() + 30
            while not (tmp_path / "stray").exists() or not (tmp_path / "stray").read_text().strip():
                assert time.monotonic() < end, "the stray process did not start"
                time.sleep(0.05)
            found = psutil.Process(int((tmp_path / "stray").read_text()))
            keeper.close()
        assert not psutil.pid_exists(kernel.pid)
        assert not psutil.pid_exists(other.pid)
        assert not found.is_running()
