"""The page for the site: what to put right, and neither prices nor whose matter it is."""

import re
from dataclasses import replace
from typing import Any

import pytest

from stripdown import pages
from stripdown.case import Case, judge
from stripdown.pages.case_page import content
from stripdown.pages.show import Show
from stripdown.reasoning.model import Correction, Share, Step
from stripdown.record import Record, read_all
from stripdown.resources import demo
from tests.pages import cases
from tests.pages.read import Text, texts

UNSAID = (
    *("EUR", "expected cost", "ost table", "--costs", "saving", "stops paying"),
    *("liab", "warranty", "claimant", "blame", "fault of", "could have corrected", "need not have come back"),
    *("wrongly on the site", "wrongly in the works", "from the works", "condemned"),
)
"""Words of prices and of whose matter it is."""


RECORDS = [r for r in read_all([str(demo() / "returns")]) if isinstance(r, Record)]


@pytest.mark.parametrize("record", RECORDS, ids=lambda r: r.claim)
def test_no_record_of_the_demo_tells_the_site_prices_or_whose_it_was(record: Record) -> None:
    """What the page says by itself: the complaint is the claimant's."""
    sections = content(judge(record), Show(purpose="site"))["sections"]
    said = " ".join(texts([s for s in sections if s["key"] != "statements"]))
    assert len(said) > 5000
    assert [word for word in UNSAID if word in said] == []


def test_what_parties_say_of_each_other_is_not_told_to_the_site(floodback: Case) -> None:
    text = Text(pages.case_html(floodback, purpose="site")).text
    assert "breaker trips, earth fault" in text
    assert "unit was never opened" not in text


@pytest.mark.parametrize("build", [cases.floodback, cases.conflicting, cases.open_case])
def test_what_to_put_right_stays(build: Any) -> None:
    case = build()
    html = pages.case_html(case, purpose="site")
    warranty = pages.case_html(case)
    for c in case.finding.corrections:
        assert c.text[1:-1] in html
    for title in ("What to do now", "Corrections on the site and start-up", "Sign-off"):
        assert title in html
    assert html.count("☐") > 5
    assert "Probability that this unit need not have come back" in warranty


def test_a_fault_in_fitting_is_told_by_what_to_look_at(floodback: Case) -> None:
    causes = (Share("fitting_workmanship", 0.8), Share("works_material", 0.3))
    corrections = (
        Correction("fitting_workmanship", "Do again to the sheet: joints with new gaskets"),
        Correction("works_material", "Report to the works with photographs"),
    )
    chain = (Step("works_material", "defective part from the works", 0.3, False), *floodback.finding.chain[1:])
    f = replace(floodback.finding, causes=causes, corrections=corrections, chain=chain)
    text = Text(pages.case_html(replace(floodback, finding=f), purpose="site")).text
    assert re.search(r"joints, torques, gaskets and leads at the compressor\s+\(80 %\)", text)
    assert "Do again to the sheet: joints with new gaskets." in text
    assert "works" not in text.replace("workshop", "")
    page = Text(pages.case_html(replace(floodback, finding=f))).text
    assert "works" in page
    more, less = page.index("more probably at work than not"), page.index("Look whether it is so")
    assert more < page.index("joints with new gaskets") < less < page.index("Report to the works with photographs")
