"""The index of 2,000 records in a real Chromium, opened as a file: sort, filter, search, by mouse and by keyboard."""

from pathlib import Path
from typing import Any

import pytest

from stripdown.pages import index_html
from stripdown.pages.index import ORDER

pytestmark = pytest.mark.browser

STATUSES = ("established", "established", "likely", "open", "conflicting")
FIRSTS = ("floodback", "oil_starvation", "single_phasing", "no_fault")
OUTCOMES = ("replace_compressor", "rebuild", "return_to_service")


def row(number: int) -> dict[str, Any]:
    """An invented result line; every seventh is signed, every hundredth was rejected."""
    claim = f"NB-{number:04d}"
    if number % 100 == 99:
        faults = [{"entry": "readings[1].unit", "what": "psy is no unit", "fix": "write psi"}]
        return {"claim": claim, "file": f"returns/{claim}.toml", "status": "rejected", "faults": faults}
    first = {"id": FIRSTS[number % 4], "probability": 0.5 + (number % 50) / 100}
    outcome = {"id": OUTCOMES[number % 3], "expected_cost": float(number % 4000), "currency": "EUR"}
    return {
        "claim": claim,
        "file": f"returns/{claim}.toml",
        "status": STATUSES[number % 5],
        "first": [first],
        "outcome": outcome,
        "unit": {"serial": f"00{number}", "model": ("K4-150", "K6-220")[number % 2]},
        "history": {"site": f"shed {number % 37}", "contractor": f"crew {number % 9}", "failed": "2025-11-03"},
        "confirmed": [{"by": "analyst 2"}] if number % 7 == 0 else [],
    }


ROWS = [row(number) for number in range(2000)]


@pytest.fixture(scope="module")
def index(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("index") / "index.html"
    path.write_text(index_html(ROWS), encoding="utf-8")
    return path


@pytest.fixture
def opened(index: Path, page: Any) -> Any:
    page.goto(index.as_uri())
    return page


def column(page: Any, number: int) -> list[str]:
    """What a column of the rows that fit says, from the top, listed or not."""
    rows = "[...document.querySelectorAll('tbody tr')].filter(r => !r.hidden)"
    told: list[str] = page.evaluate(f"{rows}.map(r => (r.cells[{number}].firstChild?.textContent ?? '').trim())")
    return told


def test_what_needs_a_person_stands_first_before_anybody_sorts(opened: Any) -> None:
    shown = opened.evaluate("[...document.querySelectorAll('tbody tr')].map(r => r.dataset.status)")
    assert len(shown) == 2000
    assert shown == sorted(shown, key=ORDER.index)
    assert shown[0] == "conflicting"


def test_sorting_by_a_click_and_back(opened: Any) -> None:
    head = opened.get_by_role("button", name="Expected cost")
    head.click()
    costs = [float(c.replace("EUR", "").replace("\u00a0", "").replace("\u202f", "") or 0) for c in _costs(opened)]
    assert costs == sorted(costs)
    head.click()
    costs = [float(c.replace("EUR", "").replace("\u00a0", "").replace("\u202f", "") or 0) for c in _costs(opened)]
    assert costs == sorted(costs, reverse=True)
    assert opened.locator("th[aria-sort=descending]").inner_text().startswith("Expected cost")


def _costs(page: Any) -> list[str]:
    told: list[str] = page.evaluate(
        "[...document.querySelectorAll('tbody td[data-title=Cost]')].map(c => c.textContent)"
    )
    return told


def test_sites_are_sorted_by_their_number(opened: Any) -> None:
    opened.get_by_role("button", name="Site").click()
    sites = [s for s in column(opened, 6) if s.startswith("shed")]
    assert sites[0] == "shed 0"
    assert sites.index("shed 2") < sites.index("shed 10")


def test_filters_and_search_work_together(opened: Any) -> None:
    opened.get_by_label("Status").select_option("open")
    opened.get_by_label("Model").select_option("K4-150")
    opened.get_by_label("Sign-off").select_option("✓")
    expected = [r["claim"] for r in ROWS if r["status"] == "open" and r["unit"]["model"] == "K4-150" and r["confirmed"]]
    assert sorted(column(opened, 0)) == sorted(expected)
    assert opened.locator("#shown").inner_text() == f"{len(expected)} of 2000 shown"
    opened.get_by_label("Search").fill("shed CREW")  # two words, any case
    assert len(column(opened, 0)) == len(expected)
    opened.get_by_label("Search").fill(expected[0].lower())
    assert len(column(opened, 0)) == 1
    opened.get_by_label("Search").fill("no such thing")
    assert opened.locator("#shown").inner_text() == "0 of 2000 shown"


def test_the_keyboard_does_it_all(opened: Any) -> None:
    opened.keyboard.press("Tab")
    opened.keyboard.type("nb-0099")
    assert column(opened, 0) == ["NB-0099"]
    for _ in range(5):  # four filters, then the first head: one row fits, so nothing more is to be listed
        opened.keyboard.press("Tab")
    opened.keyboard.press("Enter")
    assert opened.locator("th[aria-sort=ascending]").inner_text().startswith("Claim")


def test_the_first_two_hundred_are_listed_and_all_on_demand_and_in_print(opened: Any) -> None:
    assert opened.locator("tbody tr:visible").count() == 200
    assert opened.locator("#shown").inner_text() == "2000 of 2000 shown, the first 200 listed"
    opened.emulate_media(media="print")
    assert opened.locator("tbody tr:visible").count() == 2000
    opened.emulate_media(media="screen")
    opened.get_by_role("button", name="List all").click()
    assert opened.locator("tbody tr:visible").count() == 2000
    assert not opened.get_by_role("button", name="List all").is_visible()


@pytest.mark.parametrize("width", [1280, 1100, 900, 390])
def test_no_column_is_cut(opened: Any, width: int) -> None:
    opened.set_viewport_size({"width": width, "height": 800})
    beyond = "[document.documentElement, document.querySelector('.scroll')].map(e => e.scrollWidth - e.clientWidth)"
    assert opened.evaluate(beyond) == [0, 0]
    assert opened.locator("tbody tr:visible td[data-title=Sign-off]").first.is_visible()


def test_without_scripts_the_table_is_there_whole(index: Path, chromium: Any) -> None:
    plain = chromium.browser.new_context(java_script_enabled=False)
    page = plain.new_page()
    page.goto(index.as_uri())
    assert page.locator("tbody tr").count() == 2000
    assert not page.get_by_label("Search").is_visible()
    plain.close()
