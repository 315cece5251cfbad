"""A record in the making: the JSON form, with whatever faults it still has, and the entries that change it.

Every function gives a new content and leaves the old one as it was.
"""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from stripdown.record import schema
from stripdown.record.cells import value_of
from stripdown.record.readings import ends
from stripdown.record.text import cleaned

Content = dict[str, Any]
Entry = dict[str, Any]

_THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+")
_WITH_UNIT = re.compile(r"\s*([+-]?[\d.,]+)\s*([^\d\s].*)?")
Key = tuple[str, str, int | None]
"""Which observation: part, condition, cylinder (None = without a number)."""
OF_LISTS = ("readings", "observations", "statements", "confirmed")
DETAILS = ("where", "note")


@dataclass(frozen=True, slots=True)
class Slot:
    """Where a reading stands: what was measured, between what, on which cylinder; `nth` of several of one place."""

    quantity: str
    between: str | None = None
    at: str | None = None
    cylinder: int | None = None
    site: bool = False
    nth: int = 0


def typed(text: str, section: str, name: str) -> Any:
    """What a person typed as the value of a field; None = nothing; what it cannot be stays text, for a fault to name.

    A decimal comma is one, unless it may part thousands.
    """
    field = schema.SECTIONS[section][name]
    clean = cleaned(text)[0]
    comma = "," in clean and "." not in clean and not _THOUSANDS.fullmatch(clean)
    value = value_of(clean, name, field, comma=comma, dates="iso")
    if isinstance(value, float):
        if not math.isfinite(value):
            return clean
        return int(value) if value.is_integer() and abs(value) < 1e15 else value
    return None if value in ("", []) else value


def shown(value: object) -> str:
    """A value as it stands in the field where it was typed."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return "; ".join(shown(v) for v in value)
    return "" if value is None else str(value)


def with_field(content: Content, section: str, name: str, value: Any) -> Content:
    """`section` as in the schema: '', unit, unit.plate, history, history.alarms; None takes the field out."""
    if not section:
        return _placed(content, name, value, schema.SECTIONS[""])
    outer, _, inner = section.rpartition(".")
    table = _placed(table_of(content, section), name, value, schema.SECTIONS[section])
    return with_field(content, outer, inner, table or None)


def table_of(content: Content, section: str) -> dict[str, Any]:
    """The table of a section, {} where it is not there."""
    table: Any = content
    for part in section.split(".") if section else ():
        table = table.get(part) or {}
    return dict(table)


def _placed(table: Mapping[str, Any], name: str, value: Any, order: Mapping[str, Any]) -> dict[str, Any]:
    """The table with one field set or taken out, its fields in the order of the form."""
    found = {**table, name: value}
    return {k: found[k] for k in order if found.get(k) is not None}


def _with_entries(content: Content, name: str, entries: Sequence[Entry]) -> Content:
    return _placed(content, name, list(entries) or None, schema.SECTIONS[""])


def cylinders_of(entry: Entry) -> tuple[int | None, ...]:
    """The cylinders that an observation names; (None,) = it names none."""
    given = entry.get("cylinder")
    return tuple(given) if isinstance(given, list) and given else (given if isinstance(given, int) else None,)


def observation(content: Content, part: str, condition: str, cylinder: int | None) -> Entry | None:
    """The entry that says something of this condition on this cylinder (None = without a number)."""
    return next((e for e in content.get("observations", ()) if _is(e, part, condition, cylinder)), None)


def _is(entry: Entry, part: str, condition: str, cylinder: int | None) -> bool:
    return entry.get("part") == part and entry.get("condition") == condition and cylinder in cylinders_of(entry)


def answered(content: Content, part: str, condition: str, cylinder: int | None, change: Mapping[str, Any]) -> Content:
    """An observation with some of its fields changed (None takes one out); without an extent it is taken out whole.

    An entry for several cylinders is split: the others keep what they had.
    """
    out: list[Entry] = []
    old: Entry = {}
    place: int | None = None
    for entry in content.get("observations", ()):
        if not _is(entry, part, condition, cylinder) or place is not None:
            out.append(entry)
            continue
        old = entry
        if rest := [c for c in cylinders_of(entry) if c != cylinder]:
            out.append({**entry, "cylinder": rest})
        place = len(out)
    named = {"cylinder": [cylinder]} if cylinder is not None else {}
    new = {**old, "part": part, "condition": condition} | named | dict(change)
    if new.get("extent") is not None:
        kept = {k: new[k] for k in schema.SECTIONS["observations"] if new.get(k) not in (None, "", [])}
        out.insert(len(out) if place is None else place, kept)
    return _with_entries(content, "observations", out)


def slot_of(entry: Entry, nth: int = 0) -> Slot:
    """Where a reading stands; what is of a wrong kind counts as not said."""
    quantity = entry.get("quantity")
    quantity = quantity if isinstance(quantity, str) else ""
    known = schema.QUANTITIES.get(quantity)
    between, at, cylinder = entry.get("between"), entry.get("at"), entry.get("cylinder")
    return Slot(
        quantity,
        between if isinstance(between, str) else None,
        at if isinstance(at, str) else "terminals" if known and known.at else None,
        cylinder if isinstance(cylinder, int) else None,
        entry.get("site") is True,
        nth,
    )


def _key(slot: Slot) -> tuple[object, ...]:
    between = ends(slot.between) if isinstance(slot.between, str) else slot.between
    return (slot.quantity, between, slot.at, slot.cylinder, slot.site)


def reading_index(content: Content, slot: Slot) -> int | None:
    """Number of the entry from 0, None where nothing stands in this slot."""
    found = [i for i, e in enumerate(content.get("readings", ())) if _key(slot_of(e)) == _key(slot)]
    return found[slot.nth] if slot.nth < len(found) else None


def slots(content: Content) -> list[Slot]:
    """Where the readings of the record stand, in its order."""
    met: dict[tuple[object, ...], int] = {}
    out = []
    for entry in content.get("readings", ()):
        key = _key(slot_of(entry))
        out.append(slot_of(entry, met.setdefault(key, 0)))
        met[key] += 1
    return out


def same_place(slot: Slot, other: Slot) -> bool:
    """Whether two slots differ at most in their number."""
    return _key(slot) == _key(other)


def with_reading(content: Content, slot: Slot, fields: Mapping[str, Any]) -> Content:
    """A reading with some of its fields changed; without a value it is taken out."""
    entries = list(content.get("readings", ()))
    index = reading_index(content, slot)
    where = {"quantity": slot.quantity, "between": slot.between, "at": slot.at, "cylinder": slot.cylinder}
    base = where | {"site": slot.site or None} if index is None else entries[index]
    new = {**base, **fields}
    kept = {k: new[k] for k in schema.SECTIONS["readings"] if new.get(k) is not None}
    if index is None:
        entries += [kept] if "value" in kept else []
    else:
        entries[index : index + 1] = [kept] if "value" in kept else []
    return _with_entries(content, "readings", entries)


def temperature(text: str) -> dict[str, Any]:
    """`temperature` and `temperature_unit` from '24', '24 degC' or '75 F'."""
    match = _WITH_UNIT.fullmatch(cleaned(text)[0])
    if match is None:
        return {"temperature": typed(text, "readings", "temperature"), "temperature_unit": None}
    return {"temperature": typed(match[1], "readings", "temperature"), "temperature_unit": match[2] or None}


def with_entry(content: Content, name: str, at: int | None, entry: Entry | None) -> Content:
    """Statements and confirmed findings: the entry `at` (None = a new one) replaced, or taken out with None."""
    entries = list(content.get(name, ()))
    fresh = [{k: entry[k] for k in schema.SECTIONS[name] if entry.get(k) not in (None, "", [], ())}] if entry else []
    fresh = [e for e in fresh if e]
    if at is None:
        entries += fresh
    else:
        entries[at : at + 1] = fresh
    return _with_entries(content, name, entries)


def without(content: Content, entry: str) -> Content:
    """The content without the entry or field that a fault names, as `readings[3].unit`: for a finding meanwhile."""
    section, number = re.match(r"(\w*)(?:\[(\d+)\])?", entry).groups()  # type: ignore[union-attr]  # it matches any text
    if section in OF_LISTS:
        entries = list(content.get(section, ()))
        kept = entries[: int(number) - 1] + entries[int(number) :] if number else []
        return _with_entries(content, section, kept)
    outer, _, name = entry.rpartition(".")
    name = name.partition("[")[0]
    return with_field(content, outer, name, None) if name in schema.SECTIONS.get(outer, {}) else content
