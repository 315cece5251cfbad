"""Tables written as people and other programs write them: CSV in both dialects, and a workbook."""

import csv
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl

Rows = Mapping[str, Sequence[Mapping[str, Any]]]


def columns(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """Every name that a row uses, in order of appearance."""
    return list(dict.fromkeys(name for row in rows for name in row))


def cell_text(value: object, comma: bool) -> str:
    """One cell of a `.csv`."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return ";".join(str(v) for v in value)
    if isinstance(value, float) or (comma and isinstance(value, str) and "%" in value):
        return str(value).replace(".", ",") if comma else str(value)
    return value.isoformat() if isinstance(value, date) else str(value)


def write_csv(folder: Path, sheets: Rows, *, comma: bool = False, encoding: str = "utf-8") -> Path:
    """A folder of `.csv` files; `comma`: semicolons between cells and decimal comma."""
    folder.mkdir(exist_ok=True)
    for name, rows in sheets.items():
        with (folder / f"{name}.csv").open("w", encoding=encoding, newline="") as file:
            out = csv.writer(file, delimiter=";" if comma else ",")
            out.writerow(columns(rows))
            out.writerows([cell_text(row.get(c), comma) for c in columns(rows)] for row in rows)
    return folder


def write_workbook(path: Path, sheets: Rows) -> Path:
    """An `.xlsx` with real numbers, truths and dates."""
    book = openpyxl.Workbook()
    book.remove(book.active)  # type: ignore[arg-type]  # a new workbook has a sheet
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        sheet.append(columns(rows))
        for row in rows:
            sheet.append([cell_value(row.get(c)) for c in columns(rows)])
    book.save(path)
    return path


def cell_value(value: object) -> Any:
    """One cell of a workbook."""
    if isinstance(value, list):
        return ";".join(str(v) for v in value)
    return value.replace(tzinfo=None) if isinstance(value, datetime) else value
