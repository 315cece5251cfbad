"""What alerts share, counted by hand."""

from pathlib import Path
from typing import Any

import pytest

from stripdown.fleet import report
from tests.fleet.made import line, population


@pytest.fixture(scope="module")
def answer(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Site 7 is the one bad site of crew 0: 20 of its 40 units failed, 5 of 200 at crew 0's other site, 20 of 800
    elsewhere; all at one age."""
    rows, lines = [], []
    for site, crew, units, failed in (("7", "crew 0", 40, 20), ("8", "crew 0", 200, 5), ("9", "crew 1", 800, 20)):
        for i in range(units):
            rows.append(f"{site}-{i},K4-150,{site},{crew},,2020-01-01,{'' if i < failed else '2021-02-04'}")
        lines += [line(f"{site}-{i}", serial=f"{site}-{i}", site=site, contractor=crew) for i in range(failed)]
    return report(lines, population(tmp_path_factory.mktemp("fleet"), rows)).as_json()


def test_a_crew_is_told_apart_from_its_bad_site(answer: dict[str, Any]) -> None:
    """Crew 0: 25 of 240; elsewhere 20 of 800, so 6 are due; without the 40 units of site 7 it is 5 of 200, 5 due."""
    found = {(a["kind"], a["id"]): a for a in answer["alerts"]}
    crew, site = found["contractor", "crew 0"], found["site", "7"]
    assert (crew["observed"], crew["expected"]) == (25, pytest.approx(6))
    assert (crew["shared"], crew["also_in"]) == (20, ["site 7"])
    assert (crew["others_observed"], crew["others_expected"]) == (5, pytest.approx(5))
    assert (site["observed"], site["shared"], site["also_in"]) == (20, 20, ["contractor crew 0"])
    assert site["others_observed"] is None
    assert site["others_expected"] is None
    assert site["text"].startswith("site 7: 20 failures where 1 were to be expected")  # 40 units at 25 of 1000


def test_kinds_of_alert_are_those_of_the_contract(answer: dict[str, Any]) -> None:
    """A trend, replacements and a change stand in their own tables, whatever their p."""
    assert {a["kind"] for a in answer["alerts"]} <= {"build_month", "site", "contractor", "repeat_at_place"}


def test_a_place_shares_its_failures_with_its_site(tmp_path: Path) -> None:
    """One place of pier 4 ate four replacements within 40 days each, the only failures of 500 units there and here."""
    rows = [f"U{i},K4-150,{'pier 4' if i < 100 else 'quay'},,,2020-01-01," for i in range(500)]
    lines = []
    for k in range(5):
        day = f"2020-{2 + k:02d}-11"
        rows.append(f"R{k},K4-150,pier 4,,,2020-{1 + k:02d}-03,")
        replaces = {"replaces": f"R{k - 1}"} if k else {}
        made = line(f"R{k}", serial=f"R{k}", site="pier 4", age=None, failed=day, **replaces)
        made["history"]["installed"] = f"2020-{1 + k:02d}-03"
        lines.append(made)
    found = {a["kind"]: a for a in report(lines, population(tmp_path, rows)).as_json()["alerts"]}
    place = found["repeat_at_place"]
    assert place["observed"] == 4  # the first unit there was no replacement
    assert place["others_expected"] is None
    if "site" in found:
        assert (place["shared"], place["also_in"]) == (4, ["site pier 4"])
        assert found["site"]["shared"] == 4
    else:
        assert (place["shared"], place["also_in"]) == (0, [])
