"""A named pipe into which nobody writes would be waited for without end; what the shell hands over is read."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from stripdown.fleet import read_population
from stripdown.record import Columns, RecordError, holds_results, read_all
from stripdown.record.propose import propose
from tests.cli.calling import Call

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
SAID = "is a pipe or a device, no ordinary file"


@pytest.fixture(autouse=True)
def in_time() -> Iterator[None]:
    """One that waits is ended."""

    def end(*_: object) -> None:
        raise TimeoutError("waited for a pipe")

    before = signal.signal(signal.SIGALRM, end)
    signal.alarm(60)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.mark.parametrize(
    "arguments",
    [
        ("judge", "A.toml", "--costs", "pipe"),
        ("judge", "A.toml", "--knowledge", "pipe"),
        ("batch", "A.toml", "--columns", "pipe"),
        ("fleet", "A.toml", "--population", "pipe"),
        ("open", "explorer", "--population", "pipe"),
        ("check", "--knowledge", "pipe"),
    ],
)
def test_a_pipe_for_a_table_is_a_wrong_call(
    call: Call, record: Callable[[str], Path], tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    record("A")
    os.mkfifo(tmp_path / "pipe")
    answer = call(*arguments)
    assert (answer.code, answer.out, answer.err.count("\n")) == (2, "", 1)
    assert f"pipe {SAID}" in answer.err


def test_a_pipe_for_the_limits_is_no_folder(call: Call, record: Callable[[str], Path], tmp_path: Path) -> None:
    record("A")
    os.mkfifo(tmp_path / "pipe")
    answer = call("judge", "A.toml", "--limits", "pipe")
    assert (answer.code, answer.out) == (2, "")
    assert "pipe: is not a folder" in answer.err


@pytest.mark.parametrize("name", ["pipe.toml", "pipe.json", "pipe.jsonl", "pipe.xlsx", "returns.csv", "pipe"])
@pytest.mark.parametrize("command", [("judge",), ("check",), ("page",), ("lesson",), ("open", "intake")])
def test_a_pipe_for_a_record_is_a_fault(call: Call, tmp_path: Path, command: tuple[str, ...], name: str) -> None:
    os.mkfifo(tmp_path / name)
    answer = call(*command, name)
    assert answer.code == 1
    assert SAID in answer.out + answer.err


def test_a_pipe_holds_no_results_and_no_columns(tmp_path: Path) -> None:
    for name in ("pipe.jsonl", "pipe.xlsx"):
        os.mkfifo(tmp_path / name)
        assert not holds_results(tmp_path / name)
        assert not propose([tmp_path / name], Columns()).news


def test_pipes_of_a_folder_are_left_out(call: Call, record: Callable[[str], Path], tmp_path: Path) -> None:
    record("A")
    for name in ("B.toml", "b.xlsx", "returns.csv", "c.jsonl"):
        os.mkfifo(tmp_path / name)
    assert call("check", ".").out.splitlines()[-1] == "1 good, 0 rejected, 0 notices"
    assert len(read_all([tmp_path])) == 1


def test_a_pipe_in_the_place_of_the_ledger_is_told_with_the_reason(
    call: Call, record: Callable[[str], Path], tmp_path: Path
) -> None:
    record("A")
    (tmp_path / "out").mkdir()
    os.mkfifo(tmp_path / "out" / "ledger.jsonl")
    answer = call("batch", "A.toml", "--out", "out")
    assert (answer.code, answer.err.count("\n")) == (2, 1)
    assert "not seekable" in answer.err


@pytest.mark.skipif(not Path("/dev/fd").exists(), reason="the shell hands over no files here")
@pytest.mark.parametrize(
    "given", ["<(cat columns.toml)", "/dev/stdin < columns.toml", "/dev/stdin < <(cat columns.toml)"]
)
def test_what_the_shell_hands_over_is_read(record: Callable[[str], Path], tmp_path: Path, given: str) -> None:
    record("A")
    (tmp_path / "columns.toml").write_text('returns.serial = "S/N"\nreturns.nonsense = "X"\n')
    command = f'"{sys.executable}" -m stripdown.cli check A.toml --columns {given}'
    done = subprocess.run(["bash", "-c", command], cwd=tmp_path, capture_output=True, text=True, timeout=60)
    assert done.returncode == 2
    assert 'returns.nonsense: "nonsense" is no column' in done.stderr


def test_an_empty_device_is_an_empty_table(call: Call, record: Callable[[str], Path]) -> None:
    record("A")
    assert call("check", "A.toml", "--columns", os.devnull).code == 0
    assert call("check", "--knowledge", os.devnull).code == 0


def test_a_pipe_for_the_units_is_a_fault_in_a_notebook_too(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    with pytest.raises(RecordError, match=SAID):
        read_population(tmp_path / "pipe.csv")
