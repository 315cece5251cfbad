"""Memory of a batch over a thousand records, and of two thousand PDF pages made in one process.

    python tests/benchmarks/bench_batch_memory.py batch [--records 1000] [--workers 2]
    python tests/benchmarks/bench_batch_memory.py parent [--records 1000] [--workers 2]
    python tests/benchmarks/bench_batch_memory.py pdf [--pages 2000]

`batch` runs them all; `parent` lets the workers hand back ready-made pages, so that what the parent does for a thousand
records is seen in a minute. Prints the resident memory as it goes, and for the PDF whether every page of one record had
the same bytes. Judges nothing; `batch` takes half an hour on two idle cores.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

import psutil

from stripdown import resources
from stripdown.batch import folder, work
from stripdown.batch import run as batch_run
from stripdown.batch.ledger import Ledger
from stripdown.batch.results import json_line
from stripdown.batch.run import Batch, Tally
from stripdown.batch.settings import Settings
from stripdown.batch.work import Item, Outcome
from stripdown.record import Record, read_all

RECORD = """
format = 1
claim = "M{number:05d}"
[unit]
serial = "00{number}"
model = "K4-150"
[[observations]]
part = "main_bearing"
condition = "worn"
extent = "heavy"
"""
MB = 1 << 20


def batch(records: int, workers: int) -> None:
    """Resident memory of the parent, and of each worker with its kernels' parent, by records done."""
    with tempfile.TemporaryDirectory() as place:
        returns, out = Path(place) / "returns", Path(place) / "out"
        _write(returns, records)
        command = [sys.executable, "-m", "stripdown.cli", "batch", str(returns), "--out", str(out)]
        started = time.monotonic()
        run = subprocess.Popen([*command, "--workers", str(workers)], stderr=subprocess.DEVNULL)
        seen: list[tuple[int, float]] = []
        step = max(1, records // 20)
        while run.poll() is None:
            time.sleep(0.5)
            done = _lines(out / "ledger.jsonl")
            if done and done // step > (seen[-1][0] // step if seen else -1):
                seen.append((done, _told(run.pid, done, time.monotonic() - started)))
        after = [(n, mb) for n, mb in seen if n >= records // 20]
        print(f"parent: {after[0][1]:.1f} MB at {after[0][0]} records, {after[-1][1]:.1f} MB at {after[-1][0]}")


READY: dict[str, bytes] = {}


def hand_back(item: Item) -> Outcome:
    """In a worker, instead of the notebook: the same four files for every record."""
    if not READY:
        case = item.settings.judge(next(r for r in read_all([item.path]) if isinstance(r, Record)))
        READY.update(dict.fromkeys(work.FILES, b"x" * 100_000))
        READY["result.json"] = json_line(case.as_json()).encode()
    with folder.whole(Path(item.out) / item.claim) as fresh:
        for name, data in READY.items():
            (fresh / name).write_bytes(data)
    return Outcome("done", 0.1)


def parent(records: int, workers: int) -> None:
    """Resident memory of the process that leads a run, all of its own work done."""
    with tempfile.TemporaryDirectory() as place:
        returns, out = Path(place) / "returns", Path(place) / "out"
        _write(returns, records)
        batch_run.do = hand_back
        own, step = psutil.Process(), max(1, records // 20)
        tally = Tally()
        append = Ledger.append

        def told(self: Ledger, line: Mapping[str, Any]) -> None:
            append(self, line)
            if sum(tally.states.values()) % step == 0:
                print(f"{sum(tally.states.values()):6} records  {own.memory_info().rss / MB:6.1f} MB", flush=True)

        Ledger.append = told  # type: ignore[method-assign]
        batch_run.run(read_all([returns]), Batch(out=out, settings=Settings(), workers=workers), tally)
        print(f"{dict(tally.states)}, with the index written {own.memory_info().rss / MB:.1f} MB")


def _write(returns: Path, records: int) -> None:
    returns.mkdir()
    for number in range(records):
        (returns / f"{number:05d}.toml").write_text(RECORD.format(number=number))


def _told(pid: int, done: int, seconds: float) -> float:
    parent = psutil.Process(pid)
    own = parent.memory_info().rss / MB
    below = sorted((p.memory_info().rss / MB for p in parent.children()), reverse=True)
    print(f"{done:6} records {seconds:7.0f} s  parent {own:6.1f} MB  below it {[round(x) for x in below]}", flush=True)
    return own


def _lines(ledger: Path) -> int:
    return ledger.read_bytes().count(b"\n") if ledger.exists() else 0


def pdf(pages: int) -> None:
    """Resident memory while one process makes the PDF of the demo records again and again."""
    from stripdown.pages import case_pdf

    settings = Settings(limits=resources.demo() / "limits")
    records = [r for r in settings.read([str(resources.demo() / "returns")]) if isinstance(r, Record)][:4]
    cases = [settings.judge(r) for r in records]
    made: dict[str, set[str]] = {}
    process = psutil.Process()
    for number in range(1, pages + 1):
        case = cases[number % len(cases)]
        made.setdefault(case.record.claim, set()).add(sha256(case_pdf(case)).hexdigest())
        if number % max(1, pages // 20) == 0 or number == pages // 50:
            print(f"{number:6} pages  {process.memory_info().rss / MB:7.1f} MB", flush=True)
    print(f"different bytes for one record: {max(map(len, made.values())) - 1}")


if __name__ == "__main__":
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("what", choices=["batch", "parent", "pdf"])
    reader.add_argument("--records", type=int, default=1000)
    reader.add_argument("--workers", type=int, default=2)
    reader.add_argument("--pages", type=int, default=2000)
    chosen = reader.parse_args()
    if chosen.what == "pdf":
        pdf(chosen.pages)
    else:
        {"batch": batch, "parent": parent}[chosen.what](chosen.records, chosen.workers)
