"""The cost table: what an outcome and an error cost. The shipped one is invented; a user replaces it by their own."""

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from stripdown.record.fault import Fault, RecordError
from stripdown.record.load import UnreadableError, content, decode, from_toml
from stripdown.record.text import named, near, shown

SHIPPED = Path(__file__).resolve().parent.parent / "knowledge" / "costs.toml"
START = "type stripdown check --costs-table for a table to start from"
_MOST = 1e12
_TABLES = ("hours", "error")


@dataclass(frozen=True, eq=False)
class Costs:
    """Amounts of `amounts` and `error` in `currency`, `hours` in hours; the keys are those of the shipped table."""

    currency: str
    amounts: Mapping[str, float]
    hours: Mapping[str, float]
    error: Mapping[str, float]
    own: str = ""
    """'NAME, sha256:…' of the user's own table; '' = the shipped one."""

    @classmethod
    def load(cls, path: Path) -> "Costs":
        """Read a cost table; raises RecordError with every fault of the file."""
        try:
            data = content(path)
            raw = from_toml(decode(data))
        except OSError as error:
            what = f"cannot be read: {error.strerror or error}"
            raise RecordError([Fault(named(path), "", what, "name a cost table")]) from None
        except UnreadableError as error:
            raise RecordError([Fault(named(path), "", error.what, error.fix)]) from None
        faults = [Fault(named(path), *fault) for fault in _faults(raw)]
        if faults:
            raise RecordError(faults)
        amounts = {k: float(v) for k, v in raw.items() if k not in ("currency", *_TABLES)}
        hours, errors = ({k: float(v) for k, v in raw[table].items()} for table in _TABLES)
        own = "" if path == SHIPPED else f"{named(path.name)}, sha256:{hashlib.sha256(data).hexdigest()}"
        return cls(raw["currency"].strip(), amounts, hours, errors, own)


def default_costs() -> Costs:
    """The invented table that is shipped."""
    return Costs.load(SHIPPED)


@cache
def _known() -> dict[str, Any]:
    return tomllib.loads(SHIPPED.read_text(encoding="utf-8"))


def _faults(raw: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """(entry, what is wrong, what would be right) for each fault of a table."""
    known = _known()
    if not raw.keys() & known.keys():
        return [("", "is no cost table: it has none of the amounts", START)]
    out = _of_table(raw, known, "")
    currency = raw.get("currency")
    if "currency" in raw and not (isinstance(currency, str) and currency.strip() and currency.isprintable()):
        out.append(("currency", f"is {shown(currency)}", 'write it as text, such as "EUR"'))
    for table in _TABLES:
        if isinstance(raw.get(table), dict):
            out += _of_table(raw[table], known[table], f"{table}.")
        elif table in raw:
            out.append((table, f"is {shown(raw[table])}", f"write [{table}] and its lines below"))
    return out


def _of_table(raw: Mapping[str, Any], known: Mapping[str, Any], place: str) -> list[tuple[str, str, str]]:
    out = [(f"{place}{key}", "is missing", _missing(key, known[key])) for key in known if key not in raw]
    for key, value in raw.items():
        if key not in known:
            meant = near(key, [k for k in known if k not in raw])
            fix = f"did you mean {meant}?" if meant else f"take it out; {START}"
            out.append((f"{place}{shown(key)[1:-1]}", "is not known here", fix))
        elif key not in ("currency", *_TABLES) and not _is_amount(value):
            out.append((f"{place}{key}", f"is {shown(value)}", "write a number of 0 or more, without quotes or unit"))
    return out


def _missing(key: str, example: object) -> str:
    if isinstance(example, dict):
        return f"write [{key}] and below it {', '.join(example)}"
    return f"write {key} = …, a number" if key != "currency" else 'write currency = "EUR", or another'


def _is_amount(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < _MOST  # nan is not
