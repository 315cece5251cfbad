"""Levels of findings in words: none of the program's own names for them reaches a person."""

import re
from dataclasses import replace

import pytest

from stripdown import knowledge, vocabulary
from stripdown.case import Case
from stripdown.figures.levels import READ, change_words, check_words, clash_words, looked_at, seen_words
from stripdown.figures.words import chance_words, finding_words, read_open, verdict_words
from stripdown.knowledge.model import FailedWhen
from stripdown.reasoning.model import ESTABLISHED, LIKELY, Conflict
from tests.pages import cases

KNOWLEDGE = knowledge.load()
INTERNAL = re.compile(r"→|past limit|\bpresent\b|\bnone\b → |_|\w\.\w")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("oil.low: none → heavy", "oil low: heavy instead of sound"),
        ("main_bearing.worn: slight → none", "main bearing worn: sound instead of slight"),
        ("start_timer.faulty: none → present", "start timer faulty: seen instead of not seen"),
        (
            "suction_superheat.low: none → past limit 2 of 2",
            "superheat at the suction: below 2 K instead of not below 5 K",
        ),
        (
            "supply_unbalance.high: past limit 1 of 2 → none",
            "unbalance of the supply: not above 2 % instead of above 2 %",
        ),
        (
            "insulation_resistance.leads: present → none",
            "insulation resistance at the leads: within its limit instead of below its limit",
        ),
        ("crank.will_not_turn: none → present", "the crank, turned by hand: will not turn instead of turns freely"),
        ("alarms.discharge_heat: present → none", "alarm memory, discharge heat: none instead of some"),
        (
            "failed when: running → start_long",
            "it failed at a start after eight hours or more off instead of while running",
        ),
    ],
)
def test_a_change_is_told_as_a_mechanic_says_it(change: str, said: str) -> None:
    """By hand, from the words of the bench: sound, slight, heavy, seen, below the limit."""
    assert change_words(change) == said


@pytest.mark.parametrize("finding", KNOWLEDGE.findings)
def test_no_change_of_any_finding_tells_a_name_of_the_program(finding: str) -> None:
    levels = ("none", *KNOWLEDGE.findings[finding].levels)
    told = [change_words(f"{finding}: {a} → {b}") for a in levels for b in levels if a != b]
    assert [t for t in told if INTERNAL.search(t.replace(": none instead of", ""))] == []
    assert len(set(told)) == len(told)
    assert not INTERNAL.search(seen_words(finding))


def test_every_moment_of_failure_has_words() -> None:
    told = {change_words(f"failed when: running → {state}") for state in FailedWhen.STATES}
    assert len(told) == len(FailedWhen.STATES)
    assert not any("_" in t for t in told)


def test_readings_are_told_with_the_figures_by_which_they_are_graded() -> None:
    """The words stand beside the knowledge: the figures in them are its cuts, and all of those."""
    parts = vocabulary.parts()
    besides = ("alarms", "history", "cylinders", "assembly")
    read = {f for f in KNOWLEDGE.findings if f.split(".")[0] not in (*parts, *besides)}
    assert read == READ.keys()
    for finding, (_, words) in READ.items():
        assert len(words) == 1 + len(KNOWLEDGE.findings[finding].levels)
        cuts = [{c for c in m.levels if not isinstance(c, str)} for m in KNOWLEDGE.readings if m.finding == finding]
        figures = {float(n) for w in words for n in re.findall(r"\d+", w)}
        if figures:
            assert cuts == [figures], finding


@pytest.mark.parametrize(
    ("finding", "text", "said"),
    [
        ("alarms.discharge_heat", "Ask the site: alarms discharge heat", "Ask the site: alarm memory, discharge heat"),
        ("sensor_resistance.bad", "Sensor chain: sensor resistance", "Sensor chain: sensor resistance"),
        ("crank.will_not_turn", "Turn the crank: crank will not turn", "Turn the crank: whether it turns freely"),
        ("oil_screen.blocked", "look at the oil screen", "look at the oil screen"),
        ("oil_screen.blocked", "Oil: oil screen blocked", "Oil: oil screen blocked"),
        ("oil_screen.blocked", "", "oil screen blocked"),
    ],
)
def test_a_check_says_what_is_looked_at(finding: str, text: str, said: str) -> None:
    assert check_words(finding, text) == said


def test_a_seen_step_says_how_far_it_was_seen(floodback: Case) -> None:
    observations = floodback.record.observations
    assert seen_words("oil.thin_diluted", observations) == "oil thin diluted, slight"
    assert seen_words("net_oil_pressure.low", observations) == "net oil pressure below its limit"
    assert seen_words("discharge_line_temperature.high", observations) == "discharge line temperature high"
    assert seen_words("crank.will_not_turn") == "crank will not turn"
    assert seen_words("alarms.motor_heat") == "motor heat alarm in the memory"
    assert looked_at("oil.low") == "oil low"


def test_open_is_a_circuit_and_no_verdict() -> None:
    assert verdict_words("open") == "undecided"
    assert finding_words("winding_resistance V-W at leads open") == "winding resistance V-W at leads: undecided"
    opened = read_open([("winding_resistance", "V-W", "leads", "open"), ("winding_resistance", "U-V", None, 0.8)])
    assert finding_words("winding_resistance V-W at leads open", opened) == "winding resistance V-W at leads: open"
    assert finding_words("winding_resistance U-V open", opened) == "winding resistance U-V: undecided"


def test_a_conflict_tells_what_the_meter_read() -> None:
    case = cases.floodback()
    read = replace(case.readings[0], value="open", at="leads", between="V-W")
    clash = Conflict(6.0, 0.003, ("winding_resistance V-W at leads open", "oil.low heavy"), "no")
    case = replace(case, readings=(read,), finding=replace(case.finding, conflict=clash))
    assert clash_words(case) == "winding resistance V-W at leads: open, oil low: heavy"


def test_no_probability_is_none_or_whole() -> None:
    told = [chance_words(p) for p in (0.0, 1e-9, 0.0099, 0.01, 0.5, 0.99, 0.9901, 1.0)]
    assert told == ["under 1 %"] * 3 + ["1 %", "50 %", "99 %"] + ["over 99 %"] * 2


def test_no_probability_is_rounded_over_a_bar_that_its_status_does_not_reach() -> None:
    """Likely from 0.60, established from 0.90: the contract of the statuses."""
    assert (LIKELY, ESTABLISHED) == (0.6, 0.9)
    told = [chance_words(p) for p in (0.594, 0.596, 0.59999, 0.6, 0.894, 0.897, 0.89999, 0.9, 0.904)]
    assert told == ["59 %", "59.6 %", "59.9 %", "60 %", "89 %", "89.7 %", "89.9 %", "90 %", "90 %"]
