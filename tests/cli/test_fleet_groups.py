"""`fleet --model` and the like: a name that no return and no unit row has is a wrong call."""

import json
from pathlib import Path

import pytest

from tests.cli.calling import Answer, Call
from tests.fleet.made import line

MODELS = ("K4-085", "K4-130", "K4-150", "K6-220", "M8-400", "T2-045")


@pytest.fixture
def asked(call: Call, tmp_path: Path) -> Call:
    lines = [
        line(f"A{i}", serial=str(i), age=200, model=model, site=f"site {i}", contractor=f"crew {i % 2}")
        for i, model in enumerate(MODELS)
    ]
    (tmp_path / "lines.jsonl").write_text("".join(json.dumps(each) + "\n" for each in lines))
    rows = ["serial,model,site,installed", "90,Z9-1,depot,2020-01-01"]
    (tmp_path / "units.csv").write_text("\n".join(rows) + "\n")

    def run(*arguments: object) -> Answer:
        return call("fleet", "lines.jsonl", *arguments)

    return run


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--model", "K4-15O"), "no unit row has K4-15O; the nearest of 6 are K4-150,"),
        (("--model", "k4-150"), "the nearest of 6 are K4-150,"),
        (("--model", "K4-150", "--model", "NOPE"), "no unit row has NOPE;"),
        (("--contractor", "crew 7"), "there is crew 0 or crew 1"),
        (("--site", "sight 3"), "site 3"),
        (("--change", "2021-01-01", "--changed-site", "nowhere"), "no unit row has nowhere;"),
        (("--population", "units.csv", "--site", "depo"), "depot"),
    ],
)
def test_a_name_that_is_not_there_is_a_wrong_call(
    asked: Call, arguments: tuple[str, ...], says: str, tmp_path: Path
) -> None:
    answer = asked(*arguments)
    assert (answer.code, answer.out, answer.err.count("\n")) == (2, "", 1)
    assert arguments[-2] in answer.err
    assert says in answer.err
    assert not (tmp_path / "reports").exists()


def test_where_no_name_is_given_that_is_told(call: Call, tmp_path: Path) -> None:
    (tmp_path / "lines.jsonl").write_text(json.dumps(line("A", serial="1", age=200, site="")) + "\n")
    assert "none is named" in call("fleet", "lines.jsonl", "--site", "x").err


@pytest.mark.slow
def test_a_name_of_the_units_table_alone_is_none(asked: Call) -> None:
    answer = asked("--population", "units.csv", "--model", "Z9-1")
    assert (answer.code, answer.out.startswith("0 returns")) == (0, True)
