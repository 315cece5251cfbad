"""What is filled into the bench workbook reads back to the record it says."""

import shutil
import subprocess
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from stripdown.knowledge import load
from stripdown.limits import load_sheets
from stripdown.pages import bench_plan
from stripdown.record import Record, read_all, schema, units
from tests.pages.workbooks import UNIT, WHOLE, accepted, blank, content, faults, filled, read_back


def test_nothing_filled_in_is_nothing_looked_at(tmp_path: Path) -> None:
    record = read_back(filled({"claim": "A-1", "unit": UNIT}), tmp_path)
    assert isinstance(record, Record), record.faults
    assert record.observations == record.readings == record.notices == ()
    assert (record.claim, record.unit.serial, record.unit.model) == ("A-1", "00123", "K4-150")


def test_a_blank_one_says_what_must_be_there(tmp_path: Path) -> None:
    (tmp_path / "blank.xlsx").write_bytes(blank())
    (result,) = read_all([tmp_path / "blank.xlsx"])
    assert faults(result) == ["returns row 2, column claim: is missing", "returns row 2, column serial: is missing"]


TEXT = st.text(st.characters(categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=20).map(
    lambda t: "x" + t.strip()
)
OPTIONAL: dict[str, dict[str, st.SearchStrategy[Any]]] = {
    "": {
        "revision": st.integers(0, 9),
        "examined_by": TEXT,
        "examined_on": st.just("2026-02-03"),
        "instruments": st.just(["low-ohm meter 4", "tester"]),
    },
    "unit": {
        "built": st.just("2019-04-11"),
        "refrigerant": st.sampled_from(["R449A", "R999"]),
        "run_hours": st.integers(0, 90_000).map(float),
        "motor": st.just("star"),
        "inverter": st.booleans(),
        "plate": st.just({"voltage": 400.0, "current": 28.5}),
    },
    "history": {
        "failed": st.just("2026-01-14"),
        "site": TEXT,
        "reported": TEXT,
        "earlier_burn": st.booleans(),
        "failed_when": st.sampled_from(["start", "running"]),
        "alarms": st.just({"oil": 3, "phase": 0}),
    },
}


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers of nine digits: a workbook keeps fifteen."""
    return st.floats(low, high).map(lambda x: float(f"{x:.9g}"))


def readable(known: schema.Quantity, unit: str) -> st.SearchStrategy[float]:
    """Numbers that can be a reading of the quantity in this unit: 14 MPa is no oil pressure."""
    if known.family == "temperature":
        return numbers(10, 90)
    scale = units.lookup(unit, known.family)
    assert scale is not None
    low, high = (0.1, 15) if known.family == "pressure" else (0, 90)
    return numbers(low, min(high, known.high / scale.factor))


@st.composite
def measured(draw: st.DrawFn, m: bench_plan.Measure) -> dict[str, Any]:
    known = schema.QUANTITIES[m.quantity]
    names = ("Pa", "mbar", "micron") if known.reference in ("absolute", "vacuum") else units.names(known.family)
    out: dict[str, Any] = {"quantity": m.quantity, "unit": draw(st.sampled_from(names))}
    if out["unit"] == "inHg":  # it counts downward, or is a gauge unit above the air
        out["unit"] = "kPa"
    number = readable(known, out["unit"])
    out["value"] = draw(st.sampled_from(["open", "short"]) | number if known.meter else number)
    out |= {k: v for k in ("between", "at", "cylinder") if (v := getattr(m, k))}
    if m.site:
        out["site"] = True
    if draw(st.booleans()):
        out["accuracy"] = draw(st.sampled_from(["0.5%", "0.02", "0.5% + 0.02", "1% of 40"]))
    if known.family == "resistance" and draw(st.booleans()):
        out |= {"temperature": draw(numbers(10, 80)), "temperature_unit": draw(st.sampled_from(["degC", "degF"]))}
    if known.insulation:
        out |= {"test_voltage": 500.0, "gas": draw(st.sampled_from(["air", "nitrogen"]))}
    if draw(st.booleans()):
        out["time"] = draw(st.datetimes(datetime(2020, 1, 1), datetime(2026, 1, 1))).isoformat(timespec="seconds")
    return out


@st.composite
def raws(draw: st.DrawFn) -> dict[str, Any]:
    machine, steps = load_sheets().for_model("K4-150").machine, load(None).steps
    raw: dict[str, Any] = {"format": 1, "claim": "NB-2026-0117", "unit": UNIT, "history": {}}
    raw |= draw(st.fixed_dictionaries({}, optional=OPTIONAL[""]))
    raw["unit"] = UNIT | draw(st.fixed_dictionaries({}, optional=OPTIONAL["unit"]))
    raw["history"] = draw(st.fixed_dictionaries({}, optional=OPTIONAL["history"]))
    every = [m for s in steps for m in bench_plan.measures(s.id, machine)]
    raw["readings"] = [draw(measured(m)) for m in draw(st.lists(st.sampled_from(every), unique=True, max_size=8))]
    looked = [(p, c) for s in steps for p in s.parts for c in bench_plan.conditions(p, machine) if p != "crank"]
    looked = [(p, c) for p, c in looked if p != "pumping"] + [("crank", "turns_freely"), ("stator", "missing")]
    raw["observations"] = []
    for part, condition in draw(st.lists(st.sampled_from(looked), unique=True, max_size=8)):
        extents = ["heavy", "unreadable"] if part == "crank" else ["none", "slight", "heavy", "unreadable"]
        entry = {"part": part, "condition": condition, "extent": draw(st.sampled_from(extents))}
        entry |= draw(st.fixed_dictionaries({}, optional={"where": TEXT, "note": TEXT, "photo": st.just("p/1.jpg")}))
        raw["observations"].append(entry | draw(st.sampled_from([{}, {"cylinder": [1, 3]}])))
    raw["statements"] = draw(st.lists(st.fixed_dictionaries({"text": TEXT}, optional={"by": TEXT}), max_size=3))
    return {k: v for k, v in raw.items() if v not in ({}, [])}


@settings(
    max_examples=20, deadline=None, phases=[Phase.generate], suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(raws())
def test_what_is_filled_in_reads_back_to_the_same_record(tmp_path: Path, raw: dict[str, Any]) -> None:
    back = read_back(filled(raw), tmp_path)
    assert isinstance(back, Record), (faults(back), raw)
    assert content(back) == content(accepted(raw))


@pytest.mark.parametrize("system", ["si", "us"])
def test_a_whole_record_reads_back_without_a_notice(tmp_path: Path, system: str) -> None:
    raw = WHOLE | {"readings": [r for r in WHOLE["readings"] if r["quantity"] != "head_bolt_torque"]}
    back = read_back(filled(raw, system=system), tmp_path)
    assert isinstance(back, Record), back.faults
    assert back.notices == ()
    assert content(back) == content(accepted(raw))


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed")
def test_saved_by_libreoffice_it_reads_back_to_the_same_record(tmp_path: Path) -> None:
    """A filled workbook opened and saved by another program: same record, drop-down lists still there."""
    filled(WHOLE).save(tmp_path / "mine.xlsx")
    home = f"-env:UserInstallation={(tmp_path / 'home').as_uri()}"
    made = tmp_path / "made"
    call = ["soffice", home, "--headless", "--convert-to", "xlsx", "--outdir", str(made), str(tmp_path / "mine.xlsx")]
    subprocess.run(call, check=True, capture_output=True, timeout=180)
    (back,) = read_all([made / "mine.xlsx"])
    assert isinstance(back, Record), back.faults
    assert back.notices == ()
    assert content(back) == content(accepted(WHOLE))
    rules = openpyxl.load_workbook(made / "mine.xlsx")["observations"].data_validations.dataValidation
    assert any(d.type == "list" and "not looked at" in str(d.formula1) for d in rules)
