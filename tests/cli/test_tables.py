"""A faulty cost table or limit sheet costs the call, before anything is run, and every fault of it is told."""

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.calling import Call

CALLS = (
    ("check", "A.toml"),
    ("judge", "A.toml"),
    ("judge", "--json", "--brief", "A.toml"),
    ("page", "A.toml"),
    ("batch", "A.toml"),
    ("fleet", "A.toml"),
    ("lesson", "A.toml"),
    ("learn", "A.toml", "--out", "own.toml"),
    ("open", "intake", "A.toml", "--no-browser"),
    ("open", "explorer", "A.toml", "--no-browser"),
)


@pytest.fixture
def tables(tmp_path: Path, record: Callable[[str], Path]) -> None:
    record("A")
    (tmp_path / "costs.toml").write_text("new_unit = -1\nrebuild = 2")
    (tmp_path / "ours").mkdir()
    (tmp_path / "ours" / "z9.toml").write_text('model = "Z9-1"\nsource = "manual"')
    (tmp_path / "columns.toml").write_text("dates = 'ymd'")
    (tmp_path / "own.toml").write_text("[mechanisms.gremlins]\nx = 1")


@pytest.mark.usefixtures("tables")
@pytest.mark.parametrize("arguments", CALLS)
def test_every_fault_of_every_table_is_told_and_nothing_is_run(
    call: Call, arguments: tuple[str, ...], tmp_path: Path
) -> None:
    before = sorted(tmp_path.rglob("*"))
    answer = call(*arguments, "--costs", "costs.toml", "--limits", "ours")
    assert (answer.code, answer.out) == (2, "")
    for told in (
        "costs.toml: new_unit: is -1;",
        "costs.toml: terminal_parts: is missing;",
        "costs.toml: error: is missing;",
        "ours/z9.toml: issue: is missing;",
    ):
        assert told in answer.err
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.usefixtures("tables")
def test_knowledge_and_columns_are_told_beside_them(call: Call) -> None:
    answer = call("batch", "A.toml", "--costs", "costs.toml", "--knowledge", "own.toml", "--columns", "columns.toml")
    assert answer.code == 2
    for told in ("costs.toml: new_unit", "gremlins", "columns.toml: dates"):
        assert told in answer.err


@pytest.mark.usefixtures("tables")
@pytest.mark.parametrize("arguments", CALLS)
@pytest.mark.parametrize("option", ["--costs", "--limits"])
def test_a_table_that_is_not_there_is_a_wrong_call(call: Call, arguments: tuple[str, ...], option: str) -> None:
    answer = call(*arguments, option, "nowhere")
    assert (answer.code, answer.out, answer.err.count("\n")) == (2, "", 1)
    assert "nowhere" in answer.err


def test_the_printed_cost_table_can_be_used_as_it_is(call: Call, record: Callable[[str], Path], tmp_path: Path) -> None:
    record("A")
    (tmp_path / "ours.toml").write_text(call("check", "--costs-table").out)
    assert set(tomllib.loads((tmp_path / "ours.toml").read_text())) >= {"currency", "new_unit", "hours", "error"}
    assert call("check", "A.toml", "--costs", "ours.toml").code == 0
