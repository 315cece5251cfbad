"""Workers that hang, die or leave children behind cost their own record only."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest

from stripdown.batch.lanes import Lanes

HANG = (
    "import os, subprocess, sys, time; "
    "subprocess.Popen([sys.executable, '-c', 'import os, time; os.setsid(); time.sleep(600)', 'left-behind-{mark}']); "
)


def double_or_worse(item: str) -> str:
    """A job that does what its item says."""
    if item == "die":
        os.kill(os.getpid(), signal.SIGKILL)
    if item.startswith("hang"):
        subprocess.Popen([sys.executable, "-c", HANG.format(mark=item) + "os._exit(0)"])
        time.sleep(600)
    return item * 2


def left_behind(mark: str) -> list[psutil.Process]:
    return [p for p in psutil.process_iter(["cmdline"]) if any(mark in word for word in p.info["cmdline"] or ())]


@pytest.fixture
def mark(tmp_path: Path) -> str:
    return f"hang-{tmp_path.name}-{os.getpid()}"


def test_every_item_comes_back_with_its_result() -> None:
    lanes = Lanes(double_or_worse, workers=2, timeout=60)
    assert dict(lanes.run(["a", "b", "c"])) == {"a": "aa", "b": "bb", "c": "cc"}


def test_a_dead_worker_costs_one_item() -> None:
    lanes = Lanes(double_or_worse, workers=1, timeout=60)
    assert dict(lanes.run(["a", "die", "c"])) == {"a": "aa", "die": "died", "c": "cc"}


def test_a_hanging_item_is_ended_with_all_its_children(mark: str) -> None:
    lanes = Lanes(double_or_worse, workers=1, timeout=2)
    assert dict(lanes.run([mark, "b"])) == {mark: "timed_out", "b": "bb"}
    assert left_behind(mark) == []


def test_leaving_early_ends_all_workers(mark: str) -> None:
    lanes = Lanes(double_or_worse, workers=2, timeout=60)
    results = lanes.run(["a", mark])
    assert next(results)[1] == "aa"
    results.close()
    assert left_behind(mark) == []


def test_killing_the_parent_ends_its_workers(mark: str, tmp_path: Path) -> None:
    code = (
        "from stripdown.batch.lanes import Lanes\n"
        "from test_lanes import double_or_worse\n"
        f"if __name__ == '__main__': list(Lanes(double_or_worse, workers=2, timeout=60).run(['{mark}', '{mark}-2']))\n"
    )
    script = tmp_path / "parent.py"
    script.write_text(code)
    parent = subprocess.Popen(
        [sys.executable, str(script)], env=os.environ | {"PYTHONPATH": str(Path(__file__).parent)}
    )
    _until(lambda: len(left_behind(f"left-behind-{mark}")) >= 2)
    parent.kill()
    parent.wait()
    _until(lambda: left_behind(mark) == [])


def _until(true: object, seconds: float = 60) -> None:
    end = time.monotonic() + seconds
    while not true():  # type: ignore[operator]
        assert time.monotonic() < end, "never came true"
        time.sleep(0.1)
