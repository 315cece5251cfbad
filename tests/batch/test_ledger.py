"""The ledger survives a kill at any byte and keeps two runs apart."""

from pathlib import Path

import pytest

from stripdown.batch.error import InUseError
from stripdown.batch.ledger import Ledger


def _line(claim: str) -> dict[str, object]:
    told = dict.fromkeys(("file", "record", "knowledge", "version", "state"), "x")
    return {"claim": claim, **told}


def test_lines_come_back_as_written(tmp_path: Path) -> None:
    with Ledger(tmp_path, resume=False) as ledger:
        ledger.append(_line("00123"))
        ledger.append(_line("Ä"))
    assert (tmp_path / "ledger.jsonl").read_text(encoding="utf-8").count("\n") == 2
    with Ledger(tmp_path, resume=True) as ledger:
        assert [line["claim"] for line in ledger.lines()] == ["00123", "Ä"]


@pytest.mark.parametrize("torn", range(1, 40, 3))
def test_a_torn_last_line_is_dropped(tmp_path: Path, torn: int) -> None:
    with Ledger(tmp_path, resume=False) as ledger:
        ledger.append(_line("A"))
    whole = (tmp_path / "ledger.jsonl").read_bytes()
    (tmp_path / "ledger.jsonl").write_bytes(whole + b'{"claim": "B", "state": "done", "seconds": 1.25, "f'[:torn])
    with Ledger(tmp_path, resume=True) as ledger:
        ledger.append(_line("C"))
        assert [line["claim"] for line in ledger.lines()] == ["A", "C"]


@pytest.mark.parametrize(
    "spoilt", [b"\x00" * 40, b"{", b"[]", b"5", b'{"claim": "B"}', b'{"file": 3}', b"\xff\xfe", b"[" * 100_000, b""]
)
def test_a_spoilt_line_is_as_if_never_written(tmp_path: Path, spoilt: bytes) -> None:
    with Ledger(tmp_path, resume=False) as ledger:
        ledger.append(_line("A"))
    with (tmp_path / "ledger.jsonl").open("ab") as file:
        file.write(spoilt + b"\n")
    with Ledger(tmp_path, resume=True) as ledger:
        ledger.append(_line("C"))
        assert [line["claim"] for line in ledger.lines()] == ["A", "C"]


def test_a_run_without_resume_starts_anew(tmp_path: Path) -> None:
    with Ledger(tmp_path, resume=False) as ledger:
        ledger.append(_line("A"))
    with Ledger(tmp_path, resume=False) as ledger:
        assert ledger.lines() == []


def test_two_runs_do_not_write_into_one_folder(tmp_path: Path) -> None:
    with Ledger(tmp_path, resume=False) as ledger:
        ledger.append(_line("A"))
        with pytest.raises(InUseError, match="another run"):
            Ledger(tmp_path, resume=False)
        assert len(ledger.lines()) == 1
