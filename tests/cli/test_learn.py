"""`learn` writes an own knowledge file and says what moved, how much on how many records."""

from collections.abc import Callable
from pathlib import Path

import pytest

from stripdown import knowledge
from tests.cli.calling import ROOT, Call

CONFIRMED = '\n[[confirmed]]\nby = "analyst 1"\nfirst = "floodback"\n'


@pytest.fixture
def confirmed(record: Callable[[str], Path]) -> Callable[[str], Path]:
    def written(claim: str) -> Path:
        path = record(claim)
        path.write_text(path.read_text() + CONFIRMED)
        return path

    return written


def test_the_file_is_used_by_judge_and_checked_without_fault(call: Call, confirmed: Callable[[str], Path]) -> None:
    for claim in "ABCDEFGHIJKLMNOP":
        confirmed(claim)
    answer = call("learn", ".", "--out", "own.toml")
    assert answer.code == 0
    assert "fault" not in answer.err
    assert "notice" not in answer.err
    assert answer.out.startswith("16 confirmed records, 16 of them learned from; 0 without a confirmed finding, ")
    assert "main_bearing.worn <- " in answer.out
    assert "records in which its link could act" in answer.out
    assert "floodback: 0.11 -> 0.3" in answer.out
    assert call("check", "--knowledge", "own.toml").code == 0
    assert call("judge", "A.toml", "--knowledge", "own.toml").code == 0
    assert knowledge.load(Path("own.toml")).digest != knowledge.load().digest


def test_records_without_confirmation_are_counted(call: Call, record: Callable[[str], Path], tmp_path: Path) -> None:
    record("A")
    answer = call("learn", "A.toml", "--out", "own.toml")
    assert answer.code == 0
    assert "0 confirmed records, 0 of them learned from; 1 without" in answer.out
    assert knowledge.load(tmp_path / "own.toml").digest == knowledge.load().digest


def test_every_fault_is_told_and_the_rest_is_learned_from(call: Call, confirmed: Callable[[str], Path]) -> None:
    confirmed("A")
    answer = call("learn", "A.toml", ROOT / "data/demo/returns/tw-2025-018.toml", "--out", "own.toml")
    assert answer.code == 1
    assert "1 confirmed records, 1 of them learned from; 0 without a confirmed finding, 1 rejected" in answer.out
    for entry in ("history.failed", "readings[1].unit", "observations[1].part", "observations[3].extent"):
        assert entry in answer.err, entry
    assert Path("own.toml").is_file()


def test_a_wrong_call_is_one_line_and_writes_nothing(call: Call, record: Callable[[str], Path], tmp_path: Path) -> None:
    record("A")
    (tmp_path / "bad.toml").write_text('[[state]]\nid = "nothing"\n')
    for more in ((), ("--out", "."), ("--out", "own.toml", "--knowledge", "bad.toml"), ("--out", "no/own.toml")):
        answer = call("learn", "A.toml", *more)
        assert answer.code == 2, more
        assert "Traceback" not in answer.err
    assert not (tmp_path / "own.toml").exists()
    assert not list(tmp_path.glob("*.part"))


def test_the_same_records_give_the_same_bytes(call: Call, confirmed: Callable[[str], Path]) -> None:
    confirmed("A")
    outputs = {call("learn", "A.toml", "--out", name).out for name in ("one.toml", "two.toml")}
    assert len(outputs) == 1
    assert Path("one.toml").read_bytes() == Path("two.toml").read_bytes()
