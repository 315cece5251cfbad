"""`judge`: the finding of each record, in lines for people and for programs."""

import json
import os
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from stripdown.cli.finding import lines
from tests.cli.calling import ROOT, Call
from tests.small_record import small_record

DEMO = ROOT / "data/demo/returns"
BRIEF = {
    *(
        "claim",
        "file",
        "status",
        "unit",
        "history",
        "first",
        "mechanisms",
        "causes",
        "outcome",
        "liability",
        "avoidable",
    ),
    *("readings", "notices", "conflict", "unexplained", "confirmed", "parts", "knowledge", "version"),
}
EXPLAINED = {"chain", "evidence", "rival", "flips", "robustness", "next_checks", "corrections", "cautions"}


def test_one_object_a_line_in_input_order(call: Call, record: Callable[[str], Path]) -> None:
    record("B"), record("A")
    answer = call("judge", "--json", "B.toml", "A.toml")
    assert [json.loads(line)["claim"] for line in answer.out.splitlines()] == ["B", "A"]
    assert (answer.code, answer.err) == (0, "")


def test_the_keys_of_the_contract_and_those_that_brief_leaves_out(call: Call) -> None:
    full = json.loads(call("judge", "--json", DEMO / "tw-2025-016.toml").out)
    brief = json.loads(call("judge", "--json", "--brief", DEMO / "tw-2025-016.toml").out)
    assert full.keys() >= BRIEF | EXPLAINED
    assert brief.keys() >= BRIEF
    assert not EXPLAINED & brief.keys()
    assert {key: full[key] for key in brief} == brief


def test_numbers_carry_nine_digits_at_least(call: Call) -> None:
    result = json.loads(call("judge", "--json", DEMO / "tw-2025-016.toml").out)
    assert sum(share["probability"] for share in result["first"]) == pytest.approx(1, abs=1e-9)


def test_a_few_plain_lines_for_a_person(call: Call) -> None:
    answer = call("judge", DEMO / "tw-2025-016.toml")
    result = json.loads(call("judge", "--json", DEMO / "tw-2025-016.toml").out)
    lines = answer.out.splitlines()
    assert lines[0].startswith(f"TW-2025-016  {result['status']}")
    assert 0.99 < result["first"][0]["probability"] < 1, "which must not be printed as certain"
    assert f"{result['first'][0]['id']} over 99 %" in lines[1]
    assert result["outcome"]["id"] in answer.out
    assert len(lines) <= 8


@pytest.mark.parametrize(
    ("status", "whose", "said"),
    [
        ("established", "system", "liability system"),
        ("likely", "system", "liability system, once the finding is confirmed"),
        ("open", "system", "liability system, once the finding is confirmed"),
        ("open", "undetermined", "liability undetermined"),
        ("conflicting", "undetermined", "liability undetermined"),
    ],
)
def test_whose_it_is_stands_only_once_the_finding_does(call: Call, status: str, whose: str, said: str) -> None:
    result = json.loads(call("judge", "--json", "--brief", DEMO / "tw-2025-016.toml").out)
    told = lines(result | {"status": status, "liability": [{"id": whose, "probability": None}]})
    assert next(line for line in told if "liability" in line).endswith(f"; {said}")


def test_an_amount_says_whose_it_is(call: Call, tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_bytes((ROOT / "src/stripdown/knowledge/costs.toml").read_bytes())
    record = DEMO / "tw-2025-016.toml"
    assert "EUR (amounts invented: give yours with --costs)\n" in call("judge", record).out
    told = call("judge", record, "--costs", own).out
    assert " EUR\n" in told
    assert "invented" not in told


def test_what_clashes_and_what_to_look_at_are_told_in_words(call: Call) -> None:
    result = json.loads(call("judge", "--json", DEMO / "tw-2025-024.json").out)
    clash = ["winding_resistance V-W at leads open", "oil_drained open", "oil.low heavy"]
    read = {"quantity": "winding_resistance", "between": "V-W", "at": "leads", "value": "open"}
    check = {"id": "alarms.discharge_heat", "text": "Ask the site: alarms discharge heat", "minutes": 15, "caution": ""}
    told = "\n".join(
        lines(
            result | {"conflict": {"findings": clash, "why": None}, "readings": [read], "next_checks": [check]},
        )
    )
    assert "  conflict winding resistance V-W at leads: open, oil drained: undecided, oil low: heavy do not" in told
    assert "then ask the site: alarm memory, discharge heat, 15 min" in told


def test_a_rejected_record_has_its_faults_and_the_rest_is_done(
    call: Call, record: Callable[[str], Path], tmp_path: Path
) -> None:
    record("A")
    (tmp_path / "bad.toml").write_text("format = 1\nclaim = 'bad'")
    answer = call("judge", "--json", "bad.toml", "A.toml")
    bad, good = map(json.loads, answer.out.splitlines())
    assert answer.code == 1
    assert bad.keys() == {"claim", "file", "status", "faults"}
    assert (bad["claim"], bad["status"]) == ("bad", "rejected")
    assert all(fault.keys() == {"file", "entry", "what", "fix"} for fault in bad["faults"])
    assert good["claim"] == "A"


def test_a_large_file_of_lines_is_judged_lot_by_lot_as_the_whole(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "some.jsonl").write_text(
        "\n".join(json.dumps(tomllib.loads(small_record(f"C-{i}"))) for i in (1, 2, 1))
    )
    whole = call("judge", "--json", "--brief", "some.jsonl")
    monkeypatch.setattr("stripdown.record.lots.LARGE", 1)
    assert call("judge", "--json", "--brief", "some.jsonl") == whole
    assert [json.loads(line)["status"] == "rejected" for line in whole.out.splitlines()] == [True, False, True]
    (tmp_path / "blank.jsonl").write_text(" \n")
    assert "is empty" in call("judge", "--json", "--brief", "blank.jsonl").out


def test_a_cracked_body_or_a_dangerous_refrigerant_is_told_to_scripts_too(call: Call, tmp_path: Path) -> None:
    """Whatever the outcome: common practice, no source."""
    text = small_record("A").replace('model = "K4-150"', 'model = "K4-150"\nrefrigerant = "R-290"')
    cracked = '[[observations]]\npart = "body"\ncondition = "cracked"\nextent = "slight"\n'
    (tmp_path / "A.toml").write_text(text + cracked)
    said = "Authorised workshop only: "
    cautions = json.loads(call("judge", "--json", "A.toml").out)["cautions"]
    assert cautions[:2] == [said + "the refrigerant is R-290.", said + "the body is cracked."]
    assert f"caution  {said}the body is cracked." in call("judge", "A.toml").out
    (tmp_path / "B.toml").write_text(small_record("B"))
    assert said not in call("judge", "--json", "B.toml").out


def test_records_come_on_standard_input_too(record: Callable[[str], Path]) -> None:
    line = json.dumps({"format": 1, "claim": "00123", "unit": {"serial": "12E4", "model": "K4-150"}})
    command = [sys.executable, "-m", "stripdown.cli", "judge", "--json", "-"]
    done = subprocess.run(command, input=line, capture_output=True, text=True, check=True)
    result = json.loads(done.stdout)
    assert (result["claim"], result["file"], result["unit"]["serial"]) == ("00123", "-", "12E4")


def test_the_same_bytes_in_another_locale_time_zone_and_process() -> None:
    def printed(**more: str) -> bytes:
        command = [sys.executable, "-m", "stripdown.cli", "judge", "--json", "data/demo/returns/tw-2025-026.toml"]
        return subprocess.run(command, cwd=ROOT, env=os.environ | more, capture_output=True, check=True).stdout

    plain = printed(PYTHONHASHSEED="1")
    assert plain == printed(LC_ALL="C", TZ="Asia/Kolkata", PYTHONHASHSEED="2", PYTHONUTF8="0")
    assert json.loads(plain)["claim"] == "TW-2025-026"


@pytest.mark.parametrize(
    ("option", "content", "says"),
    [
        ("--costs", "rebuild = 'dear'", "table.toml"),
        ("--costs", "hours = 3", "table.toml"),
        ("--costs", "not toml", "table.toml"),
        ("--costs", "a = " + "[" * 30_000, "nested too deep"),
        ("--costs", "caf\udce9 = 1", "is not UTF-8"),
        ("--knowledge", "not toml", "table.toml"),
        ("--knowledge", "[mechanisms.gremlins]\nx = 1", "gremlins"),
        ("--columns", "returns.nonsense = 'S/N'", "table.toml"),
    ],
)
def test_a_bad_table_beside_the_records_is_told_and_nothing_is_judged(
    call: Call, record: Callable[[str], Path], tmp_path: Path, option: str, content: str, says: str
) -> None:
    record("A")
    (tmp_path / "table.toml").write_bytes(content.encode("utf-8", "surrogateescape"))
    answer = call("judge", "A.toml", option, "table.toml")
    assert answer.code == 2
    assert answer.out == ""
    assert says in answer.err
    assert "Traceback" not in answer.err


def test_bad_limit_sheets_are_told(call: Call, record: Callable[[str], Path], tmp_path: Path) -> None:
    record("A")
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "x.toml").write_text("model = 3")
    answer = call("judge", "A.toml", "--limits", "sheets")
    assert (answer.code, answer.out) == (2, "")
    assert "x.toml" in answer.err


def test_own_costs_change_what_an_outcome_costs(call: Call, record: Callable[[str], Path], tmp_path: Path) -> None:
    from stripdown.knowledge import load as load_module  # where the shipped table lies

    record("A")
    ours = Path(load_module.__code__.co_filename).with_name("costs.toml").read_text(encoding="utf-8")
    assert 'currency = "EUR"' in ours
    (tmp_path / "costs.toml").write_text(ours.replace('currency = "EUR"', 'currency = "SEK"'), encoding="utf-8")
    result: dict[str, Any] = json.loads(call("judge", "--json", "A.toml", "--costs", "costs.toml").out)
    assert result["outcome"]["currency"] == "SEK"
