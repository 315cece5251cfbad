"""Records made for these tests, and the rows that tables would have for them."""

import copy
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from stripdown.record import Record, Rejected, parse

CASES = Path(__file__).parents[1] / "cases"

# The example of the description of format 1, without its comments.
EXAMPLE = """
format = 1
claim = "NB-2026-0117"
revision = 1
examined_by = "bench 2"
examined_on = 2026-02-03
instruments = ["low-ohm meter 4", "insulation tester 2"]

[unit]
serial = "K4-7719-0312"
model = "K4-150"
built = 2019-04-11
refrigerant = "R449A"
oil = "POE 32"
run_hours = 21400
cooling = "refrigerant"
motor = "star"
oil_feed = "pump"
cylinders = 4
inverter = false
plate = {voltage = 400, frequency = 50, current = 28}

[history]
installed = 2020-02-03
failed = 2026-01-14
returned = 2026-01-29
site = "north packing shed"
altitude = 240
warranty_until = 2022-02-03
contractor = "crew 7"
duty = "low"
reported = "breaker trips, earth fault"
replaces = "K4-7102-0044"
failed_when = "running"
hours_off = 0
opened_before = "workshop"
earlier_burn = false
alarms = {oil = 3, motor_heat = 0, discharge_heat = 0, phase = 0, locked_rotor = 1}

[[readings]]
quantity = "winding_resistance"
between = "U-V"
at = "terminals"
value = 0.86
unit = "ohm"
temperature = 24
accuracy = "0.5% + 0.02"
site = false
time = 2026-02-03T09:40:00

[[readings]]
quantity = "insulation_resistance"
between = "all-frame"
at = "leads"
value = 620
unit = "Mohm"
test_voltage = 500
gas = "air"

[[readings]]
quantity = "wrist_pin_drop"
value = 90
unit = "um"
cylinder = 2

[[observations]]
part = "backer_bolts"
condition = "backed_out"
extent = "heavy"
cylinder = 2
where = "bank 1"
photo = "photos/backer-bolts.jpg"
note = "two of four bolts"

[[statements]]
by = "contractor"
text = "unit was never opened"

[[confirmed]]
by = "analyst 2"
first = "floodback"
causes = ["low_load"]
outcome = "replace_compressor"
liability = "system"
"""

_GOOD: dict[str, Any] = {
    "format": 1,
    "claim": "NB-1",
    "unit": {"serial": "S-1", "model": "K4-150", "cylinders": 4, "motor": "star"},
    "history": {"installed": "2020-02-03", "failed": "2026-01-14", "returned": "2026-01-29"},
    "readings": [{"quantity": "main_bearing_play", "value": 0.44, "unit": "mm"}],
    "observations": [{"part": "main_bearing", "condition": "worn", "extent": "heavy"}],
}


def good() -> dict[str, Any]:
    """A small record without fault, free to be spoilt."""
    return copy.deepcopy(_GOOD)


def read(raw: object, folder: Path | str = ".") -> Record | Rejected:
    """A mapping as it would be read from the file `r.toml`."""
    return parse(raw, file="r.toml", folder=str(folder))


def accepted(raw: object, folder: Path | str = ".") -> Record:
    """The record; fails with the faults where there is none."""
    result = read(raw, folder)
    assert isinstance(result, Record), [str(f) for f in result.faults]
    return result


def faults(raw: object, folder: Path | str = ".") -> list[tuple[str, str, str]]:
    """(entry, what, fix) of every fault."""
    result = read(raw, folder)
    assert isinstance(result, Rejected), "a fault was expected"
    return [(f.entry, f.what, f.fix) for f in result.faults]


def with_reading(**fields: object) -> dict[str, Any]:
    """A good record whose only reading has these fields."""
    return good() | {"readings": [fields]}


def with_observations(*entries: Mapping[str, object]) -> dict[str, Any]:
    """A good record with these observations."""
    return good() | {"observations": [dict(e) for e in entries]}


def as_tables(*records: Mapping[str, Any]) -> dict[str, list[dict[str, Any]]]:
    """The JSON form of records as rows of the sheets."""
    sheets: dict[str, list[dict[str, Any]]] = {}
    for record in records:
        row: dict[str, Any] = {}
        for key, value in record.items():
            if key in ("unit", "history"):
                for name, inner in value.items():
                    row |= {f"{name}_{k}": v for k, v in inner.items()} if isinstance(inner, dict) else {name: inner}
            elif isinstance(value, list) and isinstance(value[0], dict):
                sheets.setdefault(key, []).extend({"claim": record["claim"], **entry} for entry in value)
            else:
                row[key] = value
        sheets.setdefault("returns", []).append(row)
    return sheets
