"""One cell of a table → the plain value that its field has in JSON; what cannot be one stays, for `parse` to name."""

import re
from collections.abc import Callable, Collection
from datetime import date, datetime, time
from functools import cache
from typing import Any

from stripdown.record import schema
from stripdown.record.columns import plain_name
from stripdown.record.schema import Field

_WHOLE = re.compile(r"[+-]?\d{1,15}", re.ASCII)
_POINT = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_COMMA = re.compile(r"[+-]?(?:\d+(?:,\d*)?|,\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_DAY_MONTH_YEAR = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})", re.ASCII)
_TRUTHS = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}


def value_of(cell: object, column: str, field: Field, *, comma: bool, dates: str) -> Any:
    """`comma`: the decimal sign of text is the comma; `dates`: iso, dmy or mdy. An empty cell is None."""
    if isinstance(cell, str):
        cell = cell.strip()
        if cell == "":
            return None
        if column == "condition":  # which ones its part has is for `parse` to say
            return _spelt(schema.every_condition).get(plain_name(cell), cell)
        if column == "accuracy" and comma:
            return cell.replace(",", ".")
        if field.many:
            return [_one(part.strip(), field, comma, dates) for part in cell.split(";") if part.strip()]
    return _one(cell, field, comma, dates) if column != "accuracy" else cell


def text_of(cell: object) -> str:
    """A cell as text: numbers without a needless point, dates as ISO."""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    if isinstance(cell, datetime) and cell.time() == time():
        return cell.date().isoformat()
    return cell.isoformat() if isinstance(cell, (date, time)) else str(cell)


def _one(cell: object, field: Field, comma: bool, dates: str) -> Any:
    if field.choices is not None:
        return _spelt(field.choices).get(plain_name(text_of(cell)), text_of(cell))
    return _KINDS.get(field.kind, _text)(cell, comma, dates)


@cache
def _spelt(choices: Callable[[], Collection[str]]) -> dict[str, str]:
    """An id without regard to case, blanks and dashes → the id; those that would then be one are left out."""
    plain = [(plain_name(choice), choice) for choice in choices()]
    return {name: choice for name, choice in plain if [n for n, _ in plain].count(name) == 1}


def _text(cell: object, comma: bool, dates: str) -> str:
    return text_of(cell)


def _as_it_is(cell: object, comma: bool, dates: str) -> object:
    return cell


def _number(cell: object, comma: bool, dates: str) -> object:
    if isinstance(cell, str) and (_COMMA if comma else _POINT).fullmatch(cell):
        return float(cell.replace(",", "."))
    return cell


def _count(cell: object, comma: bool, dates: str) -> object:
    if isinstance(cell, str) and _WHOLE.fullmatch(cell):
        return int(cell)
    return int(cell) if isinstance(cell, float) and cell.is_integer() else cell


def _truth(cell: object, comma: bool, dates: str) -> object:
    if isinstance(cell, (str, int, float)):
        return _TRUTHS.get(text_of(cell).casefold(), cell)
    return cell


def _date(cell: object, comma: bool, dates: str) -> object:
    if isinstance(cell, datetime) and cell.time() == time():
        return cell.date()
    if isinstance(cell, str) and dates != "iso" and (match := _DAY_MONTH_YEAR.fullmatch(cell)):
        first, second, year = int(match[1]), int(match[3]), int(match[4])
        day, month = (first, second) if dates == "dmy" else (second, first)
        return f"{year:04d}-{month:02d}-{day:02d}"
    return cell


_KINDS: dict[str, Callable[[object, bool, str], object]] = {
    "number": _number,
    "value": _number,
    "count": _count,
    "truth": _truth,
    "date": _date,
    "moment": _as_it_is,
}
