"""Pages, lessons and terminal say in words what the program has names for."""

import re
from collections.abc import Iterable, Mapping
from typing import Any

import pytest

from stripdown.case import judge
from stripdown.cli.finding import lines
from stripdown.lesson import plan
from stripdown.pages import case_page, lesson_page
from stripdown.pages.show import Show
from stripdown.record import Record, read_all
from stripdown.resources import demo
from tests.pages.read import texts

RECORDS = [r for r in read_all([str(demo() / "returns")]) if isinstance(r, Record)]
AS_IT_CAME = ("statements", "method")
"""Sections with the words of people, and with names of files and entries."""
NAME = re.compile(r"\b[a-z]+_[a-z_]+\b|past limit|\balarms\b|(none|present) →|→ (none|present)\b|(?<![\d.])(0|100) %")
"""Ids, levels, and the ends of a probability that are said in two ways."""


def _names(sections: Iterable[Mapping[str, Any]]) -> list[str]:
    said = [text for s in sections if s["key"] not in AS_IT_CAME for text in texts(dict(s))]
    assert sum(map(len, said)) > 5000
    return [text for text in said if NAME.search(text)]


@pytest.mark.parametrize("record", RECORDS, ids=lambda r: r.claim)
def test_a_page_has_no_name_of_the_program(record: Record) -> None:
    assert _names(case_page.content(judge(record), Show())["sections"]) == []


@pytest.mark.parametrize("record", RECORDS[::8], ids=lambda r: r.claim)
def test_a_lesson_has_none(record: Record) -> None:
    assert _names(lesson_page.content(plan(record), Show())["sections"]) == []


@pytest.mark.parametrize("record", RECORDS[::4], ids=lambda r: r.claim)
def test_what_clashes_and_comes_next_has_none_on_the_terminal(record: Record) -> None:
    """The other lines begin with ids, which scripts and people look up."""
    told = [line for line in lines(judge(record).as_json()) if line.startswith(("  conflict", "  next", "      "))]
    assert [line for line in told if NAME.search(line)] == []
