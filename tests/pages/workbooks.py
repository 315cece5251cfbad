"""Bench workbooks filled in as a person would, and read back."""

import json
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl

from stripdown.knowledge import load
from stripdown.limits import load_sheets
from stripdown.pages.bench_workbook import sheet_workbook
from stripdown.record import Record, Rejected, as_mapping, parse, read_all

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
