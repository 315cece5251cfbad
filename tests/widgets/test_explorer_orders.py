"""Any order of questions and clicks: nothing raises, what is refused changes nothing, and the answers add up."""

import logging
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripdown.fleet import opened
from stripdown.widgets.explorer import PANELS, Explorer
from stripdown.widgets.explorer_choice import ORDERS
from stripdown.widgets.explorer_compare import REST
from stripdown.widgets.explorer_life import CURVES
from stripdown.widgets.explorer_measure import KINDS
from stripdown.widgets.explorer_table import DIMENSIONS, NOT_STATED
from stripdown.widgets.explorer_view import View
from tests.fleet.made import REJECTED, line, population
from tests.widgets.shown import said

HOSTILE = "<script>alert(1)</script>"
NAMES = (
    "",
    NOT_STATED,
    "north",
    "south",
    HOSTILE,
    "K4-150",
    "K6-220",
    "floodback",
    "wear_out",
    "2021 first half",
    "no",
)
FLEET_LINES = [
    line(f"C{i:02d}", site=("north", "south", HOSTILE, "")[i % 4], model=("K4-150", "K6-220")[i % 2], age=200 + 37 * i,
         first={("floodback", "wear_out", "no_fault")[i % 3]: 1 - i / 60, "surge": i / 60 or 1e-9},
         parts=(("stator",), ("stator", "main_bearing"), ())[i % 3], built=("2019-11-03", "2019-12-24")[i % 2],
         outcome={"id": "rebuild", "expected_cost": 100.0 * i, "currency": "EUR"})
    for i in range(24)
]  # fmt: skip


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Any:
    rows = [f"S-C{i:02d},{('K4-150', 'K6-220')[i % 2]},north,crew 1,,2020-01-01," for i in range(24)]
    rows += [f"R{i},K4-150,south,crew 1,,2020-06-01," for i in range(30)]
    return opened([*FLEET_LINES, REJECTED], population(tmp_path_factory.mktemp("units"), rows))


@pytest.fixture(scope="module")
def wrong() -> Iterator[list[str]]:
    """What ipywidgets says of a callback that raised: it tells its log, and nobody else."""
    told: list[str] = []

    class Kept(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            told.append(record.getMessage())

    kept = Kept(logging.WARNING)
    logging.getLogger("traitlets").addHandler(kept)
    yield told
    logging.getLogger("traitlets").removeHandler(kept)


TEXT = st.sampled_from(NAMES)
DIMENSION = st.sampled_from([*DIMENSIONS, "serial"])
OF = st.sampled_from(("", "floodback", "surge", "low_load", "stator", "gremlins"))
ACTION = st.one_of(
    st.tuples(st.just("keep"), DIMENSION, TEXT),
    st.tuples(st.just("let_go"), DIMENSION, TEXT),
    st.tuples(st.just("let_all_go")),
    st.tuples(st.just("ask"), st.sampled_from([*KINDS, "weight"]), OF),
    st.tuples(st.just("group"), DIMENSION),
    st.tuples(st.just("arrange"), st.sampled_from([*ORDERS, "random"])),
    st.tuples(st.just("show"), st.sampled_from([*PANELS, "map"])),
    st.tuples(st.sampled_from(("turn_bars", "turn_records")), st.integers(-2, 2)),
    st.tuples(st.just("open"), TEXT),
    st.tuples(st.sampled_from(("close", "compare", "close_record"))),
    st.tuples(st.just("against"), st.one_of(st.just(REST), TEXT)),
    st.tuples(st.just("open_record"), st.integers(-1, 30)),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(ACTION, max_size=25))
def test_any_order_of_questions_is_answered_or_refused(fleet: Any, actions: list[tuple[Any, ...]]) -> None:
    explorer = Explorer(fleet)
    for name, *arguments in actions:
        choice, looks = explorer.choice, list(explorer.looks)
        getattr(explorer, name)(*arguments)
        if explorer.refused:
            assert (explorer.choice, explorer.looks) == (choice, looks)
    choice = explorer.choice
    assert sum(b.returns for b in choice.measured(choice.groups)) == choice.together.returns
    assert explorer.opened in (None, *choice.groups)
    assert explorer.rest in (REST, *choice.groups)
    assert explorer.rest != explorer.opened or explorer.rest == REST
    assert explorer.record in (None, *explorer.rows)
    for bar in explorer.bars:
        assert math.isnan(bar.low) or bar.low <= bar.value + 1e-9 <= bar.high + 2e-9
    for look, p in zip(explorer.looks, explorer.corrected, strict=True):
        assert look.difference.p <= p + 1e-12 <= 1 + 2e-12
        assert not look.difference.low > look.difference.change
        assert not look.difference.high < look.difference.change
    for what in CURVES:
        told = explorer.curves(what)
        assert isinstance(told, str) or told["life"]


def pressed(view: View, place: int, choice: int) -> None:
    """One of all buttons and lists: pressed where it can be, or another entry of it chosen."""
    pages = [b for p in (view.bar_pages, view.record_pages) for b in (p.back, p.on)]
    single = [view.keep, view.all_again, view.compare, view.back]
    buttons = [*(r.button for r in view.rows), *view.chips, *view.records, *view.tabs.values(), *single, *pages]
    lists = [view.kind, view.of, view.by, view.order, view.kept_by, view.name, view.inside, view.against]
    widget = [*buttons, *lists][place % (len(buttons) + len(lists))]
    if widget in buttons:
        widget.click()
    elif widget.options:
        widget.value = widget.options[choice % len(widget.options)][1]


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 200), st.integers(0, 40)), max_size=25))
def test_any_order_of_clicks_shows_what_the_explorer_stands_at(
    fleet: Any, wrong: list[str], clicks: list[tuple[int, int]]
) -> None:
    view = View(Explorer(fleet), Path("nowhere"), lambda claim, file: f"<p>{claim}</p>")
    for place, choice in clicks:
        pressed(view, place, choice)
        assert wrong == []
    explorer = view.explorer
    assert (view.kind.value, view.by.value, view.order.value) == (
        explorer.choice.measure.kind, explorer.choice.by, explorer.choice.order
    )  # fmt: skip
    assert view.inside.value == (explorer.opened or "")
    assert view.against.value == explorer.rest
    assert all(HOSTILE not in text for text in said(view))


def test_a_list_says_which_names_are_there(fleet: Any) -> None:
    view = View(Explorer(fleet), Path("nowhere"), lambda claim, file: "")
    view.kept_by.value = "site"
    assert [name for name, _ in view.name.options] == [HOSTILE, "north", "south", NOT_STATED]
