"""A result line by another cost table; expected costs by hand from the table's own amounts."""

from dataclasses import replace
from typing import Any

import pytest

from stripdown import knowledge
from stripdown.fleet import report, repriced
from stripdown.reasoning.costs import default_costs
from tests.fleet.made import REJECTED, line

OWN = replace(
    default_costs(),
    currency="SEK",
    amounts=default_costs().amounts | {"new_unit": 100.0, "change_over": 10.0, "bench_hour": 7.0},
    error=default_costs().error
    | {"sound_unit_scrapped": 1000.0, "first_mechanism_missed": 50.0, "unsound_unit_returned": 400.0},
)


def of(*alternatives: str, **first: float) -> dict[str, Any]:
    outcome = {"id": "replace_compressor", "expected_cost": 2000.0, "currency": "EUR"}
    outcome |= {"alternatives": [{"id": i, "expected_cost": 3000.0} for i in alternatives]}
    return dict(repriced(line("A", first=first, outcome=outcome), OWN, knowledge.load()))


def test_a_line_that_says_enough_is_priced_anew() -> None:
    """Replacing: 100 + 10 + 1000 * 0.2 (sound) + 50 * 0.2 (missed) = 320; returning: 14 + 400 * 0.8 + 10 = 344."""
    outcome = of("return_to_service", no_fault=0.2, floodback=0.8)["outcome"]
    assert (outcome["id"], outcome["currency"]) == ("replace_compressor", "SEK")
    assert outcome["expected_cost"] == pytest.approx(320, abs=1e-9)
    assert outcome["alternatives"] == [{"id": "return_to_service", "expected_cost": pytest.approx(344, abs=1e-9)}]


def test_the_cheapest_outcome_may_be_another_one_then() -> None:
    """Sound by 0.9: replacing 110 + 900 + 5 = 1015, returning 14 + 40 + 5 = 59."""
    assert of("return_to_service", no_fault=0.9, floodback=0.1)["outcome"]["id"] == "return_to_service"


@pytest.mark.parametrize("other", ["rebuild", "replace_valve_plate", "inspect_further", "unheard_of"])
def test_what_hangs_on_hidden_damage_keeps_the_cost_of_its_line(other: str) -> None:
    outcome = of(other, floodback=1.0)["outcome"]
    assert (outcome["expected_cost"], outcome["currency"], outcome["cost_kept"]) == (2000.0, "EUR", True)


def test_the_report_says_how_many_kept_their_cost() -> None:
    lines = [of("rebuild", floodback=1.0), of(floodback=1.0) | {"claim": "B"}]
    answer = report(lines).as_json()
    assert answer["costs"]["kept"] == 1
    assert any("1 of 2 returns keep the cost" in n["what"] for n in answer["notices"])
    assert {c["id"]: c["total"] for c in answer["costs"]["currencies"]} == {"EUR": 2000.0, "SEK": 110.0}


@pytest.mark.parametrize("spoilt", [{"outcome": None}, {"outcome": "x"}, {"first": 3}, {"first": [{"id": 1}]}])
def test_a_spoilt_line_is_no_fault_of_the_prices(spoilt: dict[str, Any]) -> None:
    repriced(line("A") | spoilt, OWN, knowledge.load())
    assert repriced(REJECTED, OWN, knowledge.load()) == REJECTED
