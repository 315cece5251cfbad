"""The bench workbook: in teardown order, cautions first, and what is filled in reads back to the record it says."""

import json
import shutil
import subprocess
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from stripdown import vocabulary
from stripdown.knowledge import load
from stripdown.limits import load_sheets
from stripdown.pages import bench_plan
from stripdown.pages.bench_workbook import sheet_workbook
from stripdown.record import Record, Rejected, as_mapping, parse, read_all, schema, units

UNIT = {"serial": "00123", "model": "K4-150"}
PLACE = ("quantity", "between", "at", "cylinder", "site")


@cache
def blank(model: str = "K4-150", system: str = "si") -> bytes:
    return sheet_workbook(load_sheets().for_model(model), load(None), system=system)  # type: ignore[arg-type]


@cache
def shared(model: str, system: str) -> Any:
    """The blank, opened once; `filled` takes out what was written the time before."""
    return openpyxl.load_workbook(BytesIO(blank(model, system)))


WRITTEN: list[tuple[Any, Any]] = []
"""Cells that were written into a shared workbook, and what stood there."""


def opened(raw: bytes) -> Any:
    return openpyxl.load_workbook(BytesIO(raw))


def rows(sheet: Any) -> Iterator[tuple[int, dict[str, Any]]]:
    """(row number, name of the column → cell) of every row below the names."""
    names = [c.value for c in sheet[1]]
    for cells in sheet.iter_rows(min_row=2):
        yield cells[0].row, dict(zip(names, cells, strict=True))


def cell_value(value: object) -> Any:
    """As a person would type it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ";".join(str(v) for v in value) if isinstance(value, list) else value


def write(row: Mapping[str, Any], entry: Mapping[str, Any]) -> None:
    for name, value in entry.items():
        WRITTEN.append((row[name], row[name].value))
        row[name].value = cell_value(value)
        if isinstance(value, str):
            row[name].data_type = "s"  # as text, whatever it begins with


def filled(raw: Mapping[str, Any], model: str = "K4-150", system: str = "si") -> Any:
    """The workbook with a record written into it: each entry into the row that asks for it, else into a spare one."""
    while WRITTEN:
        cell, before = WRITTEN.pop()
        cell.value = before
    book = shared(model, system)
    top = next(row for _, row in rows(book["returns"]))
    unit, history = dict(raw["unit"]), dict(raw.get("history", {}))
    for nested, inside in (("plate", unit), ("alarms", history)):
        write(top, {f"{nested}_{k}": v for k, v in inside.pop(nested, {}).items()})
    flat = {k: v for k, v in raw.items() if k not in ("format", "unit", "history") and not _entries(v)}
    write(top, flat | unit | history)
    for sheet, place, answer in (("readings", PLACE, "value"), ("observations", ("part", "condition"), "extent")):
        free = [row for _, row in rows(book[sheet]) if row["(step)"].value is not None]
        for entry in raw.get(sheet, ()):
            at = next(i for i, row in enumerate(free) if _fits(row, entry, place, answer))
            write(free.pop(at), entry)
    for entry, (_, row) in zip(raw.get("statements", ()), rows(book["statements"]), strict=False):
        write(row, entry)
    return book


def _entries(value: object) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], dict)


def _fits(row: Mapping[str, Any], entry: Mapping[str, Any], place: tuple[str, ...], answer: str) -> bool:
    if row["(step)"].value == "+":
        return True
    return row[answer].value is None and all(row[k].value == cell_value(entry.get(k) or None) for k in place)


def read_back(book: Any, tmp_path: Path) -> Record | Rejected:
    path = tmp_path / "filled.xlsx"
    book.save(path)
    (result,) = read_all([path])
    return result


def content(record: Record) -> dict[str, Any]:
    """What a record says, whatever the order of its entries."""
    out = as_mapping(record)
    for name in ("readings", "observations"):
        out[name] = sorted(out.get(name, ()), key=lambda e: json.dumps(e, sort_keys=True))
    return out


def accepted(raw: Mapping[str, Any]) -> Record:
    record = parse(raw, file="r.json", folder=".")
    assert isinstance(record, Record), record.faults
    return record


def faults(result: Record | Rejected) -> list[str]:
    assert isinstance(result, Rejected)
    return [f"{f.entry}: {f.what}" for f in result.faults]


# --- what it reads back to -------------------------------------------------------------------------------------------


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


WHOLE: dict[str, Any] = {
    "format": 1,
    "claim": "NB-2026-0117",
    "examined_by": "bench 2",
    "examined_on": date(2026, 2, 3),
    "instruments": ["low-ohm meter 4", "insulation tester 2"],
    "unit": UNIT | {"refrigerant": "R449A", "run_hours": 21400, "inverter": False, "plate": {"voltage": 400}},
    "history": {"installed": date(2020, 2, 3), "failed": date(2026, 1, 14), "alarms": {"oil": 3}, "earlier_burn": True},
    "readings": [
        {
            "quantity": "winding_resistance",
            "between": "U-V",
            "at": "terminals",
            "value": 0.86,
            "unit": "ohm",
            "temperature": 24,
            "temperature_unit": "degC",
            "accuracy": "0.5% + 0.02",
            "time": datetime(2026, 2, 3, 9, 40),
        },
        {"quantity": "insulation_resistance", "between": "all-frame", "at": "leads", "value": "open", "unit": "Mohm"},
        {"quantity": "wrist_pin_drop", "cylinder": 2, "value": 90, "unit": "um"},
        *({"quantity": "head_bolt_torque", "value": v, "unit": "N·m", "cylinder": 1} for v in (58, 55.5)),
        {"quantity": "discharge_pressure", "value": 17.25, "unit": "bar", "site": True, "accuracy": "1% of 40"},
    ],
    "observations": [
        {"part": "backer_bolts", "condition": "backed_out", "extent": "heavy", "cylinder": [2], "note": "=2+2"},
        {"part": "backer_bolts", "condition": "backed_out", "extent": "none", "cylinder": [1, 3]},
        {"part": "oil", "condition": "low", "extent": "none"},
        {"part": "crank", "condition": "turns_freely", "extent": "heavy"},
        {"part": "suction_strainer", "condition": "missing", "extent": "heavy"},
    ],
    "statements": [{"by": "contractor", "text": "unit was never opened"}],
}


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


# --- what a slip of the pen does -------------------------------------------------------------------------------------


def spoilt(tmp_path: Path, sheet: str, wanted: Mapping[str, str], **cells: object) -> Record | Rejected:
    """The blank with claim and serial, and these cells in the first row of `sheet` that holds `wanted`."""
    book = filled({"claim": "A-1", "unit": UNIT})
    row = next(row for _, row in rows(book[sheet]) if all(row[k].value == v for k, v in wanted.items()))
    write(row, cells)
    return read_back(book, tmp_path)


def test_a_note_without_an_answer_is_a_fault_and_no_heavy_finding(tmp_path: Path) -> None:
    lifted = {"part": "relief_valve", "condition": "lifted"}
    (said,) = faults(spoilt(tmp_path, "observations", lifted, note="seat clean"))
    assert said.startswith("observations row ")
    assert "column extent" in said


def test_a_temperature_without_a_value_is_a_fault(tmp_path: Path) -> None:
    (said,) = faults(spoilt(tmp_path, "readings", {"quantity": "winding_resistance"}, temperature=24))
    assert "column value: is missing" in said


@pytest.mark.parametrize(
    ("word", "extent"),
    [("sound", "none"), ("Sound", "none"), ("slight", "slight"), ("cannot read", "unreadable"), ("none", "none")],
)
def test_words_of_the_sheet_are_extents(tmp_path: Path, word: str, extent: str) -> None:
    record = spoilt(tmp_path, "observations", {"part": "oil", "condition": "low"}, extent=word)
    assert isinstance(record, Record)
    assert [(o.finding, o.extent) for o in record.observations] == [("oil.low", extent)]


def test_not_looked_at_is_no_entry(tmp_path: Path) -> None:
    record = spoilt(tmp_path, "observations", {"part": "relief_valve"}, extent="not looked at", note="no key")
    assert isinstance(record, Record)
    assert record.observations == ()


def test_a_crank_that_turns_is_yes_and_never_sound(tmp_path: Path) -> None:
    turns = {"part": "crank", "condition": "turns_freely"}
    record = spoilt(tmp_path, "observations", turns, extent="yes")
    assert isinstance(record, Record)
    assert record.observations[0].finding == "crank.turns_freely"
    assert "none says nothing of crank" in faults(spoilt(tmp_path, "observations", turns, extent="sound"))[0]


def test_a_second_compressor_needs_its_claim_in_every_row(tmp_path: Path) -> None:
    book = filled({"claim": "A-1", "unit": UNIT} | {"observations": [WHOLE["observations"][2]]})
    names = [c.value for c in book["returns"][1]]
    write(
        {n: book["returns"].cell(3, i) for i, n in enumerate(names, 1)}, {"claim": "A-2", "serial": "9", "model": "M"}
    )
    book.save(tmp_path / "two.xlsx")
    results = read_all([tmp_path / "two.xlsx"])
    assert [r.claim for r in results] == ["A-1", "A-2", None]
    assert "has no claim" in faults(results[2])[0]


def test_an_ordinary_table_is_as_strict_as_ever(tmp_path: Path) -> None:
    """Without the column (step) an empty value is a fault, and so is a row without a claim."""
    book = openpyxl.Workbook()
    del book[book.sheetnames[0]]
    for name, header, row in (
        ("returns", ("claim", "serial", "model"), ("A", "S", "M")),
        ("readings", ("claim", "quantity", "value", "unit"), ("A", "oil_moisture", None, "ppm")),
        ("observations", ("claim", "part", "condition", "extent"), (None, "oil", "low", "none")),
    ):
        sheet = book.create_sheet(name)
        sheet.append(header)
        sheet.append(row)
    book.save(tmp_path / "t.xlsx")
    said = [faults(r) for r in read_all([tmp_path / "t.xlsx"])]
    assert said == [["readings row 2, column value: is missing"], ["observations row 2: has no claim"]]


# --- what it shows ---------------------------------------------------------------------------------------------------


def test_every_caution_stands_before_the_rows_of_its_step_and_steps_are_in_order() -> None:
    book, steps = opened(blank()), load(None).steps
    assert load(None).general_caution in " ".join(str(c.value) for row in book["read first"]["A1:A3"] for c in row)
    assert book.sheetnames[0] == "read first"
    for name in ("observations", "readings"):
        told: list[int] = []
        for _, row in rows(book[name]):
            value = row["(step)"].value
            if isinstance(value, int):
                assert value == told[-1]
            elif value and "CAUTION" in value:
                number = int(value.split()[0])
                assert steps[number - 1].caution in value
                told.append(number)
        assert told == sorted(set(told))


def test_every_part_condition_and_quantity_is_asked_for_once() -> None:
    book = opened(blank("nobody knows"))
    looks = [(r["part"].value, r["condition"].value) for _, r in rows(book["observations"]) if r["part"].value]
    every = [(p, c) for p, cs in vocabulary.parts().items() for c in cs if c not in ("missing", "wrong_part")]
    assert sorted(looks) == sorted(every)
    asked = {r["quantity"].value for _, r in rows(book["readings"]) if r["quantity"].value}
    assert asked == set(schema.QUANTITIES)


def _choices(book: Any, sheet: str, column: str, row: int) -> tuple[str, ...]:
    names = [c.value for c in book[sheet][1]]
    cell = book[sheet].cell(row, names.index(column) + 1).coordinate
    (rule,) = [d for d in book[sheet].data_validations.dataValidation if cell in d.sqref]
    if rule.formula1.startswith('"'):
        return tuple(rule.formula1.strip('"').split(","))
    title, _, cells = rule.formula1.replace("$", "").rpartition("!")
    return tuple(c.value for (c,) in book[title.strip("'")][cells])


def test_drop_down_lists_hold_what_the_record_takes() -> None:
    book = opened(blank())
    for name, field in {**schema.SECTIONS["unit"], **schema.SECTIONS["history"]}.items():
        if field.kind == "choice" and field.choices:
            assert _choices(book, "returns", name, 2) == tuple(field.choices())
    for number, row in rows(book["readings"]):
        if (quantity := row["quantity"].value) is not None:
            offered = _choices(book, "readings", "unit", number)
            assert offered[0] == row["unit"].value
            assert all(units.lookup(u, schema.QUANTITIES[quantity].family) for u in offered)
    extents = {
        (r["part"].value, r["condition"].value): _choices(book, "observations", "extent", n)
        for n, r in rows(book["observations"])
        if r["part"].value
    }
    assert extents["main_bearing", "worn"] == ("sound", "slight", "heavy", "cannot read", "not looked at")
    assert extents["relief_valve", "lifted"] == ("sound", "yes", "cannot read", "not looked at")
    assert extents["crank", "will_not_turn"] == ("yes", "cannot read", "not looked at")
    spare = max(n for n, _ in rows(book["observations"]))
    assert _choices(book, "observations", "part", spare) == tuple(vocabulary.parts())
    assert "R449A" in _choices(book, "returns", "refrigerant", 2)


def test_limits_and_units_of_both_systems() -> None:
    """70 um limit of the sheet's main bearing: 95 um = 3.74 thou; 24 inHg (class)."""
    for system, play, vacuum in (("si", "at most 0.095 mm", "mbar"), ("us", "at most 3.74 thou", "inHg")):
        told = {r["quantity"].value: r for _, r in rows(opened(blank("K4-150", system))["readings"])}
        assert told["main_bearing_play"]["(limit)"].value == play
        assert told["vacuum_pull_down"]["unit"].value == vacuum


def test_no_text_becomes_a_formula_and_equal_sheets_are_equal_bytes() -> None:
    sheet = load_sheets().for_model('=HYPERLINK("x")\x07')
    raw = sheet_workbook(sheet, load(None))
    assert raw == sheet_workbook(sheet, load(None))
    cells = [c for page in opened(raw).worksheets for row in page.iter_rows() for c in row]
    assert not [c for c in cells if c.data_type == "f"]
    assert any("HYPERLINK" in str(c.value) for c in cells)
