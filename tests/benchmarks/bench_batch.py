"""A batch beside other ways to the same pages, and how soon the first answer comes.

    python tests/benchmarks/bench_batch.py [--records 24] [--rounds 3] [--workers 2] [--ways batch plain …]

The ways take turns, so that each round meets the same machine; printed are medians over the rounds of wall time and of
processor time a record, and their ratios to `batch`, of which those of processor time hardly depend on what else the
machine does. Each way does the same records with equal workers, start-up included, and must come to the same results:

batch       stripdown batch
plain       the code cells of the teardown notebook run as they stand, no notebook, no kernel
papermill   papermill.execute_notebook in worker processes, its own kernels
commands    papermill's command line, as many calls at once as there are workers, over a quarter of the records
command     the same, one call after the other, as a loop in a shell does
"""

import argparse
import json
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "data" / "demo"
NOTEBOOK = ROOT / "notebooks" / "teardown.ipynb"
REACH = {
    "plain": (2.0, "at most"),
    "papermill": (3.5, "at least"),
    "commands": (10.0, "at least"),
    "command": (10.0, "at least"),
}
STARTS = {
    "stripdown --help": ("--help",),
    "judge --brief, one record": ("judge", "--brief", str(DEMO / "returns" / "tw-2025-016.toml")),
    "judge, one record": ("judge", str(DEMO / "returns" / "tw-2025-016.toml")),
}

Job = tuple[str, str, str]
"""File and claim of a record, and the folder for its pages."""


def gather(place: Path, count: int) -> list[Path]:
    """`count` records of the demo, one a file, taken again under other claims where there are not enough."""
    sources = sorted(p for p in (DEMO / "returns").glob("*.toml") if p.stem != "tw-2025-018")
    shutil.copytree(DEMO / "returns" / "photos", place / "photos")
    shutil.copytree(DEMO / "returns" / "logs", place / "logs")
    made = []
    for number in range(count):
        source = sources[number % len(sources)]
        claim = f"{source.stem.upper()}"
        text = source.read_text(encoding="utf-8").replace(f'"{claim}"', f'"B{number:03d}-{claim}"', 1)
        made.append(place / f"b{number:03d}-{source.name}")
        made[-1].write_text(text, encoding="utf-8")
    return made


def claim_of(record: Path) -> str:
    """The claim that `gather` gave."""
    return record.stem.upper()


def parameters(job: Job) -> dict[str, str]:
    """What the notebook is given."""
    record, claim, out = job
    return {"record": record, "claim": claim, "named": record, "limits": str(DEMO / "limits"), "out": out}


def plain(job: Job) -> None:
    """The code cells one after the other, in a fresh namespace."""
    Path(job[2]).mkdir(parents=True)
    space: dict[str, Any] = {}
    for cell in json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] == "code":
            exec(compile("".join(cell["source"]), cell["id"], "exec"), space)
            if "parameters" in cell["metadata"].get("tags", ()):
                space |= parameters(job)


def papermill(job: Job) -> None:
    """One notebook by papermill as it comes."""
    import papermill

    Path(job[2]).mkdir(parents=True)
    papermill.execute_notebook(NOTEBOOK, f"{job[2]}/teardown.ipynb", parameters(job), progress_bar=False)


def command(job: Job) -> None:
    """One call of papermill's command line; text stays text by `-r`."""
    Path(job[2]).mkdir(parents=True)
    given = [word for name, value in parameters(job).items() for word in ("-r", name, value)]
    call = [sys.executable, "-m", "papermill", str(NOTEBOOK), f"{job[2]}/teardown.ipynb", *given]
    subprocess.run(call, check=True, capture_output=True)


def batch(records: list[Path], out: Path, workers: int) -> None:
    """`stripdown batch` over the records."""
    call = [sys.executable, "-m", "stripdown.cli", "batch", *map(str, records), "--out", str(out)]
    call += ["--limits", str(DEMO / "limits"), "--workers", str(workers)]
    subprocess.run(call, check=True, capture_output=True)


def side_by_side(way: str, records: list[Path], out: Path, workers: int) -> None:
    """One of the other ways, started anew with its workers."""
    jobs = [(str(r), claim_of(r), str(out / claim_of(r))) for r in records]
    threads = way.startswith("command")
    workers = 1 if way == "command" else workers
    os.environ |= {f"{library}_NUM_THREADS": "1" for library in ("OPENBLAS", "OMP", "MKL")}
    pool = ThreadPoolExecutor(workers) if threads else ProcessPoolExecutor(workers, mp_context=get_context("spawn"))
    job: Callable[[Job], None] = command if threads else {"plain": plain, "papermill": papermill}[way]
    with pool:
        list(pool.map(job, jobs))


def timed(way: str, records: list[Path], out: Path, workers: int) -> tuple[float, float]:
    """Wall and processor seconds a record."""
    records = records[: len(records) // 4] if way.startswith("command") else records
    before, started = _processor(), time.monotonic()
    if way == "batch":
        batch(records, out, workers)
    else:
        side_by_side(way, records, out, workers)
    wall, processor = time.monotonic() - started, _processor() - before
    return wall / len(records), processor / len(records)


def _processor() -> float:
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(u.ru_utime + u.ru_stime for u in used)


def results(out: Path) -> dict[str, bytes]:
    """What a way came to, by claim and file."""
    names = ("result.json", "page.html", "page.pdf")
    return {str(f.relative_to(out)): f.read_bytes() for name in names for f in out.glob(f"*/{name}")}


def compare(ways: list[str], count: int, rounds: int, workers: int) -> None:
    """All ways in turn, `rounds` times."""
    spent: dict[str, list[tuple[float, float]]] = {way: [] for way in ways}
    with tempfile.TemporaryDirectory() as place:
        returns = Path(place) / "returns"
        returns.mkdir()
        records = gather(returns, count)
        for number in range(rounds):
            made: dict[str, dict[str, bytes]] = {}
            for way in ways:
                out = Path(place) / f"{way}-{number}"
                spent[way].append(timed(way, records, out, workers))
                made[way] = results(out)
                shutil.rmtree(out)
                told = "wall {:.2f} s, processor {:.2f} s a record".format(*spent[way][-1])
                print(f"round {number + 1}: {way} {told}, load {os.getloadavg()[0]:.1f}", flush=True)
            same = all(made[way].items() <= made[ways[0]].items() for way in ways)
            print(f"round {number + 1}: {len(made[ways[0]])} files, {'the same by every way' if same else 'DIFFERENT'}")
    middle = {way: [statistics.median(column) for column in zip(*each, strict=True)] for way, each in spent.items()}
    print(f"\n{count} records, {workers} workers, medians of {rounds}, load {os.getloadavg()[0]:.1f}")
    print("way         wall [s]  processor [s]  ratio to batch: wall  processor  reach")
    for way, (wall, processor) in middle.items():
        base = middle.get("batch", [wall, processor])
        ratios = (base[0] / wall, base[1] / processor) if way == "plain" else (wall / base[0], processor / base[1])
        value, word = REACH.get(way, (1.0, ""))
        print(f"{way:10}{wall:10.2f}{processor:15.2f}{ratios[0]:22.2f}{ratios[1]:11.2f}  {word} {value:g}")


def start_up(rounds: int) -> None:
    """How soon the program answers, new process each time."""
    print(f"\nstart-up, medians of {rounds}: wall and processor [ms], load {os.getloadavg()[0]:.1f}")
    for name, arguments in STARTS.items():
        spent = []
        for _ in range(rounds):
            before, started = _processor(), time.monotonic()
            subprocess.run([sys.executable, "-m", "stripdown.cli", *arguments], check=True, capture_output=True)
            spent.append((time.monotonic() - started, _processor() - before))
        wall, processor = (1000 * statistics.median(column) for column in zip(*spent, strict=True))
        print(f"{name:28}{wall:8.0f}{processor:8.0f}")


if __name__ == "__main__":
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("--records", type=int, default=24)
    reader.add_argument("--rounds", type=int, default=3)
    reader.add_argument("--workers", type=int, default=2)
    reader.add_argument("--ways", nargs="*", default=["batch", "plain", "papermill", "commands", "command"])
    chosen = reader.parse_args()
    start_up(9)
    if chosen.ways:
        compare(chosen.ways, chosen.records, chosen.rounds, chosen.workers)
