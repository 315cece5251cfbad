"""No word of a fleet's figures, nor of those that an explorer draws, goes beyond the edge of its drawing."""

from typing import Any

import pytest

from stripdown.figures import explored
from stripdown.figures.figure import Figure
from stripdown.pages.fleet_page import content
from stripdown.pages.show import Show
from tests.figures.boxes import cut_off
from tests.pages import fleets


def _figures(value: Any) -> list[Figure]:
    if isinstance(value, dict):
        if value.get("kind") == "figure":
            return [Figure(value["svg"], value["alt"], value["title"])]
        return [f for v in value.values() for f in _figures(v)]
    return [f for v in value for f in _figures(v)] if isinstance(value, list) else []


@pytest.mark.parametrize("report", [fleets.report, fleets.large])
def test_no_word_of_a_fleet_page_is_cut_off(report: Any) -> None:
    drawn = _figures(content(report(), Show())["sections"])
    assert len(drawn) >= 12
    assert [(f.title, said) for f in drawn for said in cut_off(f)] == []


def test_no_word_of_an_explored_bar_is_cut_off() -> None:
    row = {"name": "W" * 34, "value": 2.0, "low": 1.0, "high": 3.0, "said": "2 of 8,000"}
    told = {"title": "Returns by model " * 8, "axis": "returns", "rows": [row] * 9, "together": 2.0}
    assert cut_off(explored.bars(told)) == []


def test_words_that_a_plot_turns_or_moves_are_measured_where_they_stand() -> None:
    """By hand: M is 0.863 of the size wide in DejaVu Sans (its hmtx table), 8.63 pt at 10."""
    svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 50 50">{}</svg>'
    plain = '<text style="font-size: 10px; text-anchor: {}" x="{}" y="{}"{}>M</text>'

    def cut(anchor: str, x: float, y: float, turned: str = "") -> bool:
        return bool(cut_off(Figure(svg.format(plain.format(anchor, x, y, turned)), "", "")))

    assert [cut("start", 41, 20), cut("start", 42, 20), cut("end", 9, 20), cut("end", 8, 20)] == [False, True] * 2
    up = ' transform="rotate(-90 20 {0})"'
    assert [cut("start", 20, 9, up.format(9)), cut("start", 20, 8, up.format(8))] == [False, True]
    assert [cut("end", 20, 41, up.format(41)), cut("end", 20, 42, up.format(42))] == [False, True]
