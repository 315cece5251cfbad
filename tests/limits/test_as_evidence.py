"""How a verdict enters the reasoning: an open one is soft evidence, a useless meter none, a notice's value still
speaks."""

import pytest

from stripdown import judge, knowledge
from stripdown.evidence import gather
from stripdown.limits import judge_readings
from tests.limits.made import SHEETS, insulation, reading, record, winding

KNOWLEDGE = knowledge.load()


def likelihood(finding: str, *entries: dict[str, object], **unit: object) -> list[float]:
    """Likelihood of each level of a finding, `none` first."""
    made = record(*entries, **unit)
    evidence, _ = gather(made, judge_readings(made, SHEETS)[0], KNOWLEDGE, None)
    return [float(x) for x in evidence.likelihoods[finding]]


def test_insulation_between_1_and_5_megohm_is_no_proof_of_an_earth():
    """3 Mohm at 40 degC, in the middle of the doubtful band: one half."""
    entry = insulation(3, temperature=40, accuracy="1%")
    assert likelihood("insulation_resistance.terminals", entry)[0] == pytest.approx(0.5, abs=0.01)
    earthed = insulation(0.1, temperature=40, accuracy="1%")
    assert likelihood("insulation_resistance.terminals", earthed)[0] == pytest.approx(0.0, abs=0.01)


def test_a_useless_meter_does_not_speak_of_unequal_windings():
    pairs = [winding(b, 0.85, accuracy="50") for b in ("U-V", "V-W", "W-U")]
    assert likelihood("winding_resistance.terminals", *pairs)[0] == pytest.approx(0.5, abs=0.01)


def test_subcooling_speaks_though_it_has_no_limit():
    """Above 15 K is high."""
    entry = reading("subcooling", 22, "K", accuracy="0.5")
    assert likelihood("subcooling.high", entry, refrigerant="R449A")[0] == pytest.approx(0.0, abs=0.01)


def test_the_same_machine_in_us_units_has_the_same_first_mechanism_to_1e_9():
    """A hot discharge line, a worn bearing, little oil: 130 degC = 266 degF, 0.15 mm = 0.15/0.0254 thou, 1 US gallon =
    3.785411784 l."""
    si = (
        ("discharge_line_temperature", 130, "degC"),
        ("main_bearing_play", 0.15, "mm"),
        ("oil_drained", 3.785411784, "l"),
    )
    us = (
        ("discharge_line_temperature", 266, "degF"),
        ("main_bearing_play", 0.15 / 0.0254, "thou"),
        ("oil_drained", 1, "gal"),
    )
    one, other = (
        {s.id: s.probability for s in judge(record(*(reading(*r) for r in rows), refrigerant="R449A")).finding.first}
        for rows in (si, us)
    )
    assert one == pytest.approx(other, abs=1e-9)
