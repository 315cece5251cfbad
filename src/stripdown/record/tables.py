"""A workbook, or a folder of `.csv` files, with the sheets `returns`, `readings`, `observations` … → records."""

import re
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from stripdown.record import cells, prepared, schema, sheets
from stripdown.record.columns import Columns, plain_name
from stripdown.record.fault import Fault
from stripdown.record.found import Found, renamed
from stripdown.record.load import UnreadableError
from stripdown.record.model import Record, Rejected
from stripdown.record.parse import parse
from stripdown.record.schema import TABLE_COLUMNS
from stripdown.record.sheets import Sheet
from stripdown.record.text import near, shown

RETURNS = "returns"
_ENTRY = re.compile(r"(?:(\w+)\[(\d+)\])?\.?(.*)")
_QUOTES = re.compile(r"(,? or quotes|,? without quotes(?! or unit)| quotes or(?= unit))")
"""What a fix says of quotes: there are none in a cell."""
_TOO_LONG = ("has more cells than the first row has names", "look for a comma too many, or a name that is missing")
_MOST_NAMED = 20
"""Columns nobody asked for that are named one by one."""
_SERIALS = ("serial", "replaces")
_WAS_A_NUMBER = ("stands as a number: zeros in front of it are lost", "format the column as text and type it again")


@dataclass(slots=True)
class _Row:
    """One row: `number` as a person sees it, our column names → values; serials that stand in it as numbers."""

    number: int
    values: dict[str, Any]
    too_long: bool = False
    as_numbers: list[str] = field(default_factory=list)


@dataclass(slots=True)
class _Table:
    """A sheet that was read: its rows, and our column name → the name it has there; `form` = its rows were prepared."""

    rows: list[_Row]
    names: Mapping[str, str]
    unknown: tuple[str, ...] = ()
    form: bool = False


@dataclass(slots=True)
class _Claim:
    """All rows of one claim in the sheets below `returns`."""

    rows: defaultdict[str, list[_Row]] = field(default_factory=lambda: defaultdict(list))


def from_workbook(path: Path, columns: Columns, file: str) -> Iterator[Found]:
    """The records of an `.xlsx`, none where it has no sheet `returns`. Raises `UnreadableError`."""
    book = sheets.read_workbook(path, frozenset(TABLE_COLUMNS), columns.sheet)
    return _records(book, columns, file, str(path.parent)) if RETURNS in book else iter(())


def from_folder(folder: Path, columns: Columns, file: str) -> Iterator[Found]:
    """The records of the `.csv` files in a folder. Raises `UnreadableError`."""
    found: dict[str, Path] = {}
    for path in sorted(p for p in folder.iterdir() if p.suffix.casefold() == ".csv" and p.is_file()):
        name = columns.sheet(path.stem)
        if name in found and name in TABLE_COLUMNS:
            raise UnreadableError(f"holds two tables {name}: {found[name].name} and {path.name}", "keep one of them")
        found[name] = path
    book = {name: sheets.read_csv(path) for name, path in found.items() if name in TABLE_COLUMNS}
    return _records(book, columns, file, str(folder))


def _records(book: Mapping[str, Sheet], columns: Columns, file: str, folder: str) -> Iterator[Found]:
    tables = {name: _table(name, book[name], columns) for name in TABLE_COLUMNS if name in book}
    notices = tuple(_notices(book, tables, file))
    claims: defaultdict[str, _Claim] = defaultdict(_Claim)
    returns = tables[RETURNS].rows
    alone = len(returns) == 1 and any(table.form for table in tables.values())
    for name, table in tables.items():
        for row in table.rows:
            if name != RETURNS:
                claims[_key(row) or (_key(returns[0]) if alone else "")].rows[name].append(row)
    returned = {_key(row) for row in returns}
    unclaimed = None if alone else claims.pop("", None)
    for row in tables[RETURNS].rows:
        below = claims[key] if (key := _key(row)) in claims else _Claim()
        yield _record(row, below, tables, notices, file, folder)
    for key, claim in claims.items():
        if key not in returned:
            yield _orphan(claim, tables, file)
    if unclaimed is not None:
        yield _nobodys(unclaimed, file)


def _key(row: _Row) -> str:
    return str(row.values.get("claim") or "").casefold()


def _table(name: str, sheet: Sheet, columns: Columns) -> _Table:
    """Rows under our column names; raises `UnreadableError` where the first row will not do."""
    known = columns.known(name)
    ours = [known.get(plain_name(header)) for header in sheet.header]
    for column in {c for c in ours if c is not None}:
        if ours.count(column) > 1:
            raise UnreadableError(f"sheet {name} has two columns for {column}", "keep one of them")
    if "claim" not in ours:
        first = f"it has {shown(', '.join(sheet.header), 100)}" if any(sheet.header) else "it is empty"
        raise UnreadableError(
            f"sheet {name} has no column claim: {first}", "write the names in the first row, claim first"
        )
    names = {column: header.strip() for column, header in zip(ours, sheet.header, strict=True) if column}
    strange = (h for h, column in zip(sheet.header, ours, strict=True) if column is None and h.strip())
    unknown = tuple(h for h in strange if not prepared.for_people(h))
    fields = {column: _field(name, column) for column in names}
    filled = (row for row in sheet.rows if any(cell != "" for cell in row[1]))
    rows = [_row(number, row, ours, fields, sheet, columns) for number, row in filled]
    form = prepared.STEP in (plain_name(h) for h in sheet.header)
    return _Table([r for r in rows if _filled_in(name, r)] if form else rows, names, unknown, form)


def _filled_in(name: str, row: _Row) -> bool:
    """Whether a prepared row is an entry; it then holds what it says."""
    said = prepared.entry(name, row.values)
    row.values = said or {}
    return said is not None


def _row(
    number: int,
    row: list[object],
    ours: list[str | None],
    fields: Mapping[str, schema.Field],
    sheet: Sheet,
    columns: Columns,
) -> _Row:
    out = _Row(number, {}, any(cell != "" for cell in row[len(ours) :]))
    for column, cell in zip(ours, row, strict=False):
        if column is None:
            continue
        value = cells.value_of(cell, column, fields[column], comma=sheet.comma, dates=columns.dates)
        if value is not None:
            out.values[column] = value
            if column in _SERIALS and isinstance(cell, float):
                out.as_numbers.append(column)
    return out


def _field(sheet: str, column: str) -> schema.Field:
    path = TABLE_COLUMNS[sheet][column]
    if column == "claim":
        return schema.SECTIONS[""]["claim"]
    section = sheet if sheet != RETURNS else ".".join(path[:-1])
    return schema.SECTIONS[section][path[-1]]


def _record(
    row: _Row, below: _Claim, tables: Mapping[str, _Table], notices: tuple[Fault, ...], file: str, folder: str
) -> Found:
    raw: dict[str, Any] = {"format": schema.FORMAT, "unit": {}}
    for column, value in row.values.items():
        *way, last = TABLE_COLUMNS[RETURNS][column]
        inner = raw
        for step in way:
            inner = inner.setdefault(step, {})
        inner[last] = value
    faults = [Fault(file, "", *_TOO_LONG)] if row.too_long else []
    for name, rows in below.rows.items():
        raw[name] = [{k: v for k, v in r.values.items() if k != "claim"} for r in rows]
        faults += [Fault(file, f"{name}[{i}]", *_TOO_LONG) for i, r in enumerate(rows, start=1) if r.too_long]
    call = _caller(row, below, tables)
    result = parse(raw, file=file, folder=folder, faults=faults)
    if isinstance(result, Rejected):
        return renamed(replace(result, faults=tuple(_in_a_cell(f, below, tables) for f in result.faults)), call)
    found = renamed(result, call)
    assert isinstance(found.result, Record)
    lost = (Fault(file, call(".".join(TABLE_COLUMNS[RETURNS][c])), *_WAS_A_NUMBER) for c in row.as_numbers)
    return replace(found, result=replace(found.result, notices=(*notices, *lost, *found.result.notices)))


def _in_a_cell(fault: Fault, below: _Claim, tables: Mapping[str, _Table]) -> Fault:
    """A fault that says to write a field, worded for who fills in a table."""
    match = _ENTRY.fullmatch(fault.entry)
    sheet = match[1] if match and match[1] else RETURNS
    if match and (sheet, match[3]) == ("observations", "extent") and tables[sheet].form:
        said = below.rows[sheet][int(match[2]) - 1].values
        *words, last, _ = prepared.answers(str(said.get("part")), str(said.get("condition")))
        what = fault.what if said.get("extent") else "is empty"
        return replace(fault, what=what, fix=f"choose from its list: {', '.join(words)} or {last}")
    asked, quoted, rest = fault.fix.partition(' = "…"')
    if not quoted:
        return replace(fault, fix=_QUOTES.sub("", fault.fix).replace("`unit`", "the column unit"))
    column = asked.removeprefix("write ")
    return replace(
        fault, fix=(f"fill the cell in{rest}" if column in tables[sheet].names else f"add a column {column}")
    )


def _caller(row: _Row, below: _Claim, tables: Mapping[str, _Table]) -> Callable[[str], str]:
    """How an entry of this record is called in its sheets: readings[2].unit → 'readings row 17, column unit'."""

    def call(entry: str) -> str:
        match = _ENTRY.fullmatch(entry)
        if match and match[1] in below.rows:
            place = f"{match[1]} row {below.rows[match[1]][int(match[2]) - 1].number}"
            return f"{place}, column {tables[match[1]].names.get(match[3], match[3])}" if match[3] else place
        column = next((c for c, way in TABLE_COLUMNS[RETURNS].items() if ".".join(way) == entry), None)
        place = f"{RETURNS} row {row.number}"
        return f"{place}, column {tables[RETURNS].names.get(column, column)}" if column else place

    return call


def _notices(book: Mapping[str, Sheet], tables: Mapping[str, _Table], file: str) -> Iterator[Fault]:
    for name, table in tables.items():
        for header in table.unknown[:_MOST_NAMED]:
            meant = near(header, TABLE_COLUMNS[name])
            fix = f"did you mean {meant}?" if meant else "it was passed over; a columns file can give it a meaning"
            yield Fault(file, name, f"column {shown(header)} is not known here", fix)
        if (more := len(table.unknown) - _MOST_NAMED) > 0:
            fix = "they were passed over; a columns file can give them a meaning"
            yield Fault(file, name, f"{more} more columns are not known here", fix)
    for name in book:
        if name not in TABLE_COLUMNS and (meant := near(name, [t for t in TABLE_COLUMNS if t not in book])):
            yield Fault(file, "", f"sheet {shown(name)} was passed over", f"did you mean {meant}?")


def _orphan(claim: _Claim, tables: Mapping[str, _Table], file: str) -> Found:
    """Rows whose claim has no row in `returns`."""
    name, rows = next(iter(claim.rows.items()))
    number = str(rows[0].values["claim"])
    known = [str(r.values["claim"]) for r in tables[RETURNS].rows if "claim" in r.values]
    meant = near(number, known)
    fix = f"did you mean {meant}?" if meant else "add the row to returns, or mend the claim"
    fault = Fault(file, f"{name} row {rows[0].number}, column claim", f"{shown(number)} has no row in {RETURNS}", fix)
    return Found(Rejected(claim=None, file=file, faults=(fault,)))


def _nobodys(claim: _Claim, file: str) -> Found:
    """Rows without a claim."""
    faults = tuple(
        Fault(file, f"{name} row {row.number}", "has no claim", "write the claim it belongs to, or delete the row")
        for name, rows in claim.rows.items()
        for row in rows
    )
    return Found(Rejected(claim=None, file=file, faults=faults))
