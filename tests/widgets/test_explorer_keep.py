"""What an engineer looked at outlives the program behind the page, and no file of looks can stop the workbook."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2

from stripdown.fleet import Opened, opened
from stripdown.widgets.explorer import Explorer
from stripdown.widgets.explorer_keep import KeptFile, stand
from stripdown.widgets.explorer_view import View, workbook
from tests.fleet.made import line
from tests.widgets.test_explorer_orders import ACTION, FLEET_LINES


def fleet(*sites: str) -> Opened:
    """Twenty returns a site; of the first 10 by floodback, of each further one 2 fewer."""
    return opened(
        [
            line(f"{site}-{i:02d}", site=site, first={"floodback" if i < 10 - 2 * nth else "wear_out": 1.0})
            for nth, site in enumerate(sites)
            for i in range(20)
        ]
    )


def asked(explorer: Explorer) -> Explorer:
    explorer.group("site")
    explorer.ask("first", "floodback")
    return explorer


def test_a_workbook_that_begins_anew_stands_where_it_stood(tmp_path: Path) -> None:
    view = workbook(fleet("north", "south", "west"), out=str(tmp_path), source="a")
    view.kept_by.value, view.name.value = "site", "north"
    view.keep.click()
    view.name.value = "south"
    view.keep.click()
    view.kind.value, view.by.value = "first", "site"
    view.of.value = "floodback"
    view.tabs["compare"].click()
    view.inside.value = "north"
    view.compare.click()
    again = workbook(fleet("north", "south", "west"), out=str(tmp_path), source="a")
    assert stand(again.explorer) == stand(view.explorer)
    assert again.explorer.looks == view.explorer.looks
    assert "1 look taken" in again.looks.value
    assert again.inside.value == "north"
    other = workbook(fleet("north", "south", "west"), out=str(tmp_path), source="b")
    assert other.explorer.looks == []


def test_looks_are_answered_by_the_returns_as_they_are_now(tmp_path: Path) -> None:
    """10 of 20 against 8 of 20 and against 6 of 20: the differences are +10 and +20 points."""
    before = asked(Explorer(fleet("north", "south", "west")))
    before.open("north")
    for other in ("south", "west"):
        before.against(other)
        before.compare()
    file = KeptFile(tmp_path, "")
    assert file.save(before) is None
    now = Explorer(fleet("north", "south"))
    file.take_up(now)
    assert [(k.question.b, round(k.difference.change, 9)) for k in now.looks] == [("south", 0.1)]
    assert (now.opened, now.rest, now.choice.by) == ("north", "", "site")
    other = Explorer(fleet("west", "north"))  # 8 of 20 against 10 of 20
    file.take_up(other)
    assert [(k.question.b, round(k.difference.change, 9)) for k in other.looks] == [("west", -0.1)]


@settings(max_examples=40, deadline=None)
@given(st.lists(ACTION, max_size=20))
def test_any_stand_is_taken_up_as_it_was(tmp_path_factory: pytest.TempPathFactory, actions: list[Any]) -> None:
    told = opened(FLEET_LINES)
    explorer, file = Explorer(told), KeptFile(tmp_path_factory.mktemp("looks"), "")
    for name, *arguments in actions:
        getattr(explorer, name)(*arguments)
    assert file.save(explorer) is None
    again = Explorer(told)
    file.take_up(again)
    assert (stand(again), again.looks, again.refused) == (stand(explorer), explorer.looks, None)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "3",
        "[]",
        "\x00\xff",
        "[" * 100_000,
        '{"looks": 3, "kept": {"site": 1}, "by": ["site"]}',
        '{"looks": [3, {"a": [], "kept": [["site"]]}], "kept": [["site", "north"], [3, [4]]], "measure": [1]}',
        '{"by": "weight", "measure": ["first", "gremlins"], "opened": 3, "rest": {}, "panel": "map", "order": null}',
    ],
)
def test_a_spoilt_file_begins_the_workbook_as_new(tmp_path: Path, text: str) -> None:
    file = KeptFile(tmp_path, "")
    file.path.write_text(text, encoding="latin-1")
    explorer = Explorer(fleet("north", "south"))
    fresh = stand(explorer)
    file.take_up(explorer)
    assert (stand(explorer), explorer.refused) == (fresh, None)


def test_where_nothing_can_be_kept_it_says_so_and_goes_on(tmp_path: Path) -> None:
    (tmp_path / "explorer").write_text("")
    view = workbook(fleet("north", "south"), out=str(tmp_path))
    view.by.value = "site"
    assert "Your looks are not kept" in view.told.value
    assert view.explorer.choice.by == "site"


def test_each_group_against_the_rest_is_a_look_each() -> None:
    """Three sites: three looks. West, 6 of 20, against 18 of 40: N − 1 chi-square (E. Pearson, Biometrika 34, 1947)."""
    explorer = asked(Explorer(fleet("north", "south", "west")))
    explorer.compare_each()
    assert [k.question.a for k in explorer.looks] == ["north", "south", "west"]
    west = explorer.looks[2].difference
    chi = 59 * (6 * 22 - 14 * 18) ** 2 / (20 * 40 * 24 * 36)
    assert west.p == pytest.approx(float(chi2.sf(chi, 1)), rel=1e-9)
    explorer.open("west")
    explorer.compare()  # the same question as one of the three
    assert len(explorer.looks) == 3
    explorer.forget_looks()
    assert (explorer.looks, explorer.latest) == ([], ())


def test_a_group_that_cannot_be_compared_is_passed_over_and_said(tmp_path: Path) -> None:
    lines = [line(f"a{i}", site="a", first={"floodback" if i < 5 else "wear_out": 1.0}) for i in range(9)]
    lines += [line(f"b{i}", site="b", first={"floodback": 1.0}) for i in range(3)]
    lines += [line("c1", site="c", first={"floodback": 1.0}), line("d1", first={"floodback": 1.0})]
    view = View(asked(Explorer(opened(lines))), tmp_path, lambda claim, file: "")
    view.tabs["compare"].click()
    assert view.each.description == "Compare each site against all others"
    view.each.click()
    assert [k.question.a for k in view.explorer.looks] == ["a", "b"]
    assert "each site against all others</b>: 2 looks" in view.looks.value
    assert "Too little is known of 1 more to compare them." in view.looks.value
    view.kind.value = "returns"
    view.each.click()
    assert "counts say nothing" in view.told.value
    assert len(view.explorer.looks) == 2


def test_a_list_of_looks_is_forgotten_only_when_that_is_pressed_twice(tmp_path: Path) -> None:
    view = workbook(fleet("north", "south"), out=str(tmp_path))
    view.kind.value, view.by.value = "first", "site"
    view.of.value = "floodback"
    view.tabs["compare"].click()
    view.each.click()
    view.forget.click()
    assert view.forget.description == "Press again to forget 2 looks"
    view.by.value = "model"
    view.forget.click()
    assert len(view.explorer.looks) == 2
    view.forget.click()
    assert view.explorer.looks == []
    (file,) = (tmp_path / "explorer").iterdir()
    assert json.loads(file.read_text(encoding="utf-8"))["looks"] == []
