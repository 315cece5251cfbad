"""One field of a record: raw value → checked value, or a fault that says what would be right."""

import math
import re
import sys
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

from stripdown.record import schema
from stripdown.record.notes import Notes
from stripdown.record.schema import Field
from stripdown.record.text import cleaned, either, figure, invisible, near, shown

_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_ISO_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?(Z|[+-]\d{2}:\d{2})?", re.ASCII)
_OTHER_DATE = re.compile(r"\d{1,4}[./ -]\d{1,2}[./ -]\d{1,4}", re.ASCII)

_MANY = 12
"""Choices up to which a message lists them all."""


def _text(value: object, field: Field, entry: str, notes: Notes) -> str | None:
    if not isinstance(value, str):
        notes.fault(entry, f"must be text; got {shown(value)}", "put it in quotes")
        return None
    text, changed = cleaned(value)
    if len(text) > schema.LONGEST_TEXT:
        notes.fault(entry, f"{len(text)} characters long", _at_most(schema.LONGEST_TEXT))
        return None
    if changed:
        notes.notice(entry, "held control characters", "they were taken out")
    if field.required and not text:
        notes.fault(entry, "is empty", "write the text or take the entry out")
    return text or None


def _at_most(characters: int) -> str:
    return f"write at most {characters} characters"


def _id(value: object, field: Field, entry: str, notes: Notes) -> str | None:
    if not isinstance(value, str):
        notes.fault(entry, f"must be text; got {shown(value)}", f'put it in quotes, as "{shown(value, 20)}"')
        return None
    text = value.strip()
    if (hidden := invisible(text)) is not None:
        notes.fault(entry, f"{shown(text)} holds the invisible character {hidden}", "type it again by hand")
        return None
    if len(text) > schema.LONGEST_ID:
        notes.fault(entry, f"{len(text)} characters long", _at_most(schema.LONGEST_ID))
        return None
    if field.required and not text:
        notes.fault(entry, "is empty", "write it, between the quotes")
    return text or None


def claim_fault(value: str) -> tuple[str, str] | None:
    """What is wrong with a claim and what would be right; None where it may stand."""
    if not schema.CLAIM.fullmatch(value):
        return f"{shown(value)} is no claim", "use letters A to Z, digits, . _ - only, a letter or digit first"
    if value.casefold() in schema.RESERVED_CLAIMS:
        return f"{shown(value)} is the name of an output of the program", "give the claim another number"
    if len(value) > schema.CLAIM_LENGTH:
        return f"{len(value)} characters long", _at_most(schema.CLAIM_LENGTH)
    return None


def _claim(value: object, field: Field, entry: str, notes: Notes) -> str | None:
    if not isinstance(value, str):
        return _id(value, field, entry, notes)
    if wrong := claim_fault(value):
        notes.fault(entry, *wrong)
        return None
    return value


def _choice(value: object, field: Field, entry: str, notes: Notes) -> str | None:
    known = field.choices() if field.choices else ()
    if isinstance(value, str):
        if value in known:
            return sys.intern(value)  # equal ids of a large batch share one object
        for word, what, fix in field.refused:
            if value.strip().casefold() == word:
                notes.fault(entry, what, fix)
                return None
    options = tuple(known)
    meant = near(value, options) if isinstance(value, str) else None
    all_of_them = f"write {either(options)}"
    if len(options) > _MANY:
        all_of_them = f"write one of the {len(options)} ids of the vocabulary, such as {either(options[:3])}"
    notes.fault(entry, f"{shown(value)} is not known here", f"did you mean {meant}?" if meant else all_of_them)
    return None


def _number(value: object, field: Field, entry: str, notes: Notes) -> float | None:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        notes.fault(
            entry, f"must be a number; got {shown(value)}", "write digits with a decimal point, without quotes or unit"
        )
        return None
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        notes.fault(
            entry, f"must be a finite number; got {shown(value)}", "write what was read, or leave the field out"
        )
        return None
    return number + 0.0 if within(number, field, entry, notes) else None  # -0.0 becomes 0.0


def _count(value: object, field: Field, entry: str, notes: Notes) -> int | None:
    if isinstance(value, bool) or not isinstance(value, int):
        notes.fault(entry, f"must be a whole number; got {shown(value)}", "write it without decimal point or quotes")
        return None
    return value if within(value, field, entry, notes) else None


def within(number: float, field: Field, entry: str, notes: Notes) -> bool:
    """Whether a number lies within the field's bounds; else a fault."""
    if field.low <= number <= field.high:
        return True
    unit = f" {field.unit}" if field.unit else ""
    said = figure(number) if isinstance(number, float) else shown(number)
    bounds = f"from {figure(field.low)} to {figure(field.high)}{unit}"
    notes.fault(entry, f"{said}{unit} cannot be", f"write a number {bounds}")
    return False


def _value(value: object, field: Field, entry: str, notes: Notes) -> float | str | None:
    if isinstance(value, str):
        word = value.strip().casefold()
        if word in ("open", "short"):
            return word
        numeric = any(c.isdigit() for c in word)
        fix = (
            "write the number alone: the unit stands in `unit`"
            if numeric
            else 'over range is "open", at the floor "short"'
        )
        notes.fault(entry, f"must be a number, open or short; got {shown(value)}", fix)
        return None
    return _number(value, field, entry, notes)


def _truth(value: object, field: Field, entry: str, notes: Notes) -> bool | None:
    if isinstance(value, bool):
        return value
    notes.fault(entry, f"must be true or false; got {shown(value)}", "write true or false, without quotes")
    return None


def _date(value: object, field: Field, entry: str, notes: Notes) -> date | None:
    found: date | None = None
    if isinstance(value, date) and not isinstance(value, datetime):
        found = value
    elif isinstance(value, str) and _ISO_DATE.fullmatch(value.strip()):
        try:
            found = date.fromisoformat(value.strip())
        except ValueError:
            notes.fault(entry, f"{shown(value)} is not in the calendar", "write a date as 2026-01-31")
            return None
    if found is None:
        ambiguous = isinstance(value, str) and _OTHER_DATE.fullmatch(value.strip())
        why = ": day and month can be confused" if ambiguous else ""
        notes.fault(entry, f"must be a date; got {shown(value)}{why}", "write year-month-day, as 2026-01-31")
        return None
    return found if _year(found.year, entry, notes) else None


def _moment(value: object, field: Field, entry: str, notes: Notes) -> datetime | None:
    found: datetime | None = value if isinstance(value, datetime) else None
    if isinstance(value, str) and _ISO_MOMENT.fullmatch(value.strip()):
        try:
            found = datetime.fromisoformat(value.strip())
        except ValueError:
            found = None
    if found is None:
        notes.fault(entry, f"must be a date with time; got {shown(value)}", "write it as 2026-01-31T09:40:00")
        return None
    return found if _year(found.year, entry, notes) else None


def _year(year: int, entry: str, notes: Notes) -> bool:
    if schema.FIRST_YEAR <= year <= schema.LAST_YEAR:
        return True
    notes.fault(entry, f"the year {year} cannot be", f"write a year from {schema.FIRST_YEAR} to {schema.LAST_YEAR}")
    return False


def _path(value: object, field: Field, entry: str, notes: Notes) -> str | None:
    if (text := _id(value, field, entry, notes)) is None:
        return None
    path = text.replace("\\", "/")
    if path.startswith("/") or re.match("[A-Za-z]:", path):
        notes.fault(
            entry,
            f"{shown(text)} is not relative to the record",
            "put the file beside the record and name it from there",
        )
        return None
    if not _stays_inside(notes.folder, path):
        notes.fault(
            entry,
            f"{shown(text)} leads out of the record's folder",
            "put the file beside the record, or in a folder below",
        )
        return None
    return path


def _stays_inside(folder: str, path: str) -> bool:
    """Whether `path` stays below `folder`, links followed."""
    depth = 0
    for part in path.split("/"):
        depth += {"..": -1, ".": 0, "": 0}.get(part, 1)
        if depth < 0:
            return False
    try:
        home = Path(folder).resolve()
        return (home / path).resolve().is_relative_to(home)
    except (OSError, RuntimeError, ValueError):  # links in a circle, names too long
        return False


CHECKS: dict[str, Callable[[Any, Field, str, Notes], Any]] = {
    "claim": _claim,
    "id": _id,
    "text": _text,
    "choice": _choice,
    "count": _count,
    "number": _number,
    "truth": _truth,
    "date": _date,
    "moment": _moment,
    "path": _path,
    "value": _value,
}
