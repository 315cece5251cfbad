"""The units table: every unit put to work, or how many a month, from a .csv file or the sheet `units` of a workbook."""

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from stripdown.record.columns import plain_name
from stripdown.record.fault import Fault, RecordError
from stripdown.record.load import UnreadableError, no_file, ordinary
from stripdown.record.sheets import read_workbook
from stripdown.record.text import shown

SHEET = "units"
_DATES = ("built", "installed", "removed")
_PER_UNIT = ("serial", "model", "installed")
_PER_MONTH = ("model", "month", "installed")
_OPTIONAL = ("site", "contractor", "built", "removed", "replaces")
_GROUPS = ("model", "site", "contractor", "replaces")
_SHOWN = 20
"""Faults of one kind that are listed one by one; the rest are counted."""


@dataclass(frozen=True)
class Population:
    """`units`: serial, model, site, contractor, replaces ("" = not stated), built, installed, removed (dates), count.

    One row a unit with count 1; or, `monthly`, one row a model and month with serial "" and installed in mid-month.
    `stated`: the optional columns the table has.
    """

    file: str
    units: pd.DataFrame
    monthly: bool
    stated: frozenset[str]
    notices: tuple[Fault, ...] = ()


def read_population(path: Path, *, columns: Mapping[str, str] | None = None) -> Population:
    """Read and check the units table; `RecordError` with every fault.

    `columns`: own name → ours. Case, blanks and dashes of a name do not matter, of own ones neither.
    """
    raw = _read(path)
    ours = {name: name for name in (*_PER_UNIT, *_PER_MONTH, *_OPTIONAL)}
    ours |= {plain_name(own): name for own, name in (columns or {}).items()}
    raw.columns = pd.Index([ours.get(plain_name(c), c.strip()) for c in map(str, raw.columns)])
    monthly = "month" in raw.columns and "serial" not in raw.columns
    faults, notices = _headings(path, list(raw.columns), monthly)
    if faults:
        raise RecordError(faults)
    raw = raw[[c for c in raw.columns if c in (*_PER_UNIT, *_PER_MONTH, *_OPTIONAL)]].apply(lambda c: c.str.strip())
    raw = raw[(raw != "").any(axis=1)]
    units = _months(path, raw, faults) if monthly else _units(path, raw, faults)
    if faults:
        raise RecordError(faults)
    stated = frozenset(c for c in _OPTIONAL if c in raw.columns and not monthly)
    return Population(str(path), units, monthly, stated, tuple(notices))


def _read(path: Path) -> pd.DataFrame:
    """All cells as text, whatever the form of the file; the index is the row as the user counts it, headings 1."""
    try:
        if path.exists() and not ordinary(path):
            raise no_file()
        frame = _read_workbook(path) if path.suffix.lower() == ".xlsx" else _read_csv(path)
    except FileNotFoundError:
        raise RecordError([Fault(str(path), "", "there is no such file", "name the units table")]) from None
    except UnreadableError as error:
        raise RecordError([Fault(str(path), "", error.what, error.fix)]) from None
    except RecordError:
        raise
    except Exception as error:  # whatever a broken file makes its reader say
        what = f"cannot be read as a table ({type(error).__name__})"
        raise RecordError(
            [Fault(str(path), "", what, "give a .csv in UTF-8 or an .xlsx workbook with a sheet units")]
        ) from error
    frame.index = pd.RangeIndex(2, 2 + len(frame))
    return frame


def _read_csv(path: Path) -> pd.DataFrame:
    with path.open(encoding="utf-8-sig", newline="") as file:
        first = file.readline()
        separator = ";" if first.count(";") > first.count(",") else ","
        names = next(csv.reader([first], delimiter=separator), [])
    if not any(n.strip() for n in names):
        raise _empty(path)
    cells = pd.read_csv(
        path, sep=separator, dtype="str", na_filter=False, encoding="utf-8-sig", header=None, skiprows=1,
        names=list(range(len(names))), skip_blank_lines=False, index_col=False,
    )  # fmt: skip
    return cells.set_axis(names, axis=1)


def _read_workbook(path: Path) -> pd.DataFrame:
    sheet = read_workbook(path, frozenset({SHEET})).get(SHEET)
    if sheet is None:
        raise UnreadableError(f"has no sheet {SHEET}", f"name the sheet with the population {SHEET}")
    if not any(n.strip() for n in sheet.header):
        raise _empty(path)
    rows = [[_cell(c) for c in cells] for _, cells in sheet.rows]
    return pd.DataFrame(rows, columns=list(sheet.header), dtype="str")


def _empty(path: Path) -> RecordError:
    return RecordError([Fault(str(path), SHEET, "the table is empty", f"first row: {', '.join(_PER_UNIT)}")])


def _cell(value: Any) -> str:
    """A stored cell as text: dates ISO, whole numbers without a point."""
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


def _headings(path: Path, names: list[str], monthly: bool) -> tuple[list[Fault], list[Fault]]:
    """What is wrong with the first row, and what nobody asked for."""
    needed = _PER_MONTH if monthly else _PER_UNIT
    either = "one row a unit: serial, model, installed; or a count a month: model, month, installed"
    faults = [Fault(str(path), SHEET, f"has no column {c}", either) for c in needed if c not in names]
    doubled = sorted({c for c in names if names.count(c) > 1 and c})
    faults += [Fault(str(path), SHEET, f"has the column {shown(c)} twice", "keep one") for c in doubled]
    known = {*_PER_MONTH} if monthly else {*_PER_UNIT, *_OPTIONAL}
    extra = [c for c in names if c not in known and c]
    notices = [Fault(str(path), f"{SHEET}.{shown(c)}", "a column nobody asked for", "it is not read") for c in extra]
    return faults, notices


def _units(path: Path, raw: pd.DataFrame, faults: list[Fault]) -> pd.DataFrame:
    out: dict[str, Any] = {}
    for c in ("serial", "model", "site", "contractor", "replaces"):
        out[c] = raw[c] if c in raw else pd.Series("", index=raw.index, dtype="str")
    for c in _DATES:
        out[c] = (
            _days(path, raw[c], c, faults) if c in raw else pd.Series(pd.NaT, index=raw.index, dtype="datetime64[s]")
        )
    for c in _PER_UNIT:
        _report(path, faults, c, raw.index[(raw[c] == "")], lambda _: "is empty", "every unit needs one")
    for c in _GROUPS:
        out[c] = out[c].astype("category") if c != "replaces" else out[c]
    return pd.DataFrame(out).assign(count=np.int64(1))


def _days(path: Path, text: pd.Series, column: str, faults: list[Fault]) -> pd.Series:
    """A column of ISO dates; empty cells are no date."""
    days = pd.to_datetime(text, format="%Y-%m-%d", errors="coerce").astype("datetime64[s]")
    odd = text.index[((days.isna()) & (text != "")) | (days.dt.year < 1900) | (days.dt.year > 2200)]
    _report(path, faults, column, odd, lambda i: f"{shown(text[i])} is no date", "write it as 2020-02-03")
    return days


def _months(path: Path, raw: pd.DataFrame, faults: list[Fault]) -> pd.DataFrame:
    """Counts a month: each stands for so many units installed in the middle of it."""
    month = raw["month"].str.replace(r"^(\d{4}-\d{2})-01$", r"\1", regex=True)
    start = pd.to_datetime(month, format="%Y-%m", errors="coerce").astype("datetime64[s]")
    _report(
        path,
        faults,
        "month",
        raw.index[start.isna()],
        lambda i: f"{shown(raw['month'][i])} is no month",
        "write it as 2020-02",
    )
    count = pd.to_numeric(raw["installed"], errors="coerce")
    odd = raw.index[~((count >= 0) & (count % 1 == 0) & (count < 1e9))]
    what = "is no count of units"
    _report(
        path, faults, "installed", odd, lambda i: f"{shown(raw['installed'][i])} {what}", "write a whole number, as 120"
    )
    _report(path, faults, "model", raw.index[raw["model"] == ""], lambda _: "is empty", "every row needs one")
    if faults:
        return pd.DataFrame()
    text = pd.Series("", index=raw.index, dtype="str")
    none = pd.Series(pd.NaT, index=raw.index, dtype="datetime64[s]")
    out = {"serial": text, "model": raw["model"], "site": text, "contractor": text, "replaces": text}
    middle = start + pd.Timedelta(days=15)
    out |= {
        "built": none,
        "installed": middle.astype("datetime64[s]"),
        "removed": none,
        "count": count.astype(np.int64),
    }
    return pd.DataFrame(out).astype({"model": "category", "site": "category", "contractor": "category"})


def _report(path: Path, faults: list[Fault], column: str, rows: Iterable[int], what: Any, fix: str) -> None:
    """One fault a row, the first ones by name and the rest counted."""
    where = list(rows)
    faults += [Fault(str(path), f"{SHEET}[{i}].{column}", what(i), fix) for i in where[:_SHOWN]]
    if len(where) > _SHOWN:
        faults.append(
            Fault(str(path), f"{SHEET}.{column}", f"{len(where) - _SHOWN} more rows with the same fault", fix)
        )
