"""What the explorer shows and saves: words, marks beside colours, nothing of a record taken for markup or formula."""

import csv
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from stripdown.fleet import opened
from stripdown.widgets.explorer import Explorer
from stripdown.widgets.explorer_export import save
from stripdown.widgets.explorer_view import View, workbook
from tests.fleet.made import line, population
from tests.widgets.shown import said

HOSTILE = "<img src=x onerror=alert(1)>"
FORMULA = "=HYPERLINK(1)"


def lines() -> list[dict[str, Any]]:
    """Twenty returns of a hostile site, twenty of a formula; floodback in 10 of one, in 4 of the other."""
    return [
        line(
            f"{site[0]}{i:02d}{HOSTILE}", site=site, age=300 + i,
            first={"floodback" if i < floodbacks else "wear_out": 1.0},
        )
        for site, floodbacks in ((HOSTILE, 10), (FORMULA, 4)) for i in range(20)
    ]  # fmt: skip


@pytest.fixture
def view(tmp_path: Path) -> View:
    rows = [f"S-{s[0]}{i:02d}{HOSTILE},K4-150,{s},,,2020-01-01," for s in (HOSTILE, FORMULA) for i in range(20)]
    rows += [f"R{i},K4-150,{HOSTILE},,,2020-01-01," for i in range(60)]
    fleet = opened(lines(), population(tmp_path, rows))
    made = workbook(fleet, out=str(tmp_path / "out"), page_of=lambda claim, file: f"<p>page of {claim!r}</p>")
    made.by.value = "site"
    made.kind.value = "first"
    made.of.value = "floodback"
    return made


def shown(html: str) -> str:
    return re.sub(r"<[^>]*>", "", html)


def test_bars_say_value_interval_and_number(view: View) -> None:
    assert [r.button.description for r in view.rows[:2]] == [f"▷ {HOSTILE}", f"▷ {FORMULA}"]
    assert shown(view.rows[0].track.value).startswith("50 % (")
    assert shown(view.rows[0].track.value).endswith("of 20")
    assert "35 %" in shown(view.title.value)  # 14 of 40
    assert view.rows[2].box.layout.display == "none"


def test_a_bar_opens_its_records_and_a_record_its_page(view: View) -> None:
    view.rows[0].button.click()
    assert view.rows[0].button.description.startswith("▶ ")
    assert view.inside.value == HOSTILE
    assert view.records[0].description.startswith("100 % · <00")
    view.records[0].click()
    assert "sandbox=''" in view.page.value
    assert "&lt;p&gt;page of" in view.page.value
    assert HOSTILE not in view.page.value
    view.back.click()
    assert view.page.value == ""
    view.rows[0].button.click()
    assert view.explorer.opened is None


def test_a_record_without_a_page_still_tells_its_facts(view: View) -> None:
    bare = View(view.explorer, Path("nowhere"), lambda claim, file: "")
    bare.records[0].click()
    assert "No page of it" in bare.page.value
    assert "floodback over 99 % (established)" in shown(bare.page.value)


def test_a_comparison_is_told_with_interval_and_correction(view: View) -> None:
    """10 of 20 against 4 of 20: +30 points, Agresti and Caffo 0.0 to 54.5; p 0.0495 of the N − 1 chi-square."""
    view.tabs["compare"].click()
    view.compare.click()
    assert "open a bar first" in view.told.value
    view.rows[0].button.click()
    view.compare.click()
    assert "+30.0 points (+0.0 to +54.5); p 0.05, corrected for 1 look 0.05" in shown(view.looks.value)
    assert "■ stands out" in view.looks.value
    view.kind.value = "avoidable_failure"
    view.compare.click()
    assert "2 looks taken" in view.looks.value
    assert "0.099" in shown(view.looks.value)  # 0.0495 × 2 / 1
    assert shown(view.looks.value).count("○ may be chance") == 3  # both now, and the latest in its sentence


def test_curves_tell_why_there_is_none(view: View) -> None:
    view.tabs["life"].click()
    assert "<svg" in view.curves.value
    assert "40 failed, 60 running" in view.curves.value
    view.tabs["incidence"].click()
    assert "<td>floodback</td><td>1</td>" in view.curves.value  # 300 to 319 days: all within the first full year
    # 14 of 100, none lost before: e = sqrt(0.14 × 0.86 / 100) = 0.0347, z × e / (0.86 × −ln 0.86) = 0.524, and
    # 1 − 0.86 ** exp(±0.524) = 0.085 and 0.225
    assert "14 % (9 % to 22 %)" in view.curves.value
    view.by.value = "outcome"
    view.rows[0].button.click()
    assert "◆ No curve: the outcome of the units" in view.curves.value


def test_what_is_kept_can_be_let_go_one_by_one(view: View) -> None:
    view.kept_by.value = "site"
    view.name.value = HOSTILE
    view.keep.click()
    assert view.chips[0].description == f"✕ site: {HOSTILE}"
    assert "Among site &lt;img" in view.title.value
    assert "20 returns" in view.title.value
    view.chips[0].click()
    assert view.chips[0].layout.display == "none"
    assert view.explorer.choice.chosen.all()


def test_no_text_of_a_record_is_markup(view: View) -> None:
    view.rows[0].button.click()
    for tab in ("compare", "life", "incidence", "records"):
        view.tabs[tab].click()
        view.compare.click()
        view.save.click()
    assert all("<img" not in text for text in said(view))


def test_everything_has_failed(tmp_path: Path) -> None:
    """The interval ends where the last unit failed; the curve is drawn all the same."""
    rows = [f"S-C{i},K4-150,north,,,2020-01-01," for i in range(5)]
    fleet = opened([line(f"C{i}", site="north", age=300 + i) for i in range(5)], population(tmp_path, rows))
    view = View(Explorer(fleet), tmp_path, lambda claim, file: "")
    view.tabs["life"].click()
    assert "5 failed, 0 running" in view.curves.value


class TestSaving:
    def test_figure_and_numbers(self, view: View, tmp_path: Path) -> None:
        view.save.click()
        folder = tmp_path / "out" / "explorer"
        assert sorted(f.name for f in folder.glob("explorer-*")) == [
            "explorer-001.csv",
            "explorer-001.png",
            "explorer-001.svg",
        ]
        assert (folder / "explorer-001.png").read_bytes().startswith(b"\x89PNG\r\n")
        svg = ElementTree.fromstring((folder / "explorer-001.svg").read_text(encoding="utf-8"))
        assert "50 %" in svg.attrib["aria-label"]
        with (folder / "explorer-001.csv").open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        assert [(r["group"], r["returns"], r["value"]) for r in rows] == [
            (HOSTILE, "20", "0.5"), (f"'{FORMULA}", "20", "0.2"), ("all chosen together", "40", "0.35")
        ]  # fmt: skip
        assert rows[0]["unit"] == "share of returns [1]"
        view.save.click()
        assert (folder / "explorer-002.csv").is_file()

    def test_curves_and_looks(self, view: View, tmp_path: Path) -> None:
        view.rows[0].button.click()
        view.compare.click()
        view.save.click()
        view.tabs["incidence"].click()
        view.save.click()
        view.tabs["life"].click()
        view.save.click()
        folder = tmp_path / "out" / "explorer"
        with (folder / "explorer-001-looks.csv").open(encoding="utf-8", newline="") as file:
            (look,) = csv.DictReader(file)
        assert float(look["change"]) == pytest.approx(0.3)
        assert look["looks"] == "1"
        with (folder / "explorer-003-life.csv").open(encoding="utf-8", newline="") as file:
            assert [(r["model"], r["failures"]) for r in csv.DictReader(file)] == [
                (HOSTILE, "20"),
                ("all others", "20"),
            ]
        assert (folder / "explorer-002-incidence.csv").is_file()
        assert (folder / "explorer-003-kaplan_meier.csv").is_file()

    def test_where_nothing_can_be_written_it_says_so(self, view: View, tmp_path: Path) -> None:
        (tmp_path / "file").write_text("")
        assert save(view.explorer, tmp_path / "file").startswith("Not saved: ")

    def test_without_an_answer_nothing_is_written(self, tmp_path: Path) -> None:
        explorer = Explorer(opened(lines()))
        explorer.ask("rate")
        assert save(explorer, tmp_path / "out") == "Not saved: there is no answer to save"
        explorer.show("life")
        assert save(explorer, tmp_path / "out") == "Not saved: there is no answer to save"
        assert not (tmp_path / "out").exists()
