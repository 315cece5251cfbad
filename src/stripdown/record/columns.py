"""Own column names of tables: `returns.serial = "S/N"` in a TOML file, and the order of day and month in dates."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from stripdown.record import load
from stripdown.record.fault import Fault, RecordError
from stripdown.record.load import UnreadableError
from stripdown.record.schema import POPULATION, TABLE_COLUMNS
from stripdown.record.text import either, near, printable, shown

ORDERS = ("iso", "dmy", "mdy")
_SHEETS = {sheet: tuple(columns) for sheet, columns in TABLE_COLUMNS.items()} | {"units": POPULATION}


@dataclass(frozen=True, slots=True)
class Columns:
    """`own`: sheet → own name, as `plain_name` gives it → our name. `dates`: iso, dmy or mdy."""

    own: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    dates: str = "iso"

    def known(self, sheet: str) -> dict[str, str]:
        """Name in the first row, as `plain_name` gives it → our name; own names beside ours."""
        return {name: name for name in _SHEETS[sheet]} | dict(self.own.get(sheet, {}))


def plain_name(name: str) -> str:
    """A column's name without regard to case, blanks and dashes."""
    return re.sub(r"[\s_-]+", "_", name.strip().casefold())


def read_columns(path: str | Path) -> Columns:
    """The columns file; raises `RecordError` with every fault."""
    file = printable(str(path))
    try:
        raw = load.from_toml(load.decode(Path(path).read_bytes()))
    except OSError as error:
        raise RecordError([Fault(file, "", f"cannot be read: {error.strerror}", "name a TOML file")]) from None
    except UnreadableError as error:
        raise RecordError([Fault(file, "", error.what, error.fix)]) from None
    faults: list[Fault] = []
    dates = raw.pop("dates", "iso")
    if dates not in ORDERS:
        faults.append(Fault(file, "dates", f"got {shown(dates)}", f"write {either(ORDERS)}"))
    own = {sheet: _sheet(file, sheet, names, faults) for sheet, names in raw.items()}
    if faults:
        raise RecordError(faults)
    return Columns(own, dates)


def _sheet(file: str, sheet: str, names: Any, faults: list[Fault]) -> dict[str, str]:
    if sheet not in _SHEETS or not isinstance(names, dict):
        meant = near(sheet, _SHEETS)
        fix = f"did you mean {meant}?" if meant else f"write {either(tuple(_SHEETS))}, a dot and the column"
        faults.append(Fault(file, printable(sheet), f"{shown(sheet)} is no sheet", fix))
        return {}
    out: dict[str, str] = {}
    for ours, own in names.items():
        entry = f"{sheet}.{printable(ours)}"
        if ours not in _SHEETS[sheet]:
            meant = near(ours, _SHEETS[sheet])
            fix = f"did you mean {meant}?" if meant else f"the columns are {', '.join(_SHEETS[sheet])}"
            faults.append(Fault(file, entry, f"{shown(ours)} is no column of {sheet}", fix))
        elif not isinstance(own, str) or not own.strip():
            faults.append(Fault(file, entry, f"got {shown(own)}", "write the name of your column in quotes"))
        elif plain_name(own) in out:
            faults.append(Fault(file, entry, f"{shown(own)} is named twice", "give each column one meaning"))
        else:
            out[plain_name(own)] = ours
    return out
