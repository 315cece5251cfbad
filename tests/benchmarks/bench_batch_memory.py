"""Memory of a batch over a thousand records, and of two thousand PDF pages made in one process.

    python tests/benchmarks/bench_batch_memory.py batch [--records 1000] [--workers 2]
    python tests/benchmarks/bench_batch_memory.py pdf [--pages 2000]

Prints the resident memory as it goes, the growth after the first fiftieth part, and for the PDF whether every page of
one record had the same bytes. Judges nothing; half an hour on two idle cores.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from hashlib import sha256
from pathlib import Path

import psutil

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
        returns.mkdir()
        for number in range(records):
            (returns / f"{number:05d}.toml").write_text(RECORD.format(number=number))
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
    from stripdown import resources
    from stripdown.batch.settings import Settings
    from stripdown.pages import case_pdf
    from stripdown.record import Record

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
    reader.add_argument("what", choices=["batch", "pdf"])
    reader.add_argument("--records", type=int, default=1000)
    reader.add_argument("--workers", type=int, default=2)
    reader.add_argument("--pages", type=int, default=2000)
    chosen = reader.parse_args()
    if chosen.what == "batch":
        batch(chosen.records, chosen.workers)
    else:
        pdf(chosen.pages)
