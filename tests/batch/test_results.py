"""Files of result lines: a line that is none is counted and never stops the rest."""

import json
from pathlib import Path
from typing import Any

import pytest

from stripdown.batch.results import gather, json_line
from stripdown.batch.settings import Settings
from stripdown.fleet import report, table
from tests.fleet.made import line

GOOD = line("A")


def spoilt(**change: Any) -> str:
    return json.dumps(line("B") | change)


@pytest.mark.parametrize(
    "bad",
    [
        '{"claim": "B", "status"',
        "[1, 2]",
        "[" * 100_000,
        spoilt(status="great"),
        spoilt(first=[{"id": "nonsense", "probability": 1.0}]),
        spoilt(first=5),
        spoilt(unit=[]),
        spoilt(outcome={"id": "rebuild", "expected_cost": float("-inf"), "currency": "EUR"}),
    ],
)
@pytest.mark.parametrize("leads", [True, False])
def test_a_spoilt_line_is_counted_and_the_rest_done(bad: str, leads: bool, tmp_path: Path) -> None:
    lines = [bad, json.dumps(GOOD)] if leads else [json.dumps(GOOD), bad]
    path = tmp_path / "results.jsonl"
    path.write_text("\n".join(lines), encoding="utf-8")
    found = list(gather([str(path)], Settings()))
    assert sorted(table(found)["status"].astype("str")) == ["established", "unreadable"]
    answer = report(found).as_json()
    assert (answer["returns"], answer["rejected"]) == (1, 1)
    assert any("no result of judge" in notice["what"] for notice in answer["notices"])


def test_the_folder_of_a_batch_gives_the_results_that_it_left(tmp_path: Path) -> None:
    """By claim; a folder of a record without a result was never done."""
    (tmp_path / "ledger.jsonl").write_text("", encoding="utf-8")
    for claim in ("B", "A", "C"):
        (tmp_path / claim).mkdir()
        if claim != "C":
            (tmp_path / claim / "result.json").write_text(json.dumps(line(claim)) + "\n", encoding="utf-8")
    (tmp_path / "B" / "page.html").write_text("<p>no result</p>", encoding="utf-8")
    assert list(gather([str(tmp_path)], Settings())) == [line("A"), line("B")]


def test_a_record_is_no_result(tmp_path: Path) -> None:
    path = tmp_path / "record.json"
    path.write_text(
        json.dumps({"format": 1, "claim": "R", "unit": {"serial": "1", "model": "K4-150"}}, indent=1), encoding="utf-8"
    )
    assert [r["status"] for r in gather([str(path)], Settings())] == ["open"]


def test_money_is_written_to_the_cent_and_nothing_else_is() -> None:
    told = {
        "outcome": {"expected_cost": 2140.1299999999997, "alternatives": [{"expected_cost": 99.995000001}]},
        "next_checks": [{"saving": 12.299999999999, "gain_bits": 0.123456789}],
        "first": [{"probability": 0.0012345678}],
    }
    assert json.loads(json_line(told)) == {
        "outcome": {"expected_cost": 2140.13, "alternatives": [{"expected_cost": 100.0}]},
        "next_checks": [{"saving": 12.3, "gain_bits": 0.123456789}],
        "first": [{"probability": 0.0012345678}],
    }
