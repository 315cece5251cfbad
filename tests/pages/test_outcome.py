"""What to do with the unit and on the site, and what is said of its cost."""

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from stripdown import pages
from stripdown.case import Case, judge
from stripdown.pages.outcome import outcomes, to_do
from stripdown.pages.show import Show
from stripdown.reasoning.costs import SHIPPED, Costs
from stripdown.reasoning.model import Check, Correction, Outcome, Share
from stripdown.record import Record, parse
from tests.pages import cases
from tests.pages.read import Text, pdf_text, texts

PASSED = "tested and passed: the reason for the complaint lies outside the compressor."
CHECKLIST = Correction("wrong_diagnosis", "A checklist before a compressor is condemned")


def _condemned(status: Any, outcome: str, first: str = "no_fault") -> Case:
    """A case in which a wrong diagnosis passes the threshold of what to correct."""
    case = cases.open_case()
    shares = (Share(first, 0.54), Share("liquid_slug" if first == "no_fault" else "no_fault", 0.46))
    made = Outcome(outcome, 60.0, "EUR")
    causes = (Share("wrong_diagnosis", 0.48),)
    changed = {"first": shares, "causes": causes, "outcome": made, "corrections": (CHECKLIST,)}
    return replace(case, finding=replace(case.finding, status=status, **changed))  # type: ignore[arg-type]


@pytest.mark.parametrize("status", ["established", "likely"])
def test_a_unit_found_sound_is_told_to_the_site(status: str) -> None:
    text = Text(pages.case_html(_condemned(status, "return_to_service"))).text
    assert PASSED in text
    assert "A checklist before a compressor is condemned." in text


@pytest.mark.parametrize(
    ("status", "outcome", "first"),
    [
        ("open", "inspect_further", "no_fault"),
        ("open", "return_to_service", "no_fault"),
        ("likely", "inspect_further", "no_fault"),
        ("likely", "replace_compressor", "no_fault"),
        ("conflicting", "inspect_further", "no_fault"),
        ("likely", "return_to_service", "sensor_fault"),
    ],
)
def test_nothing_is_said_to_have_passed_where_that_is_not_found(status: str, outcome: str, first: str) -> None:
    text = Text(pages.case_html(_condemned(status, outcome, first))).text
    assert "passed:" not in text
    assert "A checklist" not in text


def test_a_record_with_nothing_in_it_has_passed_no_test() -> None:
    unit = {"serial": "1", "model": "K4-150"}
    record = parse({"format": 1, "claim": "A", "unit": unit}, file="r", folder=".")
    assert isinstance(record, Record), record
    case = judge(record)
    assert "passed" not in Text(pages.sections.finding(case)).text


def _said(case: Case, **how: Any) -> str:
    return " ".join(texts([r for item in to_do(case, Show(**how)) for r in item]))


def test_what_came_from_the_works_is_not_looked_for_on_the_site(floodback: Case) -> None:
    f = replace(floodback.finding, causes=(Share("works_material", 0.87), Share("low_load", 0.2)))
    said = _said(replace(floodback, finding=f))
    assert "Beyond the site: defective part from the works (87 %)." in " ".join(said.split())
    assert said.count("look for and put right") == 1


def test_nothing_to_put_right_is_said(open_case: Case) -> None:
    assert "On the site: no cause to put right there reaches 15 %." in _said(open_case)
    checked = replace(open_case.finding, next_checks=(Check("oil.low", 0.2, 0.0, 5, "caution"),))
    assert "15 %; the checks below come before" in _said(replace(open_case, finding=checked))


def test_cost_says_what_it_is_made_of_and_which_table_it_is_from(floodback: Case) -> None:
    invented = "Amounts by the shipped cost table, whose amounts are invented; give your own with --costs."
    for text in (Text(pages.case_html(floodback)).text, pdf_text(pages.case_pdf(floodback))):
        assert text.count(invented) == 1
        assert text.index("EUR 2\u00a0610" if "EUR 2\u00a0610" in text else "EUR 2 610") < text.index(invented)
        assert "what each error that it may turn out to be would cost, weighed by its probability" in text
        assert re.search(r"Cost table:? the shipped one, its amounts invented", text)


def test_own_table_is_named_with_its_hash(tmp_path: Path, floodback: Case) -> None:
    """sha256 of the file by coreutils' sha256sum is what hashlib gives; both are FIPS 180-4."""
    own = tmp_path / "works & <b>.toml"
    own.write_text(SHIPPED.read_text(encoding="utf-8").replace("EUR", "USD"), encoding="utf-8")
    costs = Costs.load(own)
    case = judge(floodback.record, costs=costs)
    assert re.fullmatch(r"works & <b>\.toml, sha256:[0-9a-f]{64}", case.costs)
    text = Text(pages.case_html(case)).text
    assert "Amounts by your cost table works & <b>.toml." in text
    assert case.costs in text
    assert "amounts are invented" not in text
    assert "its amounts invented" not in text
    assert judge(floodback.record).costs == ""


@pytest.mark.parametrize(
    ("probability", "said"),
    [
        (0.3, "stops paying above 30 % probability of hidden damage"),
        (1.0, "pays whatever damage is hidden"),
        (0.0, "does not pay"),
    ],
)
def test_break_even_is_no_bound_beyond_all_probability(probability: float, said: str, floodback: Case) -> None:
    outcome = replace(floodback.finding.outcome, break_even=probability)
    case = replace(floodback, finding=replace(floodback.finding, outcome=outcome))
    assert outcomes(case, Show())[0]["caption"].endswith(f"repair of the part alone {said}")


def test_a_check_that_saves_nothing_makes_the_mechanism_surer(floodback: Case) -> None:
    idle = replace(floodback.finding.next_checks[0], saving=0.3)
    case = replace(floodback, finding=replace(floodback.finding, next_checks=(idle,)))
    text = Text(pages.sections.not_looked_at(case)).text
    assert "10 min · expected information 0.21 bit · makes the mechanism surer" in text
    assert "expected saving" not in text
    assert "expected saving EUR 14" in Text(pages.sections.not_looked_at(floodback)).text
