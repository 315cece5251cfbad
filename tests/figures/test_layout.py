"""No word of a figure is cut off at its edge or lies on another, however much there is to say."""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import combinations
from typing import NamedTuple
from xml.etree import ElementTree

import pytest

from stripdown import vocabulary
from stripdown.case import Case
from stripdown.figures import bars, lesson, machine, plot, resistances
from stripdown.figures.figure import Figure
from stripdown.limits.model import Corrected, Judged, Tier, Verdict
from stripdown.reasoning.model import Share
from tests import open_cases
from tests.figures.crowded import crowded
from tests.figures.every import EVERY

_RISE, _FALL = 0.76, 0.24
"""Capitals above and descenders below the foot of a line, of its size: metrics of DejaVu Sans."""


class Word(NamedTuple):
    """A line of words and the box it fills [pt]."""

    said: str
    left: float
    top: float
    right: float
    bottom: float


def placed(element: ElementTree.Element, x: float = 0, y: float = 0, scale: float = 1) -> Iterator[Word]:
    """Every line of words of a drawing, moved and scaled as it is drawn."""
    for name, given in re.findall(r"(translate|scale)\(([^)]*)\)", element.get("transform", "")):
        numbers = [float(n) for n in given.split()]
        if name == "scale":
            scale *= numbers[0]
        else:
            x, y = x + scale * numbers[0], y + scale * numbers[1]
    if element.tag.rpartition("}")[2] == "text":
        size, said = float(element.get("font-size", 0)), "".join(element.itertext())
        across = plot.width(said, size)
        left = (
            float(element.get("x", 0))
            - {"start": 0, "middle": 0.5, "end": 1}[element.get("text-anchor", "start")] * across
        )
        foot = float(element.get("y", 0))
        yield Word(
            said,
            x + scale * left,
            y + scale * (foot - _RISE * size),
            x + scale * (left + across),
            y + scale * (foot + _FALL * size),
        )
    for child in element:
        yield from placed(child, x, y, scale)


def faults(figure: Figure) -> list[tuple[str, ...]]:
    """Words that stick out of the drawing by half a point, and pairs that lie on each other by more than a hair."""
    found = list(placed(ElementTree.fromstring(figure.svg)))
    wide, high = figure.size
    out = [(w.said,) for w in found if min(w.left, w.top, wide - w.right, high - w.bottom) < -0.5]
    for a, b in combinations(found, 2):
        if min(a.right, b.right) - max(a.left, b.left) > 0.5 and min(a.bottom, b.bottom) - max(a.top, b.top) > 1.5:
            out.append((a.said, b.said))
    return out


@pytest.mark.parametrize("draw", EVERY, ids=lambda draw: draw.__name__)
def test_every_word_can_be_read(draw: Callable[[Case], Figure | None]) -> None:
    case = crowded()
    assert len(case.finding.evidence) >= 40
    for each in (case, open_cases.judged("C11"), open_cases.judged("C14")):
        figure = draw(each)
        assert figure is None or faults(figure) == []
    assert draw(case) is not None


def _read(place: int, quantity: str, between: str, at: str, value: float | str, verdict: Verdict) -> Judged:
    unit, limit = (
        ("ohm", Tier("limit", 0.7, 0.9)) if quantity == "winding_resistance" else ("Mohm", Tier("limit", 5e6, None))
    )
    corrected = Corrected(value, unit, 0.02) if isinstance(value, float) else None
    return Judged(
        quantity=quantity, entry=f"readings[{place}]", between=between, at=at, value=value, unit=unit, rule="any",
        verdict=verdict, tiers=(limit,), judged_unit="ohm", corrected=corrected, probability_within=0.0,
    )  # fmt: skip


def test_both_windings_of_a_part_winding_motor_can_be_read_at_both_places() -> None:
    """Six pairs and six ways to the frame, over range, at the floor and ten decades apart, with every verdict."""
    values: dict[str, tuple[float | str, ...]] = {
        "winding_resistance": (0.86, "open", "short"),
        "insulation_resistance": (9999.0, "short", 1e-6),
    }
    pairs = {
        "winding_resistance": ("1U-1V", "1V-1W", "1W-1U", "2U-2V", "2V-2W", "2W-2U"),
        "insulation_resistance": ("U-frame", "V-frame", "W-frame", "all-frame", "1-frame", "2-frame"),
    }
    verdicts: tuple[Verdict, ...] = ("within", "outside", "open", "no_limit")
    every = [(q, b, at) for q, ways in pairs.items() for b in ways for at in ("terminals", "leads")]
    read = [_read(i, q, b, at, values[q][i % 3], verdicts[i % 4]) for i, (q, b, at) in enumerate(every)]
    figure = resistances.resistances(replace(crowded(), readings=tuple(read)))
    assert figure is not None
    assert faults(figure) == []
    for verdict in ("within", "outside", "undecided", "no limit"):
        assert figure.svg.count(f" {verdict}") >= 2  # in what is said of each panel


@pytest.mark.parametrize("first", range(0, len(vocabulary.mechanisms()), 6))
def test_candidates_of_a_station_can_be_read_however_they_moved(first: int) -> None:
    six = list(vocabulary.mechanisms())[first : first + 6]
    ends = (0.001, 0.999, 0.002)
    before = [Share(m, ends[i % 3]) for i, m in enumerate(six)]
    after = [Share(m, ends[(i + 1) % 3]) for i, m in enumerate(six)]
    assert faults(lesson.moved(before, after)) == []


def test_words_that_are_cut_off_or_lie_on_each_other_are_found() -> None:
    """The look itself."""
    svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 20">{}</svg>'
    words = '<text x="2" y="10" font-size="9">first</text><text x="{}" y="10" font-size="9">second</text>'
    assert faults(Figure(svg.format(words.format(50)), "", "")) == []
    assert faults(Figure(svg.format(words.format(80)), "", "")) == [("second",)]
    assert faults(Figure(svg.format(words.format(9)), "", "")) == [("first", "second")]


@pytest.mark.parametrize("p", [0.5, 0.53, 0.59, 0.6, 0.85, 0.89, 0.9, 0.995])
def test_no_mark_of_a_status_goes_through_a_number(p: float) -> None:
    case = crowded()
    first = (Share("floodback", p), Share("wear_out", 1 - p))
    figure = bars.first_mechanisms(replace(case, finding=replace(case.finding, first=first)))
    marks = [float(x) for x in re.findall(r'd="M([\d.]+) [^"]*"[^>]*stroke-dasharray', figure.svg)]
    assert len(marks) == 2
    numbers = [w for w in placed(ElementTree.fromstring(figure.svg)) if re.fullmatch(r"(over |under )?\d+ %", w.said)]
    assert len(numbers) == 2
    assert [w.said for w in numbers for x in marks if w.left < x < w.right] == []
    assert faults(figure) == []


def test_no_marker_hides_a_name_of_the_drawing() -> None:
    """A square marker reaches 7.5 pt to each side."""
    names = [w for n in machine._NAMES for w in placed(ElementTree.fromstring(machine._name(*n)))]
    hidden = [
        (part, name.said)
        for part, (x, y) in machine.PLACES.items()
        for name in names
        if name.left - 7.5 < x < name.right + 7.5 and name.top - 7.5 < y < name.bottom + 7.5
    ]
    assert hidden == []


def test_a_line_of_the_drawing_s_list_ends_with_a_whole_word_and_counts_what_is_left_out() -> None:
    said = [w.said for w in placed(ElementTree.fromstring(machine.machine(crowded()).svg))]
    lines = [s for s in said if re.match(rf"({'|'.join(map(vocabulary.label, vocabulary.parts()))}): ", s)]
    assert len(lines) > 30
    assert [s for s in lines if not re.search(r"\((heavy|slight|unreadable)\)(, \+\d)?$", s)] == []


def test_numbers_of_the_chain_leave_each_other_free() -> None:
    figure = lesson.chain_on_machine(crowded())
    assert figure is not None
    discs = re.findall(r'<text x="([\d.]+)" y="([\d.]+)" font-size="13"', figure.svg)
    spots = [(float(x), float(y)) for x, y in discs]
    assert len(spots) > 10
    close = [(a, b) for a, b in combinations(spots, 2) if (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 < 19**2]
    assert close == []
