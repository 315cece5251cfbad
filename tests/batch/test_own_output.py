"""Records and the program's own output in one folder: the output is no record, unless a person names it."""

import json
from pathlib import Path

import pytest

from stripdown.batch import index
from stripdown.batch.ledger import Ledger
from stripdown.batch.results import json_line
from stripdown.batch.workbook import write_fleet
from stripdown.fleet import opened, report
from stripdown.record import Columns, Fault, Rejected, read_all
from stripdown.record.propose import propose
from stripdown.widgets.explorer import Explorer
from stripdown.widgets.explorer_keep import KeptFile
from tests.fleet.made import line
from tests.small_record import small_record

OWN = 7
"""index.csv, ledger, result.json, the fleet's returns.csv, fleet.json and results.jsonl, looks of the explorer."""


@pytest.fixture
def used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with one record, after a batch and a fleet report with the default --out; written by what writes it."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "A.toml").write_text(small_record("A"))
    out = tmp_path / "reports"
    (out / "A").mkdir(parents=True)
    (out / "fleet").mkdir()
    found = read_all(["A.toml"])
    told = {"claim": "A", "file": "A.toml", "record": "sha256:0", "knowledge": "sha256:0", "version": "1"}
    with Ledger(out, resume=False) as ledger:
        ledger.append(told | {"state": "done", "faults": []})
    lines = [line("A", serial="1", age=100)]
    (out / "A" / "result.json").write_text(json_line(lines[0]) + "\n")
    (out / "fleet" / "results.jsonl").write_text(json_line(lines[0]) + "\n")
    refused = Rejected(claim="A", file="A.toml", faults=())
    index.write([(refused, told | {"state": "rejected", "faults": []}) for _ in found], out, own_costs=False)
    write_fleet(report(lines), out / "fleet")
    keep = KeptFile(out / "explorer", "results.jsonl")
    assert keep.save(Explorer(opened(lines))) is None
    return tmp_path


def test_output_in_the_same_folder_is_passed_over_in_one_line(used: Path) -> None:
    passed: list[Fault] = []
    assert [r.claim for r in read_all(["."], passed_over=passed) if not isinstance(r, Rejected)] == ["A"]
    assert len(passed) == 1
    assert f"and {OWN - 3} more" in passed[0].what


def test_records_beside_a_ledger_are_read_all_the_same(used: Path) -> None:
    """`--out .`, and the intake, which begins records below --out."""
    (used / "reports" / "records").mkdir()
    for place in ("B.toml", "records/C.toml"):
        (used / "reports" / place).write_text(small_record(Path(place).stem))
    assert [r.claim for r in read_all(["reports"])] == ["B", "C"]


def test_records_that_came_on_standard_input_count_once(used: Path) -> None:
    data = json.dumps({"format": 1, "claim": "A", "unit": {"serial": "1", "model": "K4-150"}})
    (used / "reports" / "standard-input.json").write_text(data)
    assert [type(r) is Rejected for r in read_all(["."])] == [False]
    (used / "standard-input.json").write_text(data.replace('"A"', '"B"'))  # no ledger beside it: a person's file
    assert [r.claim for r in read_all(["."])] == ["A", "B"]


def test_a_person_s_file_with_the_name_of_ours_is_read(tmp_path: Path) -> None:
    raw = {"format": 1, "claim": "A", "unit": {"serial": "1", "model": "K4-150"}}
    (tmp_path / "ledger.jsonl").write_text(json.dumps(raw) + "\n")
    (tmp_path / "fleet.json").write_text(json.dumps(raw | {"claim": "B"}))
    assert [r.claim for r in read_all([tmp_path])] == ["B", "A"]


@pytest.mark.parametrize("place", ["reports/fleet/returns.csv", "reports/A/result.json"])
def test_a_file_that_is_named_is_read(used: Path, place: str) -> None:
    found = read_all([".", place])
    assert [r.file for r in found if isinstance(r, Rejected)][-1] == place


def test_no_columns_are_proposed_for_own_tables(used: Path) -> None:
    assert not propose(["."], Columns()).news
    own = "Claim No,Serial No,Model\nA,1,K4-150\n"
    (used / "reports" / "ours.csv").write_text(own)
    assert propose(["."], Columns()).files == ["ours.csv"]


@pytest.mark.parametrize("header", ["claim,serial,model,file,status", "claim,file,status,outcome,serial"])
def test_a_person_s_table_is_not_taken_for_ours(tmp_path: Path, header: str) -> None:
    (tmp_path / "returns.csv").write_text(f"{header}\n" + ",".join("1" for _ in header.split(",")) + "\n")
    passed: list[Fault] = []
    assert len(read_all([tmp_path], passed_over=passed)) == 1
    assert passed == []
