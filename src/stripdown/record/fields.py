"""One table of a record against the fields it may have: every unknown, missing or wrong one is a fault."""

from collections.abc import Mapping
from typing import Any

from stripdown.record import schema
from stripdown.record.notes import Notes
from stripdown.record.schema import Field
from stripdown.record.text import either, near, printable, shown
from stripdown.record.values import CHECKS


def check_table(raw: object, section: str, entry: str, notes: Notes) -> dict[str, Any]:
    """The fields of one table that are as they should be; a fault for every other."""
    fields = schema.SECTIONS[section]
    if not isinstance(raw, Mapping):
        notes.fault(
            entry, f"must be a table of fields; got {shown(raw)}", f"write {_header(section)} and its fields below"
        )
        return {}
    out: dict[str, Any] = {}
    for key, value in raw.items():
        if (field := fields.get(key)) is None:
            _unknown_key(str(key), section, entry, notes)
        elif value is not None:
            good = _check(value, field, f"{section}.{key}" if section else key, _join(entry, key), notes)
            if good is not None:
                out[key] = good
    for key in schema.REQUIRED[section]:
        if raw.get(key) is None:
            notes.fault(_join(entry, key), "is missing", _example(fields[key], key))
    return out


def _check(value: object, field: Field, section: str, entry: str, notes: Notes) -> Any:
    """The checked value, None where there is a fault; `section` is the name of the table or list that it may be."""
    if field.kind == "table":
        return check_table(value, section, entry, notes)
    if field.kind == "tables":
        return _check_list(value, section, entry, notes)
    if not field.many:
        return CHECKS[field.kind](value, field, entry, notes)
    items = value if isinstance(value, list) else [value]
    if _too_many(items, entry, notes):
        return None
    good = [CHECKS[field.kind](item, field, entry, notes) for item in items]
    return tuple(g for g in good if g is not None)


def _check_list(value: object, section: str, entry: str, notes: Notes) -> list[dict[str, Any]]:
    if not isinstance(value, list):
        notes.fault(entry, f"must be a list; got {shown(value)}", f"write [[{section}]] above each entry")
        return []
    if _too_many(value, entry, notes):
        return []
    return [check_table(v, section, f"{entry}[{i}]", notes) for i, v in enumerate(value, start=1)]


def _too_many(items: list[Any], entry: str, notes: Notes) -> bool:
    if len(items) <= schema.MOST_ENTRIES:
        return False
    notes.fault(entry, f"{len(items)} entries", f"give at most {schema.MOST_ENTRIES}")
    return True


def _unknown_key(key: str, section: str, entry: str, notes: Notes) -> None:
    if notes.full:
        return
    fields = schema.SECTIONS[section]
    meant = near(key, fields)
    elsewhere = next((s for s, f in schema.SECTIONS.items() if s != section and key in f), None)
    place = f"{_header(section)}" if section else "a record"
    if meant:
        fix = f"did you mean {meant}?"
    elif elsewhere is not None:
        fix = f"it belongs {f'under {_header(elsewhere)}' if elsewhere else 'at the top of the file'}"
    else:
        fix = f"take it out; the fields are {', '.join(fields)}"
    notes.fault(_join(entry, printable(key[:60])), f"{shown(key)} is not a field of {place}", fix)


def _header(section: str) -> str:
    kind = schema.SECTIONS[""].get(section)
    return f"[[{section}]]" if kind and kind.kind == "tables" else f"[{section}]"


def _join(entry: str, key: str) -> str:
    return f"{entry}.{key}" if entry else key


_EXAMPLES = {
    "claim": 'write claim = "…" with the number of the claim',
    "date": "write a date as 2026-01-31",
    "table": "write the table and its fields",
    "value": 'write a number, "open" or "short"',
}


def _example(field: Field, key: str) -> str:
    if key == "format":
        return f"write format = {schema.FORMAT}"
    if field.choices and len(options := tuple(field.choices())) <= 8:
        return f"write {either(options)}"
    return _EXAMPLES.get(field.kind, f'write {key} = "…"')
