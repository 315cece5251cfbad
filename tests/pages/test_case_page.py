"""The root-cause page: what stands on it, in which order, and that no text of a record becomes markup."""

import re
from dataclasses import replace
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from stripdown import knowledge, pages
from stripdown.case import Case
from stripdown.figures.levels import clash_words
from stripdown.pages.answer import first_of_all
from stripdown.pages.case_page import content
from stripdown.pages.show import Show
from stripdown.reasoning.model import Check, Flip, Share, Step
from stripdown.record.model import Observation, Statement
from tests.pages import cases
from tests.pages.read import Text, pdf_text, squeezed, texts

ORDER = (
    "Finding and what to do now",
    "How sure, and what speaks against it",
    "Chain of events",
    "Readings against limits",
    "What was found, part by part",
    "What was not looked at, and what would decide",
    "Corrections on the site and start-up",
    "What the parties say",
    "Proposal on liability",
    "Sign-off",
    "Cautions and limits of the method",
)


def test_sections_stand_in_their_order(floodback: Case) -> None:
    seen = re.findall(r"<h2 [^>]*>([^<]*)</h2>", pages.case_html(floodback))
    assert tuple(seen) == ORDER
    assert tuple(title for _, title, _ in pages.SECTIONS) == ORDER


def test_html_and_pdf_show_the_same_numbers(floodback: Case) -> None:
    said = [t for t in texts(content(floodback, Show())["sections"]) if re.search(r"\d", t)]
    html, pdf = squeezed(Text(pages.case_html(floodback)).text), squeezed(pdf_text(pages.case_pdf(floodback)))
    alt = [b["alt"] for s in content(floodback, Show())["sections"] for b in _figures(s["blocks"])]
    told = [t for t in said if t not in alt]
    assert len(told) > 100
    assert [t for t in told if squeezed(t) not in html] == []
    # a line break inside a long id or a hyphen may differ in the print, so numbers are compared one by one
    numbers = {n for t in told for n in re.findall(r"\d+(?:\.\d+)?", t) if len(n) < 12}
    assert [n for n in numbers if n not in pdf] == []


def _figures(blocks: list[dict[str, object]]) -> list[dict[str, object]]:
    out: list[dict[str, object]] = []
    for b in blocks:
        out += [b] if b["kind"] == "figure" else []
        inner = b.get("figures", [])
        assert isinstance(inner, list)
        out += inner
    return out


def test_page_for_the_site_has_no_proposal_on_liability(floodback: Case) -> None:
    html = Text(pages.case_html(floodback, purpose="site")).text
    assert "liability" not in html.lower()
    assert "Warranty until" not in html
    assert "Proposal on liability" in Text(pages.case_html(floodback)).text


@pytest.mark.parametrize(
    ("status", "said"),
    [
        ("established", False),
        ("likely", "this stands only once it is confirmed"),
        ("open", "The record does not decide what came first: this stands only once the mechanism is confirmed."),
    ],
)
def test_whose_it_is_stands_only_once_the_finding_does(floodback: Case, status: Any, said: str | bool) -> None:
    case = replace(floodback, finding=replace(floodback.finding, status=status))
    for told in (Text(pages.case_html(case)).text, pdf_text(pages.case_pdf(case))):
        plain = " ".join(told.split())
        assert "Proposed: system" in plain
        assert ("stands only once" in plain) == bool(said)
        assert said is False or str(said) in plain


def test_an_open_record_whose_matter_nobody_can_tell_proposes_none(open_case: Case) -> None:
    text = Text(pages.case_html(open_case)).text
    assert "It is not resolved by default against either side." in text
    assert "stands only once" not in text


@pytest.mark.parametrize("build", [cases.floodback, cases.conflicting, cases.open_case, cases.hostile])
def test_a_caution_stands_first_on_every_page(build) -> None:  # type: ignore[no-untyped-def]
    html = pages.case_html(build())
    text = Text(html).text
    assert text.count("Local codes, the equipment maker's instructions and licensed practice") >= 2
    assert text.index("⚠ CAUTION") < text.index("What to do now")
    assert pages.case_pdf(build())[:5] == b"%PDF-"


def test_no_box_says_twice_what_comes_before_anything_printed() -> None:
    """The general caution of the knowledge ends with it, as the box begins; the rest of it stays."""
    said = " ".join(first_of_all(knowledge.load().general_caution, "Wear gloves.")["items"])
    assert said.lower().count("local code") == 1
    assert said.index("Local codes") < said.index("Isolate, lock out") < said.index("look again.") < said.index("Wear")


def test_caution_stands_before_its_check_and_its_step(floodback: Case) -> None:
    text = Text(pages.case_html(floodback)).text
    assert text.index("Drained oil goes on giving off gas") < text.index("Look into the oil pick-up")
    assert text.index("Nitrogen through a regulator only") < text.index("System pressure-tested")


def test_robustness_below_0_90_is_warned_of(floodback: Case, conflicting: Case) -> None:
    assert "NOT ROBUST" in pages.case_html(conflicting)
    assert "only 71 %" in pages.case_html(conflicting)
    assert "NOT ROBUST" not in pages.case_html(floodback)


def test_a_record_in_conflict_sends_nobody_to_correct_the_site(conflicting: Case) -> None:
    """Findings that do not go together: inspect further only. A bridged protection alone is put right all the same."""
    finding = replace(conflicting.finding, causes=(Share("condensing_high", 0.8), Share("protection_defeated", 0.7)))
    text = Text(pages.case_html(replace(conflicting, finding=finding))).text
    todo = text[text.index("What to do now") : text.index("Outcomes that the record allows")]
    clash = clash_words(conflicting)
    assert clash
    assert f"Look again at the findings that do not go together ({clash})" in " ".join(todo.split())
    assert "condenser" not in todo
    assert "safety was bypassed" in todo


def test_conflict_names_the_findings_that_clash(conflicting: Case) -> None:
    text = Text(pages.case_html(conflicting)).text
    assert "IN CONFLICT" in text
    assert "crankshaft heat tinted: heavy, cylinder bore washed bright: heavy" in text
    assert "not resolved by default against either side" in text


def test_to_look_again_is_not_said_to_tell_anything_new(conflicting: Case) -> None:
    again = Check("look_again", 0.0, 0.0, 10.0, "Fingers clear.", "Look again at what does not go together: oil low")
    case = replace(conflicting, finding=replace(conflicting.finding, next_checks=(again,)))
    text = Text(pages.sections.not_looked_at(case)).text
    assert "Look again at what does not go together: oil low" in text
    assert "10 min" in text
    assert "bit" not in text.partition("Look again")[2]
    assert "surer" not in text


def test_what_was_not_looked_at_is_named(floodback: Case, open_case: Case) -> None:
    text = Text(pages.sections.not_looked_at(floodback)).text
    assert "strainer, check valve and vent" in text
    assert "terminal box and plate" not in text
    assert "Nothing is known of the system it ran in" in Text(pages.sections.not_looked_at(open_case)).text


def test_parts_are_promised_only_where_somebody_said_so(floodback: Case) -> None:
    """90 days after 3 Feb 2026, counted on a calendar: 25 in February, 31, 30, 4 in May."""
    undated = replace(floodback, record=replace(floodback.record, examined_on=None))
    for case, days, said in (
        (floodback, None, ""),
        (floodback, 90, "Parts are kept for 90 days from the examination, until 4 May 2026."),
        (undated, 1, "Parts are kept for 1 day from the examination."),
    ):
        html, pdf = pages.case_html(case, parts_kept=days), pages.case_pdf(case, parts_kept=days)
        for text in (Text(html).text, pdf_text(pdf)):
            assert said in text
            assert ("are kept" in text) == bool(said)


@pytest.mark.parametrize(("refrigerant", "said"), [("R744", True), ("R-290", True), ("R449A", False), (None, False)])
def test_some_refrigerants_keep_repairs_to_a_workshop(floodback: Case, refrigerant: str | None, said: bool) -> None:
    unit = replace(floodback.record.unit, refrigerant=refrigerant)
    text = Text(pages.sections.finding(replace(floodback, record=replace(floodback.record, unit=unit)))).text
    assert ("AUTHORISED WORKSHOP ONLY" in text) == said
    if said:
        assert text.index("AUTHORISED WORKSHOP ONLY") < text.index("What to do now")


def test_findings_carry_their_weight(floodback: Case) -> None:
    text = Text(pages.sections.found(floodback)).text
    assert "0.4 mm free up and down +13.1" in text
    assert "expansion valve bulb loose (−1.9)" in text


def test_oil_and_debris_are_no_last_failure(floodback: Case) -> None:
    steps = (*floodback.finding.chain, Step("motor_chamber.soot", "motor chamber soot", 1.0, True))
    finding = replace(floodback.finding, chain=steps)
    text = Text(pages.sections.finding(replace(floodback, finding=finding))).text
    assert "What failed last, as seen: stator rubbed, heavy ." in text


def test_what_failed_last_is_inferred_where_nobody_saw_it(floodback: Case) -> None:
    steps = (*floodback.finding.chain, Step("winding_shorted", "turns in contact", 0.63, False))
    case = replace(floodback, finding=replace(floodback.finding, chain=steps))
    assert "What failed last, inferred: turns in contact , 63 %." in Text(pages.sections.finding(case)).text


def _observed(finding: str, extent: Any) -> Observation:
    part, condition = finding.split(".")
    return Observation(entry="o", part=part, condition=condition, extent=extent)


@pytest.mark.parametrize(
    ("found", "said"),
    [
        ({"motor_chamber.soot": "slight", "stator.burnt_spot": "slight"}, "winding burnt at a spot"),
        ({"motor_chamber.soot": "slight", "stator.burnt_all_phases": "heavy"}, "winding burnt"),
        ({"motor_chamber.soot": "heavy"}, "winding burnt, soot through the machine"),
        ({"motor_chamber.soot": "heavy", "oil.acid_smell": "none"}, "winding burnt, soot through the machine"),
        (
            {"motor_chamber.soot": "heavy", "oil.acid_smell": "slight"},
            "winding burnt, soot and acid through the machine",
        ),
    ],
)
def test_a_burnt_winding_is_told_no_worse_than_it_was_found(found: dict[str, Any], said: str, floodback: Case) -> None:
    made = tuple(_observed(finding, extent) for finding, extent in found.items())
    burnt = Step("winding_burnt", "winding charred, soot and acid through the machine", 0.993, False)
    steps = (burnt, Step("motor_chamber.soot", "motor chamber soot", 1.0, True))
    record = replace(floodback.record, observations=made)
    case = replace(floodback, record=record, finding=replace(floodback.finding, chain=steps))
    text = Text(pages.sections.finding(case)).text
    soot = f"; seen of it: motor chamber soot, {found['motor_chamber.soot']}."
    assert f"What failed last, inferred: {said} , over 99 %{soot}" in text
    assert "charred" not in pages.case_html(case)


def test_a_number_is_not_parted_from_its_per_cent_sign_in_print(floodback: Case) -> None:
    """However long the line before it is; each of 60 lengths is tried in one page."""
    said = tuple(Statement(by=None, text="x " * n + "93 % of it") for n in range(60, 120))
    case = replace(floodback, record=replace(floodback.record, statements=said))
    text = "\n".join(p.extract_text() for p in PdfReader(BytesIO(pages.case_pdf(case))).pages)
    assert len(re.findall(r"93\s+%\s+of", text)) == len(said)
    assert not re.findall(r"93\s*\n\s*%", text)


def test_many_flips_and_checks_stay_short(floodback: Case) -> None:
    flips = tuple(Flip(f"stator.rubbed: heavy → none{i}", "surge") for i in range(9))
    checks = tuple(replace(floodback.finding.next_checks[0], id=f"c{i}", text=f"check number {i}") for i in range(9))
    case = replace(floodback, finding=replace(floodback.finding, flips=flips, next_checks=checks))
    assert "or 5 more" in Text(pages.sections.certainty(case)).text
    looked = Text(pages.sections.not_looked_at(case)).text
    assert looked.count("Prove zero pressure") == 1
    assert "Worth less for their time: check number 6; check number 7; check number 8" in looked


def test_us_units_only_change_what_is_shown(floodback: Case) -> None:
    si, us = (Text(pages.sections.readings(floodback, system=s)).text for s in ("si", "us"))  # type: ignore[arg-type]
    assert "111.0 ± 2.4 °C" in si
    assert "at most 107 °C" in si
    assert "232 ± 4 °F" in us  # 111 × 1.8 + 32 = 231.8; 2.4 × 1.8 = 4.3
    assert "at most 225 °F" in us  # 107 × 1.8 + 32 = 224.6
    assert "14.0 ± 0.9 psi" in us  # 96.5 kPa ÷ 6.894757 = 13.996
    assert "17.32 ± 0.12 thou" in us  # 0.44 mm ÷ 0.0254
    assert si.count("outside") == us.count("outside")


def test_electrical_readings_stand_behind_their_caution(floodback: Case) -> None:
    said = Text(pages.sections.readings(floodback)).text
    assert "proven dead" in said[: said.index("winding resistance")]
    other = tuple(r for r in floodback.readings if r.quantity == "main_bearing_play")
    assert "proven dead" not in Text(pages.sections.readings(replace(floodback, readings=other))).text


def test_every_reading_has_value_correction_uncertainty_limit_and_source_in_one_row(floodback: Case) -> None:
    html = pages.sections.readings(floodback)
    rows = [Text(row).text for row in re.findall(r"<tr>.*?</tr>", html, re.S)[1:]]
    assert len(rows) == len(floodback.readings)
    row = next(r for r in rows if "discharge line" in r)
    for part in ("111", "111.0 ± 2.4 °C", "at most 107 °C", "outside", "common practice"):
        assert part in row, row


def test_hostile_text_stays_text(hostile: Case) -> None:
    html = pages.case_html(hostile)
    page = Text(html)
    assert "script" not in page.tags
    assert not {a for a in page.attributes if a.startswith("on")}
    assert "<script>alert(1)</script>" in page.text
    assert "{{7*7}}" in page.text
    assert '#eval("1+1")' in page.text
    assert "\u202e" not in html
    assert "\u0007" not in html
    assert "\ufffdgnp.exe\ufffd" in html


def test_hostile_text_stays_text_in_print(hostile: Case) -> None:
    text = squeezed(pdf_text(pages.case_pdf(hostile)))
    for said in ("<script>alert(1)</script>", "{{7*7}}", '#eval("1+1")#panic()', "$x^2$*bold*"):
        assert said in text


def test_a_word_longer_than_its_column_goes_on_in_the_next_line_in_print(floodback: Case) -> None:
    """An M is about as wide as the letters are high, at least 7 pt here: of 595 pt of A4 no line holds more than 85."""
    record = replace(floodback.record, unit=replace(floodback.record.unit, serial="M" * 200))
    said = "\n".join(
        p.extract_text() for p in PdfReader(BytesIO(pages.case_pdf(replace(floodback, record=record)))).pages
    )
    runs = re.findall("M{20,}", said)
    assert sum(map(len, runs)) >= 180  # the start may stand behind a word, the end alone
    assert max(map(len, runs)) <= 85


def test_nothing_is_fetched_and_ids_are_unique(floodback: Case) -> None:
    html = pages.case_html(floodback)
    page = Text(html)
    assert not page.tags & {"script", "link", "iframe", "object", "embed", "base"}
    assert re.findall(r'(?:src|href)="(?!#|data:image/)[^"]*"', html) == []
    assert re.findall(r"url\((?!#)", html) == []
    assert "@import" not in html
    assert len(page.ids) == len(set(page.ids))
    assert page.headings[0] == "h1"
    assert page.headings.count("h1") == 1


def test_every_drawing_says_in_words_what_it_shows(floodback: Case) -> None:
    svgs = re.findall(r"<svg [^>]*>", pages.case_html(floodback))
    assert len(svgs) == 6
    assert all('role="img"' in s and re.search(r'aria-label="[^"]{20,}"', s) for s in svgs)


def test_same_case_same_bytes(floodback: Case) -> None:
    again = cases.floodback()
    assert pages.case_html(floodback) == pages.case_html(again)
    assert pages.case_pdf(floodback) == pages.case_pdf(again)
    assert b"/CreationDate" not in pages.case_pdf(floodback)


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_paper(floodback: Case, paper: str, size: tuple[int, int]) -> None:
    raw = pages.case_pdf(floodback, paper=paper)  # type: ignore[arg-type]
    box = PdfReader(BytesIO(raw)).pages[0].mediabox
    assert (round(box.width), round(box.height)) == size


def test_a_word_that_is_no_option_is_refused(floodback: Case) -> None:
    with pytest.raises(ValueError, match="paper is 'a5': it is one of a4, letter"):
        pages.case_html(floodback, paper="a5")  # type: ignore[arg-type]


def test_sections_are_fragments_of_the_page(floodback: Case) -> None:
    page = squeezed(pages.case_html(floodback))
    for _, _, section in pages.SECTIONS:
        assert squeezed(section(floodback)) in page
