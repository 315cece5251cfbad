"""The same items on a cluster of worker processes, of which one is killed in the middle: the same bytes as here."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from stripdown.batch import cluster
from stripdown.batch.error import SchedulerError
from stripdown.batch.run import Batch, Tally, run
from stripdown.batch.settings import Settings
from stripdown.batch.work import FILES, Item, Outcome
from stripdown.record import read_all
from tests.small_record import small_record

pytest.importorskip("distributed")

CLAIMS = [f"C{n}" for n in range(6)]
CLUSTER = """
import json, sys
from distributed import LocalCluster
if __name__ == "__main__":
    cluster = LocalCluster(n_workers={workers}, threads_per_worker=1, processes=True, dashboard_address=None)
    pids = [nanny.process.pid for nanny in cluster.workers.values()]
    print(json.dumps({{"address": cluster.scheduler_address, "pids": pids}}), flush=True)
    sys.stdin.read()
"""


def _cluster(folder: Path, workers: int) -> Iterator[dict[str, Any]]:
    script = folder / "cluster.py"
    script.write_text(CLUSTER.format(workers=workers))
    with subprocess.Popen(
        [sys.executable, str(script)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    ) as running:
        assert running.stdout is not None
        yield json.loads(running.stdout.readline())


@pytest.fixture
def two_workers(tmp_path: Path) -> Iterator[dict[str, Any]]:
    yield from _cluster(tmp_path, 2)


@pytest.fixture
def no_workers(tmp_path: Path) -> Iterator[dict[str, Any]]:
    yield from _cluster(tmp_path, 0)


@pytest.fixture
def returns(tmp_path: Path) -> Path:
    folder = tmp_path / "returns"
    folder.mkdir()
    for claim in CLAIMS:
        (folder / f"{claim}.toml").write_text(small_record(claim=claim))
    return folder


def _lines(out: Path) -> list[dict[str, Any]]:
    ledger = out / "ledger.jsonl"
    return [json.loads(line) for line in ledger.read_text().splitlines()] if ledger.exists() else []


@pytest.mark.slow
def test_a_killed_worker_costs_nothing_and_the_bytes_are_those_of_a_local_run(
    two_workers: dict[str, Any], returns: Path, tmp_path: Path
) -> None:
    here, there = tmp_path / "here", tmp_path / "there"
    options = ["--scheduler", two_workers["address"], "--out", "there", "--kernel", "fast"]
    command = [sys.executable, "-m", "stripdown.cli", "batch", str(returns), *options]
    process = subprocess.Popen(command, cwd=tmp_path, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    end = time.monotonic() + 240
    while not _lines(there):
        assert time.monotonic() < end, process.communicate(timeout=1)
        time.sleep(0.1)
    os.kill(two_workers["pids"][0], signal.SIGKILL)
    _, told = process.communicate(timeout=240)
    assert process.returncode == 0, told
    assert sorted(line["claim"] for line in _lines(there)) == CLAIMS
    assert {line["state"] for line in _lines(there)} == {"done"}
    run(read_all([returns]), Batch(out=here, settings=Settings(kernel="fast")), Tally())
    for claim in CLAIMS:
        for name in FILES[1:]:
            assert (there / claim / name).read_bytes() == (here / claim / name).read_bytes(), name
        assert sorted(f.name for f in (there / claim).iterdir()) == sorted(FILES)
    assert [f.name for f in there.iterdir() if f.name.startswith(".")] == []


@pytest.mark.slow
def test_a_scheduler_that_dies_stops_the_run_which_goes_on_here(returns: Path, tmp_path: Path) -> None:
    """Each record is done once, what the workers were at is done again, and nothing half made is left."""
    script, out = tmp_path / "cluster.py", tmp_path / "out"
    script.write_text(CLUSTER.format(workers=2))
    call = [sys.executable, "-m", "stripdown.cli", "batch", str(returns), "--out", "out"]
    with subprocess.Popen([sys.executable, str(script)], stdin=-1, stdout=-1, stderr=subprocess.DEVNULL) as running:
        assert running.stdout is not None
        there = ["--scheduler", json.loads(running.stdout.readline())["address"], "--kernel", "fast"]
        process = subprocess.Popen([*call, *there], cwd=tmp_path, stderr=-1, stdout=-1, text=True)
        end = time.monotonic() + 240
        while not _lines(out):
            assert time.monotonic() < end, process.communicate(timeout=1)
            time.sleep(0.1)
        running.kill()
        _, told = process.communicate(timeout=120)
    assert process.returncode == 1, told
    assert "Traceback" not in told
    assert "--resume" in told
    before = len(_lines(out))
    assert 0 < before < len(CLAIMS)
    again = subprocess.run([*call, "--resume"], cwd=tmp_path, capture_output=True, text=True)
    assert again.returncode == 0, again.stderr
    assert f"{before} done before" in again.stdout
    assert sorted(line["claim"] for line in _lines(out)) == CLAIMS
    assert [f.name for f in out.iterdir() if f.name.startswith(".")] == []


@pytest.mark.slow
def test_a_scheduler_without_workers_is_told_how_to_get_some(no_workers: dict[str, Any]) -> None:
    with pytest.raises(SchedulerError, match="dask worker tcp://"), cluster.workers_of(no_workers["address"]):
        pass


@pytest.mark.slow
def test_an_address_where_nobody_answers_is_a_wrong_call(tmp_path: Path) -> None:
    (tmp_path / "A.toml").write_text(small_record(claim="A"))
    command = [sys.executable, "-m", "stripdown.cli", "batch", "A.toml", "--scheduler"]
    for address in ("nonsense:address", "ftp://127.0.0.1:1", "127.0.0.1:1"):
        done = subprocess.run([*command, address], cwd=tmp_path, capture_output=True, text=True)
        assert (done.returncode, done.stdout) == (2, ""), done.stderr
        assert "--scheduler" in done.stderr
        assert done.stderr.count("\n") == 1
    assert [f.name for f in tmp_path.iterdir()] == ["A.toml"]


def test_what_the_scheduler_cannot_finish_is_lost_like_a_dead_worker(tmp_path: Path) -> None:
    item = Item(claim="A", file="a.toml", path="/a.toml", out=str(tmp_path), settings=Settings(), kernel="stock")
    future: Any = SimpleNamespace(status="error")
    assert cluster._answer(future, item) == "died"


def test_pages_that_do_not_appear_here_are_a_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "_SEEN_LATER", 0.0)
    item = Item(claim="A", file="a.toml", path="/a.toml", out=str(tmp_path), settings=Settings(), kernel="stock")
    future: Any = SimpleNamespace(status="finished", result=lambda: Outcome("done", 1.0))
    outcome = cluster._answer(future, item)
    assert isinstance(outcome, Outcome)
    assert outcome.state == "failed"
    assert "share" in outcome.faults[0].fix
