"""The fleet page: numbers of the report on both forms, empty reports, and text that stays text."""

import re
from io import BytesIO
from itertools import pairwise

import pytest
from pypdf import PdfReader

from stripdown import pages
from stripdown.figures import fleet_machine, lives, looks, tallies
from stripdown.pages import fleet_page
from stripdown.pages.show import Paper, Show
from tests.pages import fleets


def _seen(html: str) -> str:
    body = re.sub(r"<style>.*?</style>", " ", html, flags=re.S)
    return " ".join(re.sub(r"<[^>]*>", " ", body).split())


def _printed(raw: bytes) -> str:
    return " ".join(" ".join(p.extract_text() for p in PdfReader(BytesIO(raw)).pages).split())


@pytest.fixture(scope="module")
def html() -> str:
    """The page of the full report."""
    return pages.fleet_html(fleets.report())


@pytest.fixture(scope="module")
def pdf() -> bytes:
    """The same in print."""
    return pages.fleet_pdf(fleets.report())


def test_sections_stand_in_their_order(html: str) -> None:
    seen = re.findall(r"<h2 [^>]*>([^<]*)</h2>", html)
    assert seen == [title for _, title, _ in pages.FLEET_SECTIONS]


def test_numbers_stand_on_page_and_in_print(html: str, pdf: bytes) -> None:
    page, print_ = _seen(html), _printed(pdf)
    for said in (
        "24 % (18 to 31) were sound",
        "36 % (30 to 43) need not have come back",
        "Returns without a headline: 14",
        "2.10 (1.78 to 2.52)",  # 2.1 × 0.85 = 1.785, × 1.2 = 2.52
        "kappa 0.81 (0.66 to 0.93), 40 records",
        "Corrected p under 0.001. 4 of these failures are in the alert on site north packing shed; without those: 27 "
        "where 5.9 were due.",
        "Looks taken: 230, every p corrected for all of them",
        "Left out: 12 groups so small",
        "They fail 1.9 (1.1 to 3) times as often as first units of equal age, 95 %; p 0.010 by itself, 0.060 corrected "
        "for all looks taken: may be chance: one of many looks.",
        "+2.10 points (+0.70 to +3.50)",  # a share that rises by 0.021 (0.007 to 0.035) a year
        "0.93 times (0.82 to no end)",
        "EUR 137 196 (96 110 to 181 200) for the 66.6 (48 to 87) returns expected in the 6 months of the forecast",
        "whose prices are invented",
        "from 30 Jan 2026, is left out",  # watched until 29 January, the table begins with February
        "EUR 151 000 in returns that need not have come back: sound, or repairable on the site (37 % (31 to 43) of it)",
        "One person and the next: kappa 0.70 (0.40 to 0.95), 12 records",
        "0.021",  # bit a minute of the check that was missing
        "EUR 412 000",
        "units removed without a record: 12",
    ):
        assert said.replace("\u00a0", " ") in page.replace("\u00a0", " ")
        assert said in print_.replace("\u00a0", " ")


def test_a_question_stands_above_every_figure() -> None:
    """In each section whatever heading comes before a figure, with nothing between, asks what the figure answers."""
    content = fleet_page.content(fleets.report(), Show())
    figures = 0
    for section in content["sections"]:
        for before, block in pairwise(section["blocks"]):
            if block["kind"] == "figure":
                figures += 1
                assert before["kind"] == "heading", block["title"]
                assert before["text"].endswith("?"), block["title"]
        kinds = [block["kind"] for block in section["blocks"]]
        assert "figure" not in kinds[: kinds.index("heading")] if "heading" in kinds else "figure" not in kinds
    assert figures == 15


def test_every_interval_says_its_level() -> None:
    """Beside each figure, or in its axis, and in the heading of each column of intervals."""
    content = fleet_page.content(fleets.report(), Show())
    for section in content["sections"]:
        for block in section["blocks"]:
            if block["kind"] == "table" and any(" to " in c["text"] for row in block["rows"] for c in row):
                told = block["caption"] + " ".join(c["title"] for c in block["columns"])
                assert "95 %" in told or block["caption"].startswith("Said so sure"), block["caption"]


def test_what_was_chosen_stands_at_the_head(html: str) -> None:
    page = _seen(html)
    assert "Only model K4-150, K6-220" in page
    assert "Change 1 Jun 2024" in page


def test_shape_is_read_by_its_interval(html: str) -> None:
    page = _seen(html)
    assert "wear: the older, the likelier to fail" in page  # 1.79 to 2.52, all above 1
    assert "early failures" in page  # 0.60 to 0.84, all below 1


def test_figures_say_what_they_show() -> None:
    report = fleets.report()
    drawn = (
        tallies.first_mechanisms(report),
        tallies.causes(report),
        tallies.parts(report),
        tallies.flow(report),
        tallies.electrical(report),
        fleet_machine.parts(report),
        looks.months(report),
        looks.compared((("crew 7 against the rest", 2.4, 1.3, 4.1, "p 0.02"), ("quiet", 0.0, 0.0, None, "p 1.00"))),
        looks.looked_at(report),
        lives.life(report),
        lives.incidence(report),
        lives.rates(report, "model"),
        lives.forecast(report),
    )
    assert all(f is not None and len(f.alt) > 30 for f in drawn)
    assert "floodback 20 % (43.2 (41))" in (tallies.first_mechanisms(report) or drawn[0]).alt  # type: ignore[union-attr]
    assert "main bearing 38" in (fleet_machine.parts(report) or drawn[0]).alt  # type: ignore[union-attr]
    assert "outside: 2025-12 9 failures" in (looks.months(report) or drawn[0]).alt  # type: ignore[union-attr]
    assert lives.rates(report, "contractor") is None
    assert lives.rates(report, "duty") is None


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_page_but_the_last_ends_half_empty(paper: Paper) -> None:
    """The lowest text of each, the foot aside, stands in the lower four tenths of the paper."""
    printed = PdfReader(BytesIO(pages.fleet_pdf(fleets.large(), paper=paper))).pages
    assert len(printed) > 5
    for number, page in enumerate(printed[:-1], start=1):
        heights: list[float] = []
        page.extract_text(visitor_text=lambda text, cm, tm, *_: heights.append(tm[5]) if text.strip() else None)  # noqa: B023
        above_foot = sorted(h / float(page.mediabox.height) for h in heights)[2:]
        assert above_foot[0] < 0.4, (number, above_foot[:3])


def test_a_column_of_numbers_has_as_many_decimals_in_every_row() -> None:
    """By hand of 88, 6, 5.35, 4.08, 0.629, 0.278 failures, with two decimals each."""
    (table,) = [
        block
        for section in fleet_page.content(fleets.large(), Show())["sections"]
        for block in section["blocks"]
        if block["kind"] == "table" and block["caption"].startswith("Life per model")
    ]
    failed = [row[1]["text"] for row in table["rows"]]
    assert failed == ["88.00", "6.00", "5.35", "4.08", "0.63", "0.28"]
    assert [c["title"] for c in table["columns"]][1:6] == [
        "Failed [units]", "Running [units]", "Shape, 95 %", "Scale [years], 95 %", "B10 [years], 95 %"
    ]  # fmt: skip


def _tables(report: dict[str, object]) -> dict[str, list[list[str]]]:
    """Caption → rows of every table of the page."""
    blocks = [b for section in fleet_page.content(report, Show())["sections"] for b in section["blocks"]]
    return {b["caption"]: [[c["text"] for c in row] for row in b["rows"]] for b in blocks if b["kind"] == "table"}


def test_a_mechanism_leads_only_where_its_interval_stands_alone() -> None:
    """43 of 212 (15 to 27 %) and 25 (9 to 15 %): the ends overlap; with 15 to 27 and 3 to 6 they do not."""
    assert "None stands out the intervals overlap, 95 %: floodback 20 % (15 to 26), oil starvation" in _spaced(
        pages.fleet_html(fleets.report() | {"first": _first(0.16)})
    )
    assert "▶ MOST FREQUENT FIRST MECHANISM Floodback" in _spaced(
        pages.fleet_html(fleets.report() | {"first": _first(0.06)})
    )


def _first(high: float) -> list[dict[str, object]]:
    return [
        {"id": "no_fault", "count": 51, "expected": 51.0, "share": 0.24, "low": 0.18, "high": 0.3},
        {"id": "floodback", "count": 43, "expected": 43.0, "share": 0.2, "low": 0.15, "high": 0.26},
        {"id": "oil_starvation", "count": 9, "expected": 9.0, "share": 0.04, "low": 0.03, "high": high},
    ]


def _spaced(html: str) -> str:
    return _seen(html).replace("\u00a0", " ")


def test_groups_that_cannot_be_told_apart_show_plain_counts_once_said() -> None:
    report = fleets.report()
    report["by"]["site"] = [r | {"drawn": 0.97} for r in report["by"]["site"]]
    (caption,) = [c for c in _tables(report) if c.startswith("Too little to tell them apart by mechanism")]
    assert _tables(report)[caption][0] == [
        "north packing shed", "30", "3.10 (2.48 to 4.03)", "floodback 9; no fault 8; not decided 13"
    ]  # fmt: skip


def test_a_single_group_is_told_apart_from_nothing() -> None:
    report = fleets.report()
    report["by"]["site"] = [report["by"]["site"][0] | {"drawn": 1.0}]
    assert [c for c in _tables(report) if c.startswith("Plain counts")]


def test_every_cut_of_a_table_is_stated() -> None:
    """24 curves of six models, 16 rows shown; 40 places, 16 shown; 30 trends, 12 shown; 11 checks and pairs, 10; and
    42 months, 36 drawn."""
    report = fleets.large()
    report["repeats"] = report["repeats"] * 40
    report["trend"] = report["trend"] * 15
    report["next_checks"]["checks"] = report["next_checks"]["checks"] * 11
    report["agreement"]["disagree"] = report["agreement"]["disagree"] * 11
    report["months"] = report["months"] * 14
    assert "The last 36 months; 6 earlier in months.csv." in _seen(pages.fleet_html(report))
    tables = _tables(report)
    for said, rows in (
        ("4 a model and 16 rows at most, 8 more in incidence.csv", 16),
        ("the 16 least likely by chance of 40, all in repeats.csv", 16),
        ("the 12 least likely by chance of 30, all in trend.csv", 12),
        ("; 10 of 11, all in next_checks.csv", 10),
        ("Where they differ; 10 of 11, all in disagree.csv", 10),
    ):
        (caption,) = [c for c in tables if said in c]
        assert len(tables[caption]) == rows


def test_two_p_are_told_apart_in_words() -> None:
    """p 0.01 alone and 0.06 corrected may be chance; 0.02 corrected is more; 1 is no sign."""
    (rows,) = [rows for caption, rows in _tables(fleets.report()).items() if "least likely by chance of 5" in caption]
    assert [row[-3:] for row in rows] == [
        ["0.010", "0.060", "may be chance: one of many looks"],  # the change
        ["0.002", "0.020", "more than chance"],
        ["0.010", "0.060", "may be chance: one of many looks"],
    ]


def test_where_all_may_be_chance_the_page_says_so() -> None:
    report = fleets.report()
    said = "None of these differences is more than 230 looks bring by chance."
    assert said not in _seen(pages.fleet_html(report))
    report["comparisons"] = [c | {"p_adjusted": 1.0} for c in report["comparisons"]]
    assert said in _seen(pages.fleet_html(report))


def test_no_number_of_a_large_fleet_has_an_exponent_or_stands_unspaced() -> None:
    report = fleets.report() | {"returns": 64530, "undecided": 12345, "looks": 4321}
    report["by"]["model"] = [r | {"returns": 6453} for r in report["by"]["model"]]
    report["life"] = [m | {"failures": 2202.584, "running": 7465} for m in report["life"]]
    html = pages.fleet_html(report)
    seen = _seen(html)
    assert not re.search(r"\d(\.\d+)?e[+-]\d", seen.split("sha256:")[0])
    for told in ("64 530", "12 345", "4 321", "6 453", "2 202.58", "7 465"):
        assert told.replace(" ", "\u00a0") in html
        assert told.replace(" ", "") not in seen


def test_counts_lie_inside_their_discs() -> None:
    """Bold digits of DejaVu Sans are at most 0.7 of the size wide, the space between groups 0.35 (its own metrics)."""
    rows = [("crankshaft", 18674), ("stator", 351), ("suction_reed", 1112), ("main_bearing", 7)]
    drawn = fleet_machine.parts(fleets.report() | {"parts": [{"id": p, "count": n} for p, n in rows]})
    assert drawn is not None
    discs = re.findall(r' r="([\d.]+)".*?font-size="([\d.]+)".*?>([\d\u00a0]+)</text>', drawn.svg)
    assert len(discs) == 4
    for radius, size, told in discs:
        wide = float(size) * sum(0.35 if c == "\u00a0" else 0.7 for c in told)
        assert wide <= 2 * float(radius), told


def test_site_names_stay_text(html: str, pdf: bytes) -> None:
    assert "<b>pier" not in html
    assert "&lt;b&gt;pier 4&lt;/b&gt;" in html
    assert "<b>pier 4</b>" in _printed(pdf)


def test_nothing_to_report_is_a_page_too() -> None:
    page = _seen(pages.fleet_html(fleets.empty()))
    assert "No return was judged" in page
    assert "No dates in the records" in page
    assert pages.fleet_pdf(fleets.empty())[:5] == b"%PDF-"


def test_same_report_same_bytes(html: str, pdf: bytes) -> None:
    again = dict(reversed(list(fleets.report().items())))
    assert pages.fleet_html(again) == html
    assert pages.fleet_pdf(again) == pdf


def test_every_fleet_section_stands_alone() -> None:
    for _, title, section in pages.FLEET_SECTIONS:
        assert f">{title}</h2>" in section(fleets.report())
