"""Returns and population joined: every odd row is counted and named, none is dropped in silence, nothing crashes."""

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from stripdown.fleet import report
from tests.fleet.made import line, population

HEAD = "serial,model,site,contractor,built,installed,removed"


def run(tmp_path: Path, lines: list[dict[str, Any]], rows: list[str], head: str = HEAD, **more: Any) -> dict[str, Any]:
    answer = report(lines, population(tmp_path, rows, head), **more).as_json()
    json.dumps(answer, allow_nan=False)
    return answer


def told(answer: dict[str, Any]) -> str:
    return "\n".join(n["what"] for n in answer["notices"])


UNITS = [f"{i},K4-150,,,,2020-01-01," for i in range(1, 6)]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (["X,K4-150,,,,2020-05-01,2020-04-01"], "units removed before they were installed: 1 (X)"),
        (["X,K4-150,,,2021-01-01,2020-05-01,"], "units installed before they were built: 1 (X)"),
        (["X,K4-150,,,,2030-05-01,"], "units installed after 2021-02-04: 1 (X)"),
        (["5,K4-150,,,,2020-01-05,"], "unit rows with a serial that stands there already: 1 (5)"),
        (["X,K4-150,,,,2020-01-01,2020-09-09"], "units removed without a record: 1 (X)"),
    ],
)
def test_odd_unit_rows_are_named(tmp_path: Path, rows: list[str], words: str) -> None:
    answer = run(tmp_path, [line("A", serial="1")], UNITS + rows)
    assert words in told(answer)
    (life,) = answer["life"]
    assert life["failures"] == 1


@pytest.mark.parametrize(
    ("odd", "words"),
    [
        (line("B", serial="2", age=-30), "returns that failed before they were installed: 1 (B)"),
        (
            line("B", serial="2", built="2020-06-01"),
            "returns that were installed or failed before they were built: 1 (B)",
        ),
        (line("B", serial="2", age=None), "returns without a day of installing or of failure: 1 (B)"),
        (line("B", serial="2", age=None, returned="2020-12-24"), "returns without a day of failure: 1 (B)"),
        (line("B", serial="77"), "returns without a unit row: 1 (B)"),
        (line("B", serial="2", model="Z9"), "returns of models without a unit row: 1 (Z9)"),
        (line("B", serial="1"), "returns of a unit that came back again later in the same stay: 1 (1)"),
        (
            line("B", serial="1", installed=date(2020, 3, 1), age=500),
            "returns of a unit that came back again later in the same stay: 1 (1)",
        ),
        (line("B", serial="2", returned="2020-06-01"), "returns that came back before they failed: 1 (B)"),
        (line("B", serial="2", installed=date(2019, 1, 1), age=10), "returns without a unit row: 1 (B)"),
        (
            line("B", serial="2", installed=date(2020, 1, 9)),
            "returns installed on another day than their unit row says: 1 (B)",
        ),
        (line("A", serial="2"), "lines with a claim that comes again later: 1 (A)"),
        ({"claim": "B", "file": "b.toml"}, "lines that are no result of judge: 1 (B)"),
        (line("B", serial="2", knowledge="sha256:2"), "lines judged with 2 different states of the knowledge"),
        (line("B", serial="2", site=""), "returns that do not state site: 2"),
    ],
)
def test_odd_returns_are_named(tmp_path: Path, odd: dict[str, Any], words: str) -> None:
    assert words in told(run(tmp_path, [line("A", serial="1"), odd], UNITS))


def test_a_unit_removed_without_a_record_was_good_until_then(tmp_path: Path) -> None:
    """2 of 5 at risk at day 400: one removed at 100 is no longer among them."""
    answer = run(tmp_path, [line("A", serial="1")], [*UNITS[:2], "X,K4-150,,,,2020-01-01,2020-04-10"])
    assert answer["kaplan_meier"][0]["at_risk"] == [2]


def test_a_unit_that_came_back_and_went_out_again_has_two_lives(tmp_path: Path) -> None:
    """First stay 2020-01-01 to 2020-04-10 found sound, second from 2020-05-01 failed."""
    lines = [
        line("A", serial="1", age=100, first={"no_fault": 1.0}),
        line("B", serial="1", installed=date(2020, 5, 1), age=200),
    ]
    (life,) = run(tmp_path, lines, UNITS)["life"]
    assert (life["failures"], life["removed_good"], life["running"]) == (1, 1, 4)


def test_two_stays_of_one_serial_are_no_double(tmp_path: Path) -> None:
    rows = [*UNITS, "X,K4-150,,,,2020-01-01,2020-02-01", "X,K4-150,,,,2020-03-01,"]
    answer = run(tmp_path, [line("A", serial="1")], rows)
    assert "stands there already" not in told(answer)


def test_the_record_lacks_the_day_of_installing_that_the_unit_row_has(tmp_path: Path) -> None:
    one = line("A", serial="1", installed=None, failed="2020-12-26")
    assert run(tmp_path, [one], UNITS)["kaplan_meier"][0]["days"] == [360]


def test_population_by_month_without_serials(tmp_path: Path) -> None:
    """units installed in January 2020, one of them failed: 119 run on.: 120"""
    answer = run(tmp_path, [line("A")], ["K4-150,2020-01,120"], "model,month,installed")
    (life,) = answer["life"]
    assert (life["failures"], life["running"]) == (1, 119)
    assert "does not state site: no rate, ratio or alert by it" in told(answer)


def test_more_returns_than_units_of_a_month(tmp_path: Path) -> None:
    answer = run(tmp_path, [line("A"), line("B")], ["K4-150,2020-01,1"], "model,month,installed")
    assert "more returns than units installed in their month: 1" in told(answer)
    assert answer["life"][0]["running"] == 0


def test_returns_of_a_month_that_the_population_lacks(tmp_path: Path) -> None:
    answer = run(tmp_path, [line("A", installed=date(2020, 7, 1))], ["K4-150,2020-01,9"], "model,month,installed")
    assert "returns without a unit row: 1" in told(answer)


def test_days_rounded_to_months_become_intervals(tmp_path: Path) -> None:
    rows = [f"{i},K4-150,,,,2020-{1 + i % 6:02d}-01," for i in range(30)]
    lines = [line(f"A{i}", serial=str(i), installed=date(2020, 1 + i % 6, 1), age=200 + 17 * i) for i in range(6)]
    answer = run(tmp_path, lines, rows)
    assert "days of installing all stand on the first of a month" in told(answer)
    assert answer["life"][0]["shape"]["value"] > 0


def test_rounded_failures_of_young_replacements_among_old_units(tmp_path: Path) -> None:
    """Five within a month of installing, 500 others good for two years: the search for the ends of the intervals goes
    far from the data, and stays within the numbers that a machine has."""
    rows = [f"U{i},K4-150,,,,2020-01-01," for i in range(500)]
    lines = []
    for k in range(5):
        rows.append(f"R{k},K4-150,,,,2020-{1 + k:02d}-01,")
        lines.append(
            line(f"R{k}", serial=f"R{k}", installed=date(2020, 1 + k, 1), age=None, failed=f"2020-{2 + k:02d}-01")
        )
    (life,) = run(tmp_path, lines, rows, until=date(2022, 1, 1))["life"]
    assert life["shape"]["low"] < life["shape"]["value"] < 1
    assert life["b10"]["low"] is not None


@pytest.mark.parametrize("failures", [0, 1, 3])
def test_few_failures_get_a_stated_shape(tmp_path: Path, failures: int) -> None:
    lines = [line(f"A{i}", serial=str(i + 1), age=300 + 10 * i) for i in range(failures)]
    (life,) = run(tmp_path, lines, UNITS, until=date(2022, 1, 1))["life"]
    assert life["failures"] == failures
    assert life["shape"] == {"value": 1.5, "low": None, "high": None}
    assert "estimate, no source" in life["method"]
    assert life["scale"]["low"] < life["scale"]["value"]


@pytest.mark.parametrize(("sound", "own"), [(0.0006, True), (0.004, True), (0.006, False)])
def test_four_failures_are_four_as_the_page_shows_them(tmp_path: Path, sound: float, own: bool) -> None:
    """Three sure ones and one that may be sound: 3.9994 and 3.996 are told as 4.00 and fitted, 3.994 as 3.99."""
    lines = [line(f"A{i}", serial=str(i + 1), age=300 + 20 * i) for i in range(3)]
    lines.append(line("B", serial="4", age=380, first={"floodback": 1 - sound, "no_fault": sound}))
    (life,) = run(tmp_path, lines, UNITS, until=date(2022, 1, 1))["life"]
    assert (f"{life['failures']:.2f}" == "4.00") is own
    assert (life["shape"]["low"] is not None) is own


def test_all_failures_of_one_age_get_a_stated_shape(tmp_path: Path) -> None:
    lines = [line(f"A{i}", serial=str(i + 1), age=300) for i in range(5)]
    (life,) = run(tmp_path, lines, UNITS)["life"]
    assert "Weibayes" in life["method"]
    assert "no own shape" in life["method"]


def test_filter_takes_returns_and_population_alike(tmp_path: Path) -> None:
    rows = ["1,K4-150,north,,,2020-01-01,", "2,K4-150,south,,,2020-01-01,"]
    answer = run(tmp_path, [line("A", serial="1", site="north")], rows, site="south", until=date(2021, 6, 1))
    assert (answer["returns"], answer["life"][0]["running"]) == (0, 1)


@pytest.mark.parametrize("model", ["Z9", ["K4-150", "Z9"]])
def test_a_chosen_group_that_nobody_states_is_named(tmp_path: Path, model: str | list[str]) -> None:
    answer = run(tmp_path, [line("A", serial="1")], UNITS, model=model, until=date(2021, 6, 1))
    assert "chosen of model but in no return and no unit row: 1 (Z9)" in told(answer)


def test_filter_on_what_the_population_does_not_state(tmp_path: Path) -> None:
    answer = run(
        tmp_path, [line("A", serial="1", site="north")], ["1,K4-150,2020-01-01"], "serial,model,installed", site="north"
    )
    assert answer["life"] == []
    assert "does not state the site, which was chosen" in told(answer)


def test_no_return_at_all(tmp_path: Path) -> None:
    answer = run(tmp_path, [], UNITS, until=date(2022, 1, 1))
    assert answer["returns"] == 0
    assert answer["life"][0]["failures"] == 0
    assert len(answer["forecast"]) == 12


def test_empty_population(tmp_path: Path) -> None:
    assert run(tmp_path, [], [], until=date(2022, 1, 1))["life"] == []
