"""Own names of sheets and columns: `returns.serial = "S/N"` in a TOML file, and the order of day and month in dates."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from stripdown.record import load
from stripdown.record.fault import Fault, RecordError
from stripdown.record.load import UnreadableError
from stripdown.record.schema import POPULATION, TABLE_COLUMNS
from stripdown.record.text import either, near, printable, shown

ORDERS = ("iso", "dmy", "mdy")
_GAPS = re.compile(r"[\s_\u2010-\u2015-]+")
_ENDING = re.compile(r"\.csv$", re.IGNORECASE)
_SHEETS = {sheet: tuple(columns) for sheet, columns in TABLE_COLUMNS.items()} | {"units": POPULATION}


@dataclass(frozen=True, slots=True)
class Columns:
    """`own`: sheet → own name, as `plain_name` gives it → our name. `dates`: iso, dmy or mdy.

    `sheets`: own name of a sheet or of a `.csv` file, as `plain_name` gives it → our name.
    """

    own: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    dates: str = "iso"
    sheets: Mapping[str, str] = field(default_factory=dict)

    def sheet(self, title: str) -> str:
        """Our name of a sheet, or of a `.csv` file without its ending; its own where it has no meaning here."""
        return self.sheets.get(plain_name(title)) or title.strip().casefold()

    def known(self, sheet: str) -> dict[str, str]:
        """Name in the first row, as `plain_name` gives it → our name; own names beside ours."""
        return {name: name for name in _SHEETS[sheet]} | dict(self.own.get(sheet, {}))


def plain_name(name: str) -> str:
    """A column's name, or an id, without regard to case, blanks and dashes."""
    return _GAPS.sub("_", name.strip().casefold())


def read_columns(path: str | Path) -> Columns:
    """The columns file; raises `RecordError` with every fault."""
    file = printable(str(path))
    try:
        raw = load.from_toml(load.decode(load.content(Path(path))))
    except OSError as error:
        raise RecordError([Fault(file, "", f"cannot be read: {error.strerror}", "name a TOML file")]) from None
    except UnreadableError as error:
        raise RecordError([Fault(file, "", error.what, error.fix)]) from None
    faults: list[Fault] = []
    dates = raw.pop("dates", "iso")
    if dates not in ORDERS:
        faults.append(Fault(file, "dates", f"got {shown(dates)}", f"write {either(ORDERS)}"))
    called = _sheets(file, raw.pop("sheets", {}), faults)
    own = {sheet: _sheet(file, sheet, names, faults) for sheet, names in raw.items()}
    if faults:
        raise RecordError(faults)
    return Columns(own, dates, called)


def _sheets(file: str, names: Any, faults: list[Fault]) -> dict[str, str]:
    """Own names of sheets and files; the ending of a file may stand or not."""
    if not isinstance(names, dict):
        fix = 'write [sheets] and below it a line for each, as returns = "the name of your sheet or file"'
        faults.append(Fault(file, "sheets", f"got {shown(names)}", fix))
        return {}
    bare = {ours: _ENDING.sub("", own) if isinstance(own, str) else own for ours, own in names.items()}
    return _named(file, "sheets", bare, tuple(TABLE_COLUMNS), faults)


def _sheet(file: str, sheet: str, names: Any, faults: list[Fault]) -> dict[str, str]:
    if sheet in _SHEETS and isinstance(names, dict):
        return _named(file, sheet, names, _SHEETS[sheet], faults)
    entry = printable(sheet)
    if sheet in _SHEETS:
        column = "value" if sheet == "readings" else next(c for c in _SHEETS[sheet] if c != "claim")
        fix = (
            f"write {sheet} below [sheets] where this is the name of your sheet or file; "
            f'a column takes the sheet and its name here, as {sheet}.{column} = "…"'
        )
        faults.append(Fault(file, entry, f"got {shown(names)}", fix))
        return {}
    of = next((s for s, columns in _SHEETS.items() if sheet in columns), None)
    meant = near(sheet, _SHEETS)
    fix = f"did you mean {meant}?" if meant else f"write {either(tuple(_SHEETS))}, a dot and the column"
    fix = f"write {of}.{sheet}, the sheet before the column" if of and not isinstance(names, dict) else fix
    faults.append(Fault(file, entry, f"{shown(sheet)} is no sheet", fix))
    return {}


def _named(file: str, of: str, names: Mapping[str, Any], known: Sequence[str], faults: list[Fault]) -> dict[str, str]:
    """Own name, as `plain_name` gives it → our name, of the columns of a sheet, or of the sheets themselves."""
    one, belongs = ("sheet", "") if of == "sheets" else ("column", f" of {of}")
    out: dict[str, str] = {}
    for ours, own in names.items():
        entry = f"{of}.{printable(ours)}"
        if ours not in known:
            meant = near(ours, known)
            fix = f"did you mean {meant}?" if meant else f"the {one}s are {', '.join(known)}"
            faults.append(Fault(file, entry, f"{shown(ours)} is no {one}{belongs}", fix))
        elif not isinstance(own, str) or not own.strip():
            faults.append(Fault(file, entry, f"got {shown(own)}", f"write the name of your {one} in quotes"))
        elif plain_name(own) in out:
            faults.append(Fault(file, entry, f"{shown(own)} is named twice", f"give each {one} one meaning"))
        else:
            out[plain_name(own)] = ours
    return out
