"""A batch over real records: files, ledger, index, resume; what hangs, fails or is killed costs itself only."""

import csv
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import psutil
import pytest

from stripdown.batch.error import InUseError
from stripdown.batch.ledger import Ledger
from stripdown.batch.run import Batch, Tally, run, run_one
from stripdown.batch.settings import KernelName, Settings
from stripdown.batch.work import FILES
from stripdown.record import Record, Rejected, read_all

RECORD = """
format = 1
claim = "{claim}"
[unit]
serial = "00123"
model = "K4-150"
[history]
site = "=cmd|' /C calc'!A0"
[[observations]]
part = "{part}"
condition = "worn"
extent = "heavy"
"""


def write(folder: Path, *claims: str, part: str = "main_bearing") -> Path:
    folder.mkdir(exist_ok=True)
    for claim in claims:
        (folder / f"{claim}.toml").write_text(RECORD.format(claim=claim, part=part))
    return folder


def batch(folder: Path, out: Path, *, kernel: KernelName = "fast", **rest: Any) -> Tally:
    tally = Tally()
    run(records_of(folder), Batch(out=out, settings=Settings(kernel=kernel), **rest), tally)
    return tally


def records_of(folder: Path) -> Sequence[Record | Rejected]:
    return read_all([folder])


def ledger(out: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (out / "ledger.jsonl").read_text(encoding="utf-8").splitlines()]


def done(out: Path) -> list[str]:
    return sorted(line["claim"] for line in ledger(out) if line["state"] == "done")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two good records and one with two faults."""
    folder = write(tmp_path_factory.mktemp("returns") / "re{turn}s", "00123", "12E4")
    bad = RECORD.format(claim="bad", part="main_bearings").replace("format = 1", 'format = 1\nrevision = "two"')
    (folder / "bad.toml").write_text(bad)
    return folder


@pytest.fixture(scope="module")
def out(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The output of a batch over that folder."""
    out = tmp_path_factory.mktemp("out") / "re{port}s"
    tally = batch(folder, out, workers=2)
    assert tally.states == {"done": 2, "rejected": 1}
    return out


def test_every_good_record_has_its_four_files_and_nothing_else_lies_about(out: Path) -> None:
    assert sorted(f.name for f in out.iterdir()) == ["00123", "12E4", "index.csv", "index.html", "ledger.jsonl"]
    for claim in ("00123", "12E4"):
        assert sorted(f.name for f in (out / claim).iterdir()) == sorted(FILES)


def test_the_ledger_tells_each_record_once_with_the_fields_of_the_contract(out: Path) -> None:
    lines = {line["claim"]: line for line in ledger(out)}
    assert len(ledger(out)) == 3
    for line in lines.values():
        assert {"claim", "file", "record", "knowledge", "version", "state", "seconds", "faults"} <= line.keys()
    assert {claim: line["state"] for claim, line in lines.items()} == {
        "00123": "done",
        "12E4": "done",
        "bad": "rejected",
    }
    assert {fault["entry"] for fault in lines["bad"]["faults"]} == {"revision", "observations[1].part"}


def test_the_result_is_the_object_of_judge(out: Path, folder: Path) -> None:
    command = [sys.executable, "-m", "stripdown.cli", "judge", "--json", str(folder / "00123.toml")]
    printed = subprocess.run(command, capture_output=True, check=True).stdout
    assert (out / "00123" / "result.json").read_bytes() == printed


def test_the_index_holds_every_record_and_no_formula(out: Path) -> None:
    with (out / "index.csv").open(encoding="utf-8", newline="") as text:
        rows = {row["claim"]: row for row in csv.DictReader(text)}
    assert rows.keys() == {"00123", "12E4", "bad"}
    assert rows["bad"]["status"] == "rejected"
    assert rows["00123"]["serial"] == "00123"
    assert rows["00123"]["site"].startswith("'=cmd")
    assert [rows[claim]["signed_by"] for claim in ("00123", "bad")] == ["", ""]
    page = (out / "index.html").read_text(encoding="utf-8")
    assert all(claim in page for claim in rows)


@pytest.mark.slow
class TestAgain:
    """Runs that follow a run."""

    @pytest.fixture
    def again(self, out: Path, tmp_path: Path) -> Path:
        return Path(shutil.copytree(out, tmp_path / "out"))

    def test_resume_leaves_out_what_is_done_and_unchanged(self, folder: Path, again: Path) -> None:
        before = (again / "ledger.jsonl").read_bytes()
        tally = batch(folder, again, resume=True)
        assert (tally.states, tally.skipped) == ({}, 3)
        assert (again / "ledger.jsonl").read_bytes() == before

    def test_a_changed_record_is_run_again(self, folder: Path, again: Path, tmp_path: Path) -> None:
        changed = Path(shutil.copytree(folder, tmp_path / "copy"))
        tally = batch(changed, again, resume=True)
        assert tally.states == {"done": 2, "rejected": 1}  # called by another name: another file
        write(changed, "12E4", part="pump_end_bearing")
        assert batch(changed, again, resume=True).states == {"done": 1}
        assert done(again) == ["00123", "00123", "12E4", "12E4", "12E4"]

    def test_changed_knowledge_runs_all_again_and_unchanged_nothing(
        self, folder: Path, again: Path, tmp_path: Path
    ) -> None:
        own = tmp_path / "own.toml"
        own.write_text("")
        settings = Settings(kernel="fast", knowledge=own)
        for content, states in (
            ("", {"done": 2, "rejected": 1}),  # a file is chosen where none was
            ("", {}),
            ("# said again\n", {"done": 2, "rejected": 1}),  # any change of the file counts
        ):
            own.write_text(content)
            tally = Tally()
            run(records_of(folder), Batch(out=again, settings=settings, resume=True), tally)
            assert tally.states == states

    def test_other_settings_run_again_and_other_files_of_a_claim_stay(self, folder: Path, again: Path) -> None:
        (again / "00123" / "lesson.html").write_text("kept")
        tally = Tally()
        settings = Settings(kernel="fast", purpose="site")
        run(records_of(folder), Batch(out=again, settings=settings, resume=True), tally)
        assert tally.states["done"] == 2
        assert (again / "00123" / "lesson.html").read_text() == "kept"

    def test_a_missing_file_is_made_again(self, folder: Path, again: Path) -> None:
        (again / "12E4" / "page.pdf").unlink()
        assert batch(folder, again, resume=True).states == {"done": 1}
        assert (again / "12E4" / "page.pdf").is_file()

    @pytest.mark.parametrize("other", [{"purpose": "site"}, {"paper": "letter"}, {"system": "us"}])
    def test_a_page_that_another_call_put_in_its_place_is_made_again(
        self, folder: Path, out: Path, again: Path, other: dict[str, str]
    ) -> None:
        (record,) = [r for r in records_of(folder) if isinstance(r, Record) and r.claim == "00123"]
        assert run_one(record, Batch(out=again, settings=Settings(**other))).state == "done"  # type: ignore[arg-type]
        tally = batch(folder, again, resume=True)
        assert (tally.states, tally.skipped) == ({"done": 1}, 2)
        for name in FILES:
            assert (again / "00123" / name).read_bytes() == (out / "00123" / name).read_bytes(), name
        assert batch(folder, again, resume=True).skipped == 3

    def test_a_page_made_again_in_the_same_way_changes_nothing(self, folder: Path, again: Path) -> None:
        (record,) = [r for r in records_of(folder) if isinstance(r, Record) and r.claim == "00123"]
        run_one(record, Batch(out=again, settings=Settings(kernel="stock")))
        assert batch(folder, again, resume=True).skipped == 3

    def test_a_page_is_refused_where_a_batch_is_at_work(self, folder: Path, again: Path) -> None:
        (record,) = [r for r in records_of(folder) if isinstance(r, Record) and r.claim == "00123"]
        with Ledger(again, resume=True), pytest.raises(InUseError):
            run_one(record, Batch(out=again, settings=Settings()))

    @pytest.mark.parametrize("kernel", ["fast", "stock"])
    def test_the_same_bytes_elsewhere_in_another_locale_with_one_worker(
        self, folder: Path, out: Path, tmp_path: Path, kernel: str
    ) -> None:
        elsewhere = tmp_path / "elsewhere"
        elsewhere.mkdir()
        command = [sys.executable, "-m", "stripdown.cli", "batch", str(folder), "--out", "other", "--workers", "1"]
        env = os.environ | {"LC_ALL": "tr_TR.UTF-8", "TZ": "Pacific/Kiritimati", "PYTHONHASHSEED": "7"}
        subprocess.run([*command, "--kernel", kernel], cwd=elsewhere, env=env, check=False, capture_output=True)
        for claim in ("00123", "12E4"):
            for name in ("result.json", "page.html", "page.pdf"):
                assert (elsewhere / "other" / claim / name).read_bytes() == (out / claim / name).read_bytes(), name


@pytest.mark.slow
def test_a_record_that_takes_too_long_is_ended_and_named(tmp_path: Path) -> None:
    tally = batch(write(tmp_path / "in", "A"), tmp_path / "out", timeout=0.05)
    assert tally.states == {"timed_out": 1}
    assert "--timeout" in tally.faults[0].fix
    assert [line["state"] for line in ledger(tmp_path / "out")] == ["timed_out"]
    assert not (tmp_path / "out" / "A").exists()


@pytest.mark.slow
def test_a_notebook_that_fails_is_kept_and_the_next_run_clears_it(tmp_path: Path) -> None:
    folder = write(tmp_path / "in", "A", "B")
    records = records_of(folder)
    (folder / "A.toml").write_text("format = 1")  # changed between reading and running
    tally = Tally()
    run(records, Batch(out=tmp_path / "out", settings=Settings(kernel="fast")), tally)
    assert tally.states == {"failed": 1, "done": 1}
    assert (tmp_path / "out" / "_failed" / "A.ipynb").is_file()
    write(folder, "A")
    assert batch(folder, tmp_path / "out", resume=True).states == {"done": 1}
    assert not (tmp_path / "out" / "_failed" / "A.ipynb").exists()


@pytest.mark.slow
def test_a_full_disk_is_named_for_each_record_and_resume_goes_on(tmp_path: Path) -> None:
    """No file may grow past 100 kB, as on a disk with so much left; a page has more, a ledger line less."""
    folder, out = write(tmp_path / "in", "A", "B"), tmp_path / "out"
    limit = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000)); "
    code = f"{limit}from stripdown.cli import run; raise SystemExit(run(['batch', 'in', '--out', 'out']))"
    full = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True)
    assert full.returncode == 1
    assert "File too large" in full.stderr
    assert "--resume" in full.stderr
    assert "Traceback" not in full.stderr
    assert [line["state"] for line in ledger(out)] == ["failed", "failed"]
    assert not list(out.glob("[AB]"))
    assert _leftovers(out) == []
    assert batch(folder, out, resume=True).states == {"done": 2}
    assert done(out) == ["A", "B"]


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only the superuser may mount a small disk")
def test_a_disk_that_fills_up_in_the_middle_costs_what_no_longer_fits(tmp_path: Path) -> None:
    """Room for about three records of eight, then for all: every file there is whole, every record is done once."""
    claims = [f"C{n}" for n in range(8)]
    folder, disk = write(tmp_path / "in", *claims), tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=900k", "tmpfs", str(disk)]).returncode != 0:
        pytest.skip("no disk may be mounted here")
    try:
        command = [sys.executable, "-m", "stripdown.cli", "batch", str(folder), "--out", str(disk / "out")]
        full = subprocess.run(command, capture_output=True, text=True)
        assert full.returncode == 1
        assert "No space left" in full.stderr
        assert "--resume" in full.stderr
        made = sorted(f.name for f in (disk / "out").glob("C*"))
        assert 0 < len(made) < 8
        for name in made:
            _is_whole(disk / "out" / name)
        assert _leftovers(disk / "out") == []
        if (page := disk / "out" / "index.html").exists():
            assert page.read_text().rstrip().endswith("</html>")
        subprocess.run(["mount", "-o", "remount,size=9m", str(disk)], check=True)
        again = subprocess.run([*command, "--resume"], capture_output=True, text=True)
        assert again.returncode == 0, again.stderr
        assert done(disk / "out") == claims
    finally:
        subprocess.run(["umount", "--lazy", str(disk)], check=True)


def test_an_index_that_cannot_be_written_is_told_and_the_records_count(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "A.toml").write_text("format = 1")
    (tmp_path / "out" / "index.html" / "kept").mkdir(parents=True)  # a folder in its place
    tally = batch(tmp_path / "in", tmp_path / "out")
    assert (tally.states, tally.index) == ({"rejected": 1}, None)
    assert tally.faults[-1].file.endswith("index.html")
    assert "--resume" in tally.faults[-1].fix
    assert _leftovers(tmp_path / "out") == []


def test_a_ledger_that_cannot_be_written_stops_the_run_and_every_fault_so_far_is_told(tmp_path: Path) -> None:
    """No file may grow past 900 bytes, which is one line of the two."""
    (tmp_path / "in").mkdir()
    for name in "AB":
        (tmp_path / "in" / f"{name}.toml").write_text("format = 1")
    limit = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (900, 900)); "
    code = f"{limit}from stripdown.cli import run; raise SystemExit(run(['batch', 'in', '--out', 'out']))"
    full = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True)
    assert full.returncode == 1, full.stderr
    assert "ledger.jsonl cannot be written: File too large" in full.stderr
    assert "in/A.toml: claim: is missing" in full.stderr
    assert "--resume" in full.stderr
    assert "Traceback" not in full.stderr
    tally = batch(tmp_path / "in", tmp_path / "out", resume=True)
    assert sum(tally.states.values()) + tally.skipped == 2


def test_a_second_run_into_the_same_folder_leaves_the_first_alone(tmp_path: Path) -> None:
    out = tmp_path / "out"
    (out / ".stripdown-new-abc" / "A").mkdir(parents=True)  # what the first one is at
    with Ledger(out, resume=False), pytest.raises(InUseError):
        batch(write(tmp_path / "in", "A", "B"), out)
    assert (out / ".stripdown-new-abc" / "A").is_dir()


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write everywhere")
def test_a_folder_that_may_not_be_written_costs_its_claim(tmp_path: Path) -> None:
    folder, out = write(tmp_path / "in", "A", "B"), tmp_path / "out"
    batch(folder, out)
    (out / "A").chmod(0o500)
    try:
        tally = batch(folder, out)
        assert tally.states == {"done": 1, "failed": 1}
        assert tally.faults[0].what == "cannot be written: the folder A may not be written"
        assert _leftovers(out) == []
    finally:
        (out / "A").chmod(0o700)
    assert {f.name for f in (out / "A").iterdir()} == set(FILES)
    assert batch(folder, out, resume=True).states == {"done": 1}


@pytest.mark.slow
def test_a_file_in_the_place_of_one_claim_costs_that_claim(tmp_path: Path) -> None:
    folder, out = write(tmp_path / "in", "A", "B"), tmp_path / "out"
    out.mkdir()
    (out / "A").write_text("mine")
    tally = batch(folder, out)
    assert tally.states == {"done": 1, "failed": 1}
    assert "A is a file" in tally.faults[0].what
    assert (out / "A").read_text() == "mine"


@pytest.mark.slow
def test_a_worker_that_dies_costs_its_own_record(tmp_path: Path) -> None:
    folder, out = write(tmp_path / "in", "A", "B", "C"), tmp_path / "out"
    process = _start(folder, out, "--workers", "1")
    _wait_for_lines(out, 1)
    worker = next(p for p in psutil.Process(process.pid).children() if "spawn_main" in " ".join(p.cmdline()))
    worker.kill()
    _, told = process.communicate(timeout=120)
    assert process.returncode == 1
    assert "ended without an answer" in told
    assert sorted(line["state"] for line in ledger(out)) == ["done", "done", "failed"]
    assert batch(folder, out, resume=True).states == {"done": 1}
    assert done(out) == ["A", "B", "C"]


@pytest.mark.slow
def test_records_on_standard_input_are_kept_beside_their_pages(tmp_path: Path) -> None:
    lines = "".join(
        json.dumps({"format": 1, "claim": claim, "unit": {"serial": "1", "model": "K4-150"}}) + "\n"
        for claim in ("A", "B")
    )
    command = [sys.executable, "-m", "stripdown.cli", "batch", "-", "--out", "out"]
    subprocess.run(command, input=lines, text=True, cwd=tmp_path, check=True, capture_output=True)
    assert done(tmp_path / "out") == ["A", "B"]
    assert (tmp_path / "out" / "standard-input.jsonl").read_text() == lines


@pytest.mark.slow
def test_an_interrupt_stops_cleanly_and_says_how_to_go_on(tmp_path: Path) -> None:
    folder = write(tmp_path / "in", *(f"C{n}" for n in range(8)))
    process = _start(folder, tmp_path / "out")
    _wait_for_lines(tmp_path / "out", 1)
    process.send_signal(signal.SIGINT)
    _, told = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "Traceback" not in told
    assert "--resume" in told
    assert _leftovers(tmp_path / "out") == []
    assert batch(folder, tmp_path / "out", resume=True).skipped >= 1
    assert done(tmp_path / "out") == [f"C{n}" for n in range(8)]


@pytest.mark.slow
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_no_worker_kernel_or_their_parent_is_left_whatever_ends_the_run(tmp_path: Path, how: signal.Signals) -> None:
    process = _start(write(tmp_path / "in", *(f"C{n}" for n in range(8))), tmp_path / "out", "--workers", "2")
    _wait_for_lines(tmp_path / "out", 1)
    below = psutil.Process(process.pid).children(recursive=True)
    assert len(below) >= 4  # two workers, each with the parent of its kernels
    process.send_signal(how)
    process.communicate(timeout=60)
    _, left = psutil.wait_procs(below, timeout=30)
    assert left == []


@pytest.mark.slow
def test_killed_at_any_moment_each_record_is_done_once_and_no_file_is_torn(tmp_path: Path) -> None:
    """Six kills; by hand more, further apart: STRIPDOWN_KILLS=100 STRIPDOWN_LONGEST=30 pytest -k any_moment."""
    claims = [f"C{n}" for n in range(6)]
    folder, out = write(tmp_path / "in", *claims), tmp_path / "out"
    kills, longest = int(os.environ.get("STRIPDOWN_KILLS", "6")), float(os.environ.get("STRIPDOWN_LONGEST", "9"))
    moments = random.Random(20261125)
    for _ in range(kills):
        process = _start(folder, out, "--resume")
        time.sleep(moments.uniform(0.5, longest))
        process.kill()
        process.communicate()
        for made in out.glob("C*"):
            _is_whole(made)
    _no_lock_left(out)
    batch(folder, out, resume=True)
    for claim in claims:
        _is_whole(out / claim)
    assert done(out) == claims
    assert _leftovers(out) == []


def _is_whole(made: Path) -> None:
    assert {f.name for f in made.iterdir()} == set(FILES)
    for name in ("result.json", "teardown.ipynb"):
        json.loads((made / name).read_text(encoding="utf-8"))
    assert (made / "page.html").read_text(encoding="utf-8").rstrip().endswith("</html>")
    assert (made / "page.pdf").read_bytes().rstrip().endswith(b"%%EOF")


def _start(folder: Path, out: Path, *more: str) -> "subprocess.Popen[str]":
    command = [sys.executable, "-m", "stripdown.cli", "batch", str(folder), "--out", str(out), *more]
    return subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True)


def _wait_for_lines(out: Path, count: int) -> None:
    end = time.monotonic() + 120
    while not (out / "ledger.jsonl").exists() or len(ledger(out)) < count:
        assert time.monotonic() < end, "no record was done"
        time.sleep(0.1)


def _no_lock_left(out: Path) -> None:
    """The workers of a killed run end by themselves; wait for that, so that they do not write beside the next run."""
    end = time.monotonic() + 60
    while subprocess.run(["pgrep", "-f", str(out)], capture_output=True).returncode == 0:
        assert time.monotonic() < end, "a process of the killed run is still there"
        time.sleep(0.1)


def _leftovers(out: Path) -> list[str]:
    return [f.name for f in out.iterdir() if f.name.startswith(".")]
