"""Faults of readings: units, places, values that cannot be, and the same reading twice."""

import pytest

from .made import accepted, faults, good, with_reading


@pytest.mark.parametrize(
    ("fields", "entry", "what", "fix"),
    [
        ({"unit": "kPa"}, "unit", '"kPa" is a unit of pressure, oil_moisture wants moisture', "write ppm"),
        ({"unit": "furlong"}, "unit", "no unit of moisture", "write ppm"),
        ({"unit": None}, "unit", "is missing", "write unit"),
        ({"value": None}, "value", "is missing", 'a number, "open" or "short"'),
        ({"value": "open"}, "value", "for resistances only", "the number"),
        ({"value": "12 ppm"}, "value", 'got "12 ppm"', "the unit stands in `unit`"),
        ({"value": True}, "value", "must be a number", "digits"),
        ({"value": -1}, "value", "cannot be a reading of oil_moisture", "between 0 and 1000000 ppm"),
        ({"quantity": "oil_moist"}, "quantity", "not known", "did you mean oil_moisture?"),
        ({"between": "U-V"}, "between", "not measured between two points", "take it out"),
        ({"at": "leads"}, "at", "takes no at", "winding and insulation"),
        ({"cylinder": 1}, "cylinder", "takes no cylinder", "torques"),
        ({"test_voltage": 500}, "test_voltage", "takes no test_voltage", "insulation"),
        ({"gas": "air"}, "gas", "takes no gas", "insulation"),
        ({"absolute": True}, "absolute", "takes no absolute", "pressures"),
        ({"accuracy": "a bit"}, "accuracy", "cannot be read", '"0.5% + 0.02"'),
        ({"accuracy": "200%"}, "accuracy", "is no accuracy", "0.5%"),
        ({"accuracy": "0"}, "accuracy", "is no accuracy", "0.5%"),
        ({"accuracy": 0.5}, "accuracy", "must be text", "quotes"),
        ({"temperature": -300}, "temperature", "-300 degC cannot be", "from -90 to 400"),
        ({"temperature": 20, "temperature_unit": "bar"}, "temperature_unit", "no unit of temperature", "degC or degF"),
        ({"temperature_unit": "degF"}, "temperature", "is missing", "take the unit out"),
        ({"time": "09:40"}, "time", "must be a date with time", "2026-01-31T09:40:00"),
        ({"time": "2026-02-03T25:00:00"}, "time", "must be a date with time", "2026-01-31T09:40:00"),
        ({"colour": 1}, "colour", "not a field of [[readings]]", "the fields are"),
    ],
)
def test_a_reading_out_of_order(fields: dict[str, object], entry: str, what: str, fix: str) -> None:
    raw = with_reading(**{"quantity": "oil_moisture", "value": 20, "unit": "ppm"} | fields)
    ((where, said, right),) = faults(raw)
    assert where == f"readings[1].{entry}"
    assert what in said
    assert fix in right


@pytest.mark.parametrize(
    ("quantity", "value", "unit", "what"),
    [
        ("winding_resistance", -0.1, "ohm", "cannot be a reading"),
        ("winding_resistance", 1, "MOHM", "no unit of resistance"),
        ("supply_voltage", 1e9, "V", "cannot be a reading"),
        ("suction_pressure", -20, "psi", "cannot be a reading"),
        ("discharge_line_temperature", -500, "degF", "cannot be a reading"),
        ("main_bearing_play", 10_000, "in", "cannot be a reading"),
    ],
)
def test_a_value_that_cannot_be(quantity: str, value: float, unit: str, what: str) -> None:
    between = {"winding_resistance": "U-V", "supply_voltage": "L1-L2"}.get(quantity)
    ((_, said, _),) = faults(with_reading(quantity=quantity, value=value, unit=unit, between=between))
    assert what in said


def test_capitals_that_count_are_asked_for() -> None:
    ((_, _, fix),) = faults(with_reading(quantity="heater_resistance", value=1, unit="MOHM"))
    assert fix == "did you mean Mohm or mohm? Capitals count here"


@pytest.mark.parametrize("gas", ["vacuum", "Vacuum"])
def test_insulation_under_vacuum_is_refused_with_the_reason(gas: str) -> None:
    raw = with_reading(quantity="insulation_resistance", between="all-frame", value=5, unit="Mohm", gas=gas)
    ((entry, what, fix),) = faults(raw)
    assert entry == "readings[1].gas"
    assert "damages the motor" in what
    assert "dry nitrogen" in fix


@pytest.mark.parametrize(
    ("motor", "quantity", "between", "words"),
    [
        ("star", "winding_resistance", "1U-1V", "on a star motor"),
        ("delta", "winding_resistance", "C-S", "on a delta motor"),
        ("single_phase", "winding_resistance", "U-V", "on a single-phase motor"),
        ("single_phase", "insulation_resistance", "U-frame", "on a single-phase motor"),
        ("star", "insulation_resistance", "1-frame", "on a star motor"),
        (None, "winding_resistance", "U-X", "no place to measure"),
        (None, "supply_voltage", "L1", "no place to measure"),
        (None, "running_current", "L4", "no place to measure"),
        (None, "sensor_resistance", "common", "no place to measure"),
        (None, "sensor_resistance", "common-0", "no place to measure"),
        (None, "rotor_air_gap", "middle", "no place to measure"),
        (None, "winding_resistance", None, "is missing"),
        (None, "sensor_resistance", None, "is missing"),
    ],
)
def test_a_place_that_is_not_there(motor: str | None, quantity: str, between: str | None, words: str) -> None:
    unit = {"rotor_air_gap": "mm", "supply_voltage": "V", "running_current": "A"}.get(quantity, "ohm")
    raw = with_reading(quantity=quantity, between=between, value=1, unit=unit)
    raw["unit"]["motor"] = motor
    ((entry, what, _),) = faults(raw)
    assert entry == "readings[1].between"
    assert words in what


@pytest.mark.parametrize(
    ("quantity", "unit", "absolute", "entry", "what"),
    [
        ("suction_pressure", "psig", True, "absolute", "is a gauge unit"),
        ("discharge_pressure", "barg", True, "absolute", "is a gauge unit"),
        ("suction_pressure", "psia", False, "absolute", "is an absolute unit"),
        ("net_oil_pressure", "psia", None, "unit", "neither gauge nor absolute"),
        ("net_oil_pressure", "psi", True, "unit", "neither gauge nor absolute"),
        ("evacuation_vacuum", "psig", None, "unit", "is a gauge unit"),
        ("evacuation_vacuum", "inHg", None, "unit", "is a gauge unit"),
        ("evacuation_vacuum", "Pa", False, "absolute", "always absolute"),
        ("vacuum_pull_down", "kPa", None, "value", "is no vacuum"),
    ],
)
def test_gauge_and_absolute_never_mix(quantity: str, unit: str, absolute: bool | None, entry: str, what: str) -> None:
    ((where, said, _),) = faults(with_reading(quantity=quantity, value=20, unit=unit, absolute=absolute))
    assert where == f"readings[1].{entry}"
    assert what in said


def test_inches_of_vacuum_carry_no_minus() -> None:
    ((entry, what, fix),) = faults(with_reading(quantity="vacuum_pull_down", value=-24, unit="inHg"))
    assert (entry, what) == ("readings[1].value", "inHg counts downward here")
    assert "write 24" in fix


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ({}, {}),
        ({"site": False}, {}),
        ({"value": 0.5}, {"value": 0.4}),
    ],
)
def test_the_same_reading_twice(first: dict[str, object], second: dict[str, object]) -> None:
    one = {"quantity": "main_bearing_play", "value": 0.44, "unit": "mm"}
    ((entry, what, _),) = faults(good() | {"readings": [one | first, one | second]})
    assert entry == "readings[2]"
    assert "stands already in readings[1]" in what


def test_readings_turned_round_are_the_same_reading() -> None:
    one = {"quantity": "winding_resistance", "value": 1, "unit": "ohm", "between": "U-V"}
    found = faults(good() | {"readings": [one, one | {"between": "v - u"}]})
    assert [f[0] for f in found] == ["readings[2]"]


@pytest.mark.parametrize(
    "other", [{"site": True}, {"time": "2026-02-03T09:40:00"}, {"temperature": 20}, {"quantity": "rod_play"}]
)
def test_readings_of_another_moment_stand_side_by_side(other: dict[str, object]) -> None:
    one = {"quantity": "main_bearing_play", "value": 0.44, "unit": "mm"}
    assert len(accepted(good() | {"readings": [one, one | other]}).readings) == 2


def test_bolts_and_air_gaps_may_be_read_several_times() -> None:
    bolt = {"quantity": "head_bolt_torque", "value": 14, "unit": "N·m", "cylinder": 1}
    gap = {"quantity": "rotor_air_gap", "value": 0.4, "unit": "mm", "between": "top"}
    assert len(accepted(good() | {"readings": [bolt, bolt, gap, gap]}).readings) == 4


def test_times_with_and_without_offset_do_not_mix() -> None:
    one = {"quantity": "superheat", "value": 8, "unit": "K"}
    times = ["2026-02-03T09:40:00", "2026-02-03T09:40:00+13:00"]
    ((entry, what, _),) = faults(good() | {"readings": [one | {"time": t} for t in times]})
    assert entry == "readings"
    assert "offset from UTC" in what
