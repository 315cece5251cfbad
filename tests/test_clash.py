"""From readings that cannot all be true to the answer: status, conflict, outcome, page, and what the commands say.

The law is the triangle inequality of resistances: U-V open, V-W and W-U closed, which no winding shows.
"""

import json
from pathlib import Path
from typing import Any

import pytest

from stripdown.case import Case, judge, judge_many
from stripdown.cli import run
from stripdown.pages import case_html
from stripdown.record import Record, parse
from tests.limits.made import insulation, reading, winding

CLEAR = insulation(700, temperature=20)
WHY = "No pair of a winding reads more than the other two pairs together: U-V is open although V-W and W-U are closed"


def raw(*ohms: object, **more: Any) -> dict[str, Any]:
    pairs = [winding(p, o, temperature=20) for p, o in zip(("U-V", "V-W", "W-U"), ohms, strict=True)]
    return {
        "format": 1,
        "claim": "T-1",
        "unit": {"serial": "1", "model": "K4-150", "motor": "star"},
        "readings": [*pairs, CLEAR],
    } | more


def made(got: dict[str, Any]) -> Record:
    record = parse(got, file="t.json", folder=".")
    assert isinstance(record, Record), record
    return record


@pytest.fixture(scope="module")
def clash() -> Case:
    return judge(made(raw("open", 0.82, 0.83)))


def test_nothing_is_concluded_from_them(clash: Case) -> None:
    assert clash.finding.status == "conflicting"
    assert clash.finding.outcome.id == "inspect_further"
    conflict = clash.as_json()["conflict"]
    assert conflict["tail"] == 0.003
    assert conflict["figure"] == pytest.approx(5.809, abs=1e-3)  # -ln 0.003
    assert conflict["findings"] == [
        "winding_resistance U-V at terminals open",
        "winding_resistance V-W at terminals 0.82 ohm",
        "winding_resistance W-U at terminals 0.83 ohm",
    ]
    assert conflict["why"] == WHY


def test_two_open_pairs_are_a_parted_phase_and_no_conflict() -> None:
    case = judge(made(raw("open", 0.82, "open")))
    assert case.finding.conflict is None
    assert case.finding.outcome.id != "inspect_further" or case.finding.status == "open"


def test_what_is_only_told_leaves_the_answer(clash: Case) -> None:
    told = raw(0.82, 0.82, 0.83, readings=[CLEAR, reading("net_oil_pressure", -40, "psi", site=True)])
    case = judge(made(told))
    assert case.finding.status != "conflicting"
    assert [n.entry for n in case.notices] == ["readings[2]"]
    assert [n.entry for n in clash.notices] == ["readings[1], readings[2], readings[3]"]


def test_a_batch_says_the_same(clash: Case) -> None:
    [one, other] = judge_many([made(raw("open", 0.82, 0.83)), made(raw(0.82, 0.82, 0.83))])
    assert one.finding.conflict == clash.finding.conflict
    assert other.finding.conflict is None


def test_the_page_says_why(clash: Case) -> None:
    html = case_html(clash)
    assert "winding resistance U-V at terminals: open" in html
    assert WHY in html


def test_figures_of_the_reason_are_in_the_units_of_the_page() -> None:
    gaps = [
        reading("rotor_air_gap", mm, "mm", between=side)
        for side, mm in {"top": 0.1, "bottom": 0.1, "left": 0.6, "right": 0.6}.items()
    ]
    case = judge(made(raw(0.82, 0.82, 0.83, readings=gaps)))
    assert "top and bottom come to 0.20 mm, left and right to 1.20 mm" in case_html(case)
    assert "rotor air gap top 0.0039 in" in case_html(case, system="us")
    assert "top and bottom come to 0.0079 in, left and right to 0.047 in" in case_html(case, system="us")


def test_check_warns_and_judge_says_why(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "t.json"
    path.write_text(json.dumps(raw("open", 0.82, 0.83)), encoding="utf-8")
    assert run(["check", str(path)]) == 0
    warned = capsys.readouterr().out
    assert f"{path}: readings[1], readings[2], readings[3]: no pair of a winding" in warned
    assert "1 good, 0 rejected, 1 notices" in warned
    assert run(["judge", str(path)]) == 0
    said = capsys.readouterr().out.splitlines()
    at = next(i for i, line in enumerate(said) if line.startswith("  conflict "))
    assert said[at + 1].strip() == WHY
