"""The object of `fleet --json` on fleets small enough to count by hand."""

import json
from datetime import date
from pathlib import Path

import pytest

from stripdown.fleet import first_day, report
from tests.fleet.made import REJECTED, line, population

KEYS = {
    "returns",
    "rejected",
    "undecided",
    "period",
    "until",
    "first",
    "causes",
    "parts",
    "no_fault",
    "avoidable",
    "by",
    "life",
    "incidence",
    "trend",
    "comparisons",
    "alerts",
    "forecast",
    "agreement",
    "costs",
    "notices",
    "methods",
    "knowledge",
    "version",
}
FOUR = [
    line("A", first={"floodback": 0.95, "no_fault": 0.05}, parts=("main_bearing", "stator")),
    line("B", first={"floodback": 0.5, "liquid_slug": 0.5}, parts=()),
    line("C", first={"no_fault": 0.7, "floodback": 0.3}, parts=("main_bearing",)),
    line("D", first={"liquid_slug": 0.99, "floodback": 0.01}),
]


def notices(answer: dict[str, object]) -> str:
    return json.dumps(answer["notices"])


def test_every_key_of_the_contract_is_there_without_a_population() -> None:
    answer = report([*FOUR, REJECTED]).as_json()
    assert set(answer) >= KEYS
    assert (answer["returns"], answer["rejected"], answer["undecided"]) == (4, 1, 1)
    assert (
        answer["life"] == answer["incidence"] == answer["comparisons"] == answer["alerts"] == answer["forecast"] == []
    )
    assert "no units table" in notices(answer)
    json.dumps(answer, allow_nan=False)


def test_expected_counts_beside_plain_counts() -> None:
    """By hand: floodback .95 + .5 + .3 + .01; B is open, so it has no headline that counts."""
    first = {r["id"]: r for r in report(FOUR).as_json()["first"]}
    assert first["floodback"]["expected"] == pytest.approx(1.76, abs=1e-6)
    assert first["floodback"]["share"] == pytest.approx(0.44, abs=1e-6)
    assert {i: r["count"] for i, r in first.items()} == {"floodback": 1, "no_fault": 1, "liquid_slug": 1}
    assert all(r["low"] <= r["share"] <= r["high"] for r in first.values())
    assert sum(r["expected"] for r in first.values()) == pytest.approx(4, abs=1e-6)


def test_sums_of_probabilities_carry_no_rounding_of_their_own() -> None:
    """33 records of which each gives 0.7 and 0.3: 23.1 and 9.9, 33 in all, to the last digit that is written."""
    lines = [line(f"A{i}", first={"floodback": 0.7, "no_fault": 0.3}) for i in range(33)]
    first = {r["id"]: r["expected"] for r in report(lines).as_json()["first"]}
    assert first == {"floodback": 23.1, "no_fault": 9.9}


def test_parts_count_records() -> None:
    """main_bearing in A, C, D: 3 of 4, Wilson 0.3006-0.9544 (by the formula, by hand)."""
    part = report(FOUR).as_json()["parts"][0]
    assert (part["id"], part["count"], part["share"]) == ("main_bearing", 3, 0.75)
    assert (part["low"], part["high"]) == pytest.approx((0.3006, 0.9544), abs=5e-5)


def test_no_line_at_all() -> None:
    answer = report([]).as_json()
    assert answer["returns"] == 0
    assert answer["until"] is None
    json.dumps(answer, allow_nan=False)


def test_until_leaves_out_what_failed_later_and_keeps_what_came_back_later(tmp_path: Path) -> None:
    """Of three units one failed before and came back after, one failed after, one runs on."""
    lines = [
        line("A", serial="1", age=300, returned="2021-06-01"),
        line("B", serial="2", age=500),
    ]
    units = population(tmp_path, [f"{i},K4-150,,,,2020-01-01," for i in (1, 2, 3)])
    answer = report(lines, units, until=date(2021, 1, 1)).as_json()
    assert answer["returns"] == 1
    assert answer["until"] == "2021-01-01"
    (life,) = answer["life"]
    assert (life["failures"], life["running"]) == (1, 2)
    assert "returns of units that failed after 2021-01-01: 1 (B)" in notices(answer)


def test_the_first_day_is_that_of_lines_that_say_one() -> None:
    """Failure before return; what is no day, or no history, says none."""
    lines = [
        line("A", failed="2022-03-01", returned="2021-01-01"),
        line("B", age=None, returned="2021-06-01"),
        line("C", failed="0 days"),
        REJECTED,
        {"history": 3},
    ]
    assert first_day(lines) == "2021-06-01"
    assert first_day([]) is None


def test_without_until_watching_ends_with_the_last_failure_or_removal(tmp_path: Path) -> None:
    units = population(tmp_path, ["1,K4-150,,,,2020-01-01,", "2,K4-150,,,,2020-01-01,2022-02-03"])
    assert report([line("A", serial="1", age=300)], units).as_json()["until"] == "2022-02-03"


def test_sound_returns_count_as_removed_while_good(tmp_path: Path) -> None:
    """no_fault 0.7: 0.3 of a failure and 0.7 of a unit taken out while good."""
    units = population(tmp_path, [f"{i},K4-150,,,,2020-01-01," for i in (1, 2, 3)])
    lines = [
        line("A", serial="1", first={"no_fault": 0.7, "floodback": 0.3}),
        line("B", serial="2", first={"no_fault": 1.0}),
    ]
    (life,) = report(lines, units).as_json()["life"]
    assert life["failures"] == pytest.approx(0.3, abs=1e-6)
    assert life["removed_good"] == pytest.approx(1.7, abs=1e-6)
    assert life["running"] == 1


def test_same_lines_same_answer() -> None:
    assert json.dumps(report(FOUR).as_json()) == json.dumps(report(FOUR).as_json())


def test_every_list_has_its_table() -> None:
    tables = report(FOUR).tables()
    assert len(tables["first"]) == 3
    assert len(tables["returns"]) == 4
    assert list(tables["parts"]["id"]) == ["main_bearing", "stator"]
    assert {"electrical", "looked_at", "years", "next_checks", "disagree", "calibration", "by_outcome"} <= set(tables)
    assert tables["by_outcome"].to_dict("records") == [{"id": "replace_compressor", "returns": 4, "total": 8000.0}]
    assert list(tables["columns"]["column of returns"]) == list(tables["returns"].columns)


def test_currencies_are_named_and_never_added_up() -> None:
    """By hand: two returns of 2000 in EUR, one of 500 in SEK, one in no currency."""
    told = {"alternatives": [], "id": "rebuild"}
    lines = [
        *FOUR[:2],
        line("S", outcome=told | {"expected_cost": 500.0, "currency": "SEK"}),
        line("N", outcome=told | {"expected_cost": 7.0}),
    ]
    answer = report(lines).as_json()
    assert (answer["costs"]["total"], answer["costs"]["currency"], answer["costs"]["priced"]) == (4000.0, "EUR", 2)
    assert answer["costs"]["by_outcome"] == [{"id": "replace_compressor", "returns": 2, "total": 4000.0}]
    assert answer["costs"]["currencies"] == [
        {"id": "EUR", "returns": 2, "total": 4000.0},
        {"id": "SEK", "returns": 1, "total": 500.0},
    ]
    assert "2 currencies, never added up: EUR (2 returns), SEK (1 returns)" in notices(answer)
    assert "1 returns without a cost" in notices(answer)


def test_costs_are_told_to_the_cent() -> None:
    """Three returns of 33.3333 come to 99.9999, which is 100.00; half of it need not have failed."""
    price = {"id": "rebuild", "expected_cost": 33.3333, "currency": "EUR", "alternatives": []}
    costs = report([line(c, outcome=price) for c in "ABC"]).as_json()["costs"]
    assert (costs["total"], costs["avoidable_failure"]) == (100.0, 50.0)
    assert costs["by_outcome"][0]["total"] == costs["currencies"][0]["total"] == 100.0


def test_the_money_of_the_forecast_has_limits(tmp_path: Path) -> None:
    """Each return costs 2000: the total is 2000 times the returns, and its limits are near 2000 times theirs."""
    lines = [line(f"A{i}", serial=str(i), age=200 + 20 * i) for i in range(20)]
    units = population(tmp_path, [f"{i},K4-150,,,,2020-01-{1 + i % 28:02d}," for i in range(200)])
    answer = report(lines, units, until=date(2021, 6, 10)).as_json()
    coming = answer["costs"]["coming"]
    assert (coming["months"], coming["each"]) == (12, 2000)
    assert coming["returns"] == pytest.approx(sum(m["returns"] for m in answer["forecast"]))
    assert coming["total"] == pytest.approx(2000 * coming["returns"], abs=0.01)
    for end in ("low", "high"):
        assert coming[f"total_{end}"] == pytest.approx(2000 * coming[f"returns_{end}"], rel=0.05)
    assert report(lines).as_json()["costs"]["coming"] is None
    free = [dict(one, outcome=dict(one["outcome"], expected_cost=0.0)) for one in lines]
    assert report(free, units, until=date(2021, 6, 10)).as_json()["costs"]["coming"] is None


def test_groups_that_chance_could_make_are_wholly_the_fleet(tmp_path: Path) -> None:
    """Two sites of 40 returns: of 20 and 22 floodbacks the fleet's shares hold for both; of 5 and 35 their own."""
    for counts, alike in (((20, 22), True), ((5, 35), False)):
        lines = [
            line(f"{site}{i}", site=site, first={"floodback" if i < n else "liquid_slug": 1.0})
            for site, n in zip("ns", counts, strict=True)
            for i in range(40)
        ]
        rows = report(lines).as_json()["by"]["site"]
        assert all((r["drawn"] > 0.99) is alike for r in rows)
        share = {r["id"]: next(x["shrunk"] for x in r["first"] if x["id"] == "floodback") for r in rows}
        expected = (42 / 80, 42 / 80) if alike else (5 / 40, 35 / 40)
        assert (share["n"], share["s"]) == pytest.approx(expected, abs=0.03)


def test_checks_that_were_missing_are_weighed_over_records_that_are_not_established() -> None:
    """By hand: B lacks both checks, C one: 0.2 bit in 10 min and 0.4 in 10, mean 0.03 a minute; D is established."""
    screen = {"id": "oil_screen.blocked", "minutes": 10}
    other = {"id": "x", "minutes": 5, "gain_bits": 0.1}
    lines = [
        line("B", status="open", next_checks=[screen | {"gain_bits": 0.2}, other]),
        line("C", status="likely", next_checks=[screen | {"gain_bits": 0.4}]),
        line("D", next_checks=[screen | {"gain_bits": 9.0}]),
    ]
    told = report(lines).as_json()["next_checks"]
    assert told["records"] == 2
    assert [(c["id"], c["missing"]) for c in told["checks"]] == [("oil_screen.blocked", 2), ("x", 1)]
    assert told["checks"][0]["gain_bits"] == pytest.approx(0.3)
    assert told["checks"][0]["bits_per_minute"] == pytest.approx(0.03)


def test_electrical_failures_and_where_they_started() -> None:
    """A ended in the winding (floodback .95, no fault .05), E at the terminals; B, C, D did not end electrically."""
    ended = report([*FOUR, line("E", first={"terminal_fault": 1.0}, parts=("terminal_plate",))]).as_json()["electrical"]
    assert ended["records"] == 2
    assert {r["id"]: r["expected"] for r in ended["first"]} == pytest.approx(
        {"terminal_fault": 1.0, "floodback": 0.95, "no_fault": 0.05}, abs=1e-6
    )


def test_before_and_after_a_change_at_some_sites_beside_the_others(tmp_path: Path) -> None:
    """By hand, all at risk from 2020-01-01 to 2021-12-31: at north 3 failed before and none after, at south 2 and 3."""
    ages = {"north": (100, 200, 300), "south": (100, 200, 500, 600, 700)}
    lines = [line(f"{site}{a}", serial=f"{site}{a}", age=a, site=site) for site, some in ages.items() for a in some]
    rows = [f"{site}{a},K4-150,{site},,,2020-01-01," for site, some in ages.items() for a in some]
    rows += [f"{site}r{i},K4-150,{site},,,2020-01-01," for site in ages for i in range(20)]
    units = population(tmp_path, rows)
    answer = report(lines, units, until=date(2021, 12, 31), change=date(2021, 1, 1), changed_sites="north").as_json()
    looks = {c["what"]: c for c in answer["comparisons"] if c["dimension"] == "date"}
    at = looks["after 2021-01-01 against before at north"]
    other = looks["after 2021-01-01 against before elsewhere than at north"]
    assert (at["observed"], at["ratio"]) == (0, 0)
    assert other["observed"] == 3
    assert other["ratio"] > 1
    assert answer["chosen"] == {"change": "2021-01-01", "changed_sites": "north"}


def test_a_look_too_small_to_alarm_is_left_out_and_counted(tmp_path: Path) -> None:
    """Two failures in all: a site with half the units could show 2 · 1/2² = 0.5 at the least, never 0.05."""
    rows = [f"{i},K4-150,{'north' if i % 2 else 'south'},,,2020-01-01," for i in range(10)]
    lines = [line(f"A{i}", serial=str(i), age=300, site="north" if i % 2 else "south") for i in (1, 2)]
    answer = report(lines, population(tmp_path, rows), until=date(2021, 6, 1)).as_json()
    sites = [c for c in answer["comparisons"] if c["dimension"] == "site"]
    assert [c["p_adjusted"] for c in sites] == [None, None]
    assert answer["looks_too_small"] >= 2


def test_names_with_braces_stay_as_they_are(tmp_path: Path) -> None:
    built = ("2019-11", "2019-12")
    rows = [f"{i},{{{{7*7}}}} {{x}},{{site}},{{}},{built[i % 2]}-01,2020-01-01," for i in range(10)]
    lines = [line(f"A{i}", serial=str(i), model="{{7*7}} {x}", age=300, site="{site}", contractor="{}") for i in (1, 2)]
    answer = report(lines, population(tmp_path, rows), until=date(2021, 6, 1)).as_json()
    said = {c["what"] for c in answer["comparisons"]}
    assert "{{7*7}} {x} built 2019-12 against its other months" in said
    assert {"site {site} against the rest", "contractor {} against the rest"} <= said
