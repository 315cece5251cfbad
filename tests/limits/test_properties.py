"""Laws of every verdict: units and order do not matter, worse is never better, wider is never surer."""

import itertools
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stripdown.limits import Judged, judge_readings
from tests.limits.made import SHEETS, insulation, judged, reading, record, winding

RANK = {"outside": 0, "open": 1, "within": 2}
CHECKED = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])

PSI, INCH, POUND_FOOT = 4.4482216152605 / 0.0254**2 / 1000, 25.4, 1.3558179483314004
GALLON, MERCURY = 3.785411784, 13595.1 * 9.80665 * 25.4e-6
"""kPa, mm, N·m, l and kPa of a pound-force a square inch, an inch, a pound-foot, a gallon and an inch of mercury: their
definitions, as in NIST SP 811, appendix B."""


def both(quantity: str, si: float, si_unit: str, us: float, us_unit: str, **more: Any) -> tuple[dict, dict]:
    return reading(quantity, si, si_unit, **more), reading(quantity, us, us_unit, **more)


@st.composite
def two_systems(draw):
    """The same readings as SI and as US units, by exact factors."""
    psig = [draw(st.floats(0, 60)), draw(st.floats(100, 350)), draw(st.floats(20, 120)), draw(st.floats(0, 60))]
    celsius = [draw(st.floats(-20, 40)), draw(st.floats(30, 140)), draw(st.floats(-10, 80))]
    thou = [draw(st.floats(0, 8)) for _ in range(4)]
    names = ("suction_pressure", "discharge_pressure", "oil_pump_pressure", "crankcase_pressure")
    pairs = [both(n, v * PSI, "kPa", v, "psi", site=True) for n, v in zip(names, psig, strict=True)]
    names = ("suction_gas_temperature", "discharge_line_temperature", "oil_sump_temperature")
    pairs += [both(n, v, "degC", v * 1.8 + 32, "degF", site=True) for n, v in zip(names, celsius, strict=True)]
    plays = ("main_bearing_play", "pump_end_bearing_play", "wrist_pin_drop", "rod_play")
    pairs += [both(n, v * INCH / 1000, "mm", v, "thou") for n, v in zip(plays, thou, strict=True)]
    torque, rate, volume = draw(st.floats(1, 100)), draw(st.floats(0, 10)), draw(st.floats(0.1, 2))
    pairs += [both("head_bolt_torque", torque * POUND_FOOT, "N·m", torque, "lbf·ft")]
    pairs += [both("leak_back_rate", rate * PSI, "kPa/min", rate, "psi/min")]
    pairs += [both("oil_drained", volume * GALLON, "l", volume, "gal")]
    inches, microns, kelvin = draw(st.floats(5, 29)), draw(st.floats(50, 2000)), draw(st.floats(-5, 40))
    pairs += [both("vacuum_pull_down", -inches * MERCURY, "kPa", inches, "inHg")]
    pairs += [both("evacuation_vacuum", microns * MERCURY / 25.4, "Pa", microns, "micron")]
    pairs += [both("subcooling", kelvin, "K", kelvin * 1.8, "degF", site=True)]
    pairs += [both("evaporator_outlet_temperature", kelvin, "degC", kelvin * 1.8 + 32, "degF", site=True)]
    for si, us in pairs[:9]:
        if si["quantity"].endswith("pressure"):
            si["accuracy"], us["accuracy"] = f"{2 * PSI:.9f}", "2"
        elif si["quantity"].endswith("temperature"):
            si["accuracy"], us["accuracy"] = "1.5", "2.7"
    warm = draw(st.floats(10, 60))
    for entry in (insulation(20, "all-frame"), *(winding(b, 0.86) for b in ("U-V", "V-W", "W-U"))):
        us = entry | {"temperature": warm * 1.8 + 32, "temperature_unit": "degF"}
        pairs.append((entry | {"temperature": warm}, us))
    return [p[0] for p in pairs], [p[1] for p in pairs]


def close(a: Judged, b: Judged) -> None:
    assert (a.rule, a.verdict, a.tier) == (b.rule, b.verdict, b.tier)
    for x, y in (
        (a.judged, b.judged),
        (a.judged_uncertainty, b.judged_uncertainty),
        (a.probability_within, b.probability_within),
    ):
        assert x is y is None or x == pytest.approx(y, rel=1e-9, abs=1e-9)


@CHECKED
@given(two_systems(), st.sampled_from(["K4-150", "none"]), st.sampled_from([0, 800, None]))
def test_us_and_si_give_the_same(pair, model, altitude):
    """To 1e-9, for every quantity that has units of both systems, its instrument and its temperature."""
    history = {} if altitude is None else {"altitude": altitude}
    si, us = (judged(*entries, model=model, refrigerant="R449A", history=history) for entries in pair)
    assert len(si) == len(us)
    for a, b in zip(si, us, strict=True):
        close(a, b)


MIXED = [
    *(winding(b, v, temperature=t) for b, v, t in (("U-V", 0.86, 24), ("V-W", 0.84, 23), ("W-U", 0.83, 24))),
    winding("U-V", 0.9, at="leads"),
    insulation(3, "U-frame", temperature=20),
    insulation(300, "V-frame", temperature=20),
    reading("oil_pump_pressure", 60, "psi"),
    reading("crankcase_pressure", 30, "psi"),
    reading("suction_pressure", 30, "psi"),
    reading("discharge_pressure", 200, "psi"),
    reading("suction_gas_temperature", 5, "degC"),
    reading("discharge_line_temperature", 100, "degC"),
    reading("superheat", 9, "K"),
    *(reading("rotor_air_gap", v, "mm", between=s) for s, v in (("top", 0.4), ("bottom", 0.2), ("left", 0.3))),
    reading("wrist_pin_drop", 60, "um", cylinder=1),
    reading("rod_play", 40, "um", cylinder=1),
    *(reading("head_bolt_torque", v, "N·m", cylinder=c) for v, c in ((50, 1), (20, 2))),
    *(
        reading("supply_voltage", v, "V", between=b, site=True)
        for v, b in ((400, "L1-L2"), (395, "L2-L3"), (388, "L3-L1"))
    ),
    *(reading("running_current", v, "A", between=b, site=True) for v, b in ((20, "L1"), (22, "L2"), (26, "L3"))),
    *(reading("contact_voltage_drop", v, "mV", between=b, site=True) for v, b in ((20, "L1"), (22, "L2"), (90, "L3"))),
    *(reading("sensor_resistance", v, "ohm", between=b) for v, b in ((90, "common-1"), (95, "common-2"))),
    reading("suction_pressure", 25, "psi", time="2026-02-03T09:40:00"),
    reading("suction_pressure", 35, "psi", time="2026-02-03T11:40:00"),
]


@CHECKED
@given(st.permutations(range(len(MIXED))))
def test_order_of_entries_does_not_matter(order):
    def told(indices):
        found = judge_readings(record(*(MIXED[i] for i in indices), refrigerant="R449A", model="none"), SHEETS)[0]
        key = {f"readings[{n}]": i for n, i in enumerate(indices, 1)}
        return {(key[j.entry], j.rule, j.judged_unit): j for j in found}

    plain, mixed = told(range(len(MIXED))), told(order)
    assert plain.keys() == mixed.keys()
    for name in plain:
        close(plain[name], mixed[name])


# A reading with one rule, from good to ever worse. Units as written.
WORSE = [
    ("insulation_resistance", "Mohm", (2000, 100, 20, 8, 6, 5, 4, 2, 1, 0.5, 0.01, 0), {"between": "all-frame"}),
    ("discharge_line_temperature", "degC", (60, 90, 100, 104, 107, 109, 112, 118, 125, 150), {}),
    ("superheat", "K", (30, 20, 14, 12, 11, 10, 9, 6, 3, 0, -5), {}),
    ("oil_acid_number", "mg KOH/g", (0, 0.03, 0.06, 0.09, 0.1, 0.12, 0.2, 0.5, 3), {}),
    ("oil_moisture", "ppm", (5, 20, 40, 47, 50, 55, 70, 200, 2000), {}),
    ("main_bearing_play", "um", (20, 60, 90, 100, 104, 106, 110, 150, 500), {}),
    ("wrist_pin_drop", "um", (0, 10, 24, 26, 40, 49, 51, 70, 200), {}),
    ("vacuum_pull_down", "inHg", (28, 26, 24.5, 24, 23, 21, 20, 18, 10, 2), {}),
    ("leak_back_rate", "psi/min", (0, 1, 2.4, 3, 3.5, 5, 20), {}),
    ("evacuation_vacuum", "Pa", (5, 40, 60, 67, 75, 100, 500), {}),
    ("starts_per_hour", "1/h", (1, 5, 8, 8.5, 12, 60), {}),
    ("net_oil_pressure", "psi", (30, 20, 15, 13, 12, 11, 9, 5, 0), {}),
    ("net_oil_pressure", "psi", (30, 45, 55, 59, 60, 62, 70, 120), {}),
    ("head_bolt_torque", "N·m", (60, 50, 45, 42, 41, 38, 30, 5, 0), {}),
    ("sensor_resistance", "ohm", (100, 40, 22, 20, 19, 10, 1, 0), {"between": "common-1"}),
    ("running_current", "A", (10, 28, 33, 35, 36, 40, 90), {"between": "L1"}),
]


def verdicts(quantity: str, unit: str, value: float, more: dict[str, Any], **kept: Any) -> list[Judged]:
    extra = {"test_voltage": 500, "temperature": 40} if quantity == "insulation_resistance" else {}
    found = judged(reading(quantity, value, unit, **more, **extra, **kept), model="K4-150", refrigerant="R449A")
    return [j for j in found if j.verdict != "no_limit"]


@pytest.mark.parametrize("accuracy", [None, "0.1%", "5%", "30%"])
@pytest.mark.parametrize(("quantity", "unit", "row", "more"), WORSE, ids=lambda x: x if isinstance(x, str) else "")
def test_a_worse_reading_never_makes_a_verdict_better(quantity, unit, row, more, accuracy):
    kept = {} if accuracy is None else {"accuracy": accuracy}
    found = [verdicts(quantity, unit, value, more, **kept) for value in row]
    for rule in range(len(found[0])):
        ranks = [RANK[each[rule].verdict] for each in found]
        assert all(b <= a for a, b in itertools.pairwise(ranks)), ranks
        assert ranks[-1] == 0 or accuracy == "30%"


@pytest.mark.parametrize(("quantity", "unit", "row", "more"), WORSE, ids=lambda x: x if isinstance(x, str) else "")
def test_a_wider_instrument_never_makes_a_verdict_surer(quantity, unit, row, more):
    """From a fine to a useless instrument a verdict may only move to `open`, and stays there."""
    for value in row:
        for rule in range(len(verdicts(quantity, unit, value, more))):
            words = [
                verdicts(quantity, unit, value, more, accuracy=f"{width:f}")[rule].verdict
                for width in (1e-6, 1e-4, 1e-2, 0.1, 1.0, 10.0, 1e3, 1e6)
            ]
            first_open = words.index("open") if "open" in words else len(words)
            assert len(set(words[:first_open])) <= 1, words
            assert set(words[first_open:]) <= {"open"}, words


@CHECKED
@given(st.floats(0.5, 2.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_a_worse_unbalance_never_makes_a_verdict_better(ohm, one, more):
    """The odd pair moves away from two equal ones."""

    def verdict(away: float) -> int:
        pairs = [winding(b, ohm) for b in ("U-V", "V-W")] + [winding("W-U", ohm * (1 + away))]
        return RANK[judged(*pairs)[2].verdict]

    assert verdict(one + more) <= verdict(one)


def gaps(bottom: float) -> list[dict]:
    return [reading("rotor_air_gap", v, "mm", between=s) for s, v in (("top", 0.4), ("bottom", bottom), ("left", 0.4))]


def volts(odd: float) -> list[dict]:
    return [reading("supply_voltage", v, "V", between=b) for b, v in (("L1-L2", 400), ("L2-L3", 400), ("L3-L1", odd))]


def amperes(odd: float) -> list[dict]:
    return [reading("running_current", v, "A", between=b) for b, v in (("L1", 20), ("L2", 20), ("L3", odd))]


def drops(odd: float) -> list[dict]:
    return [reading("contact_voltage_drop", v, "mV", between=b) for b, v in (("L1", 30), ("L2", 30), ("L3", odd))]


def low_side(celsius: float) -> list[dict]:
    return [reading("suction_gas_temperature", celsius, "degC"), reading("suction_pressure", 2.0, "bar")]


def pressures(high: float) -> list[dict]:
    return [reading("discharge_pressure", high, "bar"), reading("suction_pressure", 1.0, "bar")]


def sump(celsius: float) -> list[dict]:
    return [reading("oil_sump_temperature", celsius, "degC"), reading("suction_pressure", 2.0, "bar")]


def hot(celsius: float) -> list[dict]:
    """Around 80 degC expected."""
    gas, pressure = reading("suction_gas_temperature", 5, "degC"), reading("suction_pressure", 2.0, "bar")
    return [
        reading("discharge_line_temperature", celsius, "degC"),
        gas,
        pressure,
        reading("discharge_pressure", 15, "bar"),
    ]


def lifted(crankcase: float) -> list[dict]:
    return [reading("oil_pump_pressure", 4.0, "bar"), reading("crankcase_pressure", crankcase, "bar")]


# Readings that are judged together: how they are made, the rule, and the odd one from good to ever worse.
TOGETHER = [
    (gaps, "air_gap", (0.4, 0.35, 0.3, 0.25, 0.2, 0.15, 0.1, 0.0)),
    (volts, "supply_unbalance", (400, 398, 394, 390, 388, 384, 380, 350, 300)),
    (volts, "supply_unbalance", (400, 404, 408, 412, 418, 430, 480)),
    (amperes, "current_unbalance", (20, 21, 22, 22.6, 23, 24, 26, 30, 60)),
    (drops, "contact_drop", (30, 45, 55, 59, 60, 62, 70, 90, 110, 400)),
    (low_side, "suction_superheat", (20, 10, 6, 4, 3, 1, -2, -10)),
    (pressures, "compression_ratio", (5, 15, 17, 18.5, 19.2, 20, 22, 30)),
    (sump, "sump_margin", (50, 20, 10, 4, 2, 0, -4, -15)),
    (hot, "discharge_against_expected", (85, 100, 108, 112, 115, 120, 140, 160)),
    (hot, "discharge_against_expected", (85, 75, 68, 62, 58, 55, 52, 45, 20)),
    (lifted, "net_oil_pressure", (1.5, 2.5, 3.0, 3.1, 3.2, 3.5, 4.0)),
]
MODELS = {"contact_drop": "none", "net_oil_pressure": "none"}


def of_rule(entries: list[dict], rule: str) -> Judged:
    """The verdict on the odd one: the last of a comparison, else the only one."""
    found = [j for j in judged(*entries, model=MODELS.get(rule, "K4-150"), refrigerant="R449A") if j.rule == rule]
    return found[{"air_gap": 1}.get(rule, -1)]


@pytest.mark.parametrize(
    ("made", "rule", "row"), TOGETHER, ids=lambda x: getattr(x, "__name__", x) if callable(x) else ""
)
def test_a_worse_one_of_several_never_makes_its_verdict_better(made, rule, row):
    ranks = [RANK[of_rule(made(value), rule).verdict] for value in row]
    assert all(b <= a for a, b in itertools.pairwise(ranks)), ranks
    assert (ranks[0], ranks[-1]) == (2, 0)


@pytest.mark.parametrize(
    ("made", "rule", "row"), TOGETHER, ids=lambda x: getattr(x, "__name__", x) if callable(x) else ""
)
def test_wider_instruments_never_make_the_verdict_on_several_surer(made, rule, row):
    for value in row:
        words = [
            of_rule([e | {"accuracy": f"{width:f}"} for e in made(value)], rule).verdict
            for width in (1e-6, 1e-3, 0.1, 1.0, 10.0, 1e3, 1e6)
        ]
        first_open = words.index("open") if "open" in words else len(words)
        assert len(set(words[:first_open])) <= 1, (value, words)
        assert set(words[first_open:]) <= {"open"}, (value, words)


@pytest.mark.parametrize("width", [0.0001, 0.01, 0.1, 1.0, 100.0])
def test_a_wider_meter_never_makes_a_balance_surer(width):
    pairs = [winding(b, v, accuracy=f"{width}") for b, v in (("U-V", 0.90), ("V-W", 0.80), ("W-U", 0.85))]
    found = judged(*pairs)
    wider = judged(*(p | {"accuracy": f"{width * 3}"} for p in pairs))
    for a, b in zip(found, wider, strict=True):
        assert b.verdict in (a.verdict, "open")
