"""What becomes of a good reading: base value, gauge and absolute, accuracy, places. Expected values by hand."""

from datetime import datetime, timedelta, timezone
from typing import Any

import pytest

from stripdown.record.model import Accuracy, Reading

from .made import accepted, with_reading


def reading(**fields: Any) -> Reading:
    return accepted(with_reading(**fields)).readings[0]


@pytest.mark.parametrize(
    ("fields", "base", "base_unit", "absolute"),
    [
        # gauge unless it says otherwise; 1 psi = 6.894757 kPa (NIST SP 811)
        ({"quantity": "oil_pump_pressure", "value": 30, "unit": "psig"}, 206.84271, "kPa", False),
        ({"quantity": "oil_pump_pressure", "value": 30, "unit": "psi"}, 206.84271, "kPa", False),
        ({"quantity": "suction_pressure", "value": 30, "unit": "psi", "absolute": True}, 206.84271, "kPa", True),
        ({"quantity": "suction_pressure", "value": 30, "unit": "psia"}, 206.84271, "kPa", True),
        ({"quantity": "suction_pressure", "value": 1.2, "unit": "bara", "absolute": True}, 120.0, "kPa", True),
        ({"quantity": "suction_pressure", "value": -10, "unit": "inHg"}, -33.86389, "kPa", False),
        ({"quantity": "net_oil_pressure", "value": 2, "unit": "bar"}, 200.0, "kPa", False),
        # pulled down: 24 inHg below 101.325 kPa is 101.325 − 24 · 3.386389
        ({"quantity": "vacuum_pull_down", "value": 24, "unit": "inHg"}, 20.051664, "kPa", False),
        ({"quantity": "vacuum_pull_down", "value": 0, "unit": "inHg"}, 101.325, "kPa", False),
        ({"quantity": "vacuum_pull_down", "value": -0.8, "unit": "bar"}, 21.325, "kPa", False),
        ({"quantity": "vacuum_pull_down", "value": 200, "unit": "mbar"}, 20.0, "kPa", True),
        ({"quantity": "vacuum_pull_down", "value": 20, "unit": "kPa", "absolute": True}, 20.0, "kPa", True),
        ({"quantity": "vacuum_pull_down", "value": 5.921, "unit": "inHg", "absolute": True}, 20.050809, "kPa", True),
        # 500 micron of mercury are 66.66 Pa
        ({"quantity": "evacuation_vacuum", "value": 500, "unit": "micron"}, 0.06666119, "kPa", True),
        ({"quantity": "evacuation_vacuum", "value": 67, "unit": "Pa"}, 0.067, "kPa", True),
        ({"quantity": "evacuation_vacuum", "value": 0.67, "unit": "mbar"}, 0.067, "kPa", True),
        ({"quantity": "leak_back_rate", "value": 3, "unit": "psi/min"}, 20.684271, "kPa/min", False),
        ({"quantity": "superheat", "value": 18, "unit": "degF"}, 10.0, "K", False),
        ({"quantity": "suction_gas_temperature", "value": 50, "unit": "degF"}, 10.0, "degC", False),
        ({"quantity": "wrist_pin_drop", "value": 2, "unit": "thou"}, 0.0508, "mm", False),
        ({"quantity": "wrist_pin_drop", "value": 90, "unit": "micron"}, 0.09, "mm", False),
        ({"quantity": "oil_drained", "value": 2, "unit": "quart"}, 1.8927059, "l", False),
        ({"quantity": "heater_resistance", "value": 0.529, "unit": "kohm"}, 529.0, "ohm", False),
        ({"quantity": "starts_per_hour", "value": 8, "unit": "1/h"}, 8.0, "1/h", False),
    ],
)
def test_base_value(fields: dict[str, object], base: float, base_unit: str, absolute: bool) -> None:
    got = reading(**fields)
    assert got.base == pytest.approx(base, rel=1e-6, abs=1e-9)
    assert (got.base_unit, got.absolute) == (base_unit, absolute)
    assert (got.value, got.unit) == (fields["value"], fields["unit"])


@pytest.mark.parametrize("value", ["open", "short", "Open"])
def test_open_and_short_have_no_base(value: str) -> None:
    got = reading(quantity="heater_resistance", value=value, unit="ohm")
    assert (got.value, got.base, got.base_unit) == (value.lower(), None, "ohm")


@pytest.mark.parametrize(
    ("text", "unit", "accuracy"),
    [
        ("0.5%", "ohm", Accuracy(relative=0.005)),
        ("0.5 %", "ohm", Accuracy(relative=0.005)),
        ("0.02", "ohm", Accuracy(absolute=0.02)),
        ("0.02", "kohm", Accuracy(absolute=20.0)),
        ("0.5% + 0.02", "ohm", Accuracy(relative=0.005, absolute=0.02)),
        ("0.02+0.5%", "ohm", Accuracy(relative=0.005, absolute=0.02)),
        ("±0.5%", "ohm", Accuracy(relative=0.005)),
        ("1% of 40", "ohm", Accuracy(absolute=0.4)),
        ("1% of 40 + 0.1", "ohm", Accuracy(absolute=0.5)),
    ],
)
def test_accuracy_of_the_instrument(text: str, unit: str, accuracy: Accuracy) -> None:
    got = reading(quantity="heater_resistance", value=1, unit=unit, accuracy=text).accuracy
    assert got is not None
    assert got.relative == pytest.approx(accuracy.relative, rel=1e-12)
    assert got.absolute == pytest.approx(accuracy.absolute, rel=1e-12)


def test_accuracy_of_a_thermometer_is_a_difference() -> None:
    got = reading(quantity="ambient_temperature", value=68, unit="degF", accuracy="1.8").accuracy
    assert got is not None
    assert got.absolute == pytest.approx(1.0)


@pytest.mark.parametrize(("unit", "celsius"), [("degF", 24.0), ("degC", 75.2), (None, 75.2)])
def test_temperature_of_the_part(unit: str | None, celsius: float) -> None:
    fields = {"temperature_unit": unit} if unit else {}
    got = reading(quantity="heater_resistance", value=1, unit="ohm", temperature=75.2, **fields)
    assert got.temperature == pytest.approx(celsius)


@pytest.mark.parametrize(
    ("quantity", "unit", "written", "read"),
    [
        ("winding_resistance", "ohm", "V-U", "U-V"),
        ("winding_resistance", "ohm", "u - v", "U-V"),
        ("winding_resistance", "ohm", "U–V", "U-V"),
        ("insulation_resistance", "Mohm", "frame-U", "U-frame"),
        ("insulation_resistance", "Mohm", "ALL-FRAME", "all-frame"),
        ("supply_voltage", "V", "L1-L3", "L3-L1"),
        ("running_current", "A", "l2", "L2"),
        ("sensor_resistance", "ohm", "Common-12", "common-12"),
        ("sensor_resistance", "ohm", "discharge-1", "discharge-1"),
    ],
)
def test_places_are_known_in_any_order_and_case(quantity: str, unit: str, written: str, read: str) -> None:
    assert reading(quantity=quantity, value=1, unit=unit, between=written).between == read


@pytest.mark.parametrize(
    ("motor", "between"),
    [("part_winding", "2W-2U"), ("part_winding", "U-V"), ("single_phase", "C-S"), (None, "1U-1V"), (None, "C-R")],
)
def test_places_of_each_motor(motor: str | None, between: str) -> None:
    raw = with_reading(quantity="winding_resistance", value=1, unit="ohm", between=between)
    raw["unit"]["motor"] = motor
    assert accepted(raw).readings[0].between == between


def test_time_keeps_its_offset() -> None:
    got = reading(quantity="superheat", value=8, unit="K", time="2026-02-03T09:40:00+13:00")
    assert got.time == datetime(2026, 2, 3, 9, 40, tzinfo=timezone(timedelta(hours=13)))
