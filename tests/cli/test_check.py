"""`check` names every fault of every file and writes nothing."""

import json
from collections.abc import Callable
from pathlib import Path

from tests.cli.calling import ROOT, Call
from tests.small_record import small_record


def test_good_records_are_counted(call: Call, record: Callable[[str], Path]) -> None:
    record("A"), record("B")
    answer = call("check", "A.toml", "B.toml")
    assert (answer.code, answer.out.splitlines()[-1]) == (0, "2 good, 0 rejected, 0 notices")


def test_notices_of_readings_and_limits_are_told_as_judge_tells_them(call: Call, tmp_path: Path) -> None:
    (tmp_path / "A.toml").write_text(small_record("A").replace("K4-150", "Z9-999"))
    told = call("check", "A.toml").out
    [notice] = json.loads(call("judge", "--json", "--brief", "A.toml").out)["notices"]
    assert f"notice: A.toml: unit.model: {notice['what']}; {notice['fix']}\n1 good, 0 rejected, 1 notices" in told


def test_every_fault_of_the_demo_s_bad_record_is_printed(call: Call) -> None:
    answer = call("check", ROOT / "data/demo/returns/tw-2025-018.toml")
    assert answer.code == 1
    for entry in ("history.failed", "readings[1].unit", "observations[1].part", "observations[3].extent"):
        assert any(entry in line for line in answer.out.splitlines()), entry
    assert "did you mean main_bearing?" in answer.out


def test_broken_files_are_faults_and_the_good_one_is_still_read(
    call: Call, record: Callable[[str], Path], tmp_path: Path
) -> None:
    record("A")
    broken = {
        "binary.toml": b"\x00\xff\xfe",
        "cut.json": b'{"format": 1, "claim":',
        "deep.json": b"[" * 100_000,
        "empty.jsonl": b"",
        "not-a-book.xlsx": b"PK\x03\x04",
        "wrong.toml": b'format = 1\nclaim = "../up"\n[unit]\nserial = 1\nmodel = "K4-150"\n',
    }
    for name, data in broken.items():
        (tmp_path / name).write_bytes(data)
    answer = call("check", *broken, "A.toml")
    assert answer.code == 1
    assert answer.out.splitlines()[-1].startswith(f"1 good, {len(broken)} rejected")
    for name in broken:
        assert f"fault: {name}" in answer.out
    assert "Traceback" not in answer.out + answer.err


def test_a_column_that_is_not_known_is_told_once_a_table(call: Call, tmp_path: Path) -> None:
    rows = ["claim,serial,model,colour", *(f"A-{n},{n},K4-150,blue" for n in range(5))]
    (tmp_path / "returns.csv").write_text("\n".join(rows) + "\n")
    out = call("check", ".").out
    assert out.count('column "colour" is not known here') == 1
    assert "5 good, 0 rejected, 1 notices" in out


def test_nothing_is_written(call: Call, record: Callable[[str], Path], tmp_path: Path) -> None:
    record("A")
    call("check", "A.toml")
    assert [f.name for f in tmp_path.iterdir()] == ["A.toml"]


def test_a_file_that_is_no_record_is_named(call: Call, record: Callable[[str], Path], tmp_path: Path) -> None:
    record("A")
    (tmp_path / "other.toml").write_text("a = 1")
    answer = call("check", ".")
    assert answer.code == 0
    assert "other.toml" in answer.out


def test_the_knowledge_is_checked_instead(call: Call) -> None:
    answer = call("check", "--knowledge")
    assert answer.code == 0
    assert "21 mechanisms" in answer.out
    assert any("width" in line for line in answer.out.splitlines())
    assert any(
        line.startswith("stator.clean_break <- surge") and line.endswith(" S") for line in answer.out.splitlines()
    )
    # by hand, medium duty: flooded_start .09 x .20 + floodback .12 x .15, and the rate of its own .003 in the 64 % that
    # have a fault and are not liquid_slug: 1 / .038
    assert "liquid_slug: liquid_slug, at most 26.4 M" in answer.out


def test_faults_of_own_knowledge_are_named(call: Call, tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text("[mechanisms.gremlins]\nx = 1")
    answer = call("check", "--knowledge", "own.toml")
    assert answer.code == 1
    assert "gremlins" in answer.out
    assert call("check", "--knowledge", "nowhere.toml").code == 2
