"""The ledger survives a kill at any byte and keeps two runs apart."""

from pathlib import Path

import pytest

from stripdown.batch.error import InUseError
from stripdown.batch.ledger import Ledger


def test_lines_come_back_as_written(tmp_path: Path) -> None:
    with Ledger(tmp_path, resume=False) as ledger:
        ledger.append({"claim": "00123", "state": "done"})
        ledger.append({"claim": "Ä", "state": "failed"})
    assert (tmp_path / "ledger.jsonl").read_text(encoding="utf-8").count("\n") == 2
    with Ledger(tmp_path, resume=True) as ledger:
        assert [line["claim"] for line in ledger.lines()] == ["00123", "Ä"]


@pytest.mark.parametrize("torn", range(1, 40, 3))
def test_a_torn_last_line_is_dropped(tmp_path: Path, torn: int) -> None:
    with Ledger(tmp_path, resume=False) as ledger:
        ledger.append({"claim": "A"})
    whole = (tmp_path / "ledger.jsonl").read_bytes()
    (tmp_path / "ledger.jsonl").write_bytes(whole + b'{"claim": "B", "state": "done", "seconds": 1.25, "f'[:torn])
    with Ledger(tmp_path, resume=True) as ledger:
        ledger.append({"claim": "C"})
        assert [line["claim"] for line in ledger.lines()] == ["A", "C"]


def test_a_run_without_resume_starts_anew(tmp_path: Path) -> None:
    with Ledger(tmp_path, resume=False) as ledger:
        ledger.append({"claim": "A"})
    with Ledger(tmp_path, resume=False) as ledger:
        assert ledger.lines() == []


def test_two_runs_do_not_write_into_one_folder(tmp_path: Path) -> None:
    with Ledger(tmp_path, resume=False) as ledger:
        ledger.append({"claim": "A"})
        with pytest.raises(InUseError, match="another run"):
            Ledger(tmp_path, resume=False)
        assert len(ledger.lines()) == 1
