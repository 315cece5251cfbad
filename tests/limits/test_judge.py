"""All readings of a record together: order, notices, what the sheet fills in, and the worked cases."""

import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from stripdown.limits import effective_unit, judge_readings
from stripdown.limits.sheet import RULES
from stripdown.record import read
from stripdown.record.schema import QUANTITIES
from tests.limits.made import SHEETS, insulation, judged, notices, reading, record, winding

CASES = Path(__file__).parents[1] / "cases"
WANTED = tomllib.loads((CASES / "expected.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", WANTED)
def test_worked_cases(name):
    """The verdicts that each case states; sources stand in the file."""
    found, *_ = judge_readings(read(CASES / f"{name}.toml"), SHEETS)
    for want in WANTED[name]["verdicts"]:
        verdicts = [
            j.verdict
            for j in found
            if j.quantity == want["quantity"]
            and want.get("between") in (None, j.between)
            and want.get("at") in (None, j.at)
        ]
        assert set(verdicts) & set(want["verdict"]), want


def test_every_quantity_is_answered():
    """Each of the quantities of the record format gives at least one entry, in the order of the record."""
    value = {"pressure": (10, "kPa"), "temperature": (20, "degC"), "resistance": (100, "ohm")}
    base = {
        "temperature difference": "K",
        "acid number": "mg KOH/g",
        "moisture": "ppm",
        "torque": "N·m",
        "length": "mm",
    }
    base |= {"pressure rise": "kPa/min", "volume": "l", "frequency of starts": "1/h", "voltage": "V", "current": "A"}
    entries = []
    for name, quantity in QUANTITIES.items():
        number, unit = value.get(quantity.family) or (1, base[quantity.family])
        entry = reading(name, number, unit)
        if quantity.between:
            entry["between"] = quantity.between[0]
        if quantity.numbered:
            entry["between"] = f"{quantity.numbered[0]}-1"
        if quantity.insulation:
            entry |= {"between": "all-frame", "test_voltage": 500}
        if name == "vacuum_pull_down":
            entry["absolute"] = True
        if name == "evacuation_vacuum":
            entry["unit"] = "Pa"
        entries.append(entry)
    found = judged(*entries)
    seen = list(dict.fromkeys(j.quantity for j in found))
    assert seen == list(QUANTITIES)
    assert not any("no rule" in j.source for j in found)
    assert {j.rule for j in found} <= {None, *RULES}


def test_what_no_limit_means():
    """Contract: rule, limits and probability are then null, and the source says so."""
    for found in judged(reading("ambient_temperature", 30, "degC"), reading("crankcase_pressure", 30, "psi")):
        answer = found.as_json()
        assert answer["verdict"] == "no_limit"
        assert [answer[k] for k in ("rule", "limit_low", "limit_high", "probability_within")] == [None] * 4
        assert answer["source"]


def test_unknown_model_is_a_notice():
    assert any(n.entry == "unit.model" for n in notices(model="ZZ-1"))
    assert not notices(model="K4-150")
    assert not notices(model=" k4-150 ")


def test_record_wins_over_the_sheet_and_the_page_says_so():
    found = notices(model="K4-150", motor="delta", cooling="air", oil_feed="splash", cylinders=2)
    assert [n.entry for n in found] == ["unit.cooling", "unit.motor", "unit.oil_feed", "unit.cylinders"]
    unit = effective_unit(record(model="K4-150", motor="delta"), SHEETS)
    assert (unit.motor, unit.cooling, unit.oil_feed, unit.cylinders) == ("delta", "refrigerant", "pump", 4)


def test_silent_fields_come_from_the_sheet():
    unit = effective_unit(record(model="K6-220", plate={"current": 40}), SHEETS)
    assert (unit.motor, unit.cooling, unit.oil_feed, unit.cylinders) == ("part_winding", "refrigerant", "pump", 6)
    assert (unit.plate.current, unit.plate.voltage) == (40, 400)


def test_unknown_stays_unknown():
    unit = effective_unit(record(), SHEETS)
    assert (unit.motor, unit.cooling, unit.oil_feed, unit.cylinders) == (None, None, None, None)


def test_a_record_without_readings():
    assert judge_readings(record(model="K4-150"), SHEETS) == ((), (), ())


def test_zero_and_huge_values_are_answered():
    """Nothing divides by zero or overflows into a fault."""
    entries = [winding(b, 0.0) for b in ("U-V", "V-W", "W-U")]
    entries += [reading("supply_voltage", 0, "V", between=b) for b in ("L1-L2", "L2-L3", "L3-L1")]
    entries += [reading("running_current", 0, "A", between=b) for b in ("L1", "L2", "L3")]
    entries += [reading("sensor_resistance", 0, "ohm", between=f"common-{n}") for n in (1, 2)]
    entries += [reading("rotor_air_gap", 0, "mm", between=s) for s in ("top", "bottom")]
    entries += [reading("contact_voltage_drop", 0, "V", between=b) for b in ("L1", "L2", "L3")]
    entries += [reading("suction_pressure", -14.69, "psi"), reading("discharge_pressure", 0, "psi")]
    entries += [insulation(1e8, temperature=20), reading("suction_gas_temperature", 900, "degC")]
    entries += [reading("discharge_line_temperature", -100, "degC"), reading("oil_drained", 0, "l")]
    for model in ("K4-150", "unknown"):
        found, *_ = judge_readings(record(*entries, model=model, refrigerant="R449A", plate={"voltage": 400}), SHEETS)
        assert len(found) >= len(entries)
        assert all(j.probability_within is None or 0.0 <= j.probability_within <= 1.0 for j in found)


def test_what_disturbs_a_reading_is_said_once_it_is_in_doubt():
    """Common practice, no source: foam and cold oil disturb an oil pressure, an average hides bursts of starts."""
    low, good = (
        judged(reading("oil_pump_pressure", v, "psi"), reading("crankcase_pressure", 30, "psi"))[0] for v in (40, 60)
    )
    assert "What disturbs it: foam, cold oil" in (low.remark or "")
    assert "disturbs" not in (good.remark or "")
    assert "hides bursts" in (judged(reading("starts_per_hour", 30, "1/h"))[0].remark or "")


def test_judging_loads_nothing_heavy():
    """Properties come from tables: no CoolProp, and none of the libraries that only pages and fleets need."""
    code = (
        "import sys\n"
        "from stripdown.limits import judge_readings, load_sheets\n"
        "from stripdown.record import read\n"
        f"judge_readings(read({str(CASES / 'C04.toml')!r}), load_sheets())\n"
        "print(*{m.split('.')[0] for m in sys.modules} & "
        "{'CoolProp', 'scipy', 'pandas', 'matplotlib', 'papermill', 'statsmodels', 'openpyxl'})\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == ""
