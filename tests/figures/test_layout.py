"""No word of a figure is cut off at its edge or lies on another, however much there is to say."""

import re
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree

import pytest

from stripdown import vocabulary
from stripdown.case import Case
from stripdown.figures import bars, lesson, machine, resistances
from stripdown.figures.figure import Figure
from stripdown.limits.model import Corrected, Judged, Tier, Verdict
from stripdown.reasoning.model import Share
from tests import open_cases
from tests.figures.boxes import faults, placed
from tests.figures.crowded import crowded
from tests.figures.every import EVERY


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
